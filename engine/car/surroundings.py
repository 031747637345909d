"""Coolant and intake air as the control unit sees them, and the supply volts."""

from __future__ import annotations

import math

from engine.car.parameters import Engine
from engine.car.points import STANDING
from engine.car.settled import Coolant, State, Volts
from engine.formulas.thermistor import COLDEST, HOTTEST, ZERO_CELSIUS

THERMISTOR_OHM, THERMISTOR_C, THERMISTOR_BETA = 2500.0, 20.0, 3530.9
"""The ordinary coolant and intake air sensor: 2.5 kohm at 20 °C, beta from 323 ohm at 80 °C."""
LOADS_A, ECU_A, ECU_FEED_A = 30.0, 3.0, 4.0
"""Current through the engine's ground strap, the control unit's ground and its feed with loads on, A."""
CRANK_A = 160.0
HEATER_TEST_A = 0.8
_REFERENCE_K = THERMISTOR_C + ZERO_CELSIUS


def thermistor_ohms(celsius: float) -> float:
    """Return the resistance of the ordinary sensor, ohm (beta formula of data sheets)."""
    return THERMISTOR_OHM * math.exp(THERMISTOR_BETA * (1.0 / (celsius + ZERO_CELSIUS) - 1.0 / _REFERENCE_K))


def shown_temperature(celsius: float, factor: float, series: float) -> float:
    """Return what a control unit shows of a temperature when the circuit's resistance is not the sensor's.

    Args:
        celsius: true temperature, degC.
        factor: resistance of the sensor over its curve.
        series: resistance in series, ohm.
    """
    if factor == 1.0 and series == 0.0:
        return celsius
    ohms = max(thermistor_ohms(celsius) * factor + series, 1.0)
    kelvin = 1.0 / (1.0 / _REFERENCE_K + math.log(ohms / THERMISTOR_OHM) / THERMISTOR_BETA)
    return min(max(kelvin - ZERO_CELSIUS, COLDEST), HOTTEST)


def coolant(engine: Engine, state: State) -> Coolant:
    """Return the coolant temperature: ambient when soaked, else what thermostat and cooling hold."""
    cooling = engine.cooling
    if state in ("off", "koeo", "crank", "cold"):
        true = engine.ambient_c
    elif state == "cool":
        true = min(40.0, engine.ambient_c + 15.0)
    else:
        open_share = cooling.thermostat_open * (0.36 if state in ("idle", "2500", "snap") else 0.6)
        warm = cooling.thermostat_c - open_share * (cooling.thermostat_c - engine.ambient_c)
        true = warm + cooling.overheat_k
    return Coolant(true, shown_temperature(true, cooling.sensor_factor, cooling.sensor_series_ohm))


def volts(engine: Engine, state: State) -> Volts:
    """Return the supplies; at rest the battery's own volts, running what the generator holds."""
    parts = engine.electrics
    rest = parts.battery_rest_v
    charged = max(parts.charge_v, rest - 0.3)
    if state in STANDING:
        battery = loaded = rest
    elif state == "crank":
        battery = loaded = rest - CRANK_A * parts.battery_mohm / 1e3
    else:
        battery = charged if state in ("idle", "cold") else charged + (0.1 if parts.charge_v >= rest else 0.0)
        loaded = charged - 0.2
    return Volts(
        battery=battery,
        loaded=loaded,
        pump=battery - engine.fuel.pump_amps * engine.fuel.pump_ohm,
        heater_feed=battery * 10.0 / (10.0 + parts.heater_feed_ohm) if parts.heater_feed_ohm < 1e5 else 0.1,
        ref5=parts.ref5_v,
        engine_drop=parts.engine_ground_ohm * LOADS_A,
        ecu_drop=parts.ecu_ground_ohm * ECU_A,
        feed_drop=parts.feed_ohm * ECU_FEED_A,
    )
