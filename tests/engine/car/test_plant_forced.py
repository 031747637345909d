"""Forced steps of the mixture: what a sound, a slow and a dead sensor answer (common practice)."""

from __future__ import annotations

import pytest

from engine.car.forced import FORCED_LEAN, FORCED_RICH, forced_trace, forced_volts
from engine.car.fuelling import pump_flow
from engine.car.parameters import Engine
from engine.car.reference_cars import TURBO, TWO_BANKS
from engine.car.settling import settle
from engine.traces.metrics import measure
from tests.engine.car.plant_cars import with_fuel, with_sensor

CAR = TWO_BANKS


def _edge(engine: Engine, first: float, last: float, place: str = "b1s1") -> float:
    found = measure(*forced_trace(engine, settle(engine, "idle"), place, first, last, rate=500.0))
    seconds = found.lean_to_rich if last < first else found.rich_to_lean
    assert seconds is not None
    return 1000.0 * seconds


def test_a_sound_sensor_answers_at_once_and_far() -> None:
    idle = settle(CAR, "idle")
    for place in ("b1s1", "b2s1", "b1s2"):
        assert forced_volts(CAR, idle, place, FORCED_RICH) >= 0.80
        assert forced_volts(CAR, idle, place, FORCED_LEAN) <= 0.15
    assert _edge(CAR, FORCED_LEAN, FORCED_RICH) < 100
    assert _edge(CAR, FORCED_RICH, FORCED_LEAN) < 100


def test_a_slow_sensor_takes_its_time() -> None:
    # 0.30 to 0.60 V of a first-order lag from 0.05 towards 0.88 V takes 0.73 of its time constant
    lazy = with_sensor(CAR, rise_s=0.7, fall_s=0.5, diffusion_s=0.02)
    assert _edge(lazy, FORCED_LEAN, FORCED_RICH) == pytest.approx(0.73 * 700, rel=0.08)
    assert _edge(lazy, FORCED_RICH, FORCED_LEAN) == pytest.approx(0.76 * 500, rel=0.08)


@pytest.mark.parametrize(("centre", "low", "high"), [(0.08, 0.03, 0.14), (0.83, 0.74, 0.89)])
def test_a_dead_sensor_hardly_moves(centre: float, low: float, high: float) -> None:
    dead = with_sensor(CAR, gain=0.1, centre_v=centre)
    idle = settle(dead, "idle")
    shown = [forced_volts(dead, idle, "b1s1", mixture) for mixture in (FORCED_RICH, FORCED_LEAN)]
    assert low <= min(shown) <= max(shown) <= high


def test_a_wide_band_sensor_shows_the_step_itself() -> None:
    idle = settle(TURBO, "idle")
    assert forced_volts(TURBO, idle, "b1s1", FORCED_RICH) == pytest.approx(0.90, abs=0.005)
    trace = forced_trace(TURBO, idle, "b1s1", 1.0, FORCED_LEAN)[1]
    assert (trace[0], trace[-1]) == pytest.approx((1.0, 1.14), abs=0.005)


def test_volume_of_the_pump() -> None:
    assert 30.0 * pump_flow(CAR, 0.0) == pytest.approx(750, abs=25)
    assert 30.0 * pump_flow(with_fuel(CAR, pump_share=0.5), 0.0) == pytest.approx(375, abs=25)
    # with its way shut it reaches the pressure it was built for
    assert pump_flow(CAR, 559.0) < 0.3
