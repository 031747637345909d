"""Source: ISO 2533:1975 / US Standard Atmosphere 1976, pressure by geometric altitude (from memory)."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask


@pytest.mark.parametrize(
    ("altitude", "pressure"),
    [
        (0, 101.325), (300, 97.7727), (500, 95.4613), (1000, 89.8763), (1500, 84.5597), (2000, 79.5014),
        (2500, 74.6918), (3000, 70.1212), (5000, 54.048), (10000, 26.500), (11000, 22.700),
    ],
)  # fmt: skip
def test_table(altitude: float, pressure: float) -> None:
    assert ask("barometric_pressure", altitude=float(altitude)) == pytest.approx(pressure, rel=1e-4)


def test_hydrostatic_balance_gives_the_same() -> None:
    """Integrate dp/p = -M g / (R T) dH numerically; constants of the standard."""
    height = 6356766 * 3000 / (6356766 + 3000)
    integral, _ = quad(lambda h: 0.0289644 * 9.80665 / (8.31432 * (288.15 - 0.0065 * h)), 0, height)
    assert ask("barometric_pressure", altitude=3000.0) == pytest.approx(
        101.325 * math.exp(-integral), rel=1e-6
    )


def test_pressure_of_a_weather_report_at_a_place() -> None:
    assert ask("station_pressure", qnh=1025.0, altitude=800.0) == pytest.approx(93.145, rel=1e-5)


def test_about_one_inch_of_mercury_per_thousand_feet() -> None:
    # common practice, and 1.0655 inHg by the standard
    lost = ask("barometric_pressure", altitude=0.0) - ask("barometric_pressure", altitude=304.8)
    assert lost / 3.38639 == pytest.approx(1.0655, rel=1e-4)


@pytest.mark.parametrize("altitude", [-451.0, 11001.0])
def test_outside_the_layer_is_refused(altitude: float) -> None:
    with pytest.raises(FormulaError, match="-450 to 11000 m"):
        formula("barometric_pressure").compute(altitude=altitude)
