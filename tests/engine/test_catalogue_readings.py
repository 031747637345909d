"""The catalogue of readings: complete, consistent, with the agreed bounds of typing."""

from __future__ import annotations

import re
from fnmatch import fnmatchcase

import pytest

from engine.units import UNITS
from tests.engine.catalogue_files import document, expected, members, readings, worked

# The agreed bounds of typing: ids, lowest, highest.
NUMBERS = """
veh_engine_litres 0.3 9; veh_cylinders 2 16; veh_banks 1 2; veh_first_registered 195001 210012
kit_meter_mohm 0.01 10000; kit_meter_rate 0.1 1000000; kit_reader_rate 0.1 1000000
spec_fuel_pressure 0 1000; spec_fuel_flow_30s 0 5000; spec_leak10_kpa 0 1000; spec_heater_ohms_{min,max} 0 200
spec_idle_rpm 0 3000; spec_throttle_cmd_idle 0 100; spec_compression 0 3000; spec_cam_err_max 0 60
spec_boost 0 400; spec_minutes_to_80 0 120; spec_thermostat_c 40 130; spec_closed_loop_s 0 900
spec_ethanol_max 0 100; spec_co_{idle,fast} 0 10; spec_lambda_{min,max} 0.5 3; veh_o2_bias_v 0 5.5
odometer_km 0 2000000; ff_rpm 0 16383; ff_speed 0 255; ff_load 0 100; ff_ect -40 215
ff_{stft,ltft}_{b1,b2} -100 99.3; km_since_clear 0 65535; warmups_since_clear 0 255
mon_o2_{b1s1,b2s1}_{rl_ms,lr_ms} 0 10000; rpm_{crank,idle} 0 16383; load_calc_{idle,2500} 0 100
{stft,ltft}_{b1,b2}_{idle,2500,load} -100 99.3; stft_swing_{b1,b2}_2500 0 100
o2_{b1s1,b2s1,b1s2,b2s2}_{min,max,mean}_2500 -0.3 1.275; o2_{b1s1,b2s1,b1s2,b2s2}_cross_{2500,reload} 0 200
o2_{b1s1,b2s1}_{rl_ms,lr_ms}_2500 1 10000; o2_{b1s1,b2s1}_mean_idle -0.3 1.275
o2_{b1s1,b2s1}_cross_idle 0 200
o2_{b1s1,b2s1}_wot -0.3 1.275; lam_{b1,b2}_{idle,2500,load,wot,overrun} 0 2; wb_ma_{b1,b2}_2500 -128 128
o2_{b1s1,b2s1,b1s2,b2s2}_{bias_koeo,open_v,gnd_v,sub_v} -0.3 5.5; o2_{b1s1,b2s1,b1s2,b2s2}_harness_v -1 16
o2_{b1s1,b2s1,b1s2,b2s2}_sig_gnd_ohms 0 1000000; o2_{b1s1,b2s1,b1s2,b2s2}_gnd_drop_mv -2000 2000
heater_ohms_{b1s1,b2s1,b1s2,b2s2} 0 1000000; heater_body_c_{b1s1,b2s1,b1s2,b2s2} -40 600
heater_supply_v_{b1s1,b2s1,b1s2,b2s2} 0 18; heater_amps_{b1s1,b2s1,b1s2,b2s2} 0 12
forced_{rich,lean}_{b1s1,b2s1,b1s2,b2s2}_v -0.3 1.275; forced_rich_{b1s1,b2s1}_lr_ms 1 20000
forced_lean_{b1s1,b2s1}_rl_ms 1 20000; forced_{rich,lean}_stft_{b1,b2} -60 60
forced_{rich,lean}_lam_{b1,b2} 0 2
forced_rich_rpm -800 800; maf_{idle,2500,load,peak,koeo} 0 655.35; rpm_at_maf_peak 0 16383
map_{koeo,idle,2500,load,wot} 0 255; baro_local 50 110; vacuum_{idle,2500,crank} 0 101
ect_{cold,idle} -40 215; ect_ir -30 250; ect_minutes_to_80 0 120; iat_{cold,idle} -40 215; ambient -50 60
trans_temp -40 215; ref5v_koeo 0 16; tps_{a,b}_v_{closed,wot} 0 5.5; pedal_{d,e}_v_{rest,full} 0 5.5
throttle_{cmd_idle,err_max} 0 100; snap_max_rpm 0 10000; fuel_level_pct 0 100
fuelp_{koeo,idle,idle_vacoff,2500,load,leak10_kpa} 0 1000; fuelp_deadhead 0 1200; fuelp_filter_drop 0 500
fuel_flow_ml_30s 0 5000; fuel_pump_amps 0 30; fuel_pump_v 0 18; railp_{idle,load} 0 655350
fuel_ethanol_pct 0 100; inj_ms_idle 0 40; inj_balance_pct -100 100; gas_co_{idle,2500} 0 15
gas_co2_{idle,2500} 0 20; gas_o2_{idle,2500} -0.3 22; gas_hc_{idle,2500} 0 20000; gas_no_{idle,2500} 0 5000
gas_lambda_{idle,2500} 0.5 3; gas_co_precat_2500 0 15; cat_{in,out}_c_{b1,b2} -30 1100
bp_{b1,b2}_{idle,2500} -2 150; pinch_{pcv,booster,purge}_dtrim -60 60; {hose_pinch_reg,maf_swap}_dtrim -60 60
crankcase_kpa_idle -20 20; purge_duty_idle 0 100; egr_cmd_idle 0 100; misfire_count_{idle,load} 0 65535
misfire_revs_{idle,load} 0 100000; misfire_rate_{idle,load} 0 100; drop_test_min_rpm -100 400
spark_kv_{idle,snap} 0 60; comp_{low,high} 0 3000; comp_wet_gain -100 1500; rel_comp_spread 0 100
leakdown_worst_pct 0 100; batt_v_{koeo,crank,idle,2500,loads} 0 18; charge_ripple_mv 0 5000
gnd_drop_mv_{engine,ecu} -500 16000; feed_drop_mv_ecu -500 16000; boost_{target,actual}_load 0 400
wg_duty_load 0 100; knock_retard_load -64 63.5; cam_crank_err -180 180
bp_{b1,b2}_behind_2500 -2 150; o2_{b1s1,b2s1,b1s2,b2s2}_wire_ohms 0 1000000
seal_{exhaust,leak}_dtrim -60 60
"""
OTHERS = """
veh_upstream_type veh_downstream_type veh_extra_sensors veh_hybrid veh_start_stop veh_fuel veh_gearbox
veh_smart_charging veh_idle_unthrottled kit_tools kit_temp_tool kit_hc_scale veh_air_metering veh_fuel_system
veh_induction veh_throttle veh_egr scene_safe fuel_leak_seen exhaust_in_cabin engine_temp_state complaint
complaint_condition complaint_seen recent_event mil_state reduced_power_shown dtc_stored dtc_pending
dtc_permanent ff_dtc ff_loop monitors_incomplete loop_{b1,b2}_{cold,idle,2500} o2_{b1s1,b2s1}_trace_2500
o2_snap_pattern heater_ctrl_{b1s1,b2s1,b1s2,b2s2} heater_fuse o2_tip_{b1s1,b2s1} forced_{rich,lean}_witness
forced_bank_match vacuum_needle ect_ir_how fan_hot_state substitute_resistor_effect trans_codes
ref5v_unplug_recovers ref_bridge_effect tps_design pedal_design tps_sweep_trace pedal_sweep_trace
throttle_plate brake_pedal_firm brake_switch_agree air_filter_state visual_intake visual_exhaust visual_wiring
oil_state coolant_state smoke_colour tail_smell fuelp_leak_branch fuel_reg_hose return_free fuel_sample
injector_swap_result cat_tap smoke_intake smoke_exhaust smoke_charge smoke_evap purge_flow_at_0
egr_block_effect misfire_cyl spark_test coil_swap_follows plug_swap_follows plug_state leakdown_path
charge_ripple_kind wiggle_effect wg_mech ign_trace maf_snap_trace fuelp_load_trace emis_fail_items
gas_probe_valid road_test_ok monitors_after misfire_side leak_listen radiator_warms intake_resistor_effect
"""
NOBODY_LOOKED = {"not_done", "not_removed", "not_taken", "unknown", "not_reached", "not_seen"}
USUAL_ANSWERS = {
    "scene_safe": "safe", "fuel_leak_seen": "none", "veh_hybrid": "no", "veh_start_stop": "no",
    "brake_pedal_firm": "firm", "complaint_seen": "yes", "gas_probe_valid": "yes",
}  # fmt: skip


