"""The operating points: what the engine does in each state, and how fast its mixture loop is there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.car.settled import State


@dataclass(frozen=True, slots=True)
class Point:
    """One operating point of a healthy engine: ordinary values of the trade, not measured on a car."""

    rpm: float
    """1/min; 0: the engine's idle speed."""
    air: float
    """g/s per litre without boost at sea level; 0: the engine's idle air; filled to the full at wot."""
    boosted_air: float
    """g/s per litre of a turbo engine."""
    warmer: float
    """Intake air over ambient, K."""
    boosted_warmer: float
    spark: str
    """Which share of missed sparks holds: idle, 2500 or load."""
    unburnt: float
    """Share of the fuel a burning cycle leaves unburnt."""
    nitric: float
    """NO ahead of the catalyst at the mixture that makes the most, ppm dry."""
    burning: float
    """Share of CO and HC a hot sound catalyst burns."""
    unheated_tip: float
    """Electrode of the upstream sensor when its heater is dead, °C."""
    shell_in: float
    """Shell ahead of the catalyst, °C."""
    delay_s: float
    """From injection to the sensor, s."""
    ramp: float
    """Speed of the short-term trim, % per s."""


_IDLE = Point(0.0, 0.0, 0.0, 12.0, 18.0, "idle", 0.0086, 165.0, 0.95, 290.0, 280.0, 0.45, 4.0)
_CRUISE = Point(2500.0, 4.5, 4.5, 10.0, 16.0, "2500", 0.0052, 480.0, 0.97, 520.0, 340.0, 0.20, 7.0)
_PULL = Point(3000.0, 16.67, 30.0, 8.0, 20.0, "load", 0.0048, 1600.0, 0.97, 660.0, 520.0, 0.10, 8.0)
_FULL = Point(0.0, 0.0, 0.0, 5.0, 25.0, "load", 0.0060, 1500.0, 0.95, 720.0, 650.0, 0.06, 8.0)
_COLD = Point(0.0, 0.0, 0.0, 0.0, 0.0, "idle", 0.020, 120.0, 0.02, 60.0, 40.0, 0.40, 4.0)

POINTS: Mapping[State, Point] = {
    "idle": _IDLE,
    "2500": _CRUISE,
    "reload": _CRUISE,
    "load": _PULL,
    "snap": _PULL,
    "wot": _FULL,
    "cold": _COLD,
}
"""States in which the engine burns fuel."""
STANDING: frozenset[State] = frozenset({"off", "koeo", "cool"})
PEAK_AIR = 43.33
"""g/s per litre at full throttle and peak speed without boost."""
BOOSTED_PEAK_AIR = 73.75
"""g/s per litre of a turbo engine at full boost (190 kPa) and peak speed."""
EXCESS_MOST = 35.0
DEFICIT_MOST = -25.0
"""Authority of the total trim, %."""
LONG_MOST = 25.0
LONG_PART = 0.85
"""Authority of the long-term trim, %, and the share of the need it takes."""
CLOSED_LOOP_C = 40.0
"""Shown coolant temperature from which the loop closes, °C."""
READY_TIP_C = 350.0
"""Electrode temperature from which the signal is released, °C (common practice: 316 to 343)."""
HEATED_TIP_C = 750.0
"""Electrode temperature the heater holds, °C."""
FULL_THROTTLE_LAMBDA = 0.88
FAULT_LAMBDA = 0.98
"""Lambda the control unit aims at without a usable sensor."""
