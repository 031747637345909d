"""Solve one operating state of one engine: air, fuel, mixture, gas, heat, supplies."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from engine.car.bank_gas import bank_state
from engine.car.breathing import Breath, barometer, boost, breathe, peak_air
from engine.car.exhaust import add, blend, dry
from engine.car.fuelling import fuel_state, injector_gain, pulse, rail_pressure
from engine.car.mixture_loop import (
    Mixture,
    heated_tip,
    loop_status,
    meter_gain,
    ordered_mixture,
    reckoned_air,
    settle_bank,
    supply,
)
from engine.car.parameters import Bank, Engine
from engine.car.points import LONG_PART, POINTS, STANDING, Point
from engine.car.settled import AirState, BankState, Coolant, FuelState, Gas, Settled, State, Volts
from engine.car.surroundings import coolant, shown_temperature, volts

AIR_GAS = Gas(co=0.0, co2=0.04, o2=20.9, h2=0.0, hc=0.0, no=0.0)
"""What stands in the exhaust of an engine that does not burn anything."""
CRANK_RPM, CRANK_VACUUM = 200.0, 15.0
IDLE_FASTER_PER_K, IDLE_FASTER_BELOW_C = 6.4, 60.0
IDLE_THROTTLE = 4.5
"""Commanded opening at a healthy idle, %."""


def settle(engine: Engine, state: str) -> Settled:
    """Return the engine settled in a state.

    Args:
        engine: the engine.
        state: off, koeo, crank, cold, cool, idle, 2500, snap, load, wot, overrun, reload; road is load.

    Raises:
        ValueError: a state this engine has no word for.
    """
    name = {"road": "load", "any": "off"}.get(state, state)
    for known in (*POINTS, *STANDING, "crank", "overrun"):
        if name == known:
            return _settle(engine, known)
    raise ValueError(f"no operating state is called {state!r}")


@lru_cache(maxsize=4096)
def _settle(engine: Engine, state: State) -> Settled:
    if state in POINTS:
        return _burning(engine, state, POINTS[state])
    return _still(engine, state)


def _still(engine: Engine, state: State) -> Settled:
    """Return a state without combustion: key on, cranking, standing, fuel cut."""
    supplies, warmth = volts(engine, state), coolant(engine, state)
    baro = barometer(engine)
    moving = state in ("crank", "overrun")
    rpm = CRANK_RPM if state == "crank" else (2500.0 if moving else 0.0)
    pressure = baro - CRANK_VACUUM if state == "crank" else (25.0 if moving else baro)
    vacuum = baro - pressure
    rail, flow = rail_pressure(engine, vacuum, 0.0, supplies.pump)
    iat = engine.ambient_c + (8.0 if state == "overrun" else 0.0)
    flow_air = 0.3 * engine.litres if state == "crank" else (1.2 * engine.litres if moving else 0.0)
    air = AirState(
        baro=baro,
        map=pressure,
        map_shown=pressure + engine.air.map_offset_kpa,
        vacuum=vacuum,
        total=flow_air,
        metered=flow_air,
        maf_shown=max(engine.air.meter_zero, flow_air * meter_gain(engine, flow_air)),
        leaks=(),
        iat=iat,
        iat_shown=shown_temperature(iat, engine.air.iat_factor, engine.air.iat_series_ohm),
        load_calc=0.0,
        throttle_cmd=IDLE_THROTTLE,
        boost_target=0.0,
        boost_actual=0.0,
        wastegate_duty=0.0,
        egr_share=0.0,
        crankcase=0.0,
    )
    fuel = FuelState(rail, rail + vacuum, 0.0, 0.0, flow, 0.0, 0.0)
    banks = tuple(_still_bank(bank, state, supplies, engine.ambient_c) for bank in engine.banks)
    return Settled(
        state, False, rpm, air, fuel, banks, (0.0,) * len(engine.cylinders), AIR_GAS, warmth, supplies, 0.0
    )


def _still_bank(bank: Bank, state: State, supplies: Volts, ambient: float) -> BankState:
    hot = state == "overrun"
    tip = heated_tip(bank.upstream, supplies.heater_feed, 500.0) if hot else ambient
    shell = 320.0 if hot else ambient
    return BankState(
        air=0.0,
        fuel=0.0,
        short=0.0,
        long=0.0,
        needed=0.0,
        loop="open_load" if hot else "open_cold",
        lambda_true=5.0,
        lambda_seen=5.0,
        lambda_shown=1.99,
        dilution=1.0,
        misfire=0.0,
        tip_c=tip,
        engine_out=AIR_GAS,
        at_sensor=AIR_GAS,
        after_catalyst=AIR_GAS,
        in_c=shell,
        out_c=shell,
        back_pressure=0.0,
    )


def _burning(engine: Engine, state: State, point: Point) -> Settled:
    supplies, warmth = volts(engine, state), coolant(engine, state)
    target = engine.idle_rpm + IDLE_FASTER_PER_K * max(0.0, IDLE_FASTER_BELOW_C - warmth.shown)
    lost = 0.0
    for _ in range(3 if not point.rpm and state != "wot" else 1):
        breath = breathe(engine, state, point, lost, target)
        fuel, mixtures = _mixtures(engine, state, point, breath, supplies, warmth)
        new = sum(mixture.misfire for mixture in mixtures) / len(mixtures)
        if abs(new - lost) < 1e-4:
            break
        lost = new
    return _assembled(engine, state, point, breath, fuel, mixtures, supplies, warmth)


def _mixtures(
    engine: Engine, state: State, point: Point, breath: Breath, supplies: Volts, warmth: Coolant
) -> tuple[FuelState, tuple[Mixture, ...]]:
    """Return the fuel side and each bank's mixture."""
    high = 0.0
    if engine.fuel_system == "direct":
        high = 15000.0 if point.spark == "load" else (7000.0 if point.spark == "2500" else 5000.0)
    fuel = fuel_state(engine, breath, 0.88 if state in ("wot", "snap") else 1.0, supplies.pump, high)
    gain = injector_gain(engine, breath, fuel, high)
    found = []
    for index, bank in enumerate(engine.banks):
        tip = heated_tip(bank.upstream, supplies.heater_feed, point.unheated_tip)
        loop = loop_status(engine, state, warmth.shown, tip, bank.upstream)
        ordered = ordered_mixture(state, loop, warmth.shown, warmth.true)
        given = supply(engine, index, breath, gain, supplies.battery, ordered)
        learned = _learned(engine, state, index, breath, gain, supplies)
        found.append(settle_bank(engine, index, state, point, given, loop, tip, learned))
    if engine.upstream_crossed and engine.two_banks:
        first, second = found
        found = [
            replace(first, lambda_shown=second.lambda_shown),
            replace(second, lambda_shown=first.lambda_shown),
        ]
    return fuel, tuple(found)


