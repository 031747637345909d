"""Battery: charge from the rested voltage, least cranking voltage by temperature."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from engine.formulas.declaring import Argument, Formula, Result, Results

CHARGE_POINTS = ((11.9, 0.0), (12.0, 25.0), (12.6, 100.0))
"""Rested volts of a 12 V lead-acid battery and its charge in %, linear between (common practice)."""
CRANK_POINTS = (
    (-18.0, 8.5), (-12.0, 8.7), (-7.0, 8.9), (-1.0, 9.1), (4.0, 9.3), (10.0, 9.4), (16.0, 9.5), (21.0, 9.6),
)  # fmt: skip
"""Ambient degC and least cranking volts, linear between (common practice of load testing)."""


def between(points: Sequence[tuple[float, float]], at: float) -> float:
    """Return the value at *at* on straight lines through *points* (rising), held at both ends."""
    if at <= points[0][0]:
        return points[0][1]
    for (left, low), (right, high) in pairwise(points):
        if at <= right:
            return low + (high - low) * (at - left) / (right - left)
    return points[-1][1]


def battery_charge(volts: float) -> Results:
    """Return the charge in % of a rested 12 V lead-acid battery from its open-circuit voltage in V.

    Source: common practice: 12.0 V 25 %, 12.6 V and more 100 %, 11.9 V and less flat, linear between.
    """
    return {"charge": between(CHARGE_POINTS, volts)}


def crank_voltage_limit(temp: float) -> Results:
    """Return the least battery voltage in V while cranking, at an ambient temperature in degC.

    Source: common practice of load testing; a table from -18 to 21 degC, held beyond its ends.
    """
    return {"limit": between(CRANK_POINTS, temp)}


FORMULAS = (
    Formula(
        "battery_charge",
        "battery charge from the rested voltage",
        (Argument("volts", "V", "voltage of the rested battery", low=0, high=13.2),),
        (Result("charge", "%", "charge of the battery"),),
        "12 V lead-acid, about 25 °C, rested 4 hours or surface charge removed; charging above 13.2 V",
        "common practice",
        battery_charge,
    ),
    Formula(
        "crank_voltage_limit",
        "least cranking voltage by temperature",
        (Argument("temp", "°C", "ambient temperature", low=-50, high=60),),
        (Result("limit", "V", "least voltage while cranking"),),
        "12 V lead-acid; linear between -18 and 21 °C, held beyond",
        "common practice",
        crank_voltage_limit,
    ),
)
