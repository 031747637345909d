"""The gas and heat of one bank: cylinders, leak, catalyst, shell temperatures."""

from __future__ import annotations

from dataclasses import fields

from engine.car.breathing import Breath
from engine.car.catalyst import Conversion, convert, heat_rise
from engine.car.exhaust import add, air_flow, cylinder_gas, dry, grams_per_carbon, raw_charge
from engine.car.limit_cycle import limit_cycle
from engine.car.mixture_loop import Mixture
from engine.car.parameters import Bank, Engine
from engine.car.points import Point
from engine.car.settled import BankLoop, BankState, Flow, State
from engine.car.traces import OXYGEN_OF_AIR, hot_store
from engine.formulas.fuel_types import Fuel

_OF_THE_LOOP = tuple(field.name for field in fields(BankLoop))
SLIPS = 0.3
"""Share of a missed charge that passes the catalyst as a slug, too much at once to burn; chosen."""
CAT_LOSS_K, CAT_SHELL = 20.0, 0.9
"""Cooling along the catalyst, K, and the share of the gas's warming its shell shows; chosen."""


def _raw_gas(
    point: Point, breath: Breath, mixture: Mixture, fuel: Fuel, swung: float = 1.0
) -> tuple[Flow, Flow]:
    """Return what the cylinders of a bank send out, mol/s, and the missed charges in it that go as slugs.

    Args:
        point: the operating point.
        breath: air of the state.
        mixture: the settled mixture.
        fuel: the fuel.
        swung: lambda at this moment of the loop's hunt over its mean.
    """
    raw: dict[tuple[float, float], float] = {}
    per_carbon = grams_per_carbon(fuel)
    for charge in mixture.charges:
        key = (charge.lambda_ * swung, charge.missed)
        raw[key] = raw.get(key, 0.0) + charge.fuel / per_carbon
    nitric = point.nitric * (1.0 - 2.0 * breath.egr if breath.egr < 0.5 else 0.0)
    out = add(
        (moles, cylinder_gas(lambda_, fuel, missed, point.unburnt, nitric))
        for (lambda_, missed), moles in raw.items()
    )
    slugs = add(
        (moles * missed * SLIPS, raw_charge(lambda_, fuel)) for (lambda_, missed), moles in raw.items()
    )
    return out, slugs


def bank_state(
    engine: Engine, index: int, state: State, point: Point, breath: Breath, mixture: Mixture, fuel: Fuel
) -> tuple[BankState, Flow]:
    """Return a bank with its gas and heat, and what it sends to the tailpipe, mol/s."""
    out, _ = _raw_gas(point, breath, mixture, fuel)
    sensed = add(((1.0, out), (1.0, air_flow(mixture.leaked)))) if mixture.leaked else out
    bank = engine.banks[index]
    after = _after_catalyst(engine, index, state, point, breath, mixture, fuel)
    rise = heat_rise(sensed, after, point.shell_in)
    inlet, outlet = _shells(bank, point, rise, engine.ambient_c)
    found = BankState(
        **{name: getattr(mixture, name) for name in _OF_THE_LOOP},
        engine_out=dry(out),
        at_sensor=dry(sensed),
        after_catalyst=dry(after),
        in_c=inlet,
        out_c=outlet,
        back_pressure=breath.back_pressure[index],
    )
    return found, after


def _after_catalyst(
    engine: Engine, index: int, state: State, point: Point, breath: Breath, mixture: Mixture, fuel: Fuel
) -> Flow:
    """Return the gas behind the catalyst: steady while its store evens the hunt out, else swinging."""
    bank = engine.banks[index]
    share = _conversion(bank, state, point)

    def behind(swung: float) -> Flow:
        out, slugs = _raw_gas(point, breath, mixture, fuel, swung)
        leaked = air_flow(mixture.leaked)
        mixed = add(((1.0, out), (1.0, leaked), (-1.0, slugs)))
        return add(((1.0, convert(mixed, fuel, share)), (1.0, slugs)))

    depth, passes = _hunt(engine, index, state, point, mixture)
    if passes <= 0.0:
        return behind(1.0)
    halves = ((passes / 2.0, behind(1.0 + depth)), (passes / 2.0, behind(1.0 - depth)))
    return add(((1.0 - passes, behind(1.0)), *halves))


def _hunt(engine: Engine, index: int, state: State, point: Point, mixture: Mixture) -> tuple[float, float]:
    """Return the mean swing of lambda and the share of its oxygen that the catalyst cannot store."""
    bank = engine.banks[index]
    sensor, store = bank.upstream, hot_store(bank.catalyst, state)
    slow = max(sensor.rise_s, sensor.fall_s, sensor.diffusion_s) > 0.2
    clipped = abs(mixture.needed - mixture.short - mixture.long) > 0.5
    if not (slow or store < 0.05) or clipped or mixture.loop != "closed" or sensor.kind != "switching":
        return 0.0, 0.0
    cycle = limit_cycle(sensor, float(round(mixture.tip_c, -1)), point.delay_s, point.ramp)
    if cycle is None:
        return 0.0, 0.0
    mean = sum(cycle.lambda_) / len(cycle.lambda_)
    depth = sum(abs(one - mean) for one in cycle.lambda_) / len(cycle.lambda_)
    pumped = mixture.air * OXYGEN_OF_AIR * depth * cycle.period / 2.0
    return depth, max(0.0, 1.0 - store / pumped)


def _conversion(bank: Bank, state: State, point: Point) -> Conversion:
    """Return what is left of the catalyst's conversion: age, and soot that 20 min at load burn off."""
    soot = 0.0 if state == "reload" else bank.catalyst.soot
    left = bank.catalyst.active * (1.0 - 0.5 * soot)
    return Conversion(
        point.burning * left, point.burning * left * 0.99, 0.96 * left if point.burning > 0.5 else 0.0
    )


def _shells(bank: Bank, point: Point, rise: float, ambient: float) -> tuple[float, float]:
    """Return the shell temperatures ahead of and behind the catalyst, °C."""
    blocked = max(0.0, bank.exhaust_restriction - 1.0)
    inlet = min(point.shell_in + 25.0 * blocked, 900.0)
    outlet = inlet - CAT_LOSS_K + CAT_SHELL * rise
    held = 1.0 / (1.0 + 0.06 * blocked)
    return inlet, ambient + (outlet - ambient) * held * (point.shell_in / inlet) ** 0.3
