"""Cars that miss or idle rough, each with one fault, walked to the end, at two sizes and with three kits."""

from __future__ import annotations

import pytest

from tests.jobs.signatures import KITS, Car, Kit, assert_right, walked

TREE = "rough-idle"
STAYED = {"coil_swap_follows": "no", "plug_swap_follows": "no"}
ONE = {"misfire_cyl": "3", "misfire_side": "b1", "dtc_stored": "[P0303]"}
OTHER = {"misfire_cyl": "4", "misfire_side": "b2", "dtc_stored": "[P0304]"}
CARS = {
    "coil": Car(
        "ign_coil",
        "b1",
        (12, 8, 14),
        (1.5, 1.5, 1.5),
        {
            **ONE,
            "misfire_rate_idle": 60.0,
            "misfire_rate_load": 70.0,
            "drop_test_min_rpm": 5.0,
            "spark_test": "weak",
            "coil_swap_follows": "yes",
            "plug_swap_follows": "no",
            "vacuum_needle": "regular_flick",
            "vacuum_idle": 63.0,
        },
    ),
    "coil-other-bank": Car(
        "ign_coil",
        "b2",
        (1.5, 1.5, 1.5),
        (12, 8, 14),
        {
            **OTHER,
            "misfire_rate_idle": 60.0,
            "misfire_rate_load": 70.0,
            "drop_test_min_rpm": 5.0,
            "spark_test": "weak",
            "coil_swap_follows": "yes",
            "plug_swap_follows": "no",
            "vacuum_needle": "regular_flick",
        },
    ),
    "coil-flashing": Car(
        "ign_coil",
        "b1",
        (12, 8, 14),
        (1.5, 1.5, 1.5),
        {
            **ONE,
            "mil_state": "flashing",
            "misfire_rate_idle": 60.0,
            "drop_test_min_rpm": 5.0,
            "coil_swap_follows": "yes",
        },
    ),
    "plug": Car(
        "ign_plug",
        "b1",
        (5, 5, 10),
        (1.5, 1.5, 1.5),
        {
            **ONE,
            "misfire_rate_idle": 18.0,
            "misfire_rate_load": 50.0,
            "plug_state": "worn_gap",
            "coil_swap_follows": "no",
            "plug_swap_follows": "yes",
            "spark_kv_snap": 31.0,
            "drop_test_min_rpm": 22.0,
        },
    ),
    "compression": Car(
        "compression_low",
        "b1",
        (8, 4, 3),
        (1.5, 1.5, 1.5),
        {
            **ONE,
            **STAYED,
            "misfire_rate_idle": 42.0,
            "misfire_rate_load": 6.0,
            "comp_low": 520.0,
            "comp_high": 1240.0,
            "rel_comp_spread": 46.0,
            "leakdown_worst_pct": 65.0,
            "leakdown_path": "exhaust",
            "vacuum_needle": "regular_flick",
            "vacuum_idle": 60.0,
            "drop_test_min_rpm": 12.0,
        },
    ),
    "clogged-injector": Car(
        "injector_clogged",
        "b1",
        (13, 13, 13),
        (1.5, 1.5, 1.5),
        {
            **ONE,
            **STAYED,
            "misfire_rate_idle": 6.0,
            "misfire_rate_load": 3.0,
            "inj_balance_pct": -32.0,
            "drop_test_min_rpm": 20.0,
            "injector_swap_result": "followed",
        },
    ),
    "gasket": Car(
        "vac_leak_gasket_bank",
        "b1",
        (29, 9, 3),
        (1.5, 1.5, 1.5),
        {
            "smoke_intake": "leak_gasket_b1",
            "seal_leak_dtrim": -26.0,
            "leak_listen": "gasket_b1",
            "dtc_stored": "[P0171]",
        },
    ),
    "breather": Car(
        "pcv_stuck_open",
        None,
        (29, 9, 3),
        (29, 9, 3),
        {"pinch_pcv_dtrim": -26.0, "dtc_stored": "[P0171, P0174, P0507]", "leak_listen": "pcv"},
    ),
    "recirculation": Car(
        "egr_stuck_open",
        None,
        (3, 1, 1),
        (3, 1, 1),
        {
            "vacuum_idle": 51.0,
            "map_idle": 50.0,
            "vacuum_needle": "low_steady",
            "egr_block_effect": "idle_smooths",
            "misfire_cyl": "random",
            "misfire_rate_idle": 3.0,
            "dtc_stored": "[P0402, P0300]",
        },
    ),
    "cam": Car(
        "cam_crank_correlation",
        None,
        (1, 1, 1),
        (1, 1, 1),
        {
            "cam_crank_err": 15.0,
            "vacuum_idle": 51.0,
            "map_idle": 50.0,
            "vacuum_needle": "low_steady",
            "dtc_stored": "[P0016]",
        },
    ),
    "bad-fuel": Car(
        "fuel_contaminated",
        None,
        (9, 9, 12),
        (9, 9, 12),
        {
            "fuel_sample": "water_layer",
            "misfire_cyl": "random",
            "misfire_rate_idle": 6.0,
            "misfire_rate_load": 8.0,
            "recent_event": "[refuel]",
            "dtc_stored": "[P0300]",
        },
    ),
    "throttle": Car(
        "throttle_dirty",
        None,
        moves={
            "throttle_plate": "heavy_ring",
            "throttle_cmd_idle": 14.0,
            "rpm_idle": 615.0,
            "dtc_stored": "[P0506]",
        },
    ),
}
SIZES = (0.8, 1.1)


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("severity", SIZES)
@pytest.mark.parametrize("name", CARS)
def test_a_rough_car_comes_to_its_fault_or_to_an_honest_end(name: str, severity: float, kit: Kit) -> None:
    car = CARS[name]
    assert_right(walked(TREE, car, kit, severity), car, full=kit == "full")


@pytest.mark.parametrize("name", CARS)
def test_with_everything_on_the_van_the_fault_is_named(name: str) -> None:
    done = walked(TREE, CARS[name], "full")
    assert done.fault == CARS[name].fault, (done.leading, done.steps[-10:])


@pytest.mark.parametrize("name", ["coil", "plug", "compression", "clogged-injector"])
def test_moving_the_suspect_proves_it(name: str) -> None:
    done = walked(TREE, CARS[name])
    assert done.strength == "proven", done.outcome["conclusion"]["missing"]


def test_a_swap_comes_before_the_gauge() -> None:
    steps = walked(TREE, CARS["compression"]).steps
    assert steps.index("coil") < steps.index("plug") < steps.index("injector") < steps.index("compression")


def test_a_flashing_lamp_forbids_driving_and_asks_for_no_road() -> None:
    done = walked(TREE, CARS["coil-flashing"])
    assert done.outcome["drive"] == "do-not-drive"
    assert "under-load" not in done.steps


def test_no_coil_is_swapped_on_a_car_that_does_not_miss() -> None:
    done = walked(TREE, Car("no_fault_found"))
    assert "coil" not in done.steps
    assert done.fault in (None, "no_fault_found")


def test_nothing_is_left_apart() -> None:
    for name, car in CARS.items():
        assert walked(TREE, car).walk.state.left == {}, name


def test_a_lean_miss_is_no_ignition_fault() -> None:
    done = walked(TREE, CARS["breather"])
    assert "coil" not in done.steps
