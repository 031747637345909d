"""The standard atmosphere: barometric pressure by altitude and from the weather report."""

from __future__ import annotations

from engine.formulas.declaring import Argument, Formula, Result, Results

SEA_LEVEL_KPA = 101.325
SEA_LEVEL_KELVIN = 288.15
LAPSE = 0.0065
"""Kelvin per geopotential metre, up to 11 km."""
EXPONENT = 5.25588
EARTH_RADIUS = 6356766.0
"""Metres, the radius the standard uses to turn geometric into geopotential altitude."""


def _share_of_sea_level(altitude: float) -> float:
    geopotential = EARTH_RADIUS * altitude / (EARTH_RADIUS + altitude)
    return float((1.0 - LAPSE * geopotential / SEA_LEVEL_KELVIN) ** EXPONENT)


def barometric_pressure(altitude: float) -> Results:
    """Return the standard barometric pressure in kPa at an altitude in metres (-450 to 11000).

    Source: ISO 2533:1975 and US Standard Atmosphere 1976 (constants seen, tables from memory).
    """
    return {"pressure": SEA_LEVEL_KPA * _share_of_sea_level(altitude)}


def station_pressure(qnh: float, altitude: float) -> Results:
    """Return the pressure in kPa at an altitude in metres, from the pressure a weather report gives.

    Args:
        qnh: reported pressure, reduced to sea level, hPa.
        altitude: metres, -450 to 11000.
    Source: ISO 2533:1975 and US Standard Atmosphere 1976.
    """
    return {"pressure": qnh / 10.0 * _share_of_sea_level(altitude)}


_ALTITUDE = Argument("altitude", "m", "altitude above sea level", low=-450, high=11000)
_PRESSURE = (Result("pressure", "kPa", "absolute pressure at that altitude"),)
_SOURCE = "published: ISO 2533:1975 and US Standard Atmosphere 1976, constants seen"

FORMULAS = (
    Formula(
        "barometric_pressure",
        "barometric pressure by altitude",
        (_ALTITUDE,),
        _PRESSURE,
        "-450 to 11000 m; the standard atmosphere, weather moves it by about 3 kPa",
        _SOURCE,
        barometric_pressure,
    ),
    Formula(
        "station_pressure",
        "barometric pressure from the weather report",
        (Argument("qnh", "hPa", "reported sea-level pressure", low=850, high=1090), _ALTITUDE),
        _PRESSURE,
        "-450 to 11000 m, reported pressure 850 to 1090 hPa",
        _SOURCE,
        station_pressure,
    ),
)
