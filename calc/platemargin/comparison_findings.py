"""What is told of two surveys compared."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
from scipy.special import bdtrc

from platemargin.declared import Arguments, Finding, Place
from platemargin.matching import Reason
from platemargin.mean_rates import LEVEL
from platemargin.quantities import Array, below, rounded
from platemargin.zones import DEFAULT_EXPOSURE, nearest_zone

__all__ = ["FINDINGS"]

#: Faster than this [mm/year] something more than fresh water is at work, or a reading is wrong. Reference: fast-rate.
FAST_MM_PER_YEAR = 1.0
#: More pairs grew than chance explains where it would bring so many more seldom than this. Reference: gum.
_OFTEN_LEVEL = 0.01
#: Of the smaller survey's readings fewer than this are few. Reference: few-matched.
FEW = 0.5


def _zones_of(marked: Callable[[Any], Array], rank: Callable[[Any], Array]) -> Callable[[Arguments, Any], Iterable[Place]]:
    """Yield each zone with marked pairs: how many of how many, and the first of those with the greatest rank."""

    def places(_arguments: Arguments, result: Any) -> Iterable[Place]:
        pairs, rows = result.pairs, np.flatnonzero(marked(result))
        counts = {zone.zone: zone.pairs for zone in result.zones}
        by_zone: dict[str, list[int]] = {}
        for row in rows.tolist():
            by_zone.setdefault(pairs.zone[row], []).append(row)
        for zone, members in by_zone.items():
            row = members[int(np.argmax(rank(result)[members]))]
            values = {
                "zone": zone,
                "count": len(members),
                "pairs": counts[zone],
                "earlier_id": str(pairs.earlier_id[row]),
                "later_id": str(pairs.later_id[row]),
                "earlier_residual_mm": float(pairs.earlier_residual_mm[row]),
                "later_residual_mm": float(pairs.later_residual_mm[row]),
                "rate_mm_per_year": float(pairs.rate_mm_per_year[row]),
                "station_distance_m": float(pairs.station_distance_m[row]),
            }
            yield Place(path=("later", "readings", int(pairs.later_index[row])), values=values)

    return places


def _first(result: Any) -> Array:
    return np.zeros(len(result.pairs))


def _loss(result: Any) -> Array:
    return rounded(result.pairs.loss_mm, "mm")


def _pit_measured_once(result: Any) -> Array:
    pits = result.earlier.pit_depth_mm[result.matching.earlier], result.later.pit_depth_mm[result.matching.later]
    metal = (rounded(result.pairs.earlier_residual_mm, "mm") > 0) & (rounded(result.pairs.later_residual_mm, "mm") > 0)
    return np.asarray((np.isnan(pits[0]) != np.isnan(pits[1])) & metal)


def _heights_differ(arguments: Arguments, result: Any) -> Iterable[Place]:
    heights = result.earlier.height_m[result.matching.earlier], result.later.height_m[result.matching.later]
    apart = below(arguments["station_tolerance_m"], np.abs(heights[0] - heights[1]), "m") & ~result.matching.by_id
    return _zones_of(lambda _: apart, _first)(arguments, result)


def _id_at_other_station(arguments: Arguments, result: Any) -> Iterable[Place]:
    far = below(arguments["station_tolerance_m"], result.pairs.station_distance_m, "m") & result.matching.by_id
    return _zones_of(lambda _: far, lambda r: r.pairs.station_distance_m)(arguments, result)


def _of_zones(applies: Callable[[Any], bool]) -> Callable[[Arguments, Any], Iterable[Place]]:
    """Yield each zone of the result that a test applies to."""
    return lambda _, result: [Place(values=vars(zone)) for zone in result.zones if applies(zone)]


def _faster(_arguments: Arguments, result: Any) -> Iterable[Place]:
    """Yield each zone that lost steel faster than over its life; where none did by itself, the hull, if it did."""
    faster = [zone for zone in result.zones if zone.differs_from_long_term and zone.difference_mm_per_year > 0]
    for zone in faster:
        yield Place(values=vars(zone))
    if not faster and result.overall and result.overall.differs_from_long_term and result.overall.difference_mm_per_year > 0:
        yield Place(values={**vars(result.overall), "zone": "the hull as a whole"})


def _uneven(_arguments: Arguments, result: Any) -> Iterable[Place]:
    for zone in result.zones:
        if zone.scattered:
            # A ratio's name does not say how it is rounded.
            yield Place(values={"zone": zone.zone, "scatter_ratio": rounded(zone.scatter_ratio, "ratio").item()})


def _reason_zones(reason: Reason) -> Callable[[Arguments, Any], Iterable[Place]]:
    """Yield each zone of the later survey in which readings are unmatched for a reason."""

    def places(_arguments: Arguments, result: Any) -> Iterable[Place]:
        rows = np.flatnonzero(result.matching.later_reason == reason)
        for zone, members in result.later.by_zone(rows).items():
            yield Place(path=("later", "readings", int(members[0])), values={"zone": zone, "count": len(members)})

    return places


def _few(_arguments: Arguments, result: Any) -> Iterable[Place]:
    smaller = min(result.earlier_count, result.later_count)
    if 0 < result.matched_count < FEW * smaller:
        yield Place(values={"matched_count": result.matched_count, "smaller": smaller})


def _nothing(_arguments: Arguments, result: Any) -> Iterable[Place]:
    if not result.matched_count:
        yield Place(values={"earlier_count": result.earlier_count, "later_count": result.later_count})


def _zones_not_compared(_arguments: Arguments, result: Any) -> Iterable[Place]:
    if not result.matched_count:
        return
    compared = set(result.pairs.zone.tolist())
    tables = result.earlier, result.later
    for zone in dict.fromkeys(zone for table in tables for zone in table.zone.tolist()):
        if zone not in compared:
            earlier, later = (int((table.zone == zone).sum()) for table in tables)
            yield Place(values={"zone": zone, "earlier_readings": earlier, "later_readings": later})


def _holes(_arguments: Arguments, result: Any) -> Iterable[Place]:
    for zone, rows in result.later.by_zone(np.flatnonzero(result.later_residual_mm == 0)).items():
        values = {"zone": zone, "count": len(rows), "reading": str(result.later.id[rows[0]])}
        yield Place(path=("later", "readings", int(rows[0])), values=values)


def _grew(*, often: bool) -> Callable[[Arguments, Any], Iterable[Place]]:
    """Tell how many pairs are significant and read thicker, where that is more often than chance explains, or where not."""

    def places(_arguments: Arguments, result: Any) -> Iterable[Place]:
        count, pairs = result.grew_count, result.matched_count
        # Those beyond chance by themselves are told one by one.
        others = count > result.grew_beyond_chance_count
        if others and bool(bdtrc(count - 1, pairs, LEVEL / 2) < _OFTEN_LEVEL) == often:
            yield Place(values={"count": count, "matched_count": pairs, "by_chance": LEVEL / 2 * pairs})

    return places


def _contradicting(_arguments: Arguments, result: Any) -> Iterable[Place]:
    if pairs := result.matching.contradicting:
        first, second = pairs[0]
        values = {
            "count": len(pairs),
            "id": str(result.later.id[second]),
            "earlier_place": _place(result.earlier, first),
            "later_place": _place(result.later, second),
            "used": "no id is used" if result.matching.ids_disregarded else "these are not used",
        }
        yield Place(path=("later", "readings", second, "id"), values=values)


def _place(table: Any, row: int) -> str:
    return ", ".join(name for name in (table.zone[row], table.side[row], table.layer[row]) if name)


def _sides_not_stated(_arguments: Arguments, result: Any) -> Iterable[Place]:
    count = int(((result.pairs.side == "") & ~result.matching.by_id).sum())
    if count:
        yield Place(values={"count": count})


def _unknown_zones(arguments: Arguments, _result: Any) -> Iterable[Place]:
    """Yield each unknown name once, unless its exposure is stated and it is like no known one: then it is the caller's own."""
    seen: set[str] = set()
    for survey in ("earlier", "later"):
        for index, reading in enumerate(arguments[survey]["readings"]):
            zone = reading["zone"]
            if zone in seen or zone in DEFAULT_EXPOSURE:
                continue
            seen.add(zone)
            nearest = nearest_zone(zone)
            if nearest is None and "exposure" in reading:
                continue
            hint = f"; the nearest known name is {nearest}" if nearest else ""
            path = (survey, "readings", index, "zone")
            yield Place(path=path, values={"zone": zone, "nearest": nearest, "hint": hint})


