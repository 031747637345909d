"""The mixture of one bank: what the control unit injects, what the sensor makes of it, the trims."""

from __future__ import annotations

import math
from dataclasses import dataclass

from engine.car.breathing import Breath
from engine.car.exhaust import blend, stoichiometric
from engine.car.limit_cycle import limit_cycle
from engine.car.parameters import Bank, Engine, Zirconia
from engine.car.points import (
    CLOSED_LOOP_C,
    DEFICIT_MOST,
    EXCESS_MOST,
    FAULT_LAMBDA,
    FULL_THROTTLE_LAMBDA,
    HEATED_TIP_C,
    LONG_MOST,
    LONG_PART,
    READY_TIP_C,
    Point,
)
from engine.car.settled import BankLoop, Loop, State
from engine.car.surroundings import shown_temperature
from engine.car.zirconia_cell import balance_point

ELECTRODE_BURNS = 0.5
"""Share of unburnt fuel the electrode burns: the oxygen of the rest makes it say lean."""
PULSE_KPA = 1.7
"""Depth of the pressure pulses that draw air into an exhaust leak at a healthy idle, kPa; chosen."""
IDLE_PER_LITRE = 1.4
FULL_VACUUM_KPA = 68.0
ENRICHED_BELOW_C, ENRICHED_PER_K = 70.0, 0.0035
EVAPORATES_LESS_PER_K = 0.0022
"""Share of the fuel that does not evaporate per K below 70 °C; chosen."""
LEAN_LIMIT, RICH_LIMIT = 1.22, 0.68
"""Lambda of a cylinder beyond which it misses (common practice: homogeneous engines miss from about 1.2)."""
VOLTS_NEEDED = 13.5
SEEPS = 0.001
"""Least flow of an injector over new: a dead one still wets its seat."""


@dataclass(frozen=True, slots=True)
class Charge:
    """One cylinder's charge; g/s."""

    air: float
    fuel: float
    lambda_: float
    missed: float


@dataclass(frozen=True, slots=True)
class Mixture(BankLoop):
    """The settled mixture of one bank."""

    leaked: float
    """Air drawn in ahead of the sensor, g/s."""
    charges: tuple[Charge, ...]


@dataclass(frozen=True, slots=True)
class Supply:
    """What a bank has before its loop speaks; g/s."""

    air: float
    base: float
    """Fuel injected with no trim, that burns like petrol."""
    extra: tuple[float, ...]
    """Fuel nobody ordered, by cylinder."""
    stoich: float
    leaked: float
    flows: tuple[float, ...]
    """Injector flow of each cylinder over new."""

    def needed(self, lambda_: float) -> float:
        """Return the trim, %, that gives the bank a lambda."""
        return 100.0 * ((self.air / (self.stoich * lambda_) - sum(self.extra)) / self.base - 1.0)

    def lambda_at(self, trim: float) -> float:
        """Return the bank's lambda at a trim in %."""
        return self.air / (self.stoich * (self.base * (1.0 + trim / 100.0) + sum(self.extra)))


def heated_tip(sensor: Zirconia, feed_v: float, unheated: float) -> float:
    """Return the electrode's temperature, °C: heat from the gas and from the heater."""
    power = min(1.2, (feed_v / 13.6) ** 2 * 6.0 / sensor.heater_ohms) if sensor.heater_driven else 0.0
    return unheated + max(0.0, HEATED_TIP_C - unheated) * min(1.0, math.sqrt(power))


def numbers(engine: Engine, bank: int) -> range:
    """Return the cylinder numbers of a bank."""
    half = len(engine.cylinders) // len(engine.banks)
    return range(1 + bank * half, 1 + (bank + 1) * half)


def supply(
    engine: Engine, index: int, breath: Breath, gain: float, battery_v: float, enriched: float
) -> Supply:
    """Return what one bank gets of air and fuel before any trim.

    Args:
        engine: the engine.
        index: which bank.
        breath: air of the state.
        gain: injector flow over what the control unit reckons with.
        battery_v: battery, V; injectors open late below 13.5 V.
        enriched: fuel ordered over what lambda 1 needs.
    """
    bank = engine.banks[index]
    cylinders = [engine.cylinders[number - 1] for number in numbers(engine, index)]
    flows = tuple(max(bank.injector_flow * cylinder.injector_flow, SEEPS) for cylinder in cylinders)
    shown = reckoned_air(engine, breath) * (
        breath.bank_share[index] if engine.metering == "map" else 1.0 / len(engine.banks)
    )
    late = 1.0 - 0.008 * max(0.0, VOLTS_NEEDED - battery_v)
    ordered = shown / stoichiometric(blend(5.0)) * enriched / (1.0 + engine.fuelling_error)
    base = ordered * gain * late * engine.fuel.burnable * sum(flows) / len(flows)
    return Supply(
        air=breath.bank_air[index],
        base=base,
        extra=_extra_fuel(engine, index, breath),
        stoich=stoichiometric(blend(float(round(engine.fuel.ethanol_pct)))),
        leaked=_exhaust_leak(bank, breath.bank_air[index], engine.litres / len(engine.banks)),
        flows=flows,
    )


