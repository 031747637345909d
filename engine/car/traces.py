"""The signals of the oxygen sensors over time, from the settled state and the loop's limit cycle."""

from __future__ import annotations

import math

from engine.car.limit_cycle import Cycle, lag, limit_cycle
from engine.car.mixture_loop import heated_tip
from engine.car.parameters import Catalyst, Engine, Zirconia
from engine.car.points import HEATED_TIP_C, POINTS
from engine.car.settled import BankState, Settled, State
from engine.car.zirconia_cell import aged, cell_volts, on_the_wire, shown_volts

Trace = tuple[tuple[float, ...], tuple[float, ...]]
"""Times in s and volts (lambda for a wide-band sensor)."""
RESTING_LAMBDA = 0.9976
"""Mixture behind a sound catalyst in closed loop: the control unit holds about 0.66 V there."""
OXYGEN_OF_AIR = 0.2315
"""Share of the mass."""
BREAKS_THROUGH = 0.004
"""Mean departure of lambda from 1 that no store balances."""
DOWNSTREAM_TIP_C = 700.0
RESTING_WOBBLE = 0.0009
"""Slow wander of that mixture, lambda."""
WOBBLE = 0.004
"""Slow wander of the mixture of an open or clipped loop, lambda."""
_GOLDEN = 0.6180339887498949


def oxygen_trace(
    engine: Engine,
    settled: Settled,
    place: str,
    seconds: float = 10.0,
    rate: float = 50.0,
    phase: float = 0.0,
) -> Trace:
    """Return times in s and volts (a wide-band sensor: lambda) as the control unit shows them.

    Args:
        engine: the engine.
        settled: the state it is in.
        place: b1s1, b2s1 (upstream), b1s2, b2s2 (downstream), by the harness they are plugged into.
        seconds: length of the trace.
        rate: samples per s.
        phase: where in the hunt it begins, 0 to 1; also which cycles differ a little.

    Raises:
        ValueError: a place this engine has not got.
    """
    index = {"b1": 0, "b2": 1}.get(place[:2], 9)
    if index >= len(engine.banks) or place[2:] not in ("s1", "s2"):
        raise ValueError(f"no sensor of this engine is called {place!r}")
    times = tuple(count / rate for count in range(round(seconds * rate)))
    bank = engine.banks[index]
    if place[2:] == "s2":
        return times, _downstream(engine, settled, index, times, phase)
    source = 1 - index if engine.upstream_crossed and engine.two_banks else index
    state = settled.banks[source]
    if bank.upstream.kind == "wide":
        return times, _wide(settled.banks[index], times, phase)
    cycle = upstream_cycle(engine, settled, index)
    if cycle is not None:
        start = phase * cycle.period
        return times, tuple(cycle.at(time + start, cycle.volts) for time in times)
    tip = settled.banks[index].tip_c
    if not settled.running:
        return times, (shown_volts(bank.upstream, state.lambda_seen, tip),) * len(times)
    return times, _calm(bank.upstream, state.lambda_seen, WOBBLE, tip, times, phase)


def upstream_cycle(engine: Engine, settled: Settled, index: int) -> Cycle | None:
    """Return the hunt of a bank's loop, None when it is open, clipped, crossed or blind."""
    state, sensor = settled.banks[index], engine.banks[index].upstream
    if state.loop != "closed" or sensor.kind != "switching" or engine.upstream_crossed:
        return None
    if abs(state.needed - state.total) > 0.5 + 0.3 * _reach(engine, settled.state, sensor, state):
        return None
    point = POINTS[settled.state]
    return limit_cycle(sensor, float(round(state.tip_c, -1)), point.delay_s, point.ramp)


def _reach(engine: Engine, state: State, sensor: Zirconia, bank: BankState) -> float:
    """Return half the swing of the hunt, %: a loop so near its limit still switches."""
    point = POINTS[state]
    cycle = limit_cycle(sensor, float(round(bank.tip_c, -1)), point.delay_s, point.ramp)
    return 0.0 if cycle is None else cycle.swing / 2.0


def trim_swing(engine: Engine, settled: Settled, index: int) -> float:
    """Return the peak to peak of a bank's short-term trim, %."""
    if engine.banks[index].upstream.kind == "wide" and settled.banks[index].loop == "closed":
        return 2.0
    cycle = upstream_cycle(engine, settled, index)
    return 0.5 if cycle is None else cycle.swing


def _calm(
    sensor: Zirconia, mean: float, depth: float, tip: float, times: tuple[float, ...], phase: float
) -> tuple[float, ...]:
    """Return the volts of a mixture that only wanders slowly: worked out every quarter of a second."""
    found = []
    turn = 2.0 * math.pi
    place, before, after = -1, 0.0, 0.0
    for time in times:
        quarter = int(time * 4.0)
        if quarter != place:
            now, place = quarter / 4.0, quarter
            before, after = (
                shown_volts(sensor, mean + depth * math.sin(turn * (0.13 * moment + phase)), tip)
                for moment in (now, now + 0.25)
            )
        found.append(before + (after - before) * (time * 4.0 - quarter))
    return tuple(found)


