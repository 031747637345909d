"""Cars with an oxygen-sensor or heater code, each with one fault, walked to the end with three kits.

The readings are scenarios of our own, from how each fault moves a reading (common practice of the trade).
What counts: the right fault on the right side, or an honest open end; never a wrong part.
"""

from __future__ import annotations

import pytest

from engine.expansion import members
from tests.jobs.signatures import KITS, Car, Kit, assert_right, walked
from tests.jobs.walks import library

TREE = "oxygen-sensor-circuit"
INTO_THE_WIRES = frozenset(name for name, _ in members("o2_{b1s1,b2s1,b1s2,b2s2}_{gnd_v,sub_v,wire_ohms}"))
REAR_WIRES = {
    f"o2_{bank}s2_{what}": value
    for bank in ("b1", "b2")
    for what, value in (
        ("open_v", "0.451"),
        ("gnd_v", "0.012"),
        ("sub_v", "0.903"),
        ("harness_v", "0.447"),
        ("sig_gnd_ohms", "20100"),
    )
}
REAR_ANSWERS = {
    f"forced_{way}_{bank}s2_v": value
    for bank in ("b1", "b2")
    for way, value in (("rich", "0.83"), ("lean", "0.08"))
}
SOUND = {**REAR_WIRES, **REAR_ANSWERS, "mil_state": "on", "complaint": "o2_circuit", "smoke_exhaust": "tight"}
OPEN_LOOP = {"loop_b1_idle": "open_fault", "loop_b1_2500": "open_fault"}
LITTLE = (2.0, 2.0, 2.0)


def _flat(sensor: str, low: str, middle: str, high: str) -> dict[str, str]:
    """Return the readings of a front sensor whose signal rests."""
    return {
        f"o2_{sensor}_min_2500": low,
        f"o2_{sensor}_mean_2500": middle,
        f"o2_{sensor}_max_2500": high,
        f"o2_{sensor}_mean_idle": middle,
        f"o2_{sensor}_cross_2500": "0",
        f"o2_{sensor}_cross_idle": "0",
        f"forced_rich_{sensor}_v": high,
        f"forced_lean_{sensor}_v": low,
        "o2_snap_pattern": "no_response",
    }


def _car(fault: str, side: str | None, moves: dict[str, str], **trims: tuple[float, float, float]) -> Car:
    return Car(fault, side, moves={**SOUND, **moves}, **trims)  # type: ignore[arg-type]


