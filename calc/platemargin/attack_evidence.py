"""The evidence for and against each form of attack, as one table that an expert can review without reading code.

One line is one sign: its name, the kind of evidence that it is, when it is seen, the forms that it speaks of, whether for
or against them, how strongly, on whose authority (an id of `platemargin.reference`), and in which words it is told. A sign that
speaks for some forms and against others, or on several authorities, has a line for each.

Weights: 1, a pointer that has other causes too; 2, a sign that is usual in this form and unusual in others; 3, a test that
was made to tell this form. Colour is 1 at most, counts in the order of the candidates, and makes none consistent.

A condition names an observation and what it *is* (several values with "or"), or a bound (*at least*, *at most*); clauses
are joined by "and", and one whose observation was not sent does not hold.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

__all__ = ["COLOUR", "DIFFERENCES", "EVIDENCE", "FORMS", "FORM_WORDS", "Difference", "Evidence", "Facts", "condition"]

#: What was observed at one place, by name: a set of words, or a number.
Facts: TypeAlias = Mapping[str, Any]

FORM_WORDS = {
    "general": "general corrosion",
    "galvanic": "galvanic corrosion",
    "electrolytic": "electrolytic attack (stray current)",
    "sulphate_reducing": "attack by sulphate-reducing bacteria",
    "iron_oxidising": "attack by iron-oxidising bacteria",
    "acid_producing": "attack by acid-producing bacteria",
    "tubercles": "tubercles (oxygen concentration cells)",
    "differential_aeration": "differential aeration or crevice corrosion",
    "mechanical": "mechanical damage (scrape, grounding)",
}
FORMS = tuple(FORM_WORDS)

#: The kind of evidence that decides nothing.
COLOUR = "colour"

_TABLE = """
# sign | kind | seen where | forms | effect | weight | reference | words

# Shape of the pits
narrow_deep | shape | pits.profile is narrow_deep | galvanic, electrolytic | for | 1 | pit-shape-practice | narrow, deep pits
narrow_deep | shape | pits.profile is narrow_deep | general | against | 2 | astm-g46 | narrow, deep pits are local, not general
round | shape | pits.outline is round | galvanic, electrolytic | for | 1 | pit-shape-practice | pits of round outline
wide_shallow | shape | pits.profile is wide_shallow | sulphate_reducing, acid_producing | for | 1 | pit-shape-practice | wide, shallow pits
wide_shallow | shape | pits.profile is wide_shallow | iron_oxidising | for | 2 | ray-lee-little-2009 | large, shallow craters, as found under tubercles in fresh water
wide_shallow | shape | pits.profile is wide_shallow | differential_aeration | for | 1 | crevice-practice | broad, shallow attack
wide_shallow | shape | pits.profile is wide_shallow | galvanic, electrolytic | against | 1 | pit-shape-practice | wide, shallow pits, which this form does not usually leave
irregular_profile | shape | pits.profile is irregular | sulphate_reducing, iron_oxidising, acid_producing | for | 1 | pit-shape-practice | pits of irregular profile
irregular_outline | shape | pits.outline is irregular | sulphate_reducing, iron_oxidising, acid_producing | for | 1 | pit-shape-practice | pits of irregular outline
irregular_outline | shape | pits.outline is irregular | galvanic, electrolytic | against | 1 | pit-shape-practice | pits of irregular outline, which this form does not usually leave
cups_within_cups | shape | pits.texture is cups_within_cups | sulphate_reducing | for | 2 | little-lee-2007 | cups within cups, which is not conclusive on its own
striations_or_tunnels | shape | pits.texture is striations_or_tunnels | sulphate_reducing | for | 1 | little-lee-2007 | striations or tunnels, which are not conclusive on their own
scored | shape | pits.texture is scored | mechanical | for | 2 | mechanical-practice | scored metal
burred_edge | shape | pits.edge is burred | mechanical | for | 2 | mechanical-practice | burred edges: metal was moved, not dissolved
rounded_edge | shape | pits.edge is rounded | mechanical | against | 1 | mechanical-practice | rounded edges: metal was dissolved, not moved
sharp_edge | shape | pits.edge is sharp | electrolytic | for | 2 | stray-current-practice | sharp-edged pits
rounded_edge | shape | pits.edge is rounded | electrolytic | against | 1 | stray-current-practice | rounded edges, where stray current leaves sharp ones

