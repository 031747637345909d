"""The volts of a switching sensor over the mixture: equilibrium, the unevenness of the gas, tip and wires."""

from __future__ import annotations

import math
from functools import lru_cache

from engine.car.exhaust import blend
from engine.car.parameters import Zirconia
from engine.formulas.gibbs import GAS_CONSTANT
from engine.formulas.zirconia import FARADAY, REFERENCE_OXYGEN, ZERO_CELSIUS, equilibrium_oxygen

RESTLESS = 0.0022
"""Standard deviation of lambda from cycle to cycle and cylinder to cylinder: it rounds the step."""
INPUT_OHM = 1.0e6
CELL_OHM, CELL_C, CELL_EV = 100.0, 800.0, 1.0
"""Inner resistance of the cell at a temperature, and its activation energy (illustrative, about 1 eV)."""
_BOLTZMANN_EV = 8.617333e-5
SHORT_SUPPLY_V = 1.275
"""The most a live-data item shows; the wire itself is at the supply."""
_FINE = 0.0005
_LEAST, _MOST = 0.70, 1.50
_KNOTS = tuple(
    sign * size
    for sign, sizes in (
        (-1.0, (0.35, 0.25, 0.15, 0.1, 0.07, 0.05, 0.035, 0.025, 0.018, 0.012, 0.008, 0.005, 0.003, 0.0015)),
        (-1.0, (0.0007, 0.0003, 0.0001, 3e-5, 1e-5)),
        (1.0, (1e-5, 3e-5, 0.0001, 0.0003, 0.0007, 0.0015, 0.003, 0.005, 0.008, 0.012, 0.018, 0.025)),
        (1.0, (0.035, 0.05, 0.07, 0.1, 0.15, 0.25, 0.4, 0.6)),
    )
    for size in sizes
)


@lru_cache(maxsize=64)
def _curve(tip_c: float) -> tuple[float, ...]:
    """Return the mean volts of a sound cell over lambda 0.70 to 1.50 in steps of 0.0005.

    The equilibrium volts are averaged over a normal spread of lambda: the step at 1 becomes a slope.
    """
    fuel = blend(5.0)
    scale = GAS_CONSTANT * (tip_c + ZERO_CELSIUS) / (4.0 * FARADAY)
    knots = [
        (1.0 + knot, scale * math.log(REFERENCE_OXYGEN / equilibrium_oxygen(1.0 + knot, tip_c, fuel)))
        for knot in _KNOTS
    ]
    count = round((_MOST - _LEAST) / _FINE)
    nodes = 25
    offsets = [(place - nodes // 2) * 8.0 / nodes for place in range(nodes)]
    weights = [math.exp(-offset * offset / 2.0) for offset in offsets]
    whole = sum(weights)
    margin = 4.0 * RESTLESS
    even = _resample(
        knots, _LEAST - margin, _FINE / 4.0, int((_MOST - _LEAST + 2.0 * margin) / _FINE * 4) + 2
    )
    found = []
    for step in range(count + 1):
        centre = (margin + step * _FINE) / (_FINE / 4.0)
        found.append(
            sum(
                weight * even[round(centre + offset * RESTLESS / (_FINE / 4.0))]
                for offset, weight in zip(offsets, weights, strict=True)
            )
            / whole
        )
    return tuple(found)


def _resample(knots: list[tuple[float, float]], first: float, step: float, count: int) -> list[float]:
    """Return linear interpolation between sorted knots at even steps."""
    found: list[float] = []
    place = 0
    for index in range(count):
        x = first + index * step
        while place < len(knots) - 2 and knots[place + 1][0] < x:
            place += 1
        (x0, y0), (x1, y1) = knots[place], knots[place + 1]
        found.append(y0 + (y1 - y0) * min(max((x - x0) / (x1 - x0), 0.0), 1.0))
    return found


def cell_volts(lambda_: float, tip_c: float, reference_oxygen: float = REFERENCE_OXYGEN) -> float:
    """Return the mean volts of a cell in exhaust gas, before wires and input.

    Args:
        lambda_: mixture at the electrode.
        tip_c: temperature of the electrode, degC; rounded to 10.
        reference_oxygen: oxygen share on the reference side.
    """
    tip = float(round(tip_c, -1))
    curve = _curve(tip)
    steps = (min(max(lambda_, _LEAST), _MOST) - _LEAST) / _FINE
    low = min(int(steps), len(curve) - 2)
    volts = curve[low] + (curve[low + 1] - curve[low]) * (steps - low)
    if reference_oxygen != REFERENCE_OXYGEN:
        share = max(reference_oxygen, 1e-6) / REFERENCE_OXYGEN
        volts += GAS_CONSTANT * (tip + ZERO_CELSIUS) / (4.0 * FARADAY) * math.log(share)
    return volts


def cell_ohms(tip_c: float) -> float:
    """Return the inner resistance of the cell, ohm: it grows exponentially on cooling (about 1 eV)."""
    kelvin = max(tip_c, -40.0) + ZERO_CELSIUS
    inverse = 1.0 / kelvin - 1.0 / (CELL_C + ZERO_CELSIUS)
    return CELL_OHM * math.exp(min(CELL_EV / _BOLTZMANN_EV * inverse, 60.0))


def shown_volts(sensor: Zirconia, lambda_: float, tip_c: float) -> float:
    """Return what the control unit shows of a steady mixture at the electrode: cell, age, wires and input.

    Args:
        sensor: the sensor.
        lambda_: mixture at the electrode.
        tip_c: temperature of the electrode, degC.
    """
    return on_the_wire(
        sensor,
        aged(sensor, cell_volts(lambda_ / (1.0 + sensor.shift), max(tip_c, 300.0), sensor.reference_oxygen)),
        tip_c,
    )


def aged(sensor: Zirconia, volts: float) -> float:
    """Return what age leaves of a sound cell's volts."""
    return sensor.centre_v + sensor.gain * (volts - 0.45)


def on_the_wire(sensor: Zirconia, volts: float, tip_c: float) -> float:
    """Return what the control unit shows of the element's volts."""
    if sensor.signal == "short_ground":
        return 0.0
    if sensor.signal == "short_supply":
        return SHORT_SUPPLY_V
    if sensor.signal == "open" or not sensor.input_good:
        return sensor.bias_v
    through = INPUT_OHM / (INPUT_OHM + cell_ohms(tip_c))
    shown = sensor.bias_v + (volts - sensor.bias_v) * through + sensor.ground_offset_v
    return min(max(shown, -0.3), SHORT_SUPPLY_V)


def balance_point(sensor: Zirconia, tip_c: float) -> float:
    """Return the lambda at which the sensor shows 0.45 V: 0 when it never shows less, inf never more."""
    low, high = _LEAST, _MOST
    if shown_volts(sensor, low, tip_c) < 0.45:
        return 0.0
    if shown_volts(sensor, high, tip_c) > 0.45:
        return math.inf
    for _ in range(24):
        middle = (low + high) / 2.0
        if shown_volts(sensor, middle, tip_c) > 0.45:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
