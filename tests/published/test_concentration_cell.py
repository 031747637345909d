"""Source: the concentration-cell (Nernst) equation with CODATA 2018 constants.

For the exhaust sensor D. S. Eddy, IEEE Trans. Veh. Technol. (1974): abstract seen, year from memory.
"""

from __future__ import annotations

import pytest
from scipy import constants

from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask, ask_lambda


@pytest.mark.parametrize(("temp", "slope"), [(350, 30.9116), (600, 43.3129), (800, 53.2340)])
def test_slope_per_decade(temp: float, slope: float) -> None:
    cell = {"o2_reference": 0.2095, "o2_exhaust": 0.02095, "temp": float(temp)}
    assert ask("nernst_emf", "slope", **cell) == pytest.approx(slope, rel=2e-6)
    assert ask("nernst_emf", "emf", **cell) == pytest.approx(slope, rel=2e-6)
    by_scipy = (
        1e3 * constants.R * (temp + 273.15) * 2.302585092994046 / (4 * constants.value("Faraday constant"))
    )
    assert ask("nernst_emf", "slope", **cell) == pytest.approx(by_scipy, rel=1e-8)


@pytest.mark.parametrize(
    ("temp", "oxygen", "emf"),
    [
        (350, 5.8014e-16, 450), (600, 8.5442e-12, 450), (800, 7.3780e-10, 450),
        (350, 7.0977e-08, 200), (600, 5.0539e-06, 200), (800, 3.6659e-05, 200),
        (350, 1.6065e-30, 900), (600, 3.4847e-22, 900), (800, 2.5983e-18, 900),
    ],
)  # fmt: skip
def test_oxygen_at_known_voltages(temp: float, oxygen: float, emf: float) -> None:
    assert ask(
        "nernst_emf", "emf", o2_reference=0.2095, o2_exhaust=oxygen, temp=float(temp)
    ) == pytest.approx(emf, abs=0.002)


@pytest.mark.parametrize(("temp", "emf"), [(350, 41.693), (600, 58.420), (800, 71.802)])
def test_lean_voltage_from_the_oxygen_left_over(temp: float, emf: float) -> None:
    # fuel CH1.85 at lambda 1.05: only the excess air counts
    need, excess = 1 + 1.85 / 4, (1 + 1.85 / 4) * 0.05
    oxygen = excess / (1 + 1.85 / 2 + excess + need * 1.05 * 0.7905 / 0.2095)
    assert ask(
        "nernst_emf", "emf", o2_reference=0.2095, o2_exhaust=oxygen, temp=float(temp)
    ) == pytest.approx(emf, abs=0.002)
    assert ask_lambda("sensor_voltage", 1.05, temp=float(temp)) == pytest.approx(emf, abs=0.5)


@pytest.mark.parametrize("temp", [350.0, 600.0, 800.0])
def test_450_millivolts_sit_at_lambda_1(temp: float) -> None:
    assert ask_lambda("sensor_voltage", 1 - 2e-5, temp=temp) > 450
    assert ask_lambda("sensor_voltage", 1 + 2e-5, temp=temp) < 450


def test_a_hotter_tip_narrows_the_swing_from_both_ends() -> None:
    rich = [ask_lambda("sensor_voltage", 0.95, temp=temp) for temp in (350.0, 600.0, 800.0)]
    lean = [ask_lambda("sensor_voltage", 1.05, temp=temp) for temp in (350.0, 600.0, 800.0)]
    assert rich == sorted(rich, reverse=True)
    assert lean == sorted(lean)
    assert rich[1] - ask_lambda("sensor_voltage", 0.99, temp=600.0) == pytest.approx(63, abs=2)


@pytest.mark.parametrize(
    ("values", "named"),
    [
        ({"lambda": 0.79, "temp": 600.0}, "0.8 to 1.5"),
        ({"lambda": 1.51, "temp": 600.0}, "0.8 to 1.5"),
        ({"lambda": 0.95, "temp": 299.0}, "300 to 900 °C"),
        ({"lambda": 0.95, "temp": 901.0}, "300 to 900 °C"),
        ({"lambda": 0.95, "temp": 600.0, "fuel": "diesel"}, "petrol, e5"),
    ],
)
def test_outside_the_range_is_refused(values: dict[str, float | str], named: str) -> None:
    with pytest.raises(FormulaError) as refusal:
        formula("sensor_voltage").compute(**values)
    assert named in str(refusal.value)


def test_no_oxygen_at_all_is_refused() -> None:
    with pytest.raises(FormulaError, match="o2_exhaust is 0"):
        formula("nernst_emf").compute(o2_reference=0.2095, o2_exhaust=0.0, temp=600.0)
