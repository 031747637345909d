"""Crossings by tapping a key and from a column of volts, against waveforms worked out by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.library import load_library
from engine.tapping import LEAST_RATE, count, crossings_of, rate_of, read_column, watch

RATE = 1000.0
SECONDS = 10


def sampled(wave, rate=RATE, seconds=SECONDS):
    return [wave(at / rate) for at in range(int(rate * seconds))]


def sine(centre, swing, frequency):
    return lambda t: centre + swing * math.sin(2 * math.pi * frequency * t + 0.1)


def trapezoid(low, high, rise, top, fall, bottom):
    period = rise + top + fall + bottom

    def wave(t):
        t = t % period
        if t < rise:
            return low + (high - low) * t / rise
        if t < rise + top:
            return high
        if t < rise + top + fall:
            return high - (high - low) * (t - rise - top) / fall
        return low

    return wave


def square(t):
    return 0.7 if (t * 2.0 + 1e-9) % 1.0 >= 0.5 else 0.2


# Closed forms: a sine crosses twice a period, its rich share is 1/2 + asin((c - 0.45)/A)/pi.
@pytest.mark.parametrize(
    ("wave", "lowest", "highest", "mean", "crossings", "rich"),
    [
        (sine(0.45, 0.40, 1.5), 0.05, 0.85, 0.45, 30, 0.5),
        (sine(0.55, 0.35, 1.0), 0.20, 0.90, 0.55, 20, 0.592231),
        (sine(0.40, 0.38, 0.8), 0.02, 0.78, 0.40, 16, 0.457995),
        (trapezoid(0.10, 0.80, 0.07, 0.40, 0.14, 0.39), 0.10, 0.80, 0.4535, 20, 0.505),
        (trapezoid(0.05, 0.95, 0.045, 0.30, 0.09, 0.565), 0.05, 0.95, 0.38075, 20, 0.375),
        (lambda t: 0.45, 0.45, 0.45, 0.45, 0, 0.0),
        (square, 0.2, 0.7, 0.45, 39, 0.5),
    ],
)
def test_waveforms_with_known_figures(wave, lowest, highest, mean, crossings, rich):
    seen = watch(sampled(wave), RATE)

    assert seen is not None
    assert seen.lowest == pytest.approx(lowest, abs=2e-4)
    assert seen.highest == pytest.approx(highest, abs=2e-4)
    assert seen.mean == pytest.approx(mean, abs=5e-4)
    assert seen.rich_share == pytest.approx(rich, abs=2e-3)
    assert abs(seen.crossings.count - crossings) <= 1  # the first sample may stand just before a crossing
    assert seen.crossings.seconds == SECONDS
    assert seen.crossings.usable


def test_hysteresis_keeps_noise_at_the_threshold_out():
    noisy = [0.44, 0.46] * 50 + [0.8] * 10 + [0.1] * 10

    assert crossings_of(noisy) == 100
    assert crossings_of(noisy, hysteresis=0.05) == 1


def test_taps_count_like_the_crossings_they_stand_for():
    taps = [0.5 * at for at in range(25)]
    by_tap = count(taps, 10.0)
    by_window = count(taps, 10.0, started=0.0 - 0.25, ended=12.25)

    assert by_tap.count == pytest.approx(20.0)
    assert by_window.count == pytest.approx(20.0)
    assert by_tap.usable
    assert not by_tap.why


@pytest.mark.parametrize(
    ("rate", "seconds", "usable", "words"),
    [
        (5.0, 10.0, True, ""),
        (4.9, 10.0, False, "at least 5"),
        (5.0, 9.9, False, "at least 10 s"),
        (None, 12.0, False, "not known"),
        (2.0, 3.0, False, "at least 10 s"),
    ],
)
def test_judged_only_from_a_fast_display_watched_long_enough(rate, seconds, usable, words):
    seen = count([1.0, 2.0, 3.0], rate, started=0.0, ended=seconds)

    assert seen.usable is usable
    assert words in seen.why


def test_the_least_rate_is_the_limit_of_the_catalogue():
    assert load_library().catalogue.limits["crossings_rate_least"].value == LEAST_RATE


def test_a_display_too_slow_for_the_count_says_so():
    assert "at least this many" in count([0.4 * at for at in range(31)], 5.0).why
    assert not count([0.4 * at for at in range(31)], 15.0).why


def test_a_held_key_counts_once_and_is_told():
    held = [0.0, 0.03, 0.06, 0.09, 1.0, 2.0]
    seen = count(held, 10.0, started=0.0, ended=10.0)

    assert seen.count == 3.0
    assert "3 taps left out" in seen.why


def test_nothing_tapped_is_no_crossing_only_when_somebody_watched():
    assert not count([], 10.0).usable
    assert count([], 10.0, started=0.0, ended=10.0).count == 0.0
    assert count([], 10.0, started=0.0, ended=10.0).usable


@pytest.mark.parametrize("times", [[1.0, 0.5], [math.nan], [0.0, math.inf]])
def test_times_out_of_order_are_refused(times):
    assert "not in order" in count(times, 10.0).why


def test_no_volts_show_nothing_and_no_rate_is_never_judged():
    assert watch([], 10.0) is None
    seen = watch([0.1, 0.8] * 100, None)
    assert seen is not None
    assert not seen.crossings.usable


@pytest.mark.parametrize(
    ("text", "volts", "rate"),
    [
        ("0.1\n0.8\n0.3", (0.1, 0.8, 0.3), None),
        ("0,1\n0,8", (0.1, 0.8), None),
        ("volts mV\n100\n800", (0.1, 0.8), None),
        ("450 mV\n0.8 V", (0.45, 0.8), None),
        ("time;V\n0,0;0,1\n0,1;0,8\n0,2;0,3", (0.1, 0.8, 0.3), 10.0),
        ("t ms\tO2\n0\t0.1\n100\t0.8", (0.1, 0.8), 10.0),
        ("0.0,0.1\n0.2,0.8", (0.1, 0.8), 5.0),
        ("0.0 0.1\n0.2 0.8", (0.1, 0.8), 5.0),
    ],
)
def test_columns_of_volts(text, volts, rate):
    column = read_column(text)

    assert column.volts == pytest.approx(volts)
    assert column.rate == (pytest.approx(rate) if rate is not None else None)


def test_times_that_do_not_rise_give_no_rate():
    assert rate_of([0.0, 0.0, 1.0]) is None
    assert "no steady time" in read_column("0.1 0.2\n0.1 0.3").notices[0]


@given(st.lists(st.floats(-0.2, 1.2), max_size=200), st.floats(0, 0.2))
def test_more_hysteresis_never_counts_more(volts, hysteresis):
    assert 0 <= crossings_of(volts, hysteresis=hysteresis) <= crossings_of(volts) <= max(len(volts) - 1, 0)


@given(st.text(max_size=300))
def test_any_text_is_read_without_an_exception(text):
    column = read_column(text)

    assert all(math.isfinite(volt) for volt in column.volts)


@given(st.lists(st.floats(allow_nan=True, allow_infinity=True), max_size=50), st.none() | st.floats())
def test_any_taps_are_counted_without_an_exception(times, rate):
    seen = count(times, rate)

    assert seen.count >= 0.0
    assert isinstance(seen.why, str)
