"""The limit cycle of the mixture loop: an integrating controller hunts about the switching point."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from engine.car.parameters import Zirconia
from engine.car.points import HEATED_TIP_C
from engine.car.zirconia_cell import aged, balance_point, cell_volts, on_the_wire

SWITCH_V = 0.45
STEPS_PER_HALF = 70
_MOST_HALVES = 9
SLOWER_PER_K = 1.0 / 230.0
"""Growth of the electrode's lags per K below its heated temperature (twice as slow at 520 °C); chosen."""


@dataclass(frozen=True, slots=True)
class Cycle:
    """One period of the settled loop, at even steps."""

    period: float
    """s."""
    lambda_: tuple[float, ...]
    """At the sensor, as burnt so long ago as the gas takes to come."""
    volts: tuple[float, ...]
    """As the control unit shows them."""
    swing: float
    """Peak to peak of the trim, %."""

    def at(self, seconds: float, values: tuple[float, ...]) -> float:
        """Return one of the two courses at a time, linear between the steps."""
        steps = (seconds / self.period % 1.0) * len(values)
        low = int(steps) % len(values)
        part = steps - int(steps)
        return values[low] + (values[(low + 1) % len(values)] - values[low]) * part


def lag(seconds: float, tip_c: float) -> float:
    """Return a time constant of the electrode at a tip temperature."""
    return seconds * (1.0 + max(0.0, HEATED_TIP_C - tip_c) * SLOWER_PER_K)


@lru_cache(maxsize=2048)
def limit_cycle(sensor: Zirconia, tip_c: float, delay: float, ramp: float) -> Cycle | None:
    """Return the settled hunt of a loop about what the sensor calls 1, None when it does not switch.

    The trim runs at *ramp* towards lean while the signal is above 0.45 V, else towards rich. The gas arrives
    after *delay*; the porous layer lags the mixture, the electrode the volts.

    Args:
        sensor: a switching sensor.
        tip_c: its electrode, degC.
        delay: from injection to the sensor, s.
        ramp: speed of the trim, % per s.
    """
    centre = balance_point(sensor, tip_c)
    if centre == 0.0 or math.isinf(centre):
        return None
    layer, rise, fall = (lag(s, tip_c) for s in (sensor.diffusion_s, sensor.rise_s, sensor.fall_s))
    half = 2.0 * (delay + layer) + rise + fall
    step = half / STEPS_PER_HALF
    course = _run(sensor, tip_c, centre, delay, ramp, (layer, rise, fall), step)
    return _last_period(course, step)


Course = tuple[list[float], list[float], list[float], list[int]]


def _run(
    sensor: Zirconia, tip_c: float, centre: float, delay: float, ramp: float,
    lags: tuple[float, float, float], step: float,
) -> Course:  # fmt: skip
    """Return trim, lambda, shown volts at every step and the steps at which the signal turned rich."""
    keep_layer, keep_rise, keep_fall = (math.exp(-step / max(seconds, 1e-6)) for seconds in lags)
    wire_zero = on_the_wire(sensor, 0.0, tip_c)
    wire_slope = (on_the_wire(sensor, 0.4, tip_c) - wire_zero) / 0.4
    behind = delay / step
    whole, part = int(behind), behind - int(behind)
    trims, mixtures, shown, turns = [0.0], [centre] * (whole + 2), [SWITCH_V], []
    layer, element, trim, was_rich = centre, (SWITCH_V - wire_zero) / wire_slope, 0.0, True
    scale = 1.0 / (1.0 + sensor.shift)
    for count in range(STEPS_PER_HALF * 2 * _MOST_HALVES):
        trim += -ramp * step if was_rich else ramp * step
        mixtures.append(centre / (1.0 + trim / 100.0))
        arrived = mixtures[-1 - whole] * (1.0 - part) + mixtures[-2 - whole] * part
        layer = arrived + (layer - arrived) * keep_layer
        aim = aged(sensor, cell_volts(layer * scale, tip_c, sensor.reference_oxygen))
        element = aim + (element - aim) * (keep_rise if aim > element else keep_fall)
        volts = wire_zero + wire_slope * element
        rich = volts > SWITCH_V
        if rich and not was_rich:
            turns.append(count)
            if len(turns) == 3:
                break
        was_rich = rich
        trims.append(trim)
        shown.append(min(max(volts, -0.3), 1.275))
    return trims[1:], mixtures[whole + 2 :], shown[1:], turns


def _last_period(course: Course, step: float) -> Cycle | None:
    trims, mixtures, shown, turns = course
    if len(turns) < 2:
        return None
    first, last = turns[-2], turns[-1]
    period = trims[first:last]
    return Cycle(
        period=(last - first) * step,
        lambda_=tuple(mixtures[first:last]),
        volts=tuple(shown[first:last]),
        swing=max(period) - min(period),
    )