CARS = {
    "heater-open": _car(
        "o2_heater_open",
        "b1s1",
        {
            "dtc_stored": "[P0135]",
            "heater_ohms_b1s1": "OL",
            "heater_amps_b1s1": "0",
            "o2_b1s1_cross_idle": "0",
        },
    ),
    "heater-open-rear-of-bank-2": _car(
        "o2_heater_open",
        "b2s2",
        {"dtc_stored": "[P0161, P0174]", "heater_ohms_b2s2": "OL", "heater_amps_b2s2": "0"},
    ),
    "heater-feed": _car(
        "o2_heater_supply",
        None,
        {
            "dtc_stored": "[P0135, P0155, P0141, P0161]",
            "heater_fuse": "blown",
            **{f"heater_supply_v_{one}": "0.1" for one in ("b1s1", "b2s1", "b1s2", "b2s2")},
            **{f"heater_amps_{one}": "0" for one in ("b1s1", "b2s1", "b1s2", "b2s2")},
            "visual_wiring": "[melted]",
        },
    ),
    "signal-open": _car(
        "o2_sig_open",
        "b1s1",
        {
            "dtc_stored": "[P0134, P0130]",
            **OPEN_LOOP,
            **_flat("b1s1", "0.44", "0.45", "0.46"),
            "o2_b1s1_gnd_v": "0.449",
            "o2_b1s1_wire_ohms": "OL",
            "o2_b1s1_sub_v": "0.452",
        },
        b1=LITTLE,
    ),
    "signal-grounded": _car(
        "o2_sig_short_gnd",
        "b2s1",
        {
            "dtc_stored": "[P0151]",
            "loop_b2_idle": "open_fault",
            "loop_b2_2500": "open_fault",
            **_flat("b2s1", "0.00", "0.00", "0.01"),
            "o2_b2s1_open_v": "0.002",
            "o2_b2s1_sub_v": "0.02",
            "o2_b2s1_gnd_v": "0.00",
            "visual_wiring": "[chafed]",
        },
        b2=LITTLE,
    ),
    "signal-fed": _car(
        "o2_sig_short_pwr",
        "b1s1",
        {
            "dtc_stored": "[P0132]",
            **OPEN_LOOP,
            **_flat("b1s1", "1.275", "1.275", "1.275"),
            "o2_b1s1_open_v": "1.275",
            "o2_b1s1_harness_v": "12.3",
        },
        b1=LITTLE,
    ),
    "ground-offset": _car(
        "o2_ground_offset",
        None,
        {
            "dtc_stored": "[P0132, P0152, P0138]",
            "o2_b1s1_gnd_drop_mv": "300",
            "o2_b2s1_gnd_drop_mv": "290",
            "o2_b1s2_gnd_drop_mv": "300",
            "gnd_drop_mv_engine": "330",
            "ref_bridge_effect": "corrects",
            "o2_b1s1_min_2500": "0.40",
            "o2_b1s1_max_2500": "1.13",
            "o2_b1s1_mean_2500": "0.58",
        },
    ),
    "swapped": _car(
        "o2_swapped_banks",
        None,
        {
            "dtc_stored": "[P0171, P0175, P0040]",
            "forced_bank_match": "other_bank",
            "recent_event": "[sensor_fitted]",
        },
        b1=(35, 35, 35),
        b2=(-25, -25, -25),
    ),
    "stuck-lean": _car(
        "o2_up_stuck_lean",
        "b1s1",
        {
            "dtc_stored": "[P2195, P0131, P0171]",
            **_flat("b1s1", "0.04", "0.08", "0.12"),
            "o2_b1s2_mean_2500": "0.88",
            "gas_lambda_2500": "0.87",
            "gas_co_2500": "4.7",
        },
        b1=(35, 35, 35),
    ),
    "stuck-rich": _car(
        "o2_up_stuck_rich",
        "b1s1",
        {
            "dtc_stored": "[P2196, P0132, P0172]",
            **_flat("b1s1", "0.77", "0.83", "0.88"),
            "forced_lean_b1s1_v": "0.74",
            "o2_b1s2_mean_2500": "0.06",
        },
        b1=(-25, -25, -25),
    ),
    "rear-dead": _car(
        "o2_down_faulty",
        "b1s2",
        {
            "dtc_stored": "[P0140]",
            "o2_b1s2_mean_2500": "0.45",
            "forced_rich_b1s2_v": "0.47",
            "forced_lean_b1s2_v": "0.43",
        },
    ),
    "rear-dead-of-bank-2": _car(
        "o2_down_faulty",
        "b2s2",
        {"dtc_stored": "[P2272]", "forced_rich_b2s2_v": "0.20", "forced_lean_b2s2_v": "0.10"},
    ),
    "rear-wire-open": _car(
        "o2_sig_open",
        "b1s2",
        {
            "dtc_stored": "[P0136]",
            "o2_b1s2_gnd_v": "0.45",
            "o2_b1s2_wire_ohms": "OL",
            "o2_b1s2_sub_v": "0.45",
            "forced_rich_b1s2_v": "0.45",
            "forced_lean_b1s2_v": "0.45",
        },
    ),
    "rear-wire-fed": _car(
        "o2_sig_short_pwr",
        "b1s2",
        {"dtc_stored": "[P0138]", "o2_b1s2_open_v": "1.275", "o2_b1s2_harness_v": "12.1"},
    ),
    "input-deaf": _car(
        "ecu_suspected",
        None,
        {"dtc_stored": "[P0136]", "o2_b1s2_sub_v": "0.45"},
    ),
    "low-voltage": _car(
        "low_voltage",
        None,
        {
            "dtc_stored": "[P0562, P0135]",
            "batt_v_koeo": "11.7",
            "batt_v_crank": "8.4",
            "batt_v_idle": "12.2",
            "batt_v_loads": "11.9",
        },
    ),
}
"""Each with the fault a walk must name, or leave open."""
NAMED = frozenset(CARS) - {"input-deaf"}
PROVEN = (
    "heater-open",
    "signal-open",
    "signal-grounded",
    "signal-fed",
    "swapped",
    "rear-dead",
    "rear-wire-open",
)


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("name", CARS)
def test_the_car_comes_to_its_fault_or_to_an_honest_end(name: str, kit: Kit) -> None:
    assert_right(walked(TREE, CARS[name], kit), CARS[name], full=kit == "full")