def bounds() -> dict[str, list[float]]:
    rows = [row.split() for row in re.split(r"[;\n]", NUMBERS) if row.strip()]
    return {name: [float(low), float(high)] for family, low, high in rows for name, _ in members(family)}


def test_the_catalogue_holds_exactly_the_agreed_readings() -> None:
    agreed = set(bounds()) | expected(OTHERS)
    assert set(readings()) - agreed == set()
    assert agreed - set(readings()) == set()


def test_bounds_of_typing_are_the_agreed_ones() -> None:
    numbers = {name: entry["reject"] for name, entry in readings().items() if entry["kind"] == "num"}
    assert numbers == bounds()


def test_usual_range_lies_inside_what_is_accepted() -> None:
    for name, entry in readings().items():
        if entry["kind"] != "num":
            continue
        low, high = entry["reject"]
        assert low < high, name
        usual_low, usual_high = entry.get("usual", [None, None])
        inside_low = low if usual_low is None else usual_low
        inside_high = high if usual_high is None else usual_high
        assert low <= inside_low <= inside_high <= high, name
        others = [other["reject"] for other in entry.get("reject_if", [])]
        for other_low, other_high in [*entry.get("reject_by_tool", {}).values(), *others]:
            assert other_low <= low, f"{name}: the exception is narrower"
            assert high < other_high, f"{name}: the exception changes nothing"


