"""A budget of uncertainty: one line for each input, combined as the GUM does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from platemargin.quantities import Array, Floats, as_array

__all__ = ["BudgetLine", "budget_line", "combined_uncertainty"]


@dataclass(frozen=True, kw_only=True)
class BudgetLine:
    """What one input contributes; arrays of one shape, by row."""

    quantity: Array
    standard_uncertainty: Floats
    unit: Array
    sensitivity: Floats
    contribution_mm: Floats


def budget_line(
    quantity: int, standard_uncertainty: npt.ArrayLike, unit: npt.ArrayLike, sensitivity: npt.ArrayLike, like: Array
) -> BudgetLine:
    """Return a line of a thickness's budget; its contribution is |sensitivity| x standard uncertainty [mm] (GUM 5.1.3).

    Examples
    --------
    >>> budget_line(0, 30.0, "m/s", 0.0017, like=np.zeros(1)).contribution_mm.round(3).tolist()
    [0.051]
    """
    names, uncertainty, units, change, _ = np.broadcast_arrays(quantity, standard_uncertainty, unit, sensitivity, like)
    return BudgetLine(
        quantity=names,
        standard_uncertainty=uncertainty,
        unit=units,
        sensitivity=change,
        contribution_mm=np.abs(change) * uncertainty,
    )


def combined_uncertainty(contributions: Sequence[npt.ArrayLike]) -> Floats:
    """Return the combined standard uncertainty of inputs that do not depend on each other (GUM 5.1.2).

    Examples
    --------
    >>> float(combined_uncertainty([0.15, 0.20]).round(12))
    0.25
    """
    return as_array(np.sqrt(sum(np.square(contribution) for contribution in contributions)))