# How far the attack goes
even | extent | pits.distribution is even | general | for | 2 | general-corrosion-practice | attack spread evenly
even | extent | pits.distribution is even | electrolytic | against | 2 | stray-current-practice | attack spread evenly, where stray current is local
even | extent | pits.distribution is even | mechanical | against | 2 | mechanical-practice | attack spread evenly, where damage is local
even | extent | pits.distribution is even | differential_aeration | against | 2 | crevice-practice | attack spread evenly, where this form follows edges, bands and deposits
local | extent | pits.distribution is scattered or clustered or single | general | against | 1 | general-corrosion-practice | attack at single places
clustered | extent | pits.distribution is clustered or single | electrolytic | for | 1 | stray-current-practice | attack at one place
single | extent | pits.distribution is single | mechanical | for | 1 | mechanical-practice | damage at one place
band | extent | pits.distribution is band | differential_aeration | for | 1 | crevice-practice | a band of attack
even_thinning | extent | setting.thinning is even | general | for | 2 | general-corrosion-practice | plate thinned evenly
local_thinning | extent | setting.thinning is local | general | against | 2 | general-corrosion-practice | plate thinned only at places

# Colours: they count in the order of the candidates only
bright_silvery | colour | pits.colours is bright_silvery | acid_producing | for | 1 | deposit-colour-practice | bright silvery patches, which practice reads as acid producers
bright_silvery | colour | pits.colours is bright_silvery | sulphate_reducing | for | 1 | alwc-2004 | bright steel, which is as well a sign of sulphate reducers
yellow_brown | colour | pits.colours is yellow_brown | iron_oxidising | for | 1 | deposit-colour-practice | yellow-brown patches, which practice reads as iron oxidisers
orange | colour | pits.colours is orange | sulphate_reducing | for | 1 | alwc-2004 | an orange layer, which may lie over black sludge
red_brown | colour | pits.colours is red_brown | general | for | 1 | general-corrosion-practice | red-brown rust
brown | colour | pits.colours is brown | tubercles | for | 1 | tubercle-practice | brown growths
black | colour | pits.colours is black | tubercles | for | 1 | gerke-2008 | black product, as in the core of a tubercle
black | colour | pits.colours is black or grey_black | sulphate_reducing | for | 1 | alwc-2004 | black or grey-black product
green | colour | pits.colours is green | galvanic | for | 1 | ray-lee-little-2009 | green, where copper may have plated out of the water
black_core | colour | tubercles.core_colour is black or brown_with_black_veins | tubercles | for | 1 | gerke-2008 | a core that is black, or brown with black veins
brown_core | colour | tubercles.core_colour is brown or orange | iron_oxidising | for | 1 | ray-lee-little-2009 | a core of brown or orange iron oxide

# Deposit over the pits
orange_over_black | deposit | pits.deposit is orange_over_black | sulphate_reducing | for | 3 | alwc-2004 | an orange-brown layer over black sludge
orange_over_black | deposit | pits.deposit is orange_over_black | acid_producing | for | 1 | alwc-ports | orange and black products, in which sulphide oxidisers may make sulphuric acid
black_sludge | deposit | pits.deposit is black_sludge | sulphate_reducing | for | 2 | alwc-2004 | black sludge in the pits
slime | deposit | pits.deposit is slime | sulphate_reducing, iron_oxidising, acid_producing | for | 1 | nace-tm0212 | slime over the pits
tubercle_deposit | deposit | pits.deposit is tubercle | tubercles | for | 2 | tubercle-anatomy | a tubercle over the pit
tubercle_deposit | deposit | pits.deposit is tubercle | iron_oxidising | for | 2 | ray-lee-little-2009 | a tubercle over the pit, as iron oxidisers build in fresh water
under_growth | deposit | pits.deposit is tubercle or black_sludge or orange_over_black | electrolytic | against | 2 | stray-current-practice | a growth or sludge over the pit, where stray current leaves clean metal
under_growth | deposit | pits.deposit is tubercle or black_sludge or orange_over_black | mechanical | against | 2 | mechanical-practice | a growth or sludge over the pit, where damage leaves bare metal
loose_rust | deposit | pits.deposit is loose_rust | general | for | 1 | general-corrosion-practice | loose rust
silt_or_debris | deposit | pits.deposit is silt_or_debris | differential_aeration | for | 2 | crevice-practice | silt or debris over the attack
no_deposit | deposit | pits.deposit is none | electrolytic | for | 1 | stray-current-practice | pits without deposit, unless it was washed off
no_deposit | deposit | pits.deposit is none | mechanical | for | 1 | mechanical-practice | metal without deposit, unless it was washed off
no_deposit | deposit | pits.deposit is none | sulphate_reducing, tubercles | against | 1 | nace-tm0212 | no deposit, unless it was washed off
no_deposit | deposit | pits.deposit is none | iron_oxidising | against | 1 | little-2019 | no deposit to act under, unless it was washed off

