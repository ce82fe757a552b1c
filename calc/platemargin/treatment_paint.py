"""The film that covers treated plate: how much paint it takes, and how thick it is wet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from platemargin.declared import Assumption, Step

__all__ = ["ASSUMED", "COATS", "DRY_FILM_UM", "WET_FILM_UM", "WORKING", "coat_count", "paint"]

#: Dry film [um] and coats of which practice asks for one or the other at least. Reference: mic-treatment-practice
DRY_FILM_UM = 250.0
COATS = 4
#: Volume solids and losses [%] where no data sheet was sent, and the wet film [um] that few paints hold. Reference:
#: coating-practice
VOLUME_SOLIDS_PERCENT = 60.0
LOSS_PERCENT = 30.0
WET_FILM_UM = 500.0

_PAINT_DEFAULTS: Mapping[str, float] = {
    "dry_film_um": DRY_FILM_UM,
    "coats": COATS,
    "volume_solids_percent": VOLUME_SOLIDS_PERCENT,
    "loss_percent": LOSS_PERCENT,
}


def paint(coating: Mapping[str, Any] | None, area_m2: float) -> dict[str, Any]:
    """Return the film and the paint of an area: what was sent, practice's figures for the rest, litres and wet film.

    References
    ----------
    iso-3233-1
    """
    film: dict[str, Any] = {**_PAINT_DEFAULTS, **{name: value for name, value in (coating or {}).items() if value is not None}}
    solids, kept = film["volume_solids_percent"] / 100, 1 - film["loss_percent"] / 100
    return {
        **film,
        "paint_litres": 0.001 * area_m2 * film["dry_film_um"] / solids / kept,
        "wet_film_um": film["dry_film_um"] / film["coats"] / solids,
    }


def coat_count(coats: int) -> str:
    """Return a number of coats in words.

    Examples
    --------
    >>> coat_count(1), coat_count(4)
    ('1 coat', '4 coats')
    """
    return "1 coat" if coats == 1 else f"{coats} coats"


def _assumed(name: str, unit: str, basis: str) -> Assumption:
    return Assumption(
        field=f"coating.{name}",
        value=_PAINT_DEFAULTS[name],
        unit=unit,
        basis=basis,
        when=lambda a, _: (a["coating"] or {}).get(name) is None,
    )


ASSUMED = (
    _assumed("dry_film_um", "um", "common practice: at least four coats or 250 um"),
    _assumed("coats", "1", "common practice: at least four coats or 250 um"),
    _assumed("volume_solids_percent", "%", "common practice for a two-pack epoxy; the data sheet decides"),
    _assumed("loss_percent", "%", "common practice for a blasted hull; method, wind and roughness decide"),
)
WORKING = (
    Step(
        symbol="V",
        formula="0.001 litre per um and m2 * area_m2 * dry_film_um / (volume_solids_percent / 100) / (1 - loss_percent / 100)",
        substituted="0.001 * {area_m2} * {dry_film_um} / ({volume_solids_percent} / 100) / (1 - {loss_percent} / 100)",
        value="paint_litres",
        unit="litre",
        reference="iso-3233-1",
    ),
    Step(
        symbol="w",
        formula="dry_film_um / coats / (volume_solids_percent / 100)",
        substituted="{dry_film_um} / {coats} / ({volume_solids_percent} / 100)",
        value="wet_film_um",
        unit="um",
        reference="iso-3233-1",
    ),
)
