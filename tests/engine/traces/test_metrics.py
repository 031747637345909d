"""Numbers of a recording: noise, gaps, what is demanded of length and rate, and how long it takes."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.tapping import crossings_of
from engine.traces.metrics import TraceError, crossings_at, measure

RANDOM = np.random.default_rng(7)


def switching(rate: float, seconds: float = 12.0, frequency: float = 0.7) -> tuple[np.ndarray, np.ndarray]:
    times = np.arange(int(rate * seconds)) / rate
    return times, 0.45 + 0.38 * np.tanh(4 * np.sin(2 * np.pi * frequency * times + 0.3))


def test_noise_does_not_count_as_crossings_nor_widen_the_swing() -> None:
    times, volts = switching(200)
    clean = measure(times, volts)
    noisy = measure(times, volts + RANDOM.normal(0, 0.03, times.size))
    assert noisy.noisy
    assert not clean.noisy
    assert noisy.crossings == clean.crossings
    assert noisy.amplitude == pytest.approx(clean.amplitude, abs=0.12)
    assert noisy.highest - noisy.lowest > noisy.amplitude
    assert noisy.noise == pytest.approx(0.03, rel=0.2)
    assert any("noisy" in notice for notice in noisy.notices)


def test_a_noisy_signal_that_rests_on_the_threshold_does_not_cross() -> None:
    times = np.arange(1000) / 50
    assert measure(times, 0.45 + RANDOM.normal(0, 0.015, 1000)).crossings == 0


def test_single_spikes_are_told_and_do_not_reach_the_swing() -> None:
    times, volts = switching(200)
    volts[500] = 3.0
    found = measure(times, volts)
    assert found.spikes == 1
    assert found.highest == 3.0
    assert found.high < 0.9


def test_nothing_is_counted_or_timed_over_a_gap() -> None:
    times = np.concatenate([np.arange(100) / 100, 5 + np.arange(100) / 100])
    volts = np.concatenate([np.full(100, 0.1), np.full(100, 0.8)])
    found = measure(times, volts)
    assert (found.gaps, found.crossings, found.lean_to_rich) == (1, 0, None)
    assert found.seconds == pytest.approx(2.0)


def test_what_is_no_number_is_left_out_and_counted() -> None:
    times, volts = switching(100)
    volts[[3, 700]] = np.nan
    found = measure(times, volts)
    assert (found.left_out, found.samples) == (2, times.size - 2)


@pytest.mark.parametrize(
    ("rate", "seconds", "crossings", "edges"),
    [
        (100, 10, True, True),
        (99, 10, True, False),
        (5, 10, True, False),
        (4.5, 20, False, False),
        (100, 9, False, True),
    ],
)
def test_length_and_rate_are_demanded_and_said(
    rate: float, seconds: float, crossings: bool, edges: bool
) -> None:
    found = measure(*switching(rate, seconds, 0.2))
    assert (not found.crossings_why) == crossings
    assert (not found.edges_why) == edges
    if rate < 5:
        assert "at least 5 are needed" in found.crossings_why
    elif not crossings:
        assert "at least 10 s" in found.crossings_why


@pytest.mark.parametrize(
    ("times", "volts", "said"),
    [
        ([0, 1], [0.1, 0.2], "at least three"),
        ([0, 1, 2], [0.1, 0.2], "one time for each"),
        ([0, 2, 1, 3], [0.1] * 4, "does not rise at sample 3"),
        ([0, 1, 1, 3], [0.1] * 4, "does not rise at sample 3"),
    ],
)
def test_what_cannot_be_measured_is_one_line(times: list[float], volts: list[float], said: str) -> None:
    with pytest.raises(TraceError, match=said) as caught:
        measure(times, volts)
    assert "\n" not in str(caught.value)


@given(st.lists(st.floats(-0.2, 1.2), min_size=16, max_size=200), st.sampled_from([0.0, 0.05]))
def test_crossings_agree_with_counting_one_by_one(volts: list[float], hysteresis: float) -> None:
    times = [i / 10 for i in range(len(volts))]
    found = measure(times, volts, hysteresis=hysteresis)
    counted = crossings_of([v for v in volts if abs(v - 0.45) > hysteresis], 0.45, hysteresis)
    assert found.crossings == counted
    assert len(crossings_at(times, volts, hysteresis=hysteresis)) == counted


def test_a_million_samples_take_well_under_a_second_and_500_hardly_anything() -> None:
    times = np.arange(1_000_000) / 1e5
    volts = 0.45 + 0.4 * np.sin(9 * times)
    begun = time.perf_counter()
    measure(times, volts)
    assert time.perf_counter() - begun < 1.0
    times, volts = switching(50, 10)
    begun = time.perf_counter()
    for _ in range(50):
        measure(times, volts)
    assert (time.perf_counter() - begun) / 50 < 0.003