def _learned(engine: Engine, state: State, index: int, breath: Breath, gain: float, supplies: Volts) -> float:
    """Return the trim an open loop holds: at full throttle that of a pull, else a sound sensor's."""
    if state in ("wot", "snap"):
        pull = _settle(engine, "load").banks[index]
        return pull.needed if pull.loop == "closed" else pull.long / LONG_PART
    return supply(engine, index, breath, gain, supplies.battery, 1.0).needed(1.0)


def _assembled(
    engine: Engine,
    state: State,
    point: Point,
    breath: Breath,
    fuel: FuelState,
    mixtures: tuple[Mixture, ...],
    supplies: Volts,
    warmth: Coolant,
) -> Settled:
    gases = blend(float(round(engine.fuel.ethanol_pct)))
    banks, tails = [], []
    for index, mixture in enumerate(mixtures):
        bank, tail = bank_state(engine, index, state, point, breath, mixture, gases)
        banks.append(bank)
        tails.append((1.0, tail))
    pulse_ms = pulse(engine, sum(mixture.fuel for mixture in mixtures), breath.rpm, fuel.across)
    fuel = FuelState(
        fuel.rail, fuel.across, fuel.high_side, fuel.demand, fuel.pump_flow, fuel.filter_drop, pulse_ms
    )
    return Settled(
        state=state,
        running=True,
        rpm=breath.rpm,
        air=_air(engine, state, breath),
        fuel=fuel,
        banks=tuple(banks),
        misfires=tuple(charge.missed for mixture in mixtures for charge in mixture.charges),
        tailpipe=dry(add(tails)),
        coolant=warmth,
        volts=supplies,
        knock_retard=_knock(engine, state, breath, warmth),
    )


def _air(engine: Engine, state: State, breath: Breath) -> AirState:
    air = engine.air
    shown = reckoned_air(engine, breath)
    boosted = engine.induction != "na"
    duty, reached = boost(engine, breath.baro)
    full = peak_air(engine, breath.baro) / engine.peak_rpm * breath.rpm * (0.65 if boosted else 1.12)
    healthy = engine.idle_air * engine.litres
    opening = IDLE_THROTTLE * (1.0 + 1.5 * (breath.through_throttle / healthy - 1.0))
    pcv = sum(flow for place, flow in breath.leaks if place == "pcv")
    return AirState(
        baro=breath.baro,
        map=breath.map,
        map_shown=min(max(breath.map + air.map_offset_kpa, 0.0), 400.0),
        vacuum=breath.baro - breath.map,
        total=breath.total,
        metered=breath.metered,
        maf_shown=breath.metered * meter_gain(engine, breath.metered),
        leaks=breath.leaks,
        iat=breath.iat,
        iat_shown=shown_temperature(breath.iat, air.iat_factor, air.iat_series_ohm),
        load_calc=min(100.0, 100.0 * shown / full),
        throttle_cmd=max(opening, 1.5) / (1.0 - min(air.plate_dirt, 0.9)) if breath.rpm < 2000.0 else 12.0,
        boost_target=air.boost_target_kpa if boosted and state in ("load", "wot") else 0.0,
        boost_actual=reached if state in ("load", "wot") else 0.0,
        wastegate_duty=duty if state in ("load", "wot") else 0.0,
        egr_share=breath.egr,
        crankcase=air.crankcase_kpa - 5.9 * pcv / max(engine.litres * 0.3, 0.1),
    )


def _knock(engine: Engine, state: State, breath: Breath, warmth: Coolant) -> float:
    """Return the ignition pulled for knock, degrees: over-boost, heat, hot air."""
    if state not in ("load", "wot"):
        return 0.0
    over = max(0.0, engine.air.wastegate_stuck) * 6.0 if engine.induction != "na" else 0.0
    return 1.0 + over + 0.16 * max(0.0, warmth.true - 100.0)
