"""The reference cars show the healthy figures they were chosen for (ordinary values, common practice)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine.car.parameters import Engine
from engine.car.reference_cars import ONE_BANK, TURBO, TWO_BANKS
from engine.car.settled import Settled
from engine.car.settling import settle
from engine.car.traces import oxygen_trace, trim_swing
from engine.traces.metrics import measure

ALL = (TWO_BANKS, ONE_BANK, TURBO)
NAMES = ("two banks", "one bank", "turbo")


def _reading(settled: Settled, name: str) -> float:
    part, _, field = name.partition(".")
    found = getattr(settled, part)
    return float(getattr(found, field) if field else found)


@pytest.mark.parametrize(
    ("engine", "state", "name", "value", "scatter"),
    [
        (TWO_BANKS, "idle", "rpm", 700, 12),
        (ONE_BANK, "idle", "rpm", 750, 12),
        (TURBO, "idle", "rpm", 780, 12),
        (TWO_BANKS, "idle", "air.maf_shown", 4.2, 0.13),
        (TWO_BANKS, "2500", "air.maf_shown", 13.5, 0.4),
        (TWO_BANKS, "load", "air.maf_shown", 50, 2.5),
        (TWO_BANKS, "wot", "air.maf_shown", 130, 5),
        (TURBO, "idle", "air.maf_shown", 2.4, 0.07),
        (TURBO, "2500", "air.maf_shown", 7.4, 0.22),
        (TURBO, "load", "air.maf_shown", 48, 2.4),
        (TURBO, "wot", "air.maf_shown", 118, 4.7),
        (TWO_BANKS, "koeo", "air.map_shown", 101, 1),
        (TWO_BANKS, "idle", "air.map_shown", 33, 1),
        (TWO_BANKS, "2500", "air.map_shown", 29, 1),
        (TWO_BANKS, "load", "air.map_shown", 70, 2),
        (TWO_BANKS, "wot", "air.map_shown", 98, 2),
        (ONE_BANK, "idle", "air.map_shown", 33, 1),
        (ONE_BANK, "2500", "air.map_shown", 29, 1),
        (TURBO, "idle", "air.map_shown", 34, 1),
        (TURBO, "2500", "air.map_shown", 31, 1),
        (TURBO, "load", "air.map_shown", 130, 4),
        (TURBO, "wot", "air.map_shown", 190, 2),
        (TWO_BANKS, "idle", "air.vacuum", 68, 1),
        (TWO_BANKS, "2500", "air.vacuum", 72, 1),
        (TWO_BANKS, "crank", "air.vacuum", 15, 3),
        (TWO_BANKS, "idle", "air.iat_shown", 32, 2),
        (TURBO, "idle", "air.iat_shown", 38, 2),
        (TWO_BANKS, "idle", "coolant.shown", 92, 2),
        (TURBO, "idle", "coolant.shown", 95, 2),
        (TWO_BANKS, "cold", "coolant.shown", 20, 1),
        (TWO_BANKS, "idle", "air.load_calc", 22, 1.5),
        (TWO_BANKS, "2500", "air.load_calc", 20, 1.5),
        (TWO_BANKS, "idle", "air.throttle_cmd", 4.5, 0.5),
        (TWO_BANKS, "koeo", "fuel.rail", 300, 5),
        (TWO_BANKS, "idle", "fuel.rail", 232, 4),
        (TWO_BANKS, "2500", "fuel.rail", 228, 4),
        (TWO_BANKS, "load", "fuel.rail", 269, 4),
        (ONE_BANK, "koeo", "fuel.rail", 380, 5),
        (TURBO, "koeo", "fuel.rail", 450, 5),
        (TURBO, "idle", "fuel.high_side", 5000, 150),
        (TURBO, "load", "fuel.high_side", 15000, 450),
        (TWO_BANKS, "load", "fuel.filter_drop", 12, 3),
        (TWO_BANKS, "idle", "fuel.pulse_ms", 2.6, 0.1),
        (TURBO, "load", "air.boost_actual", 189, 3),
        (TURBO, "load", "air.wastegate_duty", 48, 3),
        (TWO_BANKS, "koeo", "volts.battery", 12.5, 0.1),
        (TWO_BANKS, "crank", "volts.battery", 10.6, 0.1),
        (TWO_BANKS, "idle", "volts.battery", 14.2, 0.1),
        (TWO_BANKS, "2500", "volts.battery", 14.3, 0.1),
        (TWO_BANKS, "2500", "volts.loaded", 14.0, 0.1),
        (TWO_BANKS, "idle", "volts.pump", 13.6, 0.1),
        (TWO_BANKS, "koeo", "volts.heater_feed", 12.1, 0.2),
        (TWO_BANKS, "idle", "volts.engine_drop", 0.040, 0.010),
        (TWO_BANKS, "idle", "volts.ecu_drop", 0.015, 0.005),
        (TWO_BANKS, "idle", "volts.feed_drop", 0.120, 0.020),
        (TWO_BANKS, "idle", "air.crankcase", -0.7, 0.2),
        (TWO_BANKS, "load", "knock_retard", 1, 0.7),
    ],
)
def test_healthy_figures(engine: Engine, state: str, name: str, value: float, scatter: float) -> None:
    assert _reading(settle(engine, state), name) == pytest.approx(value, abs=2.0 * scatter)


@pytest.mark.parametrize("engine", ALL, ids=NAMES)
@pytest.mark.parametrize("state", ["idle", "2500", "load", "reload"])
def test_healthy_banks(engine: Engine, state: str) -> None:
    for bank in settle(engine, state).banks:
        assert bank.loop == "closed"
        assert bank.total == pytest.approx(1.5, abs=0.5)
        assert bank.lambda_true == pytest.approx(1.0, abs=0.001)
        assert bank.misfire == 0.0


def test_healthy_exhaust() -> None:
    idle, fast = settle(TWO_BANKS, "idle"), settle(TWO_BANKS, "2500")
    assert idle.banks[0].back_pressure == pytest.approx(1.5, abs=0.3)
    assert fast.banks[0].back_pressure == pytest.approx(5.0, abs=0.8)
    assert fast.banks[0].engine_out.co == pytest.approx(0.65, abs=0.08)
    assert (fast.banks[0].in_c, fast.banks[0].out_c) == pytest.approx((340, 375), abs=15)
    for settled, hc in ((idle, 11), (fast, 4)):
        gas = settled.tailpipe
        assert gas.co < 0.05
        assert gas.o2 < 0.15
        assert gas.hc == pytest.approx(hc, abs=6)
        assert gas.no < 25
        # petrol with 5 % ethanol: greatest dry CO2 15.32 % (UN Regulation 83 atoms, from memory)
        assert gas.co2 == pytest.approx(15.3, abs=0.1)
        assert gas.lambda_ == pytest.approx(1.0, abs=0.003)


@pytest.mark.parametrize("place", ["b1s1", "b2s1"])
def test_healthy_switching(place: str) -> None:
    settled = settle(TWO_BANKS, "2500")
    shown = measure(*oxygen_trace(TWO_BANKS, settled, place, rate=200.0))
    assert shown.lowest == pytest.approx(0.12, abs=0.04)
    assert shown.highest == pytest.approx(0.82, abs=0.04)
    assert shown.mean == pytest.approx(0.46, abs=0.03)
    assert shown.crossings == pytest.approx(14, abs=2)
    assert trim_swing(TWO_BANKS, settled, 0) == pytest.approx(5.0, abs=1.0)


def test_full_throttle_is_rich_and_a_cold_engine_not_in_closed_loop() -> None:
    for engine in ALL:
        assert settle(engine, "wot").banks[0].lambda_true == pytest.approx(0.88, abs=0.01)
        assert settle(engine, "wot").banks[0].loop == "open_load"
        assert settle(engine, "cold").banks[0].loop == "open_cold"


def test_altitude_takes_power_and_vacuum_but_not_manifold_pressure_at_idle() -> None:
    high = replace(TWO_BANKS, altitude_m=1800.0)
    low_air, high_air = settle(TWO_BANKS, "idle").air, settle(high, "idle").air
    assert high_air.map == pytest.approx(low_air.map, abs=2.5)
    full = settle(high, "wot").air.total / settle(TWO_BANKS, "wot").air.total
    assert full == pytest.approx(high_air.baro / low_air.baro, abs=0.03)


def test_an_unknown_state_is_refused() -> None:
    with pytest.raises(ValueError, match="no operating state is called 'flying'"):
        settle(TWO_BANKS, "flying")
    with pytest.raises(ValueError, match="no sensor of this engine is called 'b2s1'"):
        oxygen_trace(ONE_BANK, settle(ONE_BANK, "idle"), "b2s1")
