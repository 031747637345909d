"""Conservation and consistency on random cars: atoms, air, pressures, trims."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import replace

import pytest

from engine.car.exhaust import blend, stoichiometric
from engine.car.mixture_loop import sensor_target
from engine.car.parameters import Engine
from engine.car.points import DEFICIT_MOST, EXCESS_MOST, POINTS
from engine.car.reference_cars import TWO_BANKS
from engine.car.settled import Gas
from engine.car.settling import settle
from engine.car.traces import oxygen_trace
from engine.formulas.fuel_types import Fuel
from tests.engine.car.plant_cars import (
    random_engine,
    with_air,
    with_bank,
    with_catalyst,
    with_cooling,
    with_cylinder,
    with_electrics,
    with_fuel,
    with_sensor,
)

CARS = range(300)


def _atoms_left_over(gas: Gas, fuel: Fuel) -> tuple[float, float]:
    """Return the oxygen the dry gas cannot account for, per oxygen atom, and lambda by its atoms alone.

    Hydrogen that is not H2 or fuel has become water; what is not reckoned up is nitrogen and argon: it
    tells the oxygen that came in with it (dry air 20.95 %, ISO 2533).
    """
    unburnt = 6.0 * gas.hc / 1e4
    carbon = gas.co + gas.co2 + unburnt
    water = carbon * fuel.h_c / 2.0 - gas.h2 - unburnt * fuel.h_c / 2.0
    inert = 100.0 - gas.co - gas.co2 - gas.o2 - gas.h2 - (gas.hc + gas.no) / 1e4
    brought = 2.0 * (inert + gas.no / 2e4) * 0.2095 / 0.7905 + carbon * fuel.o_c
    found = gas.co + 2.0 * gas.co2 + water + 2.0 * gas.o2 + gas.no / 1e4 + unburnt * fuel.o_c
    return (found - brought) / brought, (brought - carbon * fuel.o_c) / (2.0 * carbon * fuel.oxygen_need)


def _cars() -> list[Engine]:
    return [random_engine(seed) for seed in CARS]


@pytest.mark.parametrize("state", ["idle", "2500", "load", "wot", "cold"])
def test_every_atom_that_goes_in_comes_out(state: str) -> None:
    for engine in _cars():
        settled = settle(engine, state)
        fuel = blend(float(round(engine.fuel.ethanol_pct)))
        for bank in settled.banks:
            for gas in (bank.engine_out, bank.at_sensor, bank.after_catalyst):
                assert abs(_atoms_left_over(gas, fuel)[0]) < 1e-9
            left, lambda_ = _atoms_left_over(bank.engine_out, fuel)
            assert lambda_ == pytest.approx(bank.lambda_true, abs=1e-6)
            assert bank.air / bank.fuel / stoichiometric(fuel) == pytest.approx(bank.lambda_true, rel=1e-9)
        left, _ = _atoms_left_over(settled.tailpipe, fuel)
        assert abs(left) < 1e-9


@pytest.mark.parametrize("state", ["idle", "2500", "load"])
def test_trims_settle_where_the_sensor_calls_it_1(state: str) -> None:
    clipped = 0
    for engine in _cars():
        settled = settle(engine, state)
        for bank, parts in zip(settled.banks, engine.banks, strict=True):
            if bank.loop != "closed":
                continue
            assert DEFICIT_MOST <= bank.total <= EXCESS_MOST
            if DEFICIT_MOST < bank.needed < EXCESS_MOST:
                target = sensor_target(parts.upstream, bank.tip_c, POINTS[settled.state])
                assert bank.lambda_seen == pytest.approx(target, abs=2e-4)
                assert target / (1.0 + parts.upstream.shift) == pytest.approx(1.0, abs=0.004)
            else:
                clipped += 1
    assert clipped < len(CARS) / 4


def test_air_and_pressures_agree() -> None:
    for engine in _cars():
        for state in ("idle", "2500", "load", "wot"):
            settled = settle(engine, state)
            air = settled.air
            assert air.vacuum == pytest.approx(air.baro - air.map)
            assert air.map_shown == pytest.approx(air.map + engine.air.map_offset_kpa)
            drawn = sum(flow for _, flow in air.leaks)
            assert air.metered <= air.total - drawn + 1e-9
            if engine.fuel.purge_leak_mm == 0.0:
                assert air.metered + drawn == pytest.approx(air.total, rel=1e-9)
            assert sum(bank.air for bank in settled.banks) == pytest.approx(air.total, rel=1e-9)
            if engine.fuel_system == "port_return":
                assert settled.fuel.across == pytest.approx(settled.fuel.rail + air.baro - air.map)
            assert all(0.0 <= share <= 1.0 for share in settled.misfires)
            assert min(settled.tailpipe.co, settled.tailpipe.o2, settled.tailpipe.hc) >= -1e-9


def test_size_does_not_change_what_a_leak_in_proportion_does() -> None:
    small = with_air(replace(TWO_BANKS, litres=1.5), leaks=(("manifold", 2.0 / 2.0**0.5),))
    large = with_air(TWO_BANKS, leaks=(("manifold", 2.0),))
    for state in ("idle", "2500", "load"):
        assert settle(small, state).banks[0].total == pytest.approx(
            settle(large, state).banks[0].total, abs=0.2
        )


def test_the_same_engine_settles_to_the_same_values() -> None:
    assert settle(random_engine(7), "idle") == settle(random_engine(7), "idle")


def _gross(seed: int) -> Engine:
    """Return an engine with several things wrong beyond all use."""
    draw = random.Random(f"gross:{seed}")
    changes: tuple[Callable[[Engine], Engine], ...] = (
        lambda car: with_air(car, leaks=((draw.choice(("manifold", "charge", "gasket_b2")), 25.0),)),
        lambda car: with_air(car, filter_kpa=90.0, plate_dirt=0.95, cam_error_deg=-50.0),
        lambda car: with_air(car, map_offset_kpa=draw.choice((-60.0, 60.0)), iat_factor=1e3),
        lambda car: with_fuel(car, pump_share=0.01, pump_deadhead_kpa=60.0),
        lambda car: with_fuel(car, purge_leak_mm=9.0, vapour_share=1.0, ethanol_pct=100.0),
        lambda car: with_cooling(car, sensor_factor=draw.choice((1e-4, 1e4)), overheat_k=40.0),
        lambda car: with_electrics(car, battery_rest_v=7.0, charge_v=5.0, heater_feed_ohm=1e6),
        lambda car: with_sensor(car, gain=0.0, centre_v=0.45, reference_oxygen=0.0),
        lambda car: with_sensor(car, rise_s=0.0, fall_s=5.0, diffusion_s=3.0, heater_ohms=0.1),
        lambda car: with_bank(car, exhaust_restriction=60.0, exhaust_leak_mm=20.0),
        lambda car: with_cylinder(car, 1, injector_flow=0.0, compression_kpa=0.0),
        lambda car: with_cylinder(car, 2, drip_g_s=0.5),
        lambda car: replace(car, altitude_m=4000.0, ambient_c=-35.0, upstream_crossed=True),
        lambda car: with_catalyst(car, store_g=0.0, active=0.0, soot=1.0),
    )
    engine = random_engine(seed)
    for change in draw.sample(changes, 4):
        engine = change(engine)
    return engine


@pytest.mark.parametrize("seed", range(25))
def test_gross_faults_still_give_finite_values(seed: int) -> None:
    engine = _gross(seed)
    for state in ("off", "koeo", "crank", "cold", "cool", "idle", "2500", "snap", "wot", "overrun", "reload"):
        settled = settle(engine, state)
        gas, bank = settled.tailpipe, settled.banks[0]
        shown = (
            settled.rpm,
            settled.air.map,
            settled.air.maf_shown,
            settled.fuel.rail,
            settled.fuel.pulse_ms,
        )
        heat = (bank.total, bank.lambda_true, bank.lambda_shown, bank.in_c, bank.out_c, bank.back_pressure)
        volts = oxygen_trace(engine, settled, "b1s1", 1.0)[1] + oxygen_trace(engine, settled, "b1s2", 1.0)[1]
        assert all(math.isfinite(one) for one in (*shown, *heat, *volts, gas.lambda_))
        assert min(gas.co, gas.o2, gas.hc, gas.no) >= -1e-9