# Steel under the deposit, and its smell
bright_beneath | surface | pits.surface_under_deposit is bright | sulphate_reducing | for | 2 | alwc-2004 | bright, shiny, pitted steel when cleaned
bright_beneath | surface | pits.surface_under_deposit is bright | acid_producing | for | 1 | alwc-ports | clean corroding steel under the products
bright_beneath | surface | pits.surface_under_deposit is bright | electrolytic | for | 1 | stray-current-practice | clean steel in the pits
bright_beneath | surface | pits.surface_under_deposit is bright | mechanical | for | 1 | mechanical-practice | bright metal
black_beneath | surface | pits.surface_under_deposit is black | sulphate_reducing | for | 1 | alabbas-2013 | a black film on the steel, which may be iron sulphide
black_beneath | surface | pits.surface_under_deposit is black | tubercles | for | 1 | gerke-2008 | a black film on the steel, which may be magnetite
rusted_beneath | surface | pits.surface_under_deposit is rusted | general | for | 1 | general-corrosion-practice | rusted steel under the deposit
bad_eggs | smell | pits.smell is bad_eggs | sulphate_reducing | for | 2 | alwc-2004 | a smell of bad eggs
bad_eggs_with_acid | smell | pits.smell is bad_eggs_with_acid | sulphate_reducing | for | 3 | alwc-2004 | a smell of bad eggs when acid is added to the fresh deposit
no_smell | smell | pits.smell is none | sulphate_reducing | against | 1 | alwc-2004 | no smell, though it may come only with acid and from fresh deposit
no_smell_with_acid | smell | pits.smell is none_with_acid | sulphate_reducing | against | 2 | alwc-2004 | no smell when acid is added to the fresh deposit

# Where it is
near_propeller | place | pits.location is near_propeller | galvanic | for | 2 | galvanic-practice | attack near propeller and shaft
near_skin_fitting | place | pits.location is near_skin_fitting | galvanic | for | 2 | astm-g82 | attack beside a fitting of another metal
paint_break | place | pits.location is paint_break | galvanic | for | 1 | astm-g82 | attack at a break in the paint, where a small area gives for a large one
paint_break | place | pits.location is paint_break | electrolytic | for | 1 | stray-current-practice | attack at a break in the paint, where current can leave
waterline | place | pits.location is waterline | differential_aeration | for | 2 | crevice-practice | attack just under the water line
under_deposit | place | pits.location is under_deposit | differential_aeration | for | 2 | crevice-practice | attack under a deposit
under_deposit | place | pits.location is under_deposit | iron_oxidising | for | 1 | little-2019 | attack under a deposit
crevice_or_lap | place | pits.location is crevice_or_lap | differential_aeration | for | 2 | crevice-practice | attack in a crevice or lap
inside_bilge | place | pits.location is inside_bilge | differential_aeration | for | 1 | crevice-practice | attack under standing water and dirt in the bilge
below_electrical_equipment | place | pits.location is below_electrical_equipment | electrolytic | for | 2 | stray-current-practice | a pump or wiring above the pit
rubbing_edge | place | pits.location is rubbing_edge | mechanical | for | 2 | mechanical-practice | damage where the hull rubs or touches
inside_with_shore_power | place | pits.face is inside and setting.shore_power is yes | electrolytic | against | 1 | stray-current-practice | pits on the inside, where current from ashore does not normally leave

# Rate and size
fast | rate | pits.rate_mm_per_year at least 0.5 | sulphate_reducing | for | 1 | alwc-rate | half a millimetre a year or more
fast | rate | pits.rate_mm_per_year at least 0.5 | electrolytic | for | 1 | stray-current-practice | half a millimetre a year or more
fast | rate | pits.rate_mm_per_year at least 0.5 | general | against | 2 | en-1993-5-fresh | half a millimetre a year or more, many times what general corrosion takes
wide_tubercles | size | tubercles.diameter_mm at least 30 | tubercles | for | 1 | tubercle-practice | growths 30 mm across or more
many_tubercles | size | tubercles.density_per_m2 at least 10 and tubercles.density_per_m2 at most 90 | tubercles | for | 1 | tubercle-practice | growths as many as usual (some 30 a square metre)
pit_beneath | size | tubercles.pit_depth_mm at least 1 | tubercles | for | 1 | tubercle-practice | pits of a millimetre and more under the growths