@pytest.mark.parametrize("name", sorted(NAMED))
def test_everything_on_the_van_names_the_fault(name: str) -> None:
    assert walked(TREE, CARS[name]).fault == CARS[name].fault


@pytest.mark.parametrize("name", PROVEN)
def test_an_isolation_or_response_test_proves_it(name: str) -> None:
    assert walked(TREE, CARS[name]).strength == "proven"


@pytest.mark.parametrize(("name", "sensor"), [("signal-open", "b1s1"), ("rear-wire-open", "b1s2")])
def test_a_control_unit_that_does_not_hear_is_never_a_wire_proven_open(name: str, sensor: str) -> None:
    reading = f"o2_{sensor}_wire_ohms"
    moves = dict(CARS[name].moves or {})
    whole = walked(TREE, Car("ecu_suspected", None, CARS[name].b1, CARS[name].b2, {**moves, reading: "0.3"}))
    assert (whole.fault, whole.strength) == ("ecu_suspected", "probable")
    del moves[reading]
    unmeasured = walked(TREE, Car("o2_sig_open", sensor, CARS[name].b1, CARS[name].b2, moves))
    assert (unmeasured.fault, unmeasured.strength) == ("o2_sig_open", "probable")


def test_a_sound_car_with_an_old_code_condemns_nothing() -> None:
    for code in ("P0131", "P0136", "P0135", "P0171"):
        car = _car("no_fault_found", None, {"dtc_stored": f"[{code}]"})
        assert walked(TREE, car).fault in (None, "no_fault_found")


@pytest.mark.parametrize("kind", ["wide", "unknown"])
@pytest.mark.parametrize("name", CARS)
def test_wires_of_a_sensor_not_known_to_be_narrow_are_never_joined_or_fed(name: str, kind: str) -> None:
    moves = {**(CARS[name].moves or {}), "veh_upstream_type": kind, "veh_downstream_type": kind}
    done = walked(TREE, Car(CARS[name].fault, None, CARS[name].b1, CARS[name].b2, moves))
    assert not done.asked & INTO_THE_WIRES
    assert done.fault is None or done.fault not in ("o2_sig_open", "o2_sig_short_gnd", "ecu_suspected")


@pytest.mark.parametrize("name", ["vacuum leak", "coil"])
def test_another_fault_that_lands_here_condemns_no_sensor(name: str) -> None:
    other = {
        "vacuum leak": _car(
            "vac_leak_small",
            None,
            {"dtc_stored": "[P0171, P0174, P0131]", "smoke_intake": "leak_other"},
            b1=(18, 6, 3),
            b2=(18, 6, 3),
        ),
        "coil": _car(
            "ign_coil",
            "b1",
            {
                "dtc_stored": "[P0131, P0303]",
                "misfire_rate_idle": "60",
                "misfire_cyl": "3",
                "misfire_side": "b1",
                "coil_swap_follows": "yes",
            },
            b1=(12, 8, 14),
        ),
    }[name]
    for kit in KITS:
        done = walked(TREE, other, kit)
        assert done.fault is None or not done.fault.startswith("o2_"), (kit, done.fault, done.steps)


def test_only_the_tree_of_rear_sensors_takes_them() -> None:
    assert library().trees["downstream-sensor"].takes_for == ("b1s2", "b2s2")
