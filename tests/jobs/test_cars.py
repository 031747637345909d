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
    "air-meter-under-reading": ("maf_under", "hesitation"),
    "weak-fuel-pump": ("fuel_pump_weak", "hesitation"),
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


def test_exhaust_in_the_cabin_forbids_driving_whatever_is_found() -> None:
    done = walked("healthy", more=("exhaust_in_cabin=yes",))
    assert done.outcome["drive"] == "do-not-drive"


@pytest.mark.parametrize("car", ["healthy", "purge-stuck-open"])
def test_diluted_gas_is_refused_and_condemns_nothing(car: str) -> None:
    air = ("gas_o2_idle=9", "gas_co2_idle=9", "gas_lambda_idle=1.8", "complaint=rich")
    done = walked(car, more=air)
    sample = next(entry for entry in done.outcome["path"] if entry["step"] == "gas")
    assert sample["grade"] == "inconclusive"
    assert "gas-says" not in done.steps
    assert done.fault in {None, walked(car).fault}


def test_gases_that_do_not_add_up_are_not_believed() -> None:
    done = walked("healthy", more=("gas_co_idle=3", "complaint=rich"))
    assert "gas-says" not in done.steps
    assert done.strength == "not-found-here"


def test_a_probe_that_does_not_sit_right_leaves_it_to_the_rear_sensor() -> None:
    done = walked("sensor-biased-lean", more=("gas_probe_valid=no",))
    assert done.strength != "proven"
    judged = [entry for entry in done.outcome["path"] if entry["step"] == "centre"]
    assert all(entry["verdict"].startswith("Sample not to be trusted") for entry in judged)


def test_a_gas_car_is_told_to_run_on_petrol() -> None:
    kind = next(
        e for e in walked("healthy", more=("veh_fuel=lpg",)).outcome["path"] if e["step"] == "fuel-kind"
    )
    assert "petrol" in kind["verdict"]


@pytest.mark.parametrize("missing", ["ect_idle", "loop_b1_idle"])
def test_a_car_is_not_called_healthy_on_what_was_not_read(missing: str) -> None:
    done = walked("healthy", more=("complaint=lamp_only",), less=(missing,))
    assert done.strength == "open"


def test_a_lean_engine_told_rich_is_not_called_in_order() -> None:
    done = walked("small-air-leak", more=("complaint=rich",))
    assert (done.fault, done.strength) == ("vac_leak_small", "probable")


def test_a_sensor_that_moves_by_itself_is_never_called_dead() -> None:
    done = walked("poisoned-sensor", more=("forced_rich_b1s1_v=0.5",))
    assert done.fault != "o2_up_stuck_lean"


def test_another_air_meter_proves_the_old_one() -> None:
    done = walked("air-meter-over-reading", more=("maf_swap_dtrim=9.8", "maf_peak=150"))
    assert (done.fault, done.strength) == ("maf_over", "proven")
    cleared = walked("air-meter-over-reading", more=("maf_swap_dtrim=0.4",))
    assert cleared.fault != "maf_over"


def test_a_bad_engine_ground_is_found_before_a_sensor_is_called_biased() -> None:
    ground = ("gnd_drop_mv_engine=620", "gnd_drop_mv_ecu=480")
    done = walked("sensor-biased-lean", more=ground)
    assert done.fault == "bad_ground"


def test_a_thermostat_is_not_told_from_a_sensor_without_a_thermometer() -> None:
    done = walked("thermostat-stuck-open", more=("complaint=rich",), less=("ect_ir", "ect_ir_how"))
    assert done.fault != "ect_reads_cold"


@pytest.mark.parametrize("code", ["P0420", "P0135", "P0113"])
def test_what_makes_it_rich_comes_before_a_code_for_catalyst_heater_or_air(code: str) -> None:
    done = walked("purge-stuck-open", more=(f"dtc_stored={code}",))
    assert (done.fault, done.strength) == ("purge_stuck_open", "proven")


def test_a_loop_given_up_on_bank_2_puts_the_sensor_of_bank_2_on_trial() -> None:
    done = walked("healthy", more=("loop_b2_idle=open_fault", "complaint=lamp_only"))
    tried = [entry for entry in done.outcome["path"] if entry["tree"] == "upstream-sensor"]
    assert tried
    assert any("b2s1" in name for entry in tried for name in entry["readings"])
    assert not any("b1s1" in name for entry in tried for name in entry["readings"])


def test_a_coolant_code_with_a_right_reading_buys_no_sensor() -> None:
    done = walked("healthy", more=("dtc_stored=P0118", "complaint=rich"))
    assert done.strength == "open"
    assert "Wiggle" in done.outcome["open_end"]["say"]


def test_a_pressure_that_does_nothing_is_doubted_before_the_regulator() -> None:
    done = walked("healthy", more=("dtc_stored=P0088", "complaint=rich", "spec_fuel_pressure=250"))
    assert done.fault != "fuel_reg_high"


def test_a_high_pressure_without_trims_still_names_the_regulator() -> None:
    trims = tuple(
        f"{kind}_{bank}_{at}" for kind in ("stft", "ltft") for bank in ("b1", "b2") for at in ("idle", "2500")
    )
    done = walked("fuel-pressure-high", more=("dtc_stored=P0088",), less=trims)
    assert (done.fault, done.strength) == ("fuel_reg_high", "probable")
