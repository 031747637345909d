"""Faults as changed parameters move trims, mixture and gas by the ordinary amount (common practice).

The figures were reckoned beforehand by the trade's formulas for the 3.0 L reference car, not by this model.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.car.parameters import Engine
from engine.car.reference_cars import ONE_BANK, TURBO, TWO_BANKS
from engine.car.settling import settle
from tests.engine.car.plant_cars import (
    STATES,
    with_air,
    with_bank,
    with_catalyst,
    with_cooling,
    with_cylinder,
    with_fuel,
    with_sensor,
)

CAR = TWO_BANKS


def _totals(engine: Engine, bank: int = 0) -> tuple[float, ...]:
    return tuple(settle(engine, state).banks[bank].total for state in STATES)


@pytest.mark.parametrize(
    ("engine", "first", "second"),
    [
        # total trims at idle, 2500 and in a pull: bank 1, bank 2
        (with_sensor(CAR, gain=0.1, centre_v=0.08), (35, 35, 35), (1, 1, 1)),
        (with_sensor(CAR, gain=0.1, centre_v=0.83), (-25, -25, -25), (1, 1, 1)),
        (with_sensor(CAR, shift=-0.03), (5, 5, 5), (1, 1, 1)),
        (with_sensor(CAR, shift=0.03), (-2, -2, -2), (1, 1, 1)),
        (with_sensor(CAR, shift=0.05), (-3, -3, -3), (1, 1, 1)),
        (with_sensor(CAR, signal="short_ground"), (2, 2, 2), (1, 1, 1)),
        (replace(CAR, upstream_crossed=True), (35, 35, 35), (-25, -25, -25)),
        (with_bank(CAR, exhaust_leak_mm=3.0), (10, 5, 3), (1, 1, 1)),
        (with_air(CAR, leaks=(("manifold", 2.0),)), (18, 6, 3), (18, 6, 3)),
        (with_air(CAR, leaks=(("manifold", 3.1),)), (35, 13, 4), (35, 13, 4)),
        (with_air(CAR, leaks=(("gasket_b1", 1.83),)), (29, 9, 3), (1, 1, 1)),
        (with_air(CAR, leaks=(("pcv", 2.45),)), (29, 9, 3), (29, 9, 3)),
        (with_air(CAR, meter_gain_high=0.82), (5, 13, 24), (5, 13, 24)),
        (with_air(CAR, meter_gain_low=1.08, meter_gain_high=1.13), (-8, -9, -10), (-8, -9, -10)),
        (with_air(CAR, filter_kpa=28.0), (1, 1, 0), (1, 1, 0)),
        (with_fuel(CAR, regulator_kpa=390.0), (-11, -11, -11), (-11, -11, -11)),
        (with_fuel(CAR, diaphragm_g_s=0.055), (-15, -4, 0), (-15, -4, 0)),
        (with_fuel(CAR, purge_leak_mm=1.6, vapour_share=0.0), (10, 4, 2), (10, 4, 2)),
        (with_fuel(CAR, ethanol_pct=48.0), (21, 21, 21), (21, 21, 21)),
        (with_fuel(CAR, oil_fuel_g_s=0.03), (-8, -2, 1), (-8, -2, 1)),
        (with_cylinder(CAR, 3, drip_g_s=0.03), (-16, -5, 0), (1, 1, 1)),
        (with_cylinder(CAR, 3, injector_flow=0.7), (13, 13, 13), (1, 1, 1)),
        (with_cooling(CAR, thermostat_open=1.0), (1, 1, 1), (1, 1, 1)),
        (with_catalyst(CAR, active=0.35, store_g=0.01), (1, 1, 1), (1, 1, 1)),
        (
            with_cylinder(CAR, 3, spark_miss_idle=0.6, spark_miss_2500=0.42, spark_miss_load=0.7),
            (12, 8, 14),
            (1, 1, 1),
        ),
        (with_cylinder(CAR, 3, compression_kpa=520.0), (8, 4, 3), (1, 1, 1)),
        (with_air(CAR, egr_share_idle=0.3), (3, 1, 1), (3, 1, 1)),
        (with_air(CAR, plate_dirt=0.65), (1, 1, 1), (1, 1, 1)),
    ],
)
def test_trims_of_the_two_bank_car(
    engine: Engine, first: tuple[float, ...], second: tuple[float, ...]
) -> None:
    assert _totals(engine, 0) == pytest.approx(first, abs=3.0)
    assert _totals(engine, 1) == pytest.approx(second, abs=3.0)


@pytest.mark.parametrize(
    ("engine", "expected"),
    [
        (with_air(ONE_BANK, map_offset_kpa=7.0), (-16, -18, -8)),
        (with_air(ONE_BANK, map_offset_kpa=-6.0), (24, 28, 11)),
        (with_air(ONE_BANK, leaks=(("manifold", 2.0),)), (1, 1, 1)),
        (with_air(ONE_BANK, egr_share_idle=0.3), (-24, 1, 1)),
    ],
)
def test_trims_of_a_car_that_reckons_air_from_pressure(engine: Engine, expected: tuple[float, ...]) -> None:
    assert _totals(engine) == pytest.approx(expected, abs=3.0)


@pytest.mark.parametrize(
    ("engine", "lambdas"),
    [
        (with_sensor(CAR, gain=0.1, centre_v=0.08), (0.75, 0.75, 0.75)),
        (with_sensor(CAR, gain=0.1, centre_v=0.83), (1.35, 1.35, 1.35)),
        (with_sensor(CAR, shift=-0.03), (0.97, 0.97, 0.97)),
        (with_sensor(CAR, signal="open"), (0.98, 0.98, 0.98)),
        (with_sensor(CAR, heater_ohms=1e6), (0.98, 1.0, 1.0)),
        (with_bank(CAR, exhaust_leak_mm=3.0), (0.93, 0.97, 0.99)),
        (with_air(CAR, leaks=(("manifold", 3.1),)), (1.13, 1.0, 1.0)),
        (with_cylinder(CAR, 3, spark_miss_idle=0.6, spark_miss_2500=0.42), (0.91, 0.94, 1.0)),
        (with_cooling(CAR, sensor_factor=3.5, sensor_series_ohm=1300.0), (0.86, 0.88, 0.88)),
        (replace(CAR, fuelling_error=0.5), (1.11, 1.11, 1.11)),
    ],
)
def test_burnt_mixture_of_bank_1(engine: Engine, lambdas: tuple[float, ...]) -> None:
    found = tuple(settle(engine, state).banks[0].lambda_true for state in STATES)
    assert found == pytest.approx(lambdas, abs=0.025)


def test_what_the_trims_can_correct_leaves_the_tailpipe_clean() -> None:
    for engine in (
        with_air(CAR, leaks=(("manifold", 2.0),)),
        with_fuel(CAR, regulator_kpa=390.0),
        with_air(CAR, meter_gain_high=0.82),
    ):
        for state in ("idle", "2500"):
            gas = settle(engine, state).tailpipe
            assert (gas.co < 0.1, gas.hc < 30, gas.o2 < 0.2) == (True, True, True)
            assert gas.lambda_ == pytest.approx(1.0, abs=0.005)


def test_gas_tells_a_lying_sensor_a_leak_ahead_of_it_and_a_missing_cylinder_apart() -> None:
    dead = settle(with_sensor(CAR, gain=0.1, centre_v=0.08), "2500")
    assert dead.tailpipe.co == pytest.approx(4.76, abs=0.4)
    assert dead.tailpipe.lambda_ == pytest.approx(0.87, abs=0.015)
    leak = settle(with_bank(CAR, exhaust_leak_mm=3.0), "2500")
    assert leak.banks[0].engine_out.co > 1.0 > 0.2 > leak.tailpipe.co
    coil = settle(with_cylinder(CAR, 3, spark_miss_idle=0.6, spark_miss_2500=0.42), "idle")
    assert 800 < coil.tailpipe.hc < 2000
    assert coil.tailpipe.o2 > 0.4
    assert coil.tailpipe.co > 0.3
    assert coil.rpm < 660
    hot = settle(with_cylinder(CAR, 3, spark_miss_2500=0.42), "2500")
    assert hot.banks[0].out_c - hot.banks[0].in_c > 120
    crossed = settle(replace(CAR, upstream_crossed=True), "2500").tailpipe
    assert (crossed.co > 4.0, crossed.o2 > 2.5) == (True, True)


def test_worn_and_sooted_catalysts_and_20_minutes_at_load() -> None:
    worn = with_catalyst(CAR, active=0.35, store_g=0.01)
    assert settle(worn, "2500").tailpipe.co == pytest.approx(0.22, abs=0.05)
    assert settle(worn, "2500").tailpipe.no == pytest.approx(142, abs=30)
    assert settle(worn, "2500").banks[0].out_c < settle(CAR, "2500").banks[0].out_c - 20
    assert settle(worn, "reload").tailpipe.co == pytest.approx(settle(worn, "2500").tailpipe.co)
    soot = with_catalyst(CAR, soot=1.0)
    assert settle(soot, "2500").tailpipe.co > 0.1
    assert settle(soot, "reload").tailpipe.co < 0.03


def test_pressure_falls_only_where_the_pump_cannot_keep_up() -> None:
    for engine in (
        with_fuel(CAR, pump_share=0.27, pump_deadhead_kpa=330.0),
        with_fuel(CAR, filter_kpa=380.0),
    ):
        idle, pull = settle(engine, "idle"), settle(engine, "load")
        assert idle.fuel.across > 285
        assert 150 < pull.fuel.across < 240
        assert pull.banks[0].total > 15
        assert settle(engine, "wot").banks[0].lambda_true > 1.0


def test_blocked_exhaust_costs_vacuum_and_power() -> None:
    blocked = with_bank(ONE_BANK, exhaust_restriction=8.0)
    assert settle(blocked, "2500").air.vacuum < settle(ONE_BANK, "2500").air.vacuum - 5
    assert settle(blocked, "wot").air.total < 0.8 * settle(ONE_BANK, "wot").air.total
    one_of_two = settle(with_bank(CAR, exhaust_restriction=8.0), "2500")
    assert one_of_two.banks[0].back_pressure == pytest.approx(38, abs=5)
    # the air meter serves both banks: the blocked one gets less than it is given fuel for
    assert one_of_two.banks[0].total < 0 < one_of_two.banks[1].total


def test_a_large_leak_speeds_the_idle_up_where_pressure_meters_the_air() -> None:
    assert settle(with_air(ONE_BANK, leaks=(("manifold", 4.0),)), "idle").rpm > 1200
    assert settle(with_air(CAR, leaks=(("manifold", 6.0),)), "idle").stalls


def test_boost() -> None:
    leak, stuck = with_air(TURBO, leaks=(("charge", 6.0),)), with_air(TURBO, wastegate_stuck=1.0)
    assert settle(leak, "load").air.boost_actual == pytest.approx(150, abs=12)
    assert settle(leak, "load").air.wastegate_duty > 80
    assert settle(leak, "load").banks[0].total == pytest.approx(-14, abs=5)
    assert settle(leak, "idle").banks[0].total == pytest.approx(1.5, abs=1.0)
    assert settle(stuck, "load").air.boost_actual == pytest.approx(226, abs=3)
    assert settle(stuck, "load").knock_retard == pytest.approx(7, abs=1)


def test_late_valves_take_vacuum_and_filling() -> None:
    late = with_air(CAR, cam_error_deg=14.0)
    assert settle(late, "idle").air.map > 41
    assert settle(late, "wot").air.total == pytest.approx(98, abs=8)


def test_nothing_is_learnt_after_a_reset() -> None:
    fresh = settle(replace(CAR, learned=0.0), "idle").banks[0]
    assert (fresh.long, round(fresh.short, 1)) == (0.0, 1.5)


def test_a_hunt_too_slow_for_the_store_shows_in_the_gas() -> None:
    lazy = with_sensor(CAR, rise_s=0.7, fall_s=0.52, diffusion_s=0.5, gain=0.8)
    gas, healthy = settle(lazy, "2500").tailpipe, settle(CAR, "2500").tailpipe
    assert 0.08 < gas.co < 0.25
    assert gas.co > 3.0 * healthy.co
    assert gas.o2 > 3.0 * healthy.o2
    assert gas.lambda_ == pytest.approx(1.0, abs=0.005)
