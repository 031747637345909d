"""Fuel supply: pump, filter and regulator give the pressure, the pressure gives the injectors' flow."""

from __future__ import annotations

import math

from engine.car.breathing import Breath, peak_air
from engine.car.exhaust import blend, blend_density, stoichiometric
from engine.car.parameters import Engine
from engine.car.points import EXCESS_MOST
from engine.car.settled import FuelState

FREE_FLOW = 25.0
"""Flow of a new pump against no pressure, mL/s for an engine that breathes 130 g/s (750 mL in 30 s)."""
PULL_FLOW = 5.0
"""Fuel of a pull, mL/s for the same engine."""
DEADHEAD_KPA = 560.0
"""Pressure of a new pump with its way shut, kPa."""
DROOP = 0.3
"""Fall of the regulated pressure per mL/s less through the regulator, kPa."""
REFERENCE_AIR = 130.0
DESIGN_ETHANOL = 5.0
PUMP_VOLTS = 13.6
DEAD_MS = 0.8
HIGH_IDLE_KPA, HIGH_LOAD_KPA = 5000.0, 15000.0
_STEPS = 22


def size(engine: Engine) -> float:
    """Return the size of the fuel system over that of a 3 L engine without boost."""
    return peak_air(engine) / REFERENCE_AIR


def pump_flow(engine: Engine, rail: float, volts: float = PUMP_VOLTS) -> float:
    """Return what pump and filter deliver into a rail pressure, mL/s.

    The pump gives free flow x (1 - (p / p_deadhead)^2); the filter takes pressure with the flow squared.

    Args:
        engine: the engine.
        rail: pressure behind the filter, kPa gauge.
        volts: at the pump.
    """
    fuel = engine.fuel
    speed = max(volts / PUMP_VOLTS, 0.1)
    free = FREE_FLOW * size(engine) * fuel.pump_share * speed
    dead = fuel.pump_deadhead_kpa * speed * speed
    drag = fuel.filter_kpa / (PULL_FLOW * size(engine)) ** 2
    low, high = 0.0, free
    for _ in range(_STEPS):
        flow = (low + high) / 2.0
        against = (max(rail, 0.0) + drag * flow * flow) / dead
        if flow < free * (1.0 - against * against):
            low = flow
        else:
            high = flow
    return (low + high) / 2.0


def rail_pressure(
    engine: Engine, vacuum: float, demand: float, volts: float, authority: float = 1.0
) -> tuple[float, float]:
    """Return the rail pressure, kPa gauge, and the flow of the pump, mL/s.

    Where the pump cannot keep up, the pressure falls until the injectors, opened as long as the trim allows,
    take no more than it delivers.

    Args:
        engine: the engine.
        vacuum: baro minus manifold pressure, kPa; moves the setting of a return-type regulator.
        demand: fuel burnt, mL/s.
        volts: at the pump.
        authority: most the trim lengthens the pulse, as a factor.
    """
    aim = engine.fuel.regulator_kpa - (vacuum if engine.fuel_system == "port_return" else 0.0)
    flow = pump_flow(engine, aim, volts)
    over = flow - demand
    if over >= 0.0:
        share = engine.fuel.regulator_kpa / max(DEADHEAD_KPA, 1.25 * engine.fuel.regulator_kpa)
        usual = FREE_FLOW * size(engine) * (1.0 - share * share) - demand
        return aim - DROOP / size(engine) * max(0.0, usual - over), flow
    low, high = 0.0, aim
    for _ in range(_STEPS):
        middle = (low + high) / 2.0
        taken = demand * min(1.0, authority * math.sqrt(max(middle + vacuum, 1.0) / (aim + vacuum)))
        if pump_flow(engine, middle, volts) > taken:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0, pump_flow(engine, (low + high) / 2.0, volts)


def fuel_state(engine: Engine, breath: Breath, lambda_: float, volts: float, high: float) -> FuelState:
    """Return the fuel side of a state.

    Args:
        engine: the engine.
        breath: its air.
        lambda_: mixture the fuel burnt comes from.
        volts: at the pump.
        high: request of the high-pressure side, kPa, 0 unless direct.
    """
    ethanol = engine.fuel.ethanol_pct
    grams = breath.total / stoichiometric(blend(float(round(ethanol)))) / lambda_ / engine.fuel.burnable
    demand = grams / blend_density(ethanol) * 1e3
    rail, flow = rail_pressure(
        engine, breath.baro - breath.map, demand, volts, 1.0 if lambda_ < 1.0 else 1.0 + EXCESS_MOST / 100.0
    )
    drag = engine.fuel.filter_kpa / (PULL_FLOW * size(engine)) ** 2
    if engine.fuel_system == "direct":
        fed = min(1.0, max(rail, 20.0) / (0.6 * engine.fuel.regulator_kpa))
        side = high * engine.fuel.high_side_share * fed
        across = side
    else:
        side, across = 0.0, max(rail + breath.baro - breath.map, 5.0)
    return FuelState(rail, across, side, demand, flow, drag * flow * flow, 0.0)


def injector_gain(engine: Engine, breath: Breath, state: FuelState, high: float) -> float:
    """Return the flow of a sound injector over what the control unit reckons with.

    Flow goes with the root of pressure and density. The control unit knows the design pressure: constant
    over the injector with a return, gauge plus vacuum without one, the request of a direct system, where it
    makes good what its rail sensor shows missing, down to half the request.
    """
    density = math.sqrt(blend_density(engine.fuel.ethanol_pct) / blend_density(DESIGN_ETHANOL))
    if engine.fuel_system == "direct":
        return density * math.sqrt(min(1.0, 2.0 * state.high_side / high))
    design = 300.0 if engine.fuel_system == "port_return" else 380.0 + breath.baro - breath.map
    return density * math.sqrt(state.across / design)


def pulse(engine: Engine, grams_per_s: float, rpm: float, across: float) -> float:
    """Return the injector's pulse, ms, one per two revolutions.

    Static flow is sized for full throttle: 4.7 g/s for half a litre at 300 kPa.
    """
    if rpm <= 0.0:
        return 0.0
    cylinders = len(engine.cylinders)
    direct = engine.fuel_system == "direct"
    static = 4.7 * engine.litres / cylinders * 2.0 * math.sqrt(across / (5000.0 if direct else 300.0))
    each = grams_per_s / cylinders * 120.0 / rpm
    return each / static * 1e3 + (0.3 if direct else DEAD_MS)
