"""Source: from memory of UN Regulation 83 (5.3.7.3 and the idle test annex); not looked up."""

from __future__ import annotations

import pytest

from engine.formulas.fuel_types import FUELS
from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask


@pytest.mark.parametrize(
    ("fuel", "h_c", "o_c", "need", "greatest_co2"),
    [
        ("e5", 1.89, 0.016, 1.464500, 15.323),
        ("e10", 1.93, 0.033, 1.466000, 15.310),
        ("e85", 2.74, 0.39, 1.490000, 15.101),
        ("lpg", 2.53, 0.0, 1.632500, 13.967),
        ("cng", 4.0, 0.0, 2.000000, 11.701),
        (
            "petrol",
            1.7261,
            0.0176,
            1.422725,
            15.703,
        ),  # widely used default, from memory, not of the regulation
    ],
)
def test_fuel_constants(fuel: str, h_c: float, o_c: float, need: float, greatest_co2: float) -> None:
    atoms = FUELS[fuel]
    assert (atoms.h_c, atoms.o_c) == (h_c, o_c)
    assert atoms.oxygen_need == pytest.approx(need, abs=5e-7)
    assert atoms.greatest_co2 == pytest.approx(greatest_co2, abs=6e-4)


@pytest.mark.parametrize(
    ("fuel", "co", "co2", "expected"),
    [
        ("petrol", 0.40, 11.0, 0.52632),
        ("petrol", 0.50, 14.7, 0.50),  # CO + CO2 above 15: nothing to correct
        ("lpg", 0.30, 10.2, 0.38571),
        ("cng", 0.2, 9.0, 0.25),
        ("e10", 0.40, 11.0, 0.52632),
    ],
)
def test_carbon_monoxide_of_a_diluted_sample(fuel: str, co: float, co2: float, expected: float) -> None:
    assert ask("co_corrected", co=co, co2=co2, fuel=fuel) == pytest.approx(expected, rel=2e-5)


def test_a_sample_under_6_percent_is_no_sample() -> None:
    # from memory of 40 CFR 51 subpart S
    with pytest.raises(FormulaError, match=r"5\.8 %.*6 %"):
        formula("co_corrected").compute(co=0.3, co2=5.5)


@pytest.mark.parametrize(
    ("fuel", "expected"),
    [("petrol", 14.3), ("e5", 13.9), ("e10", 13.9), ("e85", 13.7), ("lpg", 12.7), ("cng", 10.6)],
)
def test_least_carbon_of_an_undiluted_sample(fuel: str, expected: float) -> None:
    # the share 0.91 is common practice, the greatest CO2 follows from the atoms
    assert ask("dilution_limit", fuel=fuel) == pytest.approx(expected, abs=0.06)
