"""Fuel trims: the total, the physics of two trims, and the leak that two operating points give away."""

from __future__ import annotations

import math

from engine.formulas.air import flow_per_area
from engine.formulas.declaring import Argument, Formula, FormulaError, Result, Results


def total_trim(short: float, long: float) -> Results:
    """Return the total trim in %, the sum, which every limit of the trade is stated for.

    Args:
        short: short-term trim, %.
        long: long-term trim, %.
    Source: common practice.
    """
    return {"total": short + long}


def combined_trim(short: float, long: float) -> Results:
    """Return what two trims together do to the fuel, in %: the product form, for physics only.

    Args:
        short: short-term trim, %.
        long: long-term trim, %.
    Source: derived: (1 + short)(1 + long) - 1.
    """
    return {"combined": 100.0 * ((1.0 + short / 100.0) * (1.0 + long / 100.0) - 1.0)}


def leak_from_trims(
    trim1: float,
    air1: float,
    trim2: float,
    air2: float,
    map: float = 35.0,  # noqa: A002 -- the trade's word
    baro: float = 101.325,
    temp: float = 20.0,
    cd: float = 0.8,
) -> Results:
    """Return the part of two total trims that a fixed flow of air explains, and the hole that lets it in.

    Trims against metered air follow trim/100 = proportional + additive/air.

    Args:
        trim1: total trim at the first point, %.
        air1: metered air flow there, g/s.
        trim2: total trim at the second point, %.
        air2: metered air flow there, g/s; must differ from *air1*.
        map: manifold pressure the hole sees, kPa absolute.
        baro: barometric pressure, kPa.
        temp: temperature of the air drawn in, degC.
        cd: discharge coefficient of the hole, 0.6 to 0.85 for sharp holes.
    Returns: additive air flow in g/s (negative: fuel added), proportional error in %, diameter of one round
        hole in mm (0 when nothing is added).

    Raises:
        FormulaError: both points at the same air flow, or no vacuum.
    Source: derived, exact for a leak behind an air flow meter; hole by compressible flow, see leak_flow.
    """
    if air1 == air2:
        raise FormulaError(f"air1 and air2 are both {air1:g} g/s: take the trims at two different air flows")
    additive = (trim1 - trim2) / 100.0 / (1.0 / air1 - 1.0 / air2)
    per_area = flow_per_area(map, baro, temp, cd)
    if per_area <= 0.0:
        raise FormulaError(f"map is {map:g} kPa: without vacuum (baro {baro:g} kPa) nothing is drawn in")
    hole = math.sqrt(4.0 * additive / (math.pi * per_area)) if additive > 0.0 else 0.0
    return {"additive": additive, "proportional": trim1 - 100.0 * additive / air1, "hole": hole}


def _trim(name: str, meaning: str) -> Argument:
    return Argument(name, "%", meaning, low=-100, high=99.3)


def _air(name: str, meaning: str) -> Argument:
    return Argument(name, "g/s", meaning, low=0.1, high=655.35)


_BOTH = (_trim("short", "short-term trim"), _trim("long", "long-term trim"))

FORMULAS = (
    Formula(
        "total_trim",
        "total fuel trim",
        _BOTH,
        (Result("total", "%", "sum of both trims; positive: fuel is being added"),),
        "each trim -100 to 99.3 %; closed loop, warm, purge settled, no misfire",
        "common practice; scaling of the trims from memory of SAE J1979",
        total_trim,
    ),
    Formula(
        "combined_trim",
        "combined fuel trim (product form)",
        _BOTH,
        (Result("combined", "%", "what both trims together do to the fuel"),),
        "each trim -100 to 99.3 %; for physics only, limits are stated for the total",
        "derived: (1 + short)(1 + long) - 1",
        combined_trim,
    ),
    Formula(
        "leak_from_trims",
        "air leak from the trims at two air flows",
        (
            _trim("trim1", "total trim at the first point"),
            _air("air1", "metered air flow at the first point"),
            _trim("trim2", "total trim at the second point"),
            _air("air2", "metered air flow at the second point"),
            Argument("map", "kPa", "manifold pressure, absolute", low=5, high=255, default=35.0),
            Argument("baro", "kPa", "barometric pressure", low=50, high=110, default=101.325),
            Argument("temp", "°C", "temperature of the air drawn in", low=-50, high=150, default=20.0),
            Argument("cd", "", "discharge coefficient of the hole", low=0.3, high=1, default=0.8),
        ),
        (
            Result(
                "additive", "g/s", "air (or, if negative, fuel's worth of air) that does not grow with flow"
            ),
            Result("proportional", "%", "error that grows with air flow"),
            Result("hole", "mm", "one round hole that lets the additive air in; 0 when none is added"),
        ),
        "cars with an air flow meter; two different air flows; manifold pressure below barometric; what "
        "is not given is taken as 35 kPa, 101.325 kPa, 20 °C, coefficient 0.8",
        "derived, exact for a leak behind the meter; hole by textbook compressible flow",
        leak_from_trims,
    ),
)
