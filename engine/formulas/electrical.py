"""Electrical: heater load, joint resistance, heater resistance brought to 20 degC."""

from __future__ import annotations

from engine.formulas.declaring import Argument, Formula, Result, Results

PLATINUM_A = 3.9083e-3
PLATINUM_B = -5.775e-7
"""Coefficients of the platinum law (from memory of IEC 60751), per K and per K squared."""


def platinum_ratio(temp: float) -> float:
    """Return the resistance of platinum at *temp* in degC over that at 0 degC."""
    return 1.0 + PLATINUM_A * temp + PLATINUM_B * temp * temp


def heater_load(volts: float, ohms: float, duty: float = 100.0) -> Results:
    """Return the current while switched on (A) and the mean power (W) of a heater.

    Args:
        volts: voltage at the heater, V.
        ohms: its resistance, ohm.
        duty: share of the time it is on, %.
    Source: Ohm's law.
    """
    return {"current": volts / ohms, "power": duty / 100.0 * volts * volts / ohms}


def joint_resistance(drop: float, current: float) -> Results:
    """Return the resistance in ohm of a joint or wire from its voltage drop under load.

    Args:
        drop: voltage lost over it, V.
        current: current through it, A.
    Source: Ohm's law.
    """
    return {"resistance": drop / current}


def heater_ohms_at_20(ohms: float, temp: float) -> Results:
    """Return what a warm heater would measure at 20 degC, ohm.

    Args:
        ohms: measured resistance (an open circuit stays one).
        temp: temperature of the heater, degC.
    Source: platinum law, from memory of IEC 60751; that heaters follow it is an approximation.
    """
    return {"ohms": ohms * platinum_ratio(20.0) / platinum_ratio(temp)}


FORMULAS = (
    Formula(
        "heater_load",
        "current and power of a heater",
        (
            Argument("volts", "V", "voltage at the heater under load", low=0, high=18),
            Argument("ohms", "Ω", "resistance of the heater", low=0.01, high=1e6),
            Argument("duty", "%", "share of the time it is on", low=0, high=100, default=100.0),
        ),
        (Result("current", "A", "current while on"), Result("power", "W", "mean power")),
        "up to 18 V; the resistance at the temperature it has, two to three times as high hot as cold",
        "derived: Ohm's law",
        heater_load,
    ),
    Formula(
        "joint_resistance",
        "resistance of a joint from its voltage drop",
        (
            Argument("drop", "V", "voltage lost over the joint", low=-18, high=18),
            Argument("current", "A", "current through it", low=1e-3, high=2000),
        ),
        (Result("resistance", "Ω", "resistance of the joint or wire"),),
        "measured with the current flowing, at least 1 mA",
        "derived: Ohm's law",
        joint_resistance,
    ),
    Formula(
        "heater_ohms_at_20",
        "heater resistance brought to 20 °C",
        (
            Argument("ohms", "Ω", "measured resistance, 1e6 for an open circuit", low=0, high=1e6),
            Argument("temp", "°C", "temperature of the heater", low=-40, high=850),
        ),
        (Result("ohms", "Ω", "resistance at 20 °C"),),
        "-40 to 850 °C; platinum-like heaters only, above 40 °C no proof",
        "platinum law from memory of IEC 60751; using it for heaters is an approximation",
        heater_ohms_at_20,
    ),
)
