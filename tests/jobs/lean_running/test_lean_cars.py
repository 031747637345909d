"""Lean cars, each with one fault, walked to the end, at two sizes and with three kits."""

from __future__ import annotations

import pytest

from tests.jobs.signatures import KITS, Car, Kit, assert_right, walked

TREE = "lean-running"
LEAN = "[P0171, P0174]"
SEALED = {"seal_leak_dtrim": -16.0}
CARS = {
    "small-leak": Car(
        "vac_leak_small",
        None,
        (18, 6, 3),
        (18, 6, 3),
        {"dtc_stored": LEAN, "smoke_intake": "leak_other", "maf_idle": 3.6, "leak_listen": "hose", **SEALED},
    ),
    "hose-off": Car(
        "vac_leak_large",
        None,
        (35, 13, 4),
        (35, 13, 4),
        {
            "dtc_stored": LEAN,
            "visual_intake": "[hose_off]",
            "gas_lambda_idle": 1.13,
            "gas_o2_idle": 2.62,
            "gas_co2_idle": 13.7,
            "gas_co_idle": 0.01,
            "gas_hc_idle": 129.0,
            "vacuum_idle": 64.0,
            "map_idle": 37.0,
            "rpm_idle": 830.0,
            "seal_leak_dtrim": -32.0,
        },
    ),
    "gasket": Car(
        "vac_leak_gasket_bank",
        "b1",
        (29, 9, 3),
        (1.5, 1.5, 1.5),
        {
            "dtc_stored": "[P0171]",
            "smoke_intake": "leak_gasket_b1",
            "leak_listen": "gasket_b1",
            "seal_leak_dtrim": -26.0,
        },
    ),
    "gasket-other-bank": Car(
        "vac_leak_gasket_bank",
        "b2",
        (1.5, 1.5, 1.5),
        (29, 9, 3),
        {
            "dtc_stored": "[P0174]",
            "smoke_intake": "leak_gasket_b2",
            "leak_listen": "gasket_b2",
            "seal_leak_dtrim": -26.0,
        },
    ),
    "breather": Car(
        "pcv_stuck_open",
        None,
        (29, 9, 3),
        (29, 9, 3),
        {"dtc_stored": LEAN, "pinch_pcv_dtrim": -26.0, "smoke_intake": "leak_pcv", "leak_listen": "pcv"},
    ),
    "booster": Car(
        "booster_leak",
        None,
        (17, 6, 3),
        (17, 6, 3),
        {
            "dtc_stored": LEAN,
            "pinch_booster_dtrim": -15.0,
            "smoke_intake": "leak_booster",
            "leak_listen": "booster",
        },
    ),
    "purge-empty": Car(
        "purge_stuck_open",
        None,
        (14, 6, 3),
        (14, 6, 3),
        {"dtc_stored": LEAN, "pinch_purge_dtrim": -12.0, "purge_flow_at_0": "flow"},
    ),
    "exhaust-joint": Car(
        "exh_leak_pre_sensor",
        "b1",
        (14, 6, 3),
        (1.5, 1.5, 1.5),
        {
            "dtc_stored": "[P0171]",
            "visual_exhaust": "[soot_at_joint]",
            "smoke_exhaust": "leak_pre_s1",
            "seal_exhaust_dtrim": -12.0,
        },
    ),
    "clogged-injector": Car(
        "injector_clogged",
        "b1",
        (15, 15, 15),
        (1.5, 1.5, 1.5),
        {
            "dtc_stored": "[P0171, P0303]",
            "inj_balance_pct": -34.0,
            "misfire_rate_idle": 6.0,
            "misfire_rate_load": 3.0,
            "misfire_cyl": "3",
            "misfire_side": "b1",
            "coil_swap_follows": "no",
            "plug_swap_follows": "no",
            "drop_test_min_rpm": 20.0,
            "injector_swap_result": "followed",
            "gas_hc_idle": 105.0,
            "gas_o2_idle": 0.27,
        },
    ),
    "ethanol": Car(
        "fuel_ethanol_excess",
        None,
        (21, 21, 21),
        (21, 21, 21),
        {"dtc_stored": LEAN, "fuel_ethanol_pct": 52.0},
    ),
    "bad-fuel": Car(
        "fuel_contaminated",
        None,
        (14, 14, 16),
        (14, 14, 16),
        {"dtc_stored": LEAN, "fuel_sample": "water_layer", "recent_event": "[refuel]"},
    ),
    "weak-pump": Car(
        "fuel_pump_weak",
        None,
        (4, 9, 28),
        (4, 9, 28),
        {
            "dtc_stored": LEAN,
            "fuelp_koeo": 285.0,
            "fuelp_idle": 217.0,
            "fuelp_2500": 198.0,
            "fuelp_load": 159.0,
            "fuelp_deadhead": 330.0,
            "fuel_flow_ml_30s": 380.0,
            "fuel_pump_amps": 3.6,
            "fuel_pump_v": 13.4,
            "o2_b1s1_wot": 0.3,
            "o2_b2s1_wot": 0.3,
        },
    ),
    "air-meter": Car(
        "maf_under",
        None,
        (5, 13, 24),
        (5, 13, 24),
        {
            "dtc_stored": LEAN,
            "maf_idle": 4.1,
            "maf_2500": 12.2,
            "maf_load": 41.0,
            "maf_peak": 95.0,
            "maf_swap_dtrim": -18.0,
        },
    ),
    "one-bank-breather": Car(
        "pcv_stuck_open",
        None,
        (29, 9, 3),
        moves={
            "veh_air_metering": "maf",
            "dtc_stored": "[P0171]",
            "pinch_pcv_dtrim": -26.0,
            "smoke_intake": "leak_pcv",
            "leak_listen": "pcv",
        },
        base="healthy-one-bank",
    ),
    "one-bank-exhaust": Car(
        "exh_leak_pre_sensor",
        "b1",
        (14, 6, 3),
        moves={
            "veh_air_metering": "maf",
            "dtc_stored": "[P0171]",
            "smoke_exhaust": "leak_pre_s1",
            "seal_exhaust_dtrim": -12.0,
        },
        base="healthy-one-bank",
    ),
    "turbo-breather": Car(
        "pcv_stuck_open",
        None,
        (24, 8, 2),
        moves={"dtc_stored": "[P0171]", "pinch_pcv_dtrim": -21.0},
        base="healthy-turbo",
    ),
    "pressure-sensor-low": Car(
        "map_wrong",
        None,
        (24, 28, 11),
        moves={"dtc_stored": "[P0171, P0106]", "map_koeo": 93.0, "map_idle": 25.0, "map_2500": 22.0},
        base="healthy-one-bank",
    ),
}
SIZES = (0.8, 1.2)


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("severity", SIZES)
@pytest.mark.parametrize("name", CARS)
def test_a_lean_car_comes_to_its_fault_or_to_an_honest_end(name: str, severity: float, kit: Kit) -> None:
    car = CARS[name]
    assert_right(walked(TREE, car, kit, severity), car, full=kit == "full")