def reckoned_air(engine: Engine, breath: Breath) -> float:
    """Return the air the control unit reckons with, g/s."""
    if engine.metering == "maf":
        return breath.metered * meter_gain(engine, breath.metered)
    shown = shown_temperature(breath.iat, engine.air.iat_factor, engine.air.iat_series_ohm)
    pressure = max((breath.map + engine.air.map_offset_kpa) / breath.map, 0.05)
    return breath.reckoned * pressure * (breath.iat + 273.15) / (shown + 273.15)


def meter_gain(engine: Engine, flow: float) -> float:
    """Return shown over true flow of the air meter: dirt costs more the faster the air."""
    part = math.sqrt(min(1.0, flow / (16.67 * engine.litres)))
    return engine.air.meter_gain_low + (engine.air.meter_gain_high - engine.air.meter_gain_low) * part


def _extra_fuel(engine: Engine, index: int, breath: Breath) -> tuple[float, ...]:
    """Return fuel nobody ordered by cylinder of a bank, g/s: vapours shared by all, drips their own."""
    fuel = engine.fuel
    vacuum = max(0.0, breath.baro - breath.map)
    shared = breath.purge * fuel.vapour_share / (1.0 - fuel.vapour_share) if fuel.vapour_share < 1.0 else 0.0
    shared += fuel.diaphragm_g_s * min(1.2, vacuum / FULL_VACUUM_KPA)
    shared += fuel.oil_fuel_g_s * min(1.0, vacuum / FULL_VACUUM_KPA)
    each = shared / len(engine.cylinders)
    return tuple(each + engine.cylinders[number - 1].drip_g_s for number in numbers(engine, index))


def _exhaust_leak(bank: Bank, air: float, litres: float) -> float:
    """Return the air drawn in ahead of the sensor, g/s: pulses suck half of the time.

    Source: incompressible orifice flow, cd A sqrt(2 rho dp); depth of the pulses chosen.
    """
    if bank.exhaust_leak_mm <= 0.0:
        return 0.0
    area = math.pi / 4.0 * bank.exhaust_leak_mm**2
    pulses = PULSE_KPA * max(air / (IDLE_PER_LITRE * litres), 0.1) ** 0.6
    return float(0.5 * 0.8 * area * math.sqrt(2.0 * 1.2 * pulses * 1e3) / 1e3)


def loop_status(engine: Engine, state: State, shown_c: float, tip_c: float, sensor: Zirconia) -> Loop:
    """Return the loop status of a bank."""
    if state in ("wot", "snap"):
        return "open_load"
    if state == "cold" or shown_c < CLOSED_LOOP_C:
        return "open_cold"
    blind = sensor.signal != "ok" or not sensor.input_good or tip_c < READY_TIP_C
    return "open_fault" if blind or sensor.kind == "none" else "closed"


def sensor_target(sensor: Zirconia, tip_c: float, point: Point) -> float:
    """Return the mean lambda at the electrode that satisfies the loop; 0 or inf when none does.

    A sensor that is slower one way than the other lets the mixture run further that way.
    """
    if sensor.kind == "wide":
        offset = (0.45 - sensor.centre_v) * 0.5
        if sensor.gain < 0.3:
            return 1.0 if abs(offset) < 0.02 else (0.0 if offset > 0.0 else math.inf)
        return (1.0 + sensor.shift) * (1.0 - offset / sensor.gain)
    uneven = abs(sensor.rise_s - sensor.fall_s) > 0.03 or abs(sensor.ground_offset_v) > 0.05
    if uneven or sensor.gain < 0.9 or abs(sensor.centre_v - 0.45) > 0.02:
        cycle = limit_cycle(sensor, float(round(tip_c, -1)), point.delay_s, point.ramp)
        if cycle is not None:
            return sum(cycle.lambda_) / len(cycle.lambda_)
    return balance_point(sensor, tip_c)


def shown_lambda(sensor: Zirconia, lambda_: float) -> float:
    """Return the lambda a wide-band sensor makes of a mixture at its electrode."""
    offset = (0.45 - sensor.centre_v) * 0.5
    return min(max(1.0 + offset + sensor.gain * (lambda_ / (1.0 + sensor.shift) - 1.0), 0.0), 1.999)


