"""EN 1993-5:2007, Table 4-2: loss of thickness per face. Sea rows as read; fresh rows from memory."""

import numpy as np
import pytest

from platemargin.corrosion_rate import Environment, corrosion_rate

AGES = (5.0, 25.0, 50.0, 75.0, 100.0)
TABLE_MM = {
    Environment.FRESH_WATER: (0.15, 0.55, 0.90, 1.15, 1.40),  # common fresh water, high attack; from memory
    Environment.POLLUTED_FRESH_WATER: (0.30, 1.30, 2.30, 3.30, 4.30),  # very polluted fresh water, high attack; from memory
    Environment.SEA_SPLASH: (0.55, 1.90, 3.75, 5.60, 7.50),  # sea water, high attack; published
    Environment.SEA_IMMERSED: (0.25, 0.90, 1.75, 2.60, 3.50),  # sea water, permanent immersion; published
}
CELLS = [(water, age, loss) for water, row in TABLE_MM.items() for age, loss in zip(AGES, row, strict=True)]


def benchmark_mm(environment, years, **changes):
    """Return the benchmark of plate of an age."""
    given = {"original_mm": 10.0, "residual_mm": 9.0, "years_in_service": years, "environment": environment, **changes}
    return corrosion_rate(**given).benchmark_loss_mm


@pytest.mark.parametrize(("environment", "years", "loss_mm"), CELLS)
def test_cell(environment, years, loss_mm):
    """Every cell of the table is the loss of one face at its age."""
    assert benchmark_mm(environment, years) == pytest.approx(loss_mm, abs=1e-12)


@pytest.mark.parametrize(("environment", "years", "loss_mm"), CELLS)
def test_two_faces(environment, years, loss_mm):
    """The table is per face: plate attacked from both loses twice as much."""
    assert benchmark_mm(environment, years, faces=2) == pytest.approx(2 * loss_mm, abs=1e-12)


@pytest.mark.parametrize("environment", TABLE_MM)
def test_linear_between_ages(environment):
    """Between two ages, and from none at no age, the loss is in proportion to the time."""
    ages, losses = (0.0, *AGES), (0.0, *TABLE_MM[environment])
    years = np.arange(0.5, 100.0, 0.5)
    np.testing.assert_allclose(benchmark_mm(environment, years), np.interp(years, ages, losses), atol=1e-12)


def test_fresh_water_at_fifteen_years():
    """Half way from 0.15 mm at 5 years to 0.55 mm at 25: 0.35 mm per face (from memory)."""
    assert benchmark_mm(Environment.FRESH_WATER, 15.0) == pytest.approx(0.35, abs=1e-12)


def test_age_is_that_without_protection():
    """The table is of unprotected steel: years in which a coating kept it do not count."""
    assert benchmark_mm(Environment.FRESH_WATER, 20.0, protected_years=5.0) == pytest.approx(0.35, abs=1e-12)


@pytest.mark.parametrize("environment", TABLE_MM)
def test_no_value_past_the_table(environment):
    """The table ends at 100 years: past it there is no benchmark, and none is made up."""
    assert np.isnan(benchmark_mm(environment, 100.01))


def test_ratio_is_of_the_general_loss():
    """The table is uniform loss: it is compared with the loss beside the pits, never with a pit's."""
    rate = corrosion_rate(
        original_mm=10.0,
        residual_mm=6.2,
        years_in_service=15.0,
        general_loss_mm=0.7,
        environment=Environment.FRESH_WATER,
    )
    assert rate.benchmark_ratio == pytest.approx(0.7 / 0.35)
