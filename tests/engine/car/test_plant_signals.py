"""The oxygen sensors over time, measured by what measures a real trace (ordinary values, common practice)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.car.mixture_loop import heated_tip
from engine.car.parameters import Engine, Zirconia
from engine.car.reference_cars import ONE_BANK, TURBO, TWO_BANKS
from engine.car.settling import settle
from engine.car.traces import oxygen_trace, trim_swing
from engine.car.zirconia_cell import balance_point, cell_ohms, cell_volts, shown_volts
from engine.traces.metrics import SensorMetrics, measure
from tests.engine.car.plant_cars import with_bank, with_catalyst, with_sensor

CAR = TWO_BANKS


def _seen(engine: Engine, place: str = "b1s1", state: str = "2500", phase: float = 0.0) -> SensorMetrics:
    return measure(*oxygen_trace(engine, settle(engine, state), place, rate=200.0, phase=phase))


def _milliseconds(seconds: float | None) -> float:
    assert seconds is not None
    return 1000.0 * seconds


@pytest.mark.parametrize(
    ("lambda_", "volts"),
    [
        (0.9, 0.88),
        (0.95, 0.86),
        (0.98, 0.82),
        (0.99, 0.76),
        (1.01, 0.14),
        (1.02, 0.10),
        (1.05, 0.07),
        (1.1, 0.05),
    ],
)
def test_steady_volts_over_the_mixture(lambda_: float, volts: float) -> None:
    assert cell_volts(lambda_, 750.0) == pytest.approx(volts, abs=0.04)


def test_the_step_is_at_1() -> None:
    assert balance_point(replace(Zirconia(), ground_offset_v=0.0), 750.0) == pytest.approx(1.0, abs=0.0005)


def test_healthy_sensor_switches_in_time() -> None:
    fast, idle = _seen(CAR), _seen(CAR, state="idle")
    assert _milliseconds(fast.lean_to_rich) < 100
    assert _milliseconds(fast.rich_to_lean) < 100
    assert fast.crossings == pytest.approx(14, abs=2)
    assert idle.crossings == pytest.approx(8, abs=1)
    assert 0.4 < fast.rich_share < 0.6


def test_lazy_sensor() -> None:
    lazy = with_sensor(CAR, rise_s=0.55, fall_s=0.42, diffusion_s=0.5, gain=0.85)
    found = _seen(lazy)
    assert found.crossings == pytest.approx(4, abs=1)
    assert found.lowest == pytest.approx(0.22, abs=0.06)
    assert found.highest == pytest.approx(0.72, abs=0.06)
    assert 350 < _milliseconds(found.lean_to_rich) < 700
    assert 300 < _milliseconds(found.rich_to_lean) < 650
    assert trim_swing(lazy, settle(lazy, "2500"), 0) > 2.5 * trim_swing(CAR, settle(CAR, "2500"), 0)


def test_a_sensor_slow_to_fall_drives_the_mixture_lean() -> None:
    slow = with_sensor(CAR, rise_s=0.05, fall_s=0.5)
    assert settle(slow, "2500").banks[0].lambda_true > 1.005
    assert settle(with_sensor(CAR, rise_s=0.5, fall_s=0.05), "2500").banks[0].lambda_true < 0.995


@pytest.mark.parametrize(
    ("change", "low", "high"),
    [
        ({"gain": 0.1, "centre_v": 0.08}, 0.03, 0.15),
        ({"gain": 0.1, "centre_v": 0.83}, 0.74, 0.90),
        ({"signal": "short_ground"}, -0.01, 0.02),
        ({"signal": "short_supply"}, 1.27, 1.28),
        ({"signal": "open"}, 0.44, 0.46),
        ({"signal": "open", "bias_v": 0.0}, -0.01, 0.01),
    ],
)
def test_dead_and_miswired_sensors_do_not_switch(change: dict[str, object], low: float, high: float) -> None:
    for state in ("idle", "2500"):
        found = _seen(with_sensor(CAR, **change), state=state)
        assert found.crossings == 0
        assert low <= found.lowest <= found.highest <= high


def test_ground_offset_lifts_the_whole_signal_and_leans_the_engine() -> None:
    raised = with_sensor(CAR, ground_offset_v=0.3)
    found = _seen(raised)
    assert found.lowest == pytest.approx(0.40, abs=0.05)
    assert found.highest == pytest.approx(1.13, abs=0.06)
    assert settle(raised, "2500").banks[0].lambda_true > 1.004
    assert _seen(raised, "b1s2").highest < 0.3


def test_the_rear_sensor_tells_a_biased_front_one() -> None:
    assert _seen(with_sensor(CAR, shift=-0.03), "b1s2").lowest > 0.8
    assert _seen(with_sensor(CAR, shift=0.03), "b1s2").highest < 0.15
    for bent in (-0.03, 0.03):
        front = _seen(with_sensor(CAR, shift=bent))
        assert front.crossings == pytest.approx(14, abs=2)
    healthy = _seen(CAR, "b1s2")
    assert (healthy.crossings, round(healthy.mean, 1)) == (0, 0.7)
    assert 0.55 < healthy.lowest < healthy.highest < 0.75


def test_a_worn_catalyst_lets_the_switching_through_and_soot_burns_off() -> None:
    worn = with_catalyst(CAR, store_g=0.010, active=0.4)
    up, down = _seen(worn).crossings, _seen(worn, "b1s2").crossings
    assert 0.5 < down / up <= 1.0
    half = [_seen(with_catalyst(CAR, store_g=0.016), "b1s2", phase=p).crossings for p in (0.0, 0.3, 0.6)]
    assert 0.2 < sum(half) / 3 / up < 0.9
    soot = with_catalyst(CAR, soot=1.0)
    assert _seen(soot, "b1s2").crossings > 0.5 * up
    assert _seen(soot, "b1s2", "reload").crossings <= 1


def test_crossed_banks_show_each_others_gas() -> None:
    crossed = replace(CAR, upstream_crossed=True)
    assert _seen(crossed, "b1s1").highest < 0.1
    assert _seen(crossed, "b2s1").lowest > 0.85
    assert _seen(crossed, "b1s2").lowest > 0.85
    assert _seen(crossed, "b2s2").highest < 0.1


def test_without_its_heater_the_sensor_is_blind_at_idle_and_slow_at_2500() -> None:
    cold = with_sensor(CAR, heater_ohms=1e6)
    assert settle(cold, "idle").banks[0].loop == "open_fault"
    assert _seen(cold, state="idle").crossings == 0
    assert settle(cold, "2500").banks[0].loop == "closed"
    assert _seen(cold).crossings < _seen(CAR).crossings - 2
    blown = replace(CAR, electrics=replace(CAR.electrics, heater_feed_ohm=1e6))
    assert {bank.loop for bank in settle(blown, "idle").banks} == {"open_fault"}
    assert heated_tip(Zirconia(), 13.6, 290.0) == pytest.approx(750.0)


def test_a_cold_cell_lets_the_bias_show() -> None:
    # illustrative figures: 1 eV, 100 ohm at 800 °C, 1 Mohm input, 0.45 V bias
    for tip, ohms in ((200.0, 9.0219e7), (300.0, 1.2499e6), (350.0, 2.4623e5), (400.0, 6.1746e4)):
        assert cell_ohms(tip) == pytest.approx(ohms, rel=0.01)
    assert shown_volts(replace(Zirconia(), ground_offset_v=0.0), 5.0, 20.0) == pytest.approx(0.45, abs=0.001)
    trace = oxygen_trace(CAR, settle(CAR, "koeo"), "b1s1")[1]
    assert set(trace) == {trace[0]}
    assert trace[0] == pytest.approx(0.45, abs=0.02)


def test_full_throttle_overrun_and_wide_band() -> None:
    assert _seen(CAR, state="wot").lowest > 0.8
    assert _seen(CAR, state="overrun").highest < 0.1
    wide = oxygen_trace(TURBO, settle(TURBO, "2500"), "b1s1")[1]
    assert (min(wide) > 0.98, max(wide) < 1.02) == (True, True)
    biased = settle(with_sensor(TURBO, shift=-0.03), "2500").banks[0]
    assert (round(biased.lambda_shown, 3), round(biased.lambda_true, 2)) == (1.0, 0.97)
    assert settle(TURBO, "overrun").banks[0].lambda_shown > 1.6


def test_a_clipped_loop_does_not_switch() -> None:
    lean = replace(CAR, fuelling_error=0.6)
    assert _seen(lean).crossings == 0
    assert _seen(lean).highest < 0.2


def test_contaminated_reference_air_reverses_the_lean_signal() -> None:
    fouled = with_sensor(CAR, reference_oxygen=0.005)
    trace = oxygen_trace(fouled, settle(fouled, "overrun"), "b1s1")[1]
    assert max(trace) < -0.02


def test_time_and_rate_of_a_trace() -> None:
    times, volts = oxygen_trace(ONE_BANK, settle(ONE_BANK, "2500"), "b1s1", seconds=4.0, rate=25.0)
    assert (len(times), len(volts), times[0], times[-1]) == (100, 100, 0.0, 3.96)
    shifted = oxygen_trace(ONE_BANK, settle(ONE_BANK, "2500"), "b1s1", 4.0, 25.0, phase=0.5)[1]
    assert shifted != volts


def test_the_downstream_sensor_has_faults_of_its_own() -> None:
    dead = with_bank(CAR, downstream=replace(CAR.banks[0].downstream, gain=0.05, centre_v=0.45))
    found = _seen(dead, "b1s2")
    assert 0.42 < found.lowest < found.highest < 0.49
    assert settle(dead, "2500").banks[0].total == pytest.approx(settle(CAR, "2500").banks[0].total)