FINDINGS = (
    Finding(
        code="holed",
        severity="act",
        statement="In {zone} the later survey read holes (readings: {count}, the first {reading}).",
        values=("zone", "count", "reading"),
        applies=_holes,
    ),
    Finding(
        code="holed_since",
        severity="act",
        statement="In {zone} plate that had metal at the earlier survey is holed now (pairs: {count}, the first reading "
        "{later_id}, which read {earlier_residual_mm} mm before): its loss and rate are the least that they can be.",
        values=("zone", "count", "later_id", "earlier_residual_mm"),
        applies=_zones_of(lambda r: r.pairs.loss_is_at_least, _first),
    ),
    Finding(
        code="nothing_matched",
        severity="watch",
        statement="None of the {earlier_count} earlier and {later_count} later readings could be matched: the two surveys say "
        "nothing of how fast this hull loses steel.",
        values=("earlier_count", "later_count"),
        applies=_nothing,
    ),
    Finding(
        code="few_matched",
        severity="watch",
        statement="Only {matched_count} readings could be matched, fewer than half of the {smaller} of the smaller survey: the "
        "means stand for few places.",
        values=("matched_count", "smaller"),
        applies=_few,
    ),
    Finding(
        code="zone_not_compared",
        severity="watch",
        statement="In {zone} no reading could be matched (earlier: {earlier_readings}, later: {later_readings}): nothing is "
        "known of its rate between the surveys.",
        values=("zone", "earlier_readings", "later_readings"),
        applies=_zones_not_compared,
    ),
    Finding(
        code="faster_than_long_term",
        severity="watch",
        statement="Steel went faster between the surveys than over its life in {zone}: {mean_rate_mm_per_year} mm/year after "
        "{long_term_mm_per_year} mm/year, by more than measurement, mill tolerance and chance explain. Look for what changed.",
        values=("zone", "mean_rate_mm_per_year", "long_term_mm_per_year"),
        applies=_faster,
    ),
    Finding(
        code="fast_rate",
        severity="watch",
        statement="In {zone} plate lost over 1 mm a year (pairs: {count}, the fastest {rate_mm_per_year} mm/year at reading "
        "{later_id}): look for stray current, galvanic attack or microbes, or a reading that is wrong.",
        values=("zone", "count", "rate_mm_per_year", "later_id"),
        applies=_zones_of(lambda r: below(FAST_MM_PER_YEAR, r.pairs.rate_mm_per_year, "mm/year") & r.pairs.significant, _loss),
    ),
    Finding(
        code="reading_grew",
        severity="watch",
        statement="In {zone} plate reads thicker than before, by more than the gauges' uncertainty and chance explain (pairs: "
        "{count}; the most at reading {later_id}, {later_residual_mm} mm where {earlier_residual_mm} mm was read): one of the "
        "two readings, or its place, is wrong, or the plate was renewed.",
        values=("zone", "count", "later_id", "later_residual_mm", "earlier_residual_mm"),
        applies=_zones_of(lambda r: r.pairs.grew & r.pairs.beyond_chance, lambda r: -_loss(r)),
    ),
    Finding(
        code="grew_within_chance",
        severity="note",
        statement="Pairs that read thicker than before by over 1.96 standard uncertainties: {count} of {matched_count}. That "
        "many may by chance; of plate that lost nothing about {by_chance} would.",
        values=("count", "matched_count", "by_chance"),
        applies=_grew(often=False),
    ),
    Finding(
        code="many_grew",
        severity="watch",
        statement="Pairs that read thicker than before by over 1.96 standard uncertainties: {count} of {matched_count}, where "
        "chance explains about {by_chance}. A gauge was not calibrated or read through a coating, or the places differ.",
        values=("count", "matched_count", "by_chance"),
        applies=_grew(often=True),
    ),
    Finding(
        code="zone_grew",
        severity="watch",
        statement="{zone} as a whole reads thicker than before ({mean_rate_mm_per_year} mm/year over {pairs} pairs), by more "
        "than the gauges' uncertainty explains: a gauge was not calibrated, or read through a coating. No rate of this zone, "
        "and of no other, can be relied on before that is known.",
        values=("zone", "mean_rate_mm_per_year", "pairs"),
        applies=_of_zones(lambda z: z.grew and z.pairs > 1),
    ),
    Finding(
        code="plate_renewed",
        severity="note",
        statement="In {zone} plate was fitted after the earlier survey (later readings: {count}): it is another plate and is "
        "not compared.",
        values=("zone", "count"),
        applies=_reason_zones(Reason.FITTED_SINCE),
    ),
    Finding(
        code="plate_may_be_renewed",
        severity="watch",
        statement="In {zone} the date of fitting does not tell whether the plate is older than the earlier survey (later "
        "readings: {count}): it is not compared. Send the month or the day.",
        values=("zone", "count"),
        applies=_reason_zones(Reason.MAY_BE_FITTED_SINCE),
    ),
    Finding(
        code="id_contradicts_place",
        severity="watch",
        statement="Ids that both surveys give name two places (ids: {count}, the first {id}: {earlier_place} in the earlier, "
        "{later_place} in the later): {used}, the readings are matched by station, if at all. If each survey counts its "
        "readings anew, send no ids.",
        values=("count", "id", "earlier_place", "later_place", "used"),
        applies=_contradicting,
    ),
    Finding(
        code="id_at_other_station",
        severity="watch",
        statement="In {zone} readings of one id are at stations further apart than the tolerance (pairs: {count}, the furthest "
        "{later_id}, by {station_distance_m} m): they are compared by their id. If each survey counts its readings anew, send "
        "no ids.",
        values=("zone", "count", "later_id", "station_distance_m"),
        applies=_id_at_other_station,
    ),
    Finding(
        code="pit_measured_once",
        severity="watch",
        statement="In {zone} a pit was measured at one of the two surveys alone (pairs: {count} of {pairs}): their loss and "
        "rate set a pit against plate where none was measured. The plate beside the pits is compared in plate_loss_mm.",
        values=("zone", "count", "pairs"),
        applies=_zones_of(_pit_measured_once, _first),
    ),
    Finding(
        code="heights_differ",
        severity="watch",
        statement="In {zone} readings matched by station are at heights further apart than the tolerance (pairs: {count}, the "
        "first {later_id}): they may be of two places.",
        values=("zone", "count", "later_id"),
        applies=_heights_differ,
    ),
    Finding(
        code="sides_not_stated",
        severity="note",
        statement="Neither survey says on which side {count} of the pairs matched by station were read: port may be compared "
        "with starboard.",
        values=("count",),
        applies=_sides_not_stated,
    ),
    Finding(
        code="uneven_loss",
        severity="note",
        statement="In {zone} the losses scatter {scatter_ratio} times as much as the gauges do: the attack is uneven, or the "
        "places are not quite the same. The band of its mean is widened for it, and speaks of the places read.",
        values=("zone", "scatter_ratio"),
        applies=_uneven,
    ),
    Finding(
        code="unknown_zone",
        severity="watch",
        statement="No zone is called {zone}{hint}: a zone that the two surveys spell in two ways is not compared.",
        values=("zone", "nearest", "hint"),
        applies=_unknown_zones,
    ),
)
