"""Cars that do not get warm, or do not know it, each with one fault, walked to the end with three kits.

The readings are scenarios of our own, from how each fault moves a reading (common practice of the trade).
"""

from __future__ import annotations

import pytest

from tests.jobs.signatures import KITS, Car, Kit, assert_right, walked

TREE = "slow-warm-up"
SOUND = {
    "complaint": "slow_warmup",
    "engine_temp_state": "cold",
    "radiator_warms": "when_hot",
    "ect_minutes_to_80": "9",
    "substitute_resistor_effect": "reads_right",
    "intake_resistor_effect": "reads_right",
    "fan_hot_state": "runs",
    "loop_b1_idle": "closed",
    "loop_b2_idle": "closed",
}


def _car(fault: str, side: str | None, moves: dict[str, str]) -> Car:
    return Car(fault, side, moves={**SOUND, **moves})


COLD_LOOP = {f"loop_{bank}_{state}": "open_cold" for bank in ("b1", "b2") for state in ("idle", "2500")}
READS_COLD = {
    "dtc_stored": "[P0118, P0125]",
    "ect_idle": "24",
    "ect_ir": "89",
    "ect_cold": "-12",
    **COLD_LOOP,
}
CARS = {
    "thermostat": _car(
        "thermostat_stuck_open",
        None,
        {
            "dtc_stored": "[P0128]",
            "ect_idle": "66",
            "ect_ir": "64",
            "ect_minutes_to_80": "45",
            "radiator_warms": "from_start",
        },
    ),
    "thermostat-no-code": _car(
        "thermostat_stuck_open",
        None,
        {
            "dtc_stored": "[]",
            "ect_idle": "68",
            "ect_ir": "66",
            "ect_minutes_to_80": "40",
            "radiator_warms": "from_start",
        },
    ),
    "thermostat-radiator-not-watched": _car(
        "thermostat_stuck_open",
        None,
        {
            "dtc_stored": "[P0128]",
            "ect_idle": "66",
            "ect_ir": "64",
            "ect_minutes_to_80": "45",
            "radiator_warms": "not_done",
        },
    ),
    "coolant-sensor": _car("ect_reads_cold", None, READS_COLD),
    "coolant-sensor-not-soaked": _car(
        "ect_reads_cold", None, {**READS_COLD, "engine_temp_state": "hot", "dtc_stored": "[P0116]"}
    ),
    "coolant-wires": _car("ect_reads_cold", None, {**READS_COLD, "substitute_resistor_effect": "no_change"}),
    "coolant-sensor-bare-metal": _car(
        "ect_reads_cold", None, {**READS_COLD, "ect_ir_how": "bare_metal", "ect_ir": "70"}
    ),
    "intake-sensor": _car("iat_wrong", None, {"dtc_stored": "[P0113]", "iat_cold": "-25", "iat_idle": "-25"}),
    "intake-wires": _car(
        "iat_wrong",
        None,
        {"dtc_stored": "[P0113]", "iat_cold": "-38", "intake_resistor_effect": "no_change"},
    ),
    "heater": _car(
        "o2_heater_open",
        "b1s1",
        {
            "dtc_stored": "[P0135]",
            "heater_ohms_b1s1": "OL",
            "heater_amps_b1s1": "0",
            "loop_b1_idle": "open_fault",
            "loop_b1_2500": "closed",
        },
    ),
}
PROVEN = (
    "thermostat",
    "thermostat-no-code",
    "coolant-sensor",
    "coolant-sensor-not-soaked",
    "intake-sensor",
    "heater",
)


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("name", CARS)
def test_the_car_comes_to_its_fault_or_to_an_honest_end(name: str, kit: Kit) -> None:
    assert_right(walked(TREE, CARS[name], kit), CARS[name], full=kit == "full")


@pytest.mark.parametrize("name", CARS)
def test_everything_on_the_van_names_the_fault(name: str) -> None:
    assert walked(TREE, CARS[name]).fault == CARS[name].fault


@pytest.mark.parametrize("name", PROVEN)
def test_an_isolation_test_proves_it(name: str) -> None:
    assert walked(TREE, CARS[name]).strength == "proven"


@pytest.mark.parametrize("name", sorted(set(CARS) - set(PROVEN)))
def test_what_was_not_isolated_is_never_called_proven(name: str) -> None:
    assert walked(TREE, CARS[name]).strength == "probable"


def test_a_car_that_warms_as_it_should_condemns_nothing() -> None:
    done = walked(TREE, _car("no_fault_found", None, {"dtc_stored": "[]"}))
    assert (done.fault, done.strength) == ("no_fault_found", "not-found-here")


def test_a_low_level_is_filled_before_a_thermostat_is_named() -> None:
    moves = {"dtc_stored": "[P0128]", "ect_idle": "66", "ect_ir": "64", "coolant_state": "low"}
    done = walked(TREE, _car("thermostat_stuck_open", None, moves))
    assert done.strength != "proven"
    assert done.outcome["drive"] == "do-not-drive"


def test_heat_stops_the_search_for_cold() -> None:
    done = walked(
        TREE, _car("overheat_derate", None, {"ect_idle": "118", "ect_ir": "116", "dtc_stored": "[]"})
    )
    assert done.outcome["drive"] == "do-not-drive"
    assert done.fault in (None, "overheat_derate")


def test_a_sensor_that_reads_hot_is_said_to_lie_outside() -> None:
    done = walked(
        TREE, _car("no_fault_found", None, {"ect_idle": "105", "ect_ir": "70", "dtc_stored": "[P0117]"})
    )
    assert done.fault is None
    assert "matt spot" in done.outcome["open_end"]["say"]


@pytest.mark.parametrize("kit", KITS)
def test_bare_metal_never_makes_a_cold_engine(kit: Kit) -> None:
    moves = {"ect_idle": "92", "ect_ir": "60", "ect_ir_how": "bare_metal", "dtc_stored": "[]"}
    assert walked(TREE, _car("no_fault_found", None, moves), kit).fault in (None, "no_fault_found")
