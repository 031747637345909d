"""Whole jobs: a car with one fault, walked from the first look to its end.

The readings are scenarios of our own, computed from the fault's signature (trims, lambda, sensor volts) with
the scatter of instruments and engine. What counts: the right fault on the right side, or an honest open end
with the fault among the first three suspects; never a wrong part called proven.
"""

from __future__ import annotations

import pytest

from tests.jobs.walks import CARS, walked

PROVEN = {
    "dripping-injector": ("injector_leaking", "b1"),
    "purge-stuck-open": ("purge_stuck_open", None),
    "coolant-sensor-reads-cold": ("ect_reads_cold", None),
    "regulator-diaphragm-wet": ("fuel_reg_diaphragm", None),
    "diluted-oil": ("oil_fuel_diluted", None),
    "manifold-sensor-high": ("map_wrong", None),
    "sensor-stuck-lean": ("o2_up_stuck_lean", "b1s1"),
    "swapped-banks": ("o2_swapped_banks", None),
    "slow-sensor": ("o2_up_lazy", "b1s1"),
    "poisoned-sensor": ("o2_up_contam_silicone", "b1s1"),
    "heater-open": ("o2_heater_open", "b1s1"),
    "signal-wire-open": ("o2_sig_open", "b1s1"),
    "signal-ground-lifted": ("o2_ground_offset", None),
}
PROBABLE = {
    "dripping-injector-bank-2": ("injector_leaking", "b2"),
    "sensor-biased-lean": ("o2_up_biased", "b1s1"),
    "fuel-pressure-high": ("fuel_reg_high", None),
    "air-meter-over-reading": ("maf_over", None),
    "intake-air-sensor-cold": ("iat_wrong", None),
    "sensor-stuck-rich": ("o2_up_stuck_rich", "b1s1"),
    "heater-feed-lost": ("o2_heater_supply", None),
    "low-voltage": ("low_voltage", None),
    "exhaust-leak-at-sensor": ("exh_leak_pre_sensor", "b1"),
    "wide-band-biased": ("o2_up_biased", "b1s1"),
    "meter-only": ("o2_up_stuck_lean", "b1s1"),
    "no-analyser": ("o2_up_biased", "b1s1"),
}
LEADS = {
    "flashing-lamp": ("ign_coil", "rough-idle"),
    "no-gauge": ("fuel_reg_high", "rich-running"),
    "no-propane": ("o2_up_stuck_lean", "upstream-sensor"),
    "small-air-leak": ("vac_leak_small", "lean-running"),
    "air-meter-under-reading": ("maf_under", "lean-running"),
    "weak-fuel-pump": ("fuel_pump_weak", "lean-running"),
    "worn-spark-plug": ("ign_plug", "rough-idle"),
    "worn-catalyst": ("cat_worn", "catalyst"),
    "throttle-tracks": ("tps_track_disagree", "reduced-power"),
    "recirculation-stuck-open": ("egr_stuck_open", "rough-idle"),
    "overheating": ("overheat_derate", "reduced-power"),
    "gearbox-derate": ("trans_derate", "reduced-power"),
    "charge-air-leak": ("boost_leak", "reduced-power"),
    "thermostat-stuck-open": ("thermostat_stuck_open", "slow-warm-up"),
    "throttle-dirty": ("throttle_dirty", "rough-idle"),
}
ELSEWHERE = {"healthy", "fuel-drip"}


def test_every_readings_file_has_a_verdict_it_must_reach() -> None:
    files = {path.stem for path in CARS.glob("*.yaml")}
    assert files == {*PROVEN, *PROBABLE, *LEADS, *ELSEWHERE}


@pytest.mark.parametrize("car", PROVEN)
def test_an_isolation_test_proves_the_fault(car: str) -> None:
    done = walked(car)
    assert (done.fault, done.strength) == (PROVEN[car][0], "proven")
    assert PROVEN[car][1] in (done.side, None)


@pytest.mark.parametrize("car", PROBABLE)
def test_without_its_deciding_test_the_fault_is_probable(car: str) -> None:
    done = walked(car)
    assert (done.fault, done.strength) == (PROBABLE[car][0], "probable")
    assert PROBABLE[car][1] in (done.side, None)
    conclusion = done.outcome["conclusion"]
    assert conclusion is not None
    assert conclusion["missing"]


@pytest.mark.parametrize("car", LEADS)
def test_the_way_leads_to_the_tree_that_holds_the_fault(car: str) -> None:
    fault, tree = LEADS[car]
    done = walked(car)
    led_to = {entry["tree"] for entry in done.outcome["path"]}
    if done.outcome["outcome"] == "open":
        led_to.add(done.outcome["open_end"]["tree"])
        assert fault in done.leading
        assert len(done.outcome["open_end"]["say"]) > 40
    else:
        assert done.fault == fault
    assert tree in led_to


def test_a_healthy_car_is_not_given_a_fault() -> None:
    done = walked("healthy")
    assert (done.fault, done.strength) == ("no_fault_found", "not-found-here")


def test_dripping_fuel_stops_everything() -> None:
    done = walked("fuel-drip")
    assert done.outcome["outcome"] == "open"
    assert done.outcome["drive"] == "do-not-drive"
    assert done.asked <= {"scene_safe", "fuel_leak_seen", "veh_hybrid", "veh_start_stop"}


def test_a_flashing_lamp_forbids_driving_and_road_steps() -> None:
    done = walked("flashing-lamp")
    assert done.outcome["drive"] == "do-not-drive"
    assert "road-test" not in done.steps


@pytest.mark.parametrize("car", [*PROVEN, *PROBABLE])
def test_rich_faults_are_found_from_their_own_tree_too(car: str) -> None:
    rich = {
        "injector_leaking", "purge_stuck_open", "ect_reads_cold", "fuel_reg_diaphragm", "oil_fuel_diluted",
        "map_wrong", "o2_up_stuck_lean", "o2_swapped_banks", "fuel_reg_high", "maf_over", "iat_wrong",
    }  # fmt: skip
    fault = {**PROVEN, **PROBABLE}[car][0]
    if fault in rich:
        assert walked(car, "rich-running").fault == fault
    else:
        assert walked(car, "rich-running").strength != "proven" or walked(car, "rich-running").fault == fault


def test_the_same_numbers_prove_the_repair() -> None:
    proof = walked("purge-stuck-open").outcome["proof"]
    assert proof["result"] == "fixed"
    assert {"purge_flow_at_0", "stft_b1_idle"} <= set(proof["readings"])


def test_a_repair_that_moved_nothing_is_said_to_have_failed() -> None:
    assert walked("fuel-pressure-high").outcome["proof"]["result"] == "failed"