def _wide(own: BankState, times: tuple[float, ...], phase: float) -> tuple[float, ...]:
    """Return the lambda a wide-band sensor shows: steady, a little restless in closed loop."""
    depth = 0.006 if own.loop == "closed" else 0.002
    return tuple(own.lambda_shown + depth * math.sin(2.0 * math.pi * (0.9 * time + phase)) for time in times)


def _downstream(
    engine: Engine, settled: Settled, index: int, times: tuple[float, ...], phase: float
) -> tuple[float, ...]:
    bank, state = engine.banks[index], settled.banks[index]
    sensor = bank.downstream
    tip = heated_tip(sensor, settled.volts.heater_feed, 480.0) - (HEATED_TIP_C - DOWNSTREAM_TIP_C)
    if not settled.running:
        tip = tip if settled.state == "overrun" else engine.ambient_c
        return (shown_volts(sensor, state.lambda_seen, tip),) * len(times)
    mean = state.lambda_seen
    cycle = upstream_cycle(engine, settled, index)
    if abs(mean - 1.0) > BREAKS_THROUGH or (cycle is None and state.loop != "closed"):
        return _calm(sensor, mean, WOBBLE, tip, times, phase)
    mixtures = None
    if cycle is not None:
        store = hot_store(bank.catalyst, settled.state)
        mixtures = _behind_store(cycle, store, state.air, times, phase)
    if mixtures is None:
        return _calm(sensor, RESTING_LAMBDA, RESTING_WOBBLE, tip, times, phase)
    return _slowed(sensor, _rested(mixtures, times, phase), tip, times)


def hot_store(catalyst: Catalyst, state: State) -> float:
    """Return the oxygen the catalyst can give and take, g; soot masks it until it is burnt off."""
    soot = 0.0 if state == "reload" else catalyst.soot
    return catalyst.store_g * (1.0 - 0.95 * soot)


def _behind_store(
    cycle: Cycle, store: float, air: float, times: tuple[float, ...], phase: float
) -> list[float] | None:
    """Return the mixture behind a store of oxygen: resting while it fills or empties, else what comes in.

    From half-cycle to half-cycle the store within reach differs by up to 40 % either way, with load, flow
    and temperature; the sequence is even and fixed by *phase*. None: the store is never near its ends.
    """
    found = []
    step = times[1] - times[0] if len(times) > 1 else 0.0
    draw, lean = phase % 1.0, False
    size = store * (0.6 + 0.8 * draw)
    held = size / 2.0
    start = phase * cycle.period
    mean = sum(cycle.lambda_) / len(cycle.lambda_)
    pumped = sum(abs(mixture - mean) for mixture in cycle.lambda_) / len(cycle.lambda_) * cycle.period / 2.0
    if air * OXYGEN_OF_AIR * pumped < 0.2 * store:
        return None
    for time in times:
        mixture = 1.0 + cycle.at(time + start, cycle.lambda_) - mean
        if (mixture > 1.0) != lean:
            lean = not lean
            draw = (draw + _GOLDEN) % 1.0
            held = held / size if size else 0.5
            size = store * (0.6 + 0.8 * draw)
            held *= size
        held += air * OXYGEN_OF_AIR * (mixture - 1.0) * step
        if 0.0 < held < size:
            found.append(RESTING_LAMBDA)
            held += (size / 2.0 - held) * step / 5.0
        else:
            held = min(max(held, 0.0), size)
            found.append(mixture)
    return found


def _rested(mixtures: list[float], times: tuple[float, ...], phase: float) -> list[float]:
    """Add the slow wander the outer loop leaves behind the catalyst."""
    turn = 2.0 * math.pi
    return [
        mixture + RESTING_WOBBLE * math.sin(turn * (0.13 * time + phase))
        for mixture, time in zip(mixtures, times, strict=True)
    ]


def _slowed(
    sensor: Zirconia, mixtures: list[float], tip: float, times: tuple[float, ...]
) -> tuple[float, ...]:
    """Return the shown volts of a mixture over time with the electrode's lags."""
    step = times[1] - times[0] if len(times) > 1 else 1.0
    rise, fall = (
        math.exp(-step / max(lag(seconds + sensor.diffusion_s / 2.0, tip), 1e-6))
        for seconds in (sensor.rise_s, sensor.fall_s)
    )
    zero = on_the_wire(sensor, aged(sensor, 0.0), tip)
    slope = (on_the_wire(sensor, aged(sensor, 0.4), tip) - zero) / 0.4
    scale, hot = 1.0 / (1.0 + sensor.shift), max(tip, 300.0)
    volts = shown_volts(sensor, mixtures[0], tip)
    found = []
    for mixture in mixtures:
        aim = zero + slope * cell_volts(mixture * scale, hot, sensor.reference_oxygen)
        volts = aim + (volts - aim) * (rise if aim > volts else fall)
        found.append(volts)
    return tuple(found)
