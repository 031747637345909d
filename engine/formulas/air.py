"""Air: flow through a hole, flow into the engine, volumetric efficiency."""

from __future__ import annotations

import math

from engine.formulas.declaring import Argument, Formula, FormulaError, Result, Results

GAS_CONSTANT_AIR = 287.05
"""J/(kg K), dry air."""
GAMMA = 1.4
"""Ratio of specific heats of air."""
ZERO_CELSIUS = 273.15
CRITICAL_RATIO: float = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
"""Downstream over upstream pressure below which the flow is choked: 0.528282."""
CHOKED: float = math.sqrt(GAMMA) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))
"""Dimensionless flow of a choked hole: 0.684731."""


def flow_per_area(map_kpa: float, baro_kpa: float, temp: float, cd: float) -> float:
    """Return the air flow through a hole per area, g/s per mm2; 0 when there is no vacuum.

    Args:
        map_kpa: pressure behind the hole, kPa absolute.
        baro_kpa: pressure before it, kPa.
        temp: temperature of the air before it, degC.
        cd: discharge coefficient.
    Source: textbook compressible flow of a perfect gas through an orifice (from memory).
    """
    ratio = map_kpa / baro_kpa
    if ratio >= 1.0:
        return 0.0
    if ratio <= CRITICAL_RATIO:
        factor = CHOKED
    else:
        span = ratio ** (2.0 / GAMMA) - ratio ** ((GAMMA + 1.0) / GAMMA)
        factor = math.sqrt(2.0 * GAMMA / (GAMMA - 1.0) * max(float(span), 0.0))
    # kPa / sqrt(J/kg) x mm2: 1e3 (kPa) x 1e-6 (mm2) x 1e3 (g) = 1
    return cd * baro_kpa / math.sqrt(GAS_CONSTANT_AIR * (temp + ZERO_CELSIUS)) * factor


def leak_flow(
    hole: float,
    map: float,  # noqa: A002 -- the trade's word
    baro: float = 101.325,
    temp: float = 20.0,
    cd: float = 0.8,
) -> Results:
    """Return the air flow drawn through a round hole into the manifold, g/s.

    Args:
        hole: diameter, mm.
        map: manifold pressure, kPa absolute, not above *baro*.
        baro: barometric pressure, kPa.
        temp: temperature of the air outside, degC.
        cd: discharge coefficient.

    Raises:
        FormulaError: manifold pressure above barometric.
    Source: textbook compressible flow (from memory), choked below 0.528282 of the barometer.
    """
    if map > baro:
        raise FormulaError(
            f"map is {map:g} kPa: above baro ({baro:g} kPa) the hole blows out, nothing is drawn in"
        )
    return {"flow": math.pi / 4.0 * hole * hole * flow_per_area(map, baro, temp, cd)}


def _full_flow(litres: float, rpm: float, pressure: float, temp: float) -> float:
    return litres * rpm / 120.0 * pressure / (GAS_CONSTANT_AIR / 1e3 * (temp + ZERO_CELSIUS))


def air_flow(ve: float, litres: float, rpm: float, pressure: float, temp: float) -> Results:
    """Return the air a four-stroke engine draws, g/s.

    Args:
        ve: volumetric efficiency, %, referred to *pressure* and *temp*.
        litres: displacement, L.
        rpm: engine speed, 1/min.
        pressure: kPa absolute: manifold, or barometric for wide-open checks.
        temp: air temperature at that place, degC.
    Source: ideal gas law; speed-density as in engine textbooks (from memory).
    """
    return {"flow": ve / 100.0 * _full_flow(litres, rpm, pressure, temp)}


def volumetric_efficiency(maf: float, litres: float, rpm: float, pressure: float, temp: float) -> Results:
    """Return the volumetric efficiency in % from a metered air flow.

    Args:
        maf: metered air flow, g/s.
        litres: displacement, L.
        rpm: engine speed, 1/min, above 0.
        pressure: kPa absolute: manifold, or barometric for wide-open checks.
        temp: air temperature at that place, degC.
    Source: ideal gas law; speed-density as in engine textbooks (from memory).
    """
    return {"ve": 100.0 * maf / _full_flow(litres, rpm, pressure, temp)}


BARO = Argument("baro", "kPa", "barometric pressure", low=50, high=110, default=101.325)
_ENGINE = (
    Argument("litres", "L", "displacement", low=0.3, high=9),
    Argument("rpm", "rpm", "engine speed", low=50, high=16383.75),
    Argument("pressure", "kPa", "absolute pressure: manifold, or barometric at wide open", low=5, high=400),
    Argument("temp", "°C", "air temperature", low=-50, high=215),
)

FORMULAS = (
    Formula(
        "leak_flow",
        "air flow through a leak",
        (
            Argument("hole", "mm", "diameter of one round hole", low=0, high=100),
            Argument("map", "kPa", "manifold pressure, absolute", low=0, high=255),
            BARO,
            Argument("temp", "°C", "temperature of the air outside", low=-50, high=150, default=20.0),
            Argument("cd", "", "discharge coefficient of the hole", low=0.3, high=1, default=0.8),
        ),
        (Result("flow", "g/s", "air drawn in"),),
        "manifold pressure not above barometric; sharp holes have a coefficient of 0.6 to 0.85",
        "from memory of textbook compressible flow",
        leak_flow,
    ),
    Formula(
        "air_flow",
        "air flow into a four-stroke engine",
        (Argument("ve", "%", "volumetric efficiency", low=0, high=400), *_ENGINE),
        (Result("flow", "g/s", "air the engine draws"),),
        "four-stroke engines; efficiency and pressure referred to the same place",
        "derived from the ideal gas law; from memory of engine textbooks",
        air_flow,
    ),
    Formula(
        "volumetric_efficiency",
        "volumetric efficiency from metered air",
        (Argument("maf", "g/s", "metered air flow", low=0, high=655.35), *_ENGINE),
        (Result("ve", "%", "air drawn over the air that would fill the displacement"),),
        "four-stroke engines; 60 to 100 % at wide open without boost, more with boost",
        "derived from the ideal gas law; from memory of engine textbooks",
        volumetric_efficiency,
    ),
)