def settle_bank(
    engine: Engine,
    index: int,
    state: State,
    point: Point,
    given: Supply,
    loop: Loop,
    tip: float,
    learned: float,
) -> Mixture:
    """Return the mixture one bank settles at.

    Args:
        engine: the engine.
        index: which bank.
        state: the state.
        point: its operating point.
        given: air and fuel before the trim.
        loop: its loop status.
        tip: electrode of its sensor, degC.
        learned: total trim, %, whose long-term part an open loop holds.
    """
    sensor = engine.banks[index].upstream
    dilution, needed = 1.0, 0.0
    trim = (0.0, split_trim(learned, engine.learned)[1])
    charges: tuple[Charge, ...] = ()
    for _ in range(5):
        if loop == "closed":
            needed = _needed(engine, index, given, sensor_target(sensor, tip, point) / dilution)
            trim = split_trim(needed, engine.learned)
        charges = _charges(engine, index, given, sum(trim), state, point)
        before, dilution = dilution, _dilution(given, charges)
        if abs(before - dilution) < 1e-9:
            break
    lambda_ = given.lambda_at(sum(trim))
    return Mixture(
        air=given.air,
        fuel=given.air / given.stoich / lambda_,
        short=trim[0],
        long=trim[1],
        needed=needed,
        loop=loop,
        lambda_true=lambda_,
        lambda_seen=lambda_ * dilution,
        lambda_shown=shown_lambda(sensor, lambda_ * dilution),
        dilution=dilution,
        leaked=given.leaked,
        misfire=sum(charge.missed for charge in charges) / len(charges),
        tip_c=tip,
        charges=charges,
    )


def _dilution(given: Supply, charges: tuple[Charge, ...]) -> float:
    """Return the lambda the electrode meets over the burnt one: leaked air, oxygen of missed charges."""
    missed = sum(charge.missed * charge.fuel for charge in charges) / sum(charge.fuel for charge in charges)
    return (1.0 + given.leaked / given.air) / (1.0 - (1.0 - ELECTRODE_BURNS) * missed)


def _needed(engine: Engine, index: int, given: Supply, target: float) -> float:
    """Return the trim a target asks for; beyond all authority when no mixture satisfies the sensor.

    With crossed sensors each bank corrects the other: they run away from each other.
    """
    if engine.upstream_crossed and engine.two_banks:
        return 100.0 if index == 0 else -100.0
    if target == 0.0:
        return 100.0
    return -100.0 if math.isinf(target) else given.needed(target)


def split_trim(needed: float, learned: float) -> tuple[float, float]:
    """Return short-term and long-term trim in %, within their authority."""
    total = min(max(needed, DEFICIT_MOST), EXCESS_MOST)
    long = min(max(LONG_PART * total, -LONG_MOST), LONG_MOST) * learned
    return total - long, long


def ordered_mixture(state: State, loop: Loop, shown_c: float, true_c: float) -> float:
    """Return fuel over what lambda 1 needs, as ordered, less what does not evaporate in a cold engine."""
    enriched = 1.0
    if state in ("wot", "snap"):
        enriched = 1.0 / FULL_THROTTLE_LAMBDA
    elif loop == "open_fault":
        enriched = 1.0 / FAULT_LAMBDA
    per_k = EVAPORATES_LESS_PER_K if loop == "closed" else ENRICHED_PER_K
    enriched *= 1.0 + per_k * max(0.0, ENRICHED_BELOW_C - shown_c)
    return enriched * (1.0 - EVAPORATES_LESS_PER_K * max(0.0, ENRICHED_BELOW_C - true_c))


def _charges(
    engine: Engine, index: int, given: Supply, trim: float, state: State, point: Point
) -> tuple[Charge, ...]:
    """Return each cylinder's charge and the share of it that misses."""
    found = []
    count = len(given.flows)
    for place, number in enumerate(numbers(engine, index)):
        air = given.air / count
        fuel = given.base * (1.0 + trim / 100.0) * given.flows[place] / sum(given.flows) + given.extra[place]
        lambda_ = air / (given.stoich * fuel)
        found.append(Charge(air, fuel, lambda_, _missed(engine, number, lambda_, state, point)))
    return tuple(found)


def _missed(engine: Engine, number: int, lambda_: float, state: State, point: Point) -> float:
    """Return the share of a cylinder's cycles that do not burn: spark, mixture, compression, EGR, fuel."""
    cylinder = engine.cylinders[number - 1]
    spark = {
        "idle": cylinder.spark_miss_idle,
        "2500": cylinder.spark_miss_2500,
        "load": cylinder.spark_miss_load,
    }[point.spark]
    easy = {"idle": 1.0, "2500": 0.45, "load": 0.2}[point.spark]
    lean = max(0.0, lambda_ - LEAN_LIMIT) * 0.8
    rich = max(0.0, RICH_LIMIT - lambda_) * 1.5
    lost = max(0.0, 0.7 - cylinder.compression_kpa / 1225.0)
    weak = min(0.95, 1.53 * lost * easy)
    diluted = 0.3 * max(0.0, engine.air.egr_share_idle - 0.2) if state == "idle" else 0.0
    bad = engine.fuel.miss_by_fuel * {"idle": 0.5, "2500": 0.35, "load": 1.0}[point.spark]
    burns = 1.0
    for share in (spark, lean, rich, weak, diluted, bad):
        burns *= 1.0 - min(max(share, 0.0), 1.0)
    return 1.0 - burns
