"""Source: closed forms of plane waveforms (derived here; any table of mathematics), sampled and measured.

The levels 0.30, 0.45 and 0.60 V, between which a signal is judged, are common practice. A first-order lag
toward a level V reaches v after tau ln((V - v0) / (V - v)); a sine passes v at
arcsin((v - c) / A) / (2 pi f).
"""

from __future__ import annotations

from math import asin, exp, log, pi

import numpy as np
import pytest

from engine.traces.metrics import SensorMetrics, edges, measure

RATE = 10_000
TIMES = np.arange(10 * RATE) / RATE


def trapezoid(low: float, high: float, rise: float, dwell: float, fall: float, rest: float) -> SensorMetrics:
    """Measure ten seconds of a trapezoid that begins low."""
    corners = np.cumsum([0.0, rest, rise, dwell, fall])
    phase = TIMES % corners[-1]
    return measure(TIMES, np.interp(phase, corners, [low, low, high, high, low]))


def lagged(tau: float, high_for: float, low_for: float) -> SensorMetrics:
    """Measure ten seconds of a first-order lag toward 0.9 and 0.1 V in turn, long after its start."""
    q1, q2 = exp(-high_for / tau), exp(-low_for / tau)
    top = (0.9 * (1 - q1) + 0.1 * (1 - q2) * q1) / (1 - q1 * q2)
    foot = 0.1 + (top - 0.1) * q2
    phase = (TIMES + 0.5 / RATE) % (high_for + low_for)
    up = 0.9 - (0.9 - foot) * np.exp(-phase / tau)
    down = 0.1 + (top - 0.1) * np.exp(-(phase - high_for) / tau)
    return measure(TIMES, np.where(phase < high_for, up, down))


@pytest.mark.parametrize(
    ("centre", "swing", "frequency"), [(0.45, 0.40, 1.5), (0.55, 0.35, 1.0), (0.40, 0.38, 0.8)]
)
def test_a_sine(centre: float, swing: float, frequency: float) -> None:
    found = measure(TIMES, centre + swing * np.sin(2 * pi * frequency * TIMES + 0.1))
    edge = (asin((0.6 - centre) / swing) - asin((0.3 - centre) / swing)) / (2 * pi * frequency)
    assert found.lean_to_rich == pytest.approx(edge, rel=1e-4)
    assert found.rich_to_lean == pytest.approx(edge, rel=1e-4)
    assert found.crossings == round(2 * frequency * 10)
    assert found.crossings_per_10s == pytest.approx(2 * frequency * 10)
    assert found.frequency == pytest.approx(frequency)
    assert found.rich_share == pytest.approx(0.5 + asin((centre - 0.45) / swing) / pi, abs=2e-4)
    assert found.mean == pytest.approx(centre, abs=1e-6)
    assert found.amplitude == pytest.approx(2 * swing, rel=1e-4)


@pytest.mark.parametrize(
    ("low", "high", "rise", "dwell", "fall", "rest"),
    [(0.10, 0.80, 0.07, 0.40, 0.14, 0.39), (0.05, 0.95, 0.045, 0.30, 0.09, 0.565)],
)
def test_a_trapezoid(low: float, high: float, rise: float, dwell: float, fall: float, rest: float) -> None:
    found = trapezoid(low, high, rise, dwell, fall, rest)
    period = rise + dwell + fall + rest
    assert found.lean_to_rich == pytest.approx(0.3 / (high - low) * rise, rel=1e-4)
    assert found.rich_to_lean == pytest.approx(0.3 / (high - low) * fall, rel=1e-4)
    assert found.crossings == 20
    rich = (dwell + (high - 0.45) / (high - low) * (rise + fall)) / period
    assert found.rich_share == pytest.approx(rich, abs=2e-4)
    mean = (high * dwell + low * rest + (high + low) / 2 * (rise + fall)) / period
    assert found.mean == pytest.approx(mean, rel=1e-4)


@pytest.mark.parametrize(
    ("high_for", "low_for", "lowest", "highest", "mean", "share"),
    [(0.5, 0.5, 0.105354, 0.894646, 0.5, 0.525131), (0.7, 0.3, 0.139795, 0.899307, 0.66, 0.730147)],
)
def test_a_lag_of_a_tenth_of_a_second(
    high_for: float, low_for: float, lowest: float, highest: float, mean: float, share: float
) -> None:
    found = lagged(0.1, high_for, low_for)
    assert found.lean_to_rich == pytest.approx(0.1 * log(2), rel=2e-4)
    assert found.rich_to_lean == pytest.approx(0.1 * log(2.5), rel=2e-4)
    assert (found.lowest, found.highest) == pytest.approx((lowest, highest), rel=1e-3)
    assert found.mean == pytest.approx(mean, rel=1e-4)
    assert found.rich_share == pytest.approx(share, abs=4e-4)


def test_a_lazy_lag_never_spans_the_levels() -> None:
    found = lagged(0.5, 0.5, 0.5)
    assert (found.lowest, found.highest) == pytest.approx((0.315153, 0.684847), rel=1e-3)
    assert found.rich_share == pytest.approx(0.625657, abs=4e-4)
    assert found.lean_to_rich is None
    assert found.rich_to_lean is None


def test_a_constant_on_the_threshold_is_never_rich_and_never_crosses() -> None:
    found = measure(TIMES, np.full(TIMES.size, 0.45))
    assert (found.crossings, found.rich_share, found.lean_to_rich) == (0, 0.0, None)
    assert (found.lowest, found.highest, found.mean) == pytest.approx((0.45, 0.45, 0.45))


def test_a_square_that_begins_low_has_one_crossing_fewer_than_halves() -> None:
    found = measure(TIMES, np.where(TIMES * 2 % 1 < 0.5, 0.2, 0.7))
    assert found.crossings == 39
    assert found.rich_share == pytest.approx(0.5)
    assert found.lean_to_rich is not None
    assert found.lean_to_rich <= 1.01 / RATE


def test_a_triangle_has_edges_as_long_as_its_slope_says() -> None:
    phase = TIMES % 1.0
    found = measure(TIMES, 0.1 + 0.8 * np.where(phase < 0.5, 2 * phase, 2 - 2 * phase))
    assert found.lean_to_rich == pytest.approx(0.3 / 1.6, rel=1e-4)
    assert {round(edge.seconds, 4) for edge in edges(TIMES, 0.1 + 0.8 * abs(2 * phase - 1))} == {0.1875}
