"""How long anodes last at what is drawn of them, while the coating goes on breaking down."""

from __future__ import annotations

from collections.abc import Callable

from platemargin.anode_output import AnodeOutput, charge_life_years
from platemargin.quantities import rounded

__all__ = ["drawn_a", "expected_years"]

#: So early [year] that nothing of a coating has gone since it was new.
_FIRST_YEARS = 1e-6
_BISECTIONS = 80


def drawn_a(output: AnodeOutput, count: int, mass_kg: float, demand_a: Callable[[float], float]) -> float:
    """Return the current that is drawn on average over the anodes' own life [A].

    Magnesium gives all that it can. Zinc and aluminium give no more than the steel takes, which grows for as long as they
    last: their life is that at which what was taken uses up their charge. `mass_kg` is that of one anode [kg], `demand_a` the
    mean current that the steel takes over some years.
    """
    given = count * output.output_mean_a
    if not output.material.passivates:
        return float(rounded(given, "A"))
    low, high = 0.0, charge_life_years(output, count * mass_kg, min(given, demand_a(_FIRST_YEARS)))
    for _ in range(_BISECTIONS):
        years = (low + high) / 2
        lasts = charge_life_years(output, count * mass_kg, min(given, demand_a(years)))
        low, high = (years, high) if years < lasts else (low, years)
    return float(rounded(min(given, demand_a(high)), "A"))


def expected_years(output: AnodeOutput, resistivity_ohm_m: float, charge_life: float) -> float | None:
    """Return the life by charge [year]; None of a metal that is passive, or that corrodes away by itself before it is used."""
    beyond = rounded(charge_life, "year") > output.material.longest_years
    return None if beyond or output.material.passive_in(resistivity_ohm_m) else charge_life