# Tubercles
tubercles_seen | deposit | tubercles.seen is yes | tubercles | for | 2 | tubercle-anatomy | tubercles on the plate
tubercles_seen | deposit | tubercles.seen is yes | iron_oxidising | for | 1 | ray-lee-little-2009 | tubercles, which iron oxidisers may have built
tubercles_seen | deposit | tubercles.seen is yes | differential_aeration | for | 1 | little-2019 | tubercles, under which oxygen is short
no_tubercles | deposit | tubercles.seen is no | tubercles | against | 3 | tubercle-anatomy | no tubercles on the plate
no_tubercles | deposit | tubercles.seen is no | iron_oxidising | against | 1 | ray-lee-little-2009 | no tubercles on the plate
magnetic_core | test | tubercles.core_magnetic is yes | tubercles | for | 2 | gerke-2008 | a core that a magnet draws: magnetite
unmagnetic_core | test | tubercles.core_magnetic is no | tubercles | against | 1 | gerke-2008 | a core that no magnet draws, though every tubercle examined held some magnetite

# The setting
dissimilar_metals | setting | setting.dissimilar_metals_near is yes | galvanic | for | 2 | astm-g82 | a nobler metal near by
no_dissimilar_metals | setting | setting.dissimilar_metals_near is no | galvanic | against | 2 | astm-g82 | no dissimilar metal near by
stray_source | setting | setting.stray_current_source_near is yes | electrolytic | for | 2 | stray-current-practice | a source of stray current near by
no_stray_source | setting | setting.stray_current_source_near is no | electrolytic | against | 2 | stray-current-practice | no source of stray current near by, and true stray current is rare
joined_ashore | setting | setting.shore_power is yes and setting.galvanic_isolator is no | galvanic | for | 2 | galvanic-practice | shore power without a galvanic isolator, which joins the hull to its neighbours
joined_ashore | setting | setting.shore_power is yes and setting.galvanic_isolator is no | electrolytic | for | 1 | stray-current-practice | shore power without a galvanic isolator, through which current from ashore may pass
no_anodes | setting | setting.anodes_fitted is no | galvanic | for | 1 | astm-g82 | no anodes
no_anodes | setting | setting.anodes_fitted is no | general | for | 1 | general-corrosion-practice | no anodes
anodes_used_fast | setting | setting.anode_wear is fast | galvanic | for | 2 | astm-g82 | anodes used up fast
anodes_used_fast | setting | setting.anode_wear is fast | electrolytic | for | 1 | stray-current-practice | anodes used up fast
bare | setting | setting.paint is none | general | for | 1 | general-corrosion-practice | bare plate
worn_paint | setting | setting.paint_condition is worn_off | general | for | 1 | general-corrosion-practice | paint worn off
damaged_paint | setting | setting.paint_condition is damaged | differential_aeration | for | 1 | crevice-practice | damaged paint, under whose lifted edges oxygen is short
sound_paint | setting | setting.paint_condition is sound | general | against | 2 | general-corrosion-practice | sound paint
fresh_water | setting | setting.water is fresh | iron_oxidising | for | 1 | ray-lee-little-2009 | fresh water
grounded | setting | setting.scraped_or_grounded is yes | mechanical | for | 2 | mechanical-practice | the boat scraped or took the ground here
not_grounded | setting | setting.scraped_or_grounded is no | mechanical | against | 2 | mechanical-practice | the boat neither scraped nor took the ground here

