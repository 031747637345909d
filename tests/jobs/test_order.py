"""The order of the trees: few entries before suspects have names, safety first, sensors last."""

from __future__ import annotations

import pytest

from tests.jobs.walks import library, walked

FIRST = ("place", "complaint", "lamp", "codes", "fluids", "cabin")
"""Safety, words told, the lamp, codes saved, oil, brakes, exhaust inside: common practice of the trade."""
INTO_THE_CIRCUIT = ("_open_v", "_gnd_v", "_sub_v", "_harness_v", "_sig_gnd_ohms", "_supply_v_")
RICH = (
    "dripping-injector", "purge-stuck-open", "coolant-sensor-reads-cold", "fuel-pressure-high",
    "regulator-diaphragm-wet", "diluted-oil", "air-meter-over-reading", "manifold-sensor-high",
    "sensor-stuck-lean", "swapped-banks", "intake-air-sensor-cold",
)  # fmt: skip


def entries_before(car: str, step: str) -> int:
    """Count what was typed before *step* was judged; facts about the car are no entries of the job."""
    count = 0
    for event in walked(car).walk.events:
        if event["kind"] == "taken" and not event["reading"].startswith(("veh_", "kit_", "spec_")):
            count += 1
        if event["kind"] == "judged" and event["step"] == step:
            return count
    raise AssertionError(f"{car} never came to {step}")


@pytest.mark.parametrize("car", RICH)
def test_first_suspects_stand_within_ten_entries(car: str) -> None:
    assert entries_before(car, "codes") <= 10
    judged = [e for e in walked(car).walk.events if e["kind"] == "judged"]
    after_codes = next(e for e in judged if e["step"] == "codes")
    leading = {suspect["fault"] for suspect in after_codes["suspects"]}
    priors_alone = {suspect["fault"] for suspect in judged[0]["suspects"]}
    assert leading != priors_alone


@pytest.mark.parametrize("car", ["manifold-sensor-high", "intake-air-sensor-cold"])
def test_a_car_with_one_bank_comes_to_its_trims_within_sixteen_entries(car: str) -> None:
    assert entries_before(car, "warm-up") < 16


@pytest.mark.parametrize("car", RICH)
def test_oil_coolant_and_brakes_are_seen_before_the_engine_runs_long(car: str) -> None:
    steps = walked(car).steps
    assert steps.index("fluids") < steps.index("cabin") < steps.index("warm-up") < steps.index("read-trims")


@pytest.mark.parametrize("car", RICH)
def test_the_trim_grid_names_the_fault_or_its_family(car: str) -> None:
    fault = walked(car).fault
    grid = next(e for e in walked(car).walk.events if e["kind"] == "judged" and e["step"] == "read-trims")
    assert fault in {suspect["fault"] for suspect in grid["suspects"][:4]}


@pytest.mark.parametrize("car", RICH)
def test_triage_begins_with_safety_words_lamp_codes_and_oil(car: str) -> None:
    assert walked(car).steps[: len(FIRST)] == FIRST


@pytest.mark.parametrize(
    "car", ["diluted-oil", "purge-stuck-open", "fuel-pressure-high", "dripping-injector"]
)
def test_no_sensor_is_asked_where_a_part_was_found(car: str) -> None:
    trees = {entry["tree"] for entry in walked(car).outcome["path"]}
    assert "upstream-sensor" not in trees


def test_the_gauge_stays_in_its_box_when_a_hose_ends_the_search() -> None:
    assert "fuelp_koeo" not in walked("purge-stuck-open").asked
    assert "fuelp_koeo" not in walked("regulator-diaphragm-wet").asked


@pytest.mark.parametrize("type_", ["wide", "unknown"])
@pytest.mark.parametrize("car", ["wide-band-biased", "sensor-stuck-lean", "signal-wire-open", "slow-sensor"])
def test_wires_of_a_wide_band_or_unknown_sensor_are_left_alone(car: str, type_: str) -> None:
    done = walked(car, more=(f"veh_upstream_type={type_}",))
    touched = {name for name in done.asked if any(part in name for part in INTO_THE_CIRCUIT)}
    assert not touched


@pytest.mark.parametrize("metering", ["map", "unknown"])
def test_a_car_without_air_meter_is_leaned_by_fuel_cut_only(metering: str) -> None:
    done = walked("slow-sensor", more=(f"veh_air_metering={metering}",))
    assert "lean-by-hose" not in done.steps
    assert "wide-lean" not in done.steps
    assert "lean-by-cut" in done.steps


def test_a_void_test_condemns_nothing() -> None:
    done = walked("sensor-stuck-lean", more=("forced_rich_witness=none",))
    assert "forced-rich-again" in done.steps
    assert done.fault != "o2_up_stuck_lean"
    assert done.strength != "proven"
    assert "o2_up_stuck_lean" in done.leading


@pytest.mark.parametrize(
    ("more", "fault"),
    [
        ("misfire_rate_idle=12", None),
        ("smoke_exhaust=leak_pre_s1", "exh_leak_pre_sensor"),
        ("heater_amps_b1s1=0", "o2_heater_supply"),
        ("batt_v_loads=12.1", "low_voltage"),
    ],
)
def test_the_gate_comes_before_the_sensor(more: str, fault: str | None) -> None:
    extra = {
        "heater_amps_b1s1=0": ("heater_supply_v_b1s1=0.1",),
        "batt_v_loads=12.1": ("batt_v_idle=12.3",),
    }
    done = walked("slow-sensor", more=(more, *extra.get(more, ())))
    assert done.fault == fault
    assert "forced-rich" not in done.steps


def test_meter_only_never_calls_a_sensor_slow() -> None:
    done = walked("slow-sensor", more=("kit_tools=MM", "kit_meter_mohm=10"))
    assert "switches-slow" not in {made.fact.finding for made in done.walk.state.findings}


def test_every_step_teaches_and_every_conclusion_names_its_proof() -> None:
    for tree in library().trees.values():
        for steps in tree.steps.values():
            for step in steps.values():
                assert len(step.why) > 40, (tree.id, step.id)
                assert len(step.do) <= 3 * 76, (tree.id, step.id)
        for conclusions in tree.conclusions.values():
            for conclusion in conclusions.values():
                if conclusion.strength != "not-found-here":
                    assert conclusion.proof is not None, (tree.id, conclusion.id)
