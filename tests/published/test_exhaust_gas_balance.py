"""Source: J. Brettschneider, Bosch Technische Berichte 6 (1979) no. 4, 177-186 (citation and structure seen).

The figures are the balance worked out with K = 3.5 and six carbon atoms per hexane.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formulas.fuel_types import FUELS
from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask

FUEL_NAMES = st.sampled_from(sorted(FUELS))


@pytest.mark.parametrize(
    ("fuel", "co", "co2", "o2", "hc", "no", "expected"),
    [
        ("petrol", 0.5, 14.7, 0.5, 100, 0, 1.00468),
        ("petrol", 0.2, 15.2, 0.4, 50, 0, 1.01059),
        ("petrol", 3.0, 12.5, 0.3, 300, 100, 0.91571),
        ("petrol", 0.05, 13.0, 2.8, 40, 0, 1.14702),
        ("petrol", 0.1, 12.0, 4.0, 900, 200, 1.17679),
        ("e5", 0.5, 14.7, 0.5, 100, 0, 1.00416),
        ("e10", 0.5, 14.7, 0.5, 100, 0, 1.00409),
        ("e85", 0.5, 14.7, 0.5, 100, 0, 1.00266),
        ("lpg", 0.5, 13.0, 0.5, 100, 0, 1.00268),
        ("cng", 0.5, 11.0, 0.5, 100, 0, 0.99925),
        ("petrol", 0, 15.0, 0, 0, 0, 1.00000),
        ("petrol", 0, 13.5, 2.0, 0, 0, 1.10413),
        # misfire, half-blind bench, air in the sample: lambda 1.000 on E5 with 137 ppm NO undiluted (derived)
        ("e5", 0.070, 14.407, 1.151, 1270, 130, 0.9999),
        ("e5", 0.070, 14.407, 1.151, 635, 130, 1.0255),
        ("e5", 0.070, 14.476, 1.083, 0, 130, 1.0491),
        ("e5", 0.066, 13.714, 2.129, 0, 123, 1.1037),
    ],
)
def test_lambda_of_the_balance(
    fuel: str, co: float, co2: float, o2: float, hc: float, no: float, expected: float
) -> None:
    found = ask("lambda_from_gas", co=co, co2=co2, o2=o2, hc=hc, no=no, fuel=fuel)
    assert found == pytest.approx(expected, rel=1e-4)


@given(fuel=FUEL_NAMES, co2=st.floats(6, 20))
def test_complete_combustion_without_oxygen_is_lambda_1_for_any_fuel(fuel: str, co2: float) -> None:
    assert ask("lambda_from_gas", co=0.0, co2=co2, o2=0.0, fuel=fuel) == pytest.approx(1.0, abs=1e-12)


@given(
    fuel=FUEL_NAMES,
    co=st.floats(0, 5),
    co2=st.floats(10, 15),
    o2=st.floats(0, 5),
    hc=st.floats(0, 2000),
    no=st.floats(0, 3000),
    share=st.floats(0.65, 1),
)
def test_nitrogen_in_the_sample_changes_nothing(
    fuel: str, co: float, co2: float, o2: float, hc: float, no: float, share: float
) -> None:
    whole = ask("lambda_from_gas", co=co, co2=co2, o2=o2, hc=hc, no=no, fuel=fuel)
    thin = {"co": co * share, "co2": co2 * share, "o2": o2 * share, "hc": hc * share, "no": no * share}
    assert ask("lambda_from_gas", fuel=fuel, **thin) == pytest.approx(whole, rel=1e-12)


@given(fuel=FUEL_NAMES, co2=st.floats(6, 16), o2=st.floats(0, 10))
def test_lean_without_monoxide_is_the_oxygen_left_over(fuel: str, co2: float, o2: float) -> None:
    expected = 1 + o2 / (FUELS[fuel].oxygen_need * co2)
    assert ask("lambda_from_gas", co=0.0, co2=co2, o2=o2, fuel=fuel) == pytest.approx(expected, rel=1e-12)


@given(fuel=FUEL_NAMES, co=st.floats(0, 5), co2=st.floats(8, 15), o2=st.floats(0, 5), hc=st.floats(0, 2000))
def test_oxygen_raises_lambda_and_hydrocarbons_lower_it(
    fuel: str, co: float, co2: float, o2: float, hc: float
) -> None:
    base = ask("lambda_from_gas", co=co, co2=co2, o2=o2, hc=hc, fuel=fuel)
    assert ask("lambda_from_gas", co=co, co2=co2, o2=o2 + 0.1, hc=hc, fuel=fuel) > base
    assert ask("lambda_from_gas", co=co, co2=co2, o2=o2, hc=hc + 50, fuel=fuel) < base


def test_propane_and_carbon_displays_mean_the_same_gas_as_hexane() -> None:
    gas = {"co": 0.5, "co2": 14.7, "o2": 0.5}
    # 1200 ppm propane on an analyser marked 0.512 are 614.4 ppm hexane, 3686.4 ppm carbon
    hexane = ask("lambda_from_gas", hc=614.4, **gas)
    assert ask("lambda_from_gas", hc=1200.0, hc_as="propane", pef=0.512, **gas) == pytest.approx(
        hexane, rel=1e-12
    )
    assert ask("lambda_from_gas", hc=3686.4, hc_as="carbon", **gas) == pytest.approx(hexane, rel=1e-12)
    assert ask("lambda_from_gas", hc=1000.0, hc_as="propane", **gas) == pytest.approx(
        ask("lambda_from_gas", hc=520.0, **gas), rel=1e-12
    )


@pytest.mark.parametrize(
    ("gas", "named"),
    [
        ({"co": 6.0, "co2": 0.9, "o2": 0.0}, "co2 is 0.9 %"),
        ({"co": 0.8, "co2": 5.0, "o2": 12.0}, "co + co2 is 5.8 %"),
        ({"co": 9.0, "co2": 12.0, "o2": 0.0}, "co + co2 is 21 %"),
        ({"co": -0.5, "co2": 14.0, "o2": 0.0}, "co is -0.5 %"),
        ({"co": 15.1, "co2": 2.0, "o2": 0.0}, "0 to 15 %"),
        ({"co": 0.5, "co2": 20.5, "o2": 0.0}, "0 to 20 %"),
        ({"co": 0.5, "co2": -1.0, "o2": 0.0}, "co2 is -1.0 %"),
        ({"co": 0.5, "co2": 14.0, "o2": -0.31}, "-0.3 to 22 %"),
        ({"co": 0.5, "co2": 14.0, "o2": 22.5}, "-0.3 to 22 %"),
        ({"co": 0.5, "co2": 14.0, "o2": 0.5, "hc": -1.0}, "0 to 20000 ppm"),
        ({"co": 0.5, "co2": 14.0, "o2": 0.5, "hc": 20001.0}, "0 to 20000 ppm"),
        ({"co": 0.5, "co2": 14.0, "o2": 0.5, "no": 5001.0}, "0 to 5000 ppm"),
        ({"co": 0.5, "co2": 14.0, "o2": float("nan")}, "o2 is nan"),
    ],
)
def test_gas_that_cannot_be_is_refused(gas: dict[str, float], named: str) -> None:
    with pytest.raises(FormulaError, match="lambda_from_gas") as refusal:
        formula("lambda_from_gas").compute(**gas)
    assert named in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_a_drifted_oxygen_zero_is_taken() -> None:
    assert ask("lambda_from_gas", co=0.5, co2=14.7, o2=-0.3) < ask(
        "lambda_from_gas", co=0.5, co2=14.7, o2=0.0
    )
