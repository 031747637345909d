"""Cars with a catalyst code or a glowing exhaust, each with one fault, at two sizes and with three kits."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.jobs import walks
from tests.jobs.signatures import KITS, Car, Kit, assert_right, walked

TREE = "catalyst"
SIZES = (0.9, 1.1)
REAR = {
    f"forced_{way}_{bank}s2_v": volts
    for way, volts in (("rich", "0.82"), ("lean", "0.1"))
    for bank in ("b1", "b2")
}
RELOAD = {
    f"o2_{bank}s{place}_cross_reload": count
    for bank in ("b1", "b2")
    for place, count in (("1", "14"), ("2", "1"))
}
FIT: dict[str, str | float] = {
    **REAR,
    **RELOAD,
    "smoke_exhaust": "tight",
    "visual_exhaust": "[ok]",
    "oil_state": "ok",
    "coolant_state": "ok",
    "smoke_colour": "none",
    "misfire_rate_idle": "0.2",
    "gas_probe_valid": "yes",
    "gas_co_2500": "0.02",
    "gas_co2_2500": "15.5",
    "gas_o2_2500": "0.06",
    "gas_hc_2500": "5",
    "gas_no_2500": "12",
    "gas_lambda_2500": "1.0",
}
UNCONVERTED: dict[str, str | float] = {
    "gas_co_2500": 0.22,
    "gas_hc_2500": 55.0,
    "gas_no_2500": 142.0,
    "gas_o2_2500": "0.22",
}


def worn(bank: str) -> Car:
    moves = {
        **FIT,
        **UNCONVERTED,
        "dtc_stored": "[P0420]" if bank == "b1" else "[P0430]",
        f"o2_{bank}s2_cross_2500": 11.0,
        f"o2_{bank}s2_cross_reload": 11.0,
    }
    return Car("cat_worn", bank, moves=moves)


SOOTED = Car(
    "cat_sooted",
    "b1",
    moves={
        **FIT,
        "dtc_stored": "[P0420]",
        "recent_event": "[rich_cured]",
        "o2_b1s2_cross_2500": 6.0,
        "o2_b1s1_cross_reload": "14",
        "o2_b1s2_cross_reload": "1",
    },
)
REAR_DEAD = Car(
    "o2_down_faulty",
    "b1s2",
    moves={**FIT, "dtc_stored": "[P0420]", "forced_rich_b1s2_v": "0.47", "forced_lean_b1s2_v": "0.43"},
)
LEAK = Car(
    "exh_leak_pre_sensor", None, moves={**FIT, "dtc_stored": "[P0420]", "smoke_exhaust": "leak_pre_s1"}
)
BLOCKED = Car(
    "cat_blocked",
    "b1",
    moves={
        **FIT,
        "dtc_stored": "[]",
        "visual_exhaust": "[rattle]",
        "vacuum_idle": "62",
        "vacuum_2500": "44",
        "bp_b1_idle": "12",
        "bp_b1_2500": "38",
        "bp_b2_idle": "1.5",
        "bp_b2_2500": "5",
    },
)
COIL = Car(
    "ign_coil",
    "b1",
    (12, 8, 14),
    moves={
        **FIT,
        "dtc_stored": "[P0303, P0420]",
        "misfire_cyl": "3",
        "misfire_side": "b1",
        "misfire_rate_idle": "60",
        "misfire_rate_load": "70",
        "drop_test_min_rpm": "5",
        "coil_swap_follows": "yes",
        "spark_test": "weak",
    },
)
RICH = Car(
    "fuel_reg_high",
    None,
    (-11, -11, -11),
    (-11, -11, -11),
    {
        **FIT,
        "dtc_stored": "[P0420]",
        "fuelp_koeo": "390",
        "fuelp_idle": "322",
        "fuelp_idle_vacoff": "390",
        "fuelp_load": "359",
    },
)
CARS = {
    "worn": worn("b1"),
    "worn-bank-2": worn("b2"),
    "sooted": SOOTED,
    "rear-dead": REAR_DEAD,
    "leak": LEAK,
    "blocked": BLOCKED,
    "coil": COIL,
    "rich": RICH,
}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("name", CARS)
def test_ends_at_the_fault_or_openly(name: str, kit: Kit, size: float) -> None:
    assert_right(walked(TREE, CARS[name], kit, size), CARS[name], full=kit == "full")


@pytest.mark.parametrize("name", CARS)
def test_full_kit_names_it(name: str) -> None:
    assert walked(TREE, CARS[name]).fault == CARS[name].fault


@pytest.mark.parametrize("name", ["worn", "worn-bank-2", "sooted"])
def test_two_witnesses_prove_it(name: str) -> None:
    assert walked(TREE, CARS[name]).strength == "proven"


@pytest.mark.parametrize("kit", KITS)
def test_condemns_no_catalyst_of_a_healthy_car(kit: Kit) -> None:
    done = walked(TREE, Car("no_fault_found", moves={**FIT, "dtc_stored": "[]"}), kit)
    assert done.fault in (None, "no_fault_found")


def without(car: Car, **changed: str | float) -> Car:
    return replace(car, moves={**(car.moves or {}), **changed})


@pytest.mark.parametrize("base", ["healthy-one-bank", "healthy-turbo"])
@pytest.mark.parametrize("name", ["worn", "sooted", "rear-dead", "leak", "blocked", "coil"])
@pytest.mark.parametrize("kit", KITS)
def test_one_bank_with_narrow_or_wide_band_front_sensor(name: str, base: str, kit: Kit) -> None:
    car = replace(CARS[name], base=base)
    done = walked(TREE, car, kit)
    assert_right(done, car, full=kit == "full")
    assert kit != "full" or done.fault == car.fault


def test_without_a_ratio_a_catalyst_is_never_proven_worn() -> None:
    assert walked(TREE, replace(worn("b1"), base="healthy-turbo")).strength == "probable"


def test_gauge_in_front_and_behind_proves_a_blocked_catalyst() -> None:
    assert walked(TREE, BLOCKED).strength == "probable"
    assert walked(TREE, without(BLOCKED, bp_b1_behind_2500="4")).strength == "proven"


def test_pressure_behind_the_catalyst_too_blames_no_catalyst() -> None:
    assert walked(TREE, without(BLOCKED, bp_b1_behind_2500="35")).fault is None


def test_soot_is_tried_before_a_count_condemns() -> None:
    """A worn car that ran rich is driven at load before anything is said of it."""
    done = walked(TREE, without(worn("b1"), recent_event="[driven_misfiring]"))
    assert done.steps.index("reload") < done.steps.index("gas")


def test_an_unanswered_load_drive_keeps_a_dirty_past_from_proof() -> None:
    car = without(worn("b1"), recent_event="[driven_misfiring]")
    moves = {name: value for name, value in (car.moves or {}).items() if not name.endswith("_reload")}
    assert walked(TREE, replace(car, moves=moves)).strength != "proven"


def test_an_oil_burner_is_never_proven_worn() -> None:
    done = walked(TREE, without(worn("b1"), smoke_colour="blue", oil_state="low"))
    assert done.strength != "proven"


OTHERS = {
    "air-meter-under-reading": "maf_under",
    "diluted-oil": "oil_fuel_diluted",
    "flashing-lamp": "ign_coil",
    "fuel-pressure-high": "fuel_reg_high",
    "poisoned-sensor": "o2_up_contam_silicone",
    "sensor-biased-lean": "o2_up_biased",
    "sensor-stuck-lean": "o2_up_stuck_lean",
    "slow-sensor": "o2_up_lazy",
    "small-air-leak": "vac_leak_small",
    "swapped-banks": "o2_swapped_banks",
    "worn-spark-plug": "ign_plug",
}


@pytest.mark.parametrize("tree", [TREE, "failed-emissions"])
@pytest.mark.parametrize("car", OTHERS)
def test_a_fault_of_another_tree_is_led_on(car: str, tree: str) -> None:
    assert walks.walked(car, tree).fault == OTHERS[car]


@pytest.mark.parametrize("tree", [TREE, "failed-emissions"])
@pytest.mark.parametrize(
    "car",
    ["gearbox-derate", "overheating", "throttle-tracks", "throttle-dirty", "meter-only", "charge-air-leak"],
)
def test_what_lands_here_by_mistake_is_left_open(car: str, tree: str) -> None:
    done = walks.walked(car, tree)
    assert done.fault is None
