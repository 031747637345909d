"""The answer of an oxygen sensor to a forced step of the mixture: propane, a hose opened, a fuel cut."""

from __future__ import annotations

import math

from engine.car.limit_cycle import lag
from engine.car.mixture_loop import heated_tip, shown_lambda
from engine.car.parameters import Engine, Zirconia
from engine.car.points import HEATED_TIP_C
from engine.car.settled import Settled
from engine.car.traces import DOWNSTREAM_TIP_C, Trace
from engine.car.zirconia_cell import aged, cell_volts, on_the_wire, shown_volts

FORCED_RICH, FORCED_LEAN = 0.90, 1.14
"""Lambda of the usual forced steps (common practice)."""
BEFORE_S = 0.5
"""Length of the steady part ahead of the step, s."""
FINEST_S = 0.002
"""Step of the calculation, s."""


def _electrode(engine: Engine, settled: Settled, place: str) -> tuple[Zirconia, float]:
    """Return the sensor at a place and its electrode's temperature, degC."""
    index, upstream = int(place[1]) - 1, place.endswith("s1")
    bank = engine.banks[index]
    if upstream:
        return bank.upstream, settled.banks[index].tip_c
    heated = heated_tip(bank.downstream, settled.volts.heater_feed, 480.0)
    return bank.downstream, heated - (HEATED_TIP_C - DOWNSTREAM_TIP_C)


def forced_trace(
    engine: Engine,
    settled: Settled,
    place: str,
    first: float,
    last: float,
    seconds: float = 6.0,
    rate: float = 200.0,
) -> Trace:
    """Return times in s and volts (a wide-band sensor: lambda) while the gas steps to another lambda.

    The step reaches the sensor half a second after the start. With crossed sensors force the bank the sensor
    sits in: its harness shows the step.

    Args:
        engine: the engine.
        settled: the state it is in.
        place: b1s1, b2s1, b1s2, b2s2.
        first: lambda at the electrode before the step.
        last: lambda after it.
        seconds: length of the trace.
        rate: samples per s.
    """
    sensor, tip = _electrode(engine, settled, place)
    times = tuple(count / rate for count in range(round(seconds * rate)))
    steps = max(1, round(1.0 / rate / FINEST_S))
    slow, rise, fall = (
        math.exp(-1.0 / rate / steps / max(lag(constant, tip), 1e-6))
        for constant in (sensor.diffusion_s, sensor.rise_s, sensor.fall_s)
    )
    layer, element, found = first, _volts(sensor, first, tip), []
    for time in times:
        found.append(
            shown_lambda(sensor, layer) if sensor.kind == "wide" else on_the_wire(sensor, element, tip)
        )
        aim = last if time >= BEFORE_S else first
        for _ in range(steps):
            layer = aim + (layer - aim) * slow
            volts = _volts(sensor, layer, tip)
            element = volts + (element - volts) * (rise if volts > element else fall)
    return times, tuple(found)


def _volts(sensor: Zirconia, lambda_: float, tip: float) -> float:
    return aged(sensor, cell_volts(lambda_ / (1.0 + sensor.shift), max(tip, 300.0), sensor.reference_oxygen))


def forced_volts(engine: Engine, settled: Settled, place: str, lambda_: float) -> float:
    """Return the steady volts (a wide-band sensor: lambda) at a forced mixture; places as in a trace."""
    sensor, tip = _electrode(engine, settled, place)
    return shown_lambda(sensor, lambda_) if sensor.kind == "wide" else shown_volts(sensor, lambda_, tip)