@pytest.mark.parametrize("name", CARS)
def test_with_everything_on_the_van_the_fault_is_named(name: str) -> None:
    done = walked(TREE, CARS[name], "full")
    assert done.fault == CARS[name].fault, (done.leading, done.steps[-10:])


def test_a_healthy_car_is_not_condemned() -> None:
    done = walked(TREE, Car("no_fault_found"))
    assert done.fault in (None, "no_fault_found")


def test_the_pinch_proves_breather_and_booster() -> None:
    assert "crankcase-pinch-fell" in {
        fact.fact.finding for fact in walked(TREE, CARS["breather"]).walk.state.findings
    }
    assert walked(TREE, CARS["booster"]).outcome["drive"] == "do-not-drive"


def test_the_exhaust_is_looked_at_before_one_bank_s_gasket() -> None:
    steps = walked(TREE, CARS["gasket"]).steps
    assert steps.index("joints") < steps.index("intake")


def test_the_sensor_is_not_asked_while_a_leak_explains_it() -> None:
    for name in ("small-leak", "hose-off", "gasket", "breather", "booster", "exhaust-joint"):
        assert "ask-sensor" not in walked(TREE, CARS[name]).steps


def test_nothing_is_left_clamped_or_plugged() -> None:
    for name, car in CARS.items():
        assert walked(TREE, car).walk.state.left == {}, name


TRAPS = {
    "altitude": Car(
        "no_fault_found", moves={"baro_local": 84.0, "map_koeo": 84.0, "vacuum_idle": 51.0, "map_idle": 33.0}
    ),
    "lazy-sensor": Car(
        "o2_up_lazy",
        moves={
            "dtc_stored": "[P0133]",
            "o2_b1s1_cross_2500": 4.0,
            "o2_b1s1_rl_ms_2500": 390.0,
            "o2_b1s1_lr_ms_2500": 480.0,
        },
    ),
}


@pytest.mark.parametrize("trap", TRAPS)
@pytest.mark.parametrize("kit", KITS)
def test_a_trap_condemns_no_part(trap: str, kit: Kit) -> None:
    assert walked(TREE, TRAPS[trap], kit).fault in (None, "no_fault_found", TRAPS[trap].fault)
