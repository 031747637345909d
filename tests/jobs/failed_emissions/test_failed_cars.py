"""Cars with a failed test sheet, each with one fault, led on by the pattern of their gases."""

from __future__ import annotations

import pytest

from tests.jobs.catalyst.test_catalyst_cars import FIT, UNCONVERTED, worn
from tests.jobs.signatures import KITS, Car, Kit, assert_right, walked

TREE = "failed-emissions"
SHEET = {**FIT, "dtc_stored": "[]", "emis_fail_items": "[co_fast]", "veh_first_registered": "201005"}


def gases(state: str, co: float, hc: float, co2: float, o2: float, no: float, lam: float) -> dict[str, str]:
    values = {"co": co, "hc": hc, "co2": co2, "o2": o2, "no": no, "lambda": lam}
    return {f"gas_{name}_{state}": str(value) for name, value in values.items()}


CLEAN = {**gases("idle", 0.03, 11, 15.3, 0.07, 6, 1.0), **gases("2500", 0.02, 4, 15.3, 0.06, 12, 1.0)}
CATALYST = Car(
    "cat_worn",
    "b1",
    moves={
        **SHEET,
        **UNCONVERTED,
        **gases("idle", 0.23, 82, 15.3, 0.26, 46, 1.0),
        "gas_co2_2500": "15.3",
        "o2_b1s2_cross_2500": 11.0,
        "o2_b1s2_cross_reload": 11.0,
    },
)
COLD = Car(
    "ect_reads_cold",
    None,
    (2, 2, 2),
    (2, 2, 2),
    {
        **SHEET,
        **gases("idle", 5.06, 247, 12.3, 0.04, 0, 0.86),
        **gases("2500", 4.35, 183, 12.8, 0.04, 0, 0.88),
        "ect_idle": "24",
        "ect_ir": "89",
        "ect_ir_how": "contact",
        "loop_b1_idle": "open_cold",
        "loop_b2_idle": "open_cold",
        "loop_b1_2500": "open_cold",
        "loop_b2_2500": "open_cold",
    },
)
COIL = Car(
    "ign_coil",
    "b1",
    (12, 8, 14),
    moves={
        **SHEET,
        **gases("idle", 1.26, 1338, 14.2, 0.89, 3, 0.95),
        **gases("2500", 0.89, 643, 14.7, 0.48, 8, 0.97),
        "misfire_cyl": "3",
        "misfire_side": "b1",
        "misfire_rate_idle": "60",
        "misfire_rate_load": "70",
        "drop_test_min_rpm": "5",
        "coil_swap_follows": "yes",
        "spark_test": "weak",
    },
)
THERMOSTAT = Car(
    "thermostat_stuck_open",
    moves={**SHEET, **CLEAN, "ect_idle": "66", "ect_ir": "64", "ect_ir_how": "contact"},
)
HEALTHY = Car("no_fault_found", moves={**SHEET, **CLEAN})
CARS = {"catalyst": CATALYST, "cold": COLD, "coil": COIL, "thermostat": THERMOSTAT, "healthy": HEALTHY}


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("name", CARS)
def test_ends_at_the_fault_or_openly(name: str, kit: Kit) -> None:
    assert_right(walked(TREE, CARS[name], kit), CARS[name], full=kit == "full")


@pytest.mark.parametrize(
    ("co", "hc", "co2", "o2", "no", "lam", "first"),
    [
        (4.76, 135, 12.6, 0.05, 6, 0.87, "rich-running"),
        (4.76, 396, 10.3, 3.11, 0, 0.98, "rich-running"),
        (0.89, 643, 14.7, 0.48, 8, 0.97, "rough-idle"),
        (0.01, 266, 13.3, 3.12, 6, 1.15, "lean-running"),
        (0.22, 55, 15.3, 0.22, 142, 1.0, "catalyst"),
        (0.01, 4, 15.3, 0.44, 419, 1.02, "rich-running"),
    ],
)
def test_pattern_of_the_gases_names_the_tree(
    co: float, hc: float, co2: float, o2: float, no: float, lam: float, first: str
) -> None:
    trims = (35.0, 35.0, 35.0) if first == "rich-running" and co > 4 else (1.5, 1.5, 1.5)
    done = walked(TREE, Car("x", None, trims, moves={**SHEET, **gases("2500", co, hc, co2, o2, no, lam)}))
    trees = [entry["tree"] for entry in done.outcome["path"]]
    after = next(tree for tree in trees if tree not in (TREE, "gas-analysis"))
    assert after == first


def test_diluted_sample_is_no_lean_engine() -> None:
    diluted = gases("2500", 0.01, 3, 9.0, 9.0, 5, 1.74)
    done = walked(TREE, Car("x", moves={**SHEET, **diluted}))
    assert "lean-running" not in {entry["tree"] for entry in done.outcome["path"]}


def test_readiness_alone_is_a_drive_and_no_part() -> None:
    moves = {
        **SHEET,
        "emis_fail_items": "[readiness]",
        "monitors_incomplete": "[catalyst]",
        "km_since_clear": "20",
    }
    assert walked(TREE, Car("x", moves=moves)).fault == "no_fault_found"


@pytest.mark.parametrize(("registered", "fault"), [("200105", "no_fault_found"), ("201005", None)])
def test_limit_follows_first_registration(registered: str, fault: str | None) -> None:
    """CO of 0.4 % at idle passed a car of 2001 and fails one of 2010."""
    moves = {**SHEET, **CLEAN, "gas_co_idle": "0.4", "veh_first_registered": registered}
    done = walked(TREE, Car("x", moves=moves))
    limits = [entry["verdict"] for entry in done.outcome["path"] if entry["step"] == "limits"]
    assert ("Within the limits today" in limits) == (fault is not None)


def test_a_worn_catalyst_is_reached_from_its_own_code() -> None:
    assert walked(TREE, worn("b2")).side == "b2"
