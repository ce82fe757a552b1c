"""Capacities from the Faraday constant and atomic masses, and what practice makes of them."""

from dataclasses import replace

import pytest
from scipy.constants import physical_constants

from platemargin.anode_materials import MATERIALS, AnodeMaterial, faraday_ah_per_kg
from platemargin.anode_output import mass_required_kg

LB = 0.45359237
FARADAY = physical_constants["Faraday constant"][0]
#: Valence and atomic mass [g/mol] (IUPAC), recalled apart from the service's.
METALS = {AnodeMaterial.MAGNESIUM: (2, 24.305), AnodeMaterial.ALUMINIUM: (3, 26.982), AnodeMaterial.ZINC: (2, 65.38)}


@pytest.mark.parametrize("metal", METALS)
def test_charge_of_a_kilogram(metal):
    """z F / M, in ampere hours."""
    valence, mass = METALS[metal]
    assert faraday_ah_per_kg(MATERIALS[metal]) == pytest.approx(valence * FARADAY / (mass / 1000) / 3600, rel=1e-4)


@pytest.mark.parametrize(
    ("metal", "ah_per_kg"), [(AnodeMaterial.ZINC, 820), (AnodeMaterial.ALUMINIUM, 2980), (AnodeMaterial.MAGNESIUM, 2205)]
)
def test_the_usual_capacities(metal, ah_per_kg):
    """Quoted by DNV-RP-B401, BS 7361-1 and handbooks (from memory)."""
    assert faraday_ah_per_kg(MATERIALS[metal]) == pytest.approx(ah_per_kg, abs=0.6)


@pytest.mark.parametrize(("metal", "ah_per_lb", "within"), [(AnodeMaterial.MAGNESIUM, 1000, 1), (AnodeMaterial.ZINC, 372, 0.2)])
def test_ampere_hours_a_pound(metal, ah_per_lb, within):
    """Corrosion (NACE) 1(2), 59 (1945), abstract, read."""
    assert faraday_ah_per_kg(MATERIALS[metal]) * LB == pytest.approx(ah_per_lb, abs=within)


@pytest.mark.parametrize(
    ("metal", "pounds", "kilograms", "within"),
    # 8.8 lb/A year of magnesium: MIL-HDBK-1004/10, read; 23.5 of zinc: from memory; kilograms derived.
    [
        (AnodeMaterial.MAGNESIUM, 8.8, 3.97, 0.06),
        (AnodeMaterial.ZINC, 23.5, 10.68, 0.1),
        (AnodeMaterial.ALUMINIUM, None, 2.94, None),
    ],
)
def test_consumption_a_year(metal, pounds, kilograms, within):
    """What an ampere uses in a year of 8760 hours."""
    used = mass_required_kg(1.0, 1.0, 1.0, faraday_ah_per_kg(MATERIALS[metal]))
    assert used == pytest.approx(kilograms, abs=0.006)
    if pounds is not None:
        assert used / LB == pytest.approx(pounds, abs=within)


@pytest.mark.parametrize(
    ("metal", "capacity", "percent", "within"),
    [
        (AnodeMaterial.ZINC, 780.0, 95.1, 0.1),
        (AnodeMaterial.ALUMINIUM, 2000.0, 67.1, 0.1),
        (AnodeMaterial.ALUMINIUM, 8760 / (7.6 * LB), 85.0, 0.5),
        (AnodeMaterial.MAGNESIUM, 1230.0, 55.8, 0.1),
        (AnodeMaterial.ZINC, 368 / LB, 99.0, 0.2),
    ],
)
def test_efficiencies(metal, capacity, percent, within):
    """Practical over theoretical capacity; 7.6 lb/A year (MIL-HDBK-1004/10 p. 209, read) is aluminium at 85 %."""
    assert 100 * capacity / faraday_ah_per_kg(MATERIALS[metal]) == pytest.approx(percent, abs=within)


def test_the_services_own_capacities_are_the_practical_ones():
    """780, 2000 (DNV-RP-B401 Table 10-6, from memory) and 1100 Ah/kg (Roberge 2008, p. 555, read)."""
    assert [MATERIALS[metal].capacity_ah_per_kg for metal in AnodeMaterial] == [1100.0, 2000.0, 780.0]


def test_iron_that_an_ampere_dissolves():
    """9.1 kg a year by an ampere, a textbook figure; 1.16 mm a year by 1 A/m2, ASTM G102-89 (both from memory)."""
    iron = replace(MATERIALS[AnodeMaterial.ZINC], valence=2, molar_mass_g=55.845)
    kilograms = mass_required_kg(1.0, 1.0, 1.0, faraday_ah_per_kg(iron))
    assert kilograms == pytest.approx(9.13, abs=0.005)
    assert 1000 * kilograms / 7870 == pytest.approx(1.16, abs=0.005)