# Tests
acid_deposit | test | pits.deposit_ph at most 4.5 | acid_producing | for | 3 | kelly-wood-2000 | a deposit as acid as acid producers need
acid_deposit | test | pits.deposit_ph at most 4.5 | tubercles | for | 1 | tubercle-anatomy | acid fluid, as in the cavity of a tubercle
neutral_deposit | test | pits.deposit_ph at least 6 | acid_producing | against | 3 | kelly-wood-2000 | a deposit in which acid producers do not live
shore_shift | test | tests.shore_power_shifts_potential is yes | galvanic, electrolytic | for | 2 | stray-current-practice | the hull's potential moves when shore power is connected
no_shore_shift | test | tests.shore_power_shifts_potential is no | electrolytic | against | 1 | stray-current-practice | the hull's potential does not move with shore power; the boat's own circuits remain
earth_current | test | tests.dc_in_earth_lead is yes | galvanic, electrolytic | for | 2 | stray-current-practice | direct current in the earth lead
leakage | test | tests.dc_leakage_to_hull is yes | electrolytic | for | 3 | stray-current-practice | direct current leaks from the boat's own circuits to the hull
no_leakage | test | tests.dc_leakage_to_hull is no | electrolytic | against | 2 | stray-current-practice | no direct current leaks from the boat's own circuits to the hull
sulphide | test | tests.sulphide_in_deposit is yes | sulphate_reducing | for | 3 | alwc-2004 | sulphide in the deposit
no_sulphide | test | tests.sulphide_in_deposit is no | sulphate_reducing | against | 3 | alwc-2004 | no sulphide in the fresh deposit
srb_found | test | tests.bacteria_found is sulphate_reducing | sulphate_reducing | for | 2 | nace-tm0212 | sulphate reducers in the deposit; their presence is not yet their work
iob_found | test | tests.bacteria_found is iron_oxidising | iron_oxidising | for | 2 | nace-tm0212 | iron oxidisers in the deposit; their presence is not yet their work
apb_found | test | tests.bacteria_found is acid_producing | acid_producing | for | 2 | nace-tm0212 | acid producers in the deposit; their presence is not yet their work
no_bacteria | test | tests.bacteria_found is none | sulphate_reducing, acid_producing | against | 2 | nace-tm0212 | no bacteria of these kinds in the deposit
no_bacteria | test | tests.bacteria_found is none | iron_oxidising | against | 1 | little-2019 | no bacteria in the deposit, though once begun the attack goes on without them
"""  # noqa: E501  a line of the table is a line


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """One sign's effect on one form."""

    sign: str
    kind: str
    condition: str
    form: str
    effect: str
    weight: int
    reference: str
    words: str
    seen: Callable[[Facts], bool]


@dataclass(frozen=True, kw_only=True)
class Difference:
    """Where practice and literature read one sign differently: both are told."""

    condition: str
    practice: str
    literature: str
    seen: Callable[[Facts], bool]


def condition(text: str) -> Callable[[Facts], bool]:
    """Return whether some facts fulfil a condition of the table.

    Examples
    --------
    >>> seen = condition("pits.profile is narrow_deep or irregular and pits.deposit_ph at most 4.5")
    >>> seen({"pits.profile": {"irregular"}, "pits.deposit_ph": 4.5}), seen({"pits.profile": {"irregular"}})
    (True, False)
    """
    clauses = [_clause(part) for part in text.split(" and ")]
    return lambda facts: all(holds(facts) for holds in clauses)


def _clause(text: str) -> Callable[[Facts], bool]:
    name, word, *rest = text.split()
    if word == "is":
        wanted = frozenset(rest) - {"or"}
        return lambda facts: not wanted.isdisjoint(facts.get(name, ()))
    limit, sign = float(rest[1]), 1 if rest[0] == "least" else -1
    return lambda facts: name in facts and sign * facts[name] >= sign * limit


def _rows(table: str) -> tuple[Evidence, ...]:
    lines = [line for line in table.splitlines() if line and not line.startswith("#")]
    cells = [[cell.strip() for cell in line.split("|")] for line in lines]
    return tuple(
        Evidence(
            sign=sign,
            kind=kind,
            condition=where,
            form=form,
            effect=effect,
            weight=int(weight),
            reference=reference,
            words=words,
            seen=condition(where),
        )
        for sign, kind, where, forms, effect, weight, reference, words in cells
        for form in forms.split(", ")
    )


EVIDENCE = _rows(_TABLE)


def _difference(where: str, practice: str, literature: str) -> Difference:
    return Difference(condition=where, practice=practice, literature=literature, seen=condition(where))


DIFFERENCES = (
    _difference(
        "pits.colours is bright_silvery",
        "practice reads bright silvery patches as acid producers (common practice)",
        "bright steel under black sludge is as well the sign of sulphate reducers (alwc-2004), and acid producers are not to "
        "be expected in neutral open water (kelly-wood-2000, from memory)",
    ),
    _difference(
        "pits.colours is yellow_brown",
        "practice reads yellow-brown patches as iron oxidisers (common practice)",
        "iron oxidisers act by the dense deposits that they leave, and once begun it goes on without them (little-2019)",
    ),
    _difference(
        "tubercles.seen is yes",
        "practice tells tubercles by a brown outside and a black magnetic inside (common practice)",
        "goethite, lepidocrocite and magnetite were found in every tubercle, the shell rich in magnetite, the core hard and "
        "black or soft and brown with black veins (gerke-2008)",
    ),
    _difference(
        "pits.profile is narrow_deep or wide_shallow or irregular",
        "practice tells galvanic and microbiological attack by the shape of the pits (common practice)",
        "shapes follow the steel's own structure too and alone prove nothing (astm-g46, little-lee-2007, from memory)",
    ),
)
