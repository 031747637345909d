"""Source: resistance table of an ordinary 2.5 kohm coolant sensor (common practice)."""

from __future__ import annotations

import pytest

from engine.car.surroundings import shown_temperature, thermistor_ohms


@pytest.mark.parametrize(
    ("celsius", "ohms"), [(0, 5896), (20, 2500), (40, 1175), (60, 596), (80, 323), (90, 243), (100, 187)]
)
def test_resistance_over_temperature(celsius: float, ohms: float) -> None:
    assert thermistor_ohms(celsius) == pytest.approx(ohms, rel=0.035)


def test_a_hundred_ohms_of_joints_make_80_degrees_look_like_70() -> None:
    # worked with the beta formula: 323 + 100 ohm
    assert shown_temperature(80.0, 1.0, 100.0) == pytest.approx(70.72, abs=0.1)
