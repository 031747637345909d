"""Source: data sheets of a usual 2.5 kohm coolant sensor (common practice, agreed with a public listing)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask

TABLE = {
    -30: 26114, -20: 15462, -10: 9397, 0: 5896, 10: 3792, 20: 2500, 30: 1707, 40: 1175, 50: 834, 60: 596,
    70: 436, 80: 323, 90: 243, 100: 187, 110: 144, 120: 113,
}  # fmt: skip
BETA = {"r0": 2500.0, "t0": 20.0, "beta": 3530.91}


def test_beta_of_the_table() -> None:
    found = math.log(2500 / 323) / (1 / 293.15 - 1 / 353.15)
    assert found == pytest.approx(3530.91, abs=0.005)


@pytest.mark.parametrize(
    ("ohms", "temp"),
    [(400, 72.606), (1158.4, 40.0), (6038.8, 0.0), (189.0, 100.0), (423, 70.72), (2500, 20.0)],
)
def test_temperature_by_beta(ohms: float, temp: float) -> None:
    assert ask("thermistor_temp", ohms=float(ohms), **BETA) == pytest.approx(temp, abs=0.02)


@pytest.mark.parametrize("temp", [temp for temp in TABLE if 0 <= temp <= 100])
def test_one_beta_fits_the_table_within_six_tenths(temp: int) -> None:
    assert ask("thermistor_temp", ohms=float(TABLE[temp]), **BETA) == pytest.approx(temp, abs=0.605)


def _three_terms() -> dict[str, float]:
    """Return the coefficients through three points of the table, by a 3 x 3 solve."""
    points = [(TABLE[temp], temp + 273.15) for temp in (-10, 20, 80)]
    matrix = [[1, math.log(ohms), math.log(ohms) ** 3] for ohms, _ in points]
    return dict(
        zip("abc", map(float, np.linalg.solve(matrix, [1 / kelvin for _, kelvin in points])), strict=True)
    )


def test_three_terms_of_the_table() -> None:
    found = _three_terms()
    assert found["a"] == pytest.approx(1.279464e-03, rel=1e-6)
    assert found["b"] == pytest.approx(2.640883e-04, rel=1e-6)
    assert found["c"] == pytest.approx(1.367977e-07, rel=1e-5)


@pytest.mark.parametrize(
    ("ohms", "temp"), [(5879.7, 0), (1169.7, 40), (186.6, 100), (113.5, 120), (9397, -10), (323, 80)]
)
def test_temperature_by_three_terms(ohms: float, temp: float) -> None:
    assert ask("steinhart_hart", ohms=float(ohms), **_three_terms()) == pytest.approx(temp, abs=0.02)


@pytest.mark.parametrize(("ohms", "found"), [(1e6, "-77 °C"), (1.0, "no temperature at all|°C")])
def test_open_and_short_are_refused(ohms: float, found: str) -> None:
    with pytest.raises(FormulaError, match=found):
        formula("thermistor_temp").compute(ohms=ohms, **BETA)