def test_units_are_known() -> None:
    for name, entry in {**readings(), **worked()}.items():
        assert entry.get("unit", "") in UNITS, name


def test_usual_and_assumed_answers_are_choices() -> None:
    for name, entry in readings().items():
        if entry["kind"] in ("one", "many"):
            usual = entry.get("usual", [])
            assert set([usual] if isinstance(usual, str) else usual) <= set(entry["choices"]), name
        if "assumed" in entry:
            assert entry["assumed"] in entry["choices"], name
    assert {
        name: entry["assumed"] for name, entry in readings().items() if "assumed" in entry
    } == USUAL_ANSWERS


def test_answers_that_mean_nobody_looked_are_marked_and_no_others() -> None:
    for name, entry in readings().items():
        for value, choice in entry.get("choices", {}).items():
            marked = isinstance(choice, dict) and choice.get("not_looked", False)
            assert marked == (value in NOBODY_LOOKED), f"{name}: {value}"


def test_labels_are_words_of_the_trade() -> None:
    for name, entry in {**readings(), **worked()}.items():
        texts = [entry["label"]]
        texts += [one if isinstance(one, str) else one["label"] for one in entry.get("choices", {}).values()]
        for text in texts:
            assert "_" not in text, f"{name}: {text}"
            assert "<" not in text, f"{name}: {text}"


def test_labels_tell_readings_apart() -> None:
    seen: dict[str, str] = {}
    for name, entry in readings().items():
        other = seen.setdefault(entry["label"], name)
        assert other == name, f"{name} and {other} are both called {entry['label']}"


def test_readings_of_one_row_share_its_minutes() -> None:
    minutes: dict[str, float] = {}
    for name, entry in readings().items():
        if "row" in entry:
            assert minutes.setdefault(entry["row"], entry["minutes"]) == entry["minutes"], name


def test_facts_a_reading_needs_are_answers_of_that_fact() -> None:
    for name, entry in {**readings(), **worked()}.items():
        for fact, answers in entry.get("has", {}).items():
            assert fact.startswith("veh_"), name
            assert set(answers) <= set(readings()[fact]["choices"]), f"{name}: {fact}"
        for other in entry.get("reject_if", []):
            for fact, test in other["when"].items():
                assert set(test["one_of"]) <= set(readings()[fact]["choices"]), f"{name}: {fact}"


def test_no_wire_of_a_sensor_of_unknown_type_is_touched() -> None:
    """A wide-band pump cell is damaged by joining or feeding its wires; unknown counts as wide."""
    for name, entry in readings().items():
        if re.fullmatch(r"o2_b[12]s[12]_(gnd_v|sub_v|harness_v|sig_gnd_ohms)", name):
            assert list(entry["has"].values()) == [["narrow"]], name
        if re.match(r"(o2|forced_rich|forced_lean)_b[12]s1.*_(v|cross_\w+|m\w+_2500|ms)$", name):
            if name.endswith("gnd_drop_mv"):
                continue
            assert entry["has"]["veh_upstream_type"] == ["narrow"], name


def test_groups_match_something() -> None:
    for group, patterns in document("readings")["groups"].items():
        for pattern in patterns:
            assert any(fnmatchcase(name, pattern) for name in readings()), f"{group}: {pattern}"
            kept = [name for name in readings() if fnmatchcase(name, pattern) and name.startswith("spec_")]
            assert not kept, f"{group} would forget maker's figures: {kept}"


def test_facts_of_the_car_and_the_van_are_kept_for_ever_and_the_rest_is_not() -> None:
    for name, entry in readings().items():
        fact = name.startswith(("veh_", "kit_", "spec_")) or name.endswith("_design")
        assert (entry["keeps"] == "ever") == fact, name
        if entry["keeps"] in ("ever", "saved", "job", "never"):
            assert "lost_by_repair" not in entry, name


@pytest.mark.parametrize(
    ("reading", "lowest", "highest"),
    [
        # Data items of SAE J1979 / ISO 15031-5, from memory: all bits 0 and all bits 1.
        ("stft_b1_idle", (0 - 128) * 100 / 128, (255 - 128) * 100 / 128),
        ("ltft_b2_load", (0 - 128) * 100 / 128, (255 - 128) * 100 / 128),
        ("ect_idle", 0 - 40, 255 - 40),
        ("maf_peak", 0, 65535 / 100),
        ("map_idle", 0, 255),
        ("o2_b1s1_max_2500", 0, 255 / 200),
        ("lam_b1_overrun", 0, 65535 * 2 / 65536),
        ("wb_ma_b1_2500", 0 / 256 - 128, 65535 / 256 - 128),
        ("knock_retard_load", 0 / 2 - 64, 255 / 2 - 64),
        ("load_calc_idle", 0, 255 * 100 / 255),
        ("ff_speed", 0, 255),
        ("km_since_clear", 0, 65535),
        ("railp_load", 0, 65535 * 10),
    ],
)
def test_bounds_take_the_whole_scaling_of_the_data_item(reading: str, lowest: float, highest: float) -> None:
    low, high = readings()[reading]["reject"]
    assert low <= lowest
    assert highest <= high
