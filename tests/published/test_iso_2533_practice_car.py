"""Source: ISO 2533:1975 standard atmosphere (table from memory): barometer of the simulated engine."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.car.breathing import barometer
from engine.car.reference_cars import TWO_BANKS
from engine.car.settling import settle


@pytest.mark.parametrize(
    ("metres", "kpa"),
    [(0.0, 101.325), (300.0, 97.7727), (1000.0, 89.8763), (2000.0, 79.5014), (3000.0, 70.1212)],
)
def test_barometer_by_altitude(metres: float, kpa: float) -> None:
    engine = replace(TWO_BANKS, altitude_m=metres, weather_kpa=0.0)
    assert barometer(engine) == pytest.approx(kpa, abs=1e-3)
    assert settle(engine, "koeo").air.map_shown == pytest.approx(kpa, abs=1e-3)


def test_vacuum_falls_by_an_inch_of_mercury_in_a_thousand_feet() -> None:
    # rule of the trade: 3.386 kPa in 304.8 m near sea level, the engine idling at the same manifold pressure
    low, high = (settle(replace(TWO_BANKS, altitude_m=metres), "idle").air for metres in (0.0, 304.8))
    assert low.vacuum - high.vacuum == pytest.approx(3.5, abs=0.5)
