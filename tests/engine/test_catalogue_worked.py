"""The worked values: complete, resting on known readings and formulas, and right against figures by hand."""

from __future__ import annotations

from typing import Any

import pytest

from engine.catalogue import place_of
from engine.formulas.registry import FormulaError, formula
from tests.engine.catalogue_files import expected, readings, worked

WORKED = """
tt_{b1,b2}_{idle,2500,load} tt_slope_{b1,b2} tt_split_{idle,2500} maf_per_l_{idle,2500,peak}
ve_pct_{idle,2500} fill_pct_wot map_err vac_check ect_err cold_spread o2_amp_{b1s1,b2s1} cat_ratio_{b1,b2}
cat_ratio_reload_{b1,b2} cat_dt_{b1,b2} gas_lambda_calc_{idle,2500} gas_dil_{idle,2500} fuel_dp_{idle,load}
tps_sum_{closed,wot} pedal_ratio_{rest,full} track_err_tps_{closed,wot} track_err_pedal_{rest,full}
comp_spread misfire_rate_{idle,load} batt_crank_min batt_lift heater_ohms_20_{b1s1,b2s1,b1s2,b2s2} boost_err
"""


def recipes(entry: dict[str, Any]) -> list[dict[str, Any]]:
    return list(entry.get("either", [entry]))


def quantities(recipe: dict[str, Any]) -> list[str]:
    named = (value["from"] if isinstance(value, dict) else value for value in recipe["with"].values())
    return [name for name in named if isinstance(name, str)]


def test_every_agreed_worked_value_is_there() -> None:
    assert expected(WORKED) - set(worked()) == set()


def test_worked_values_use_known_formulas_arguments_and_quantities() -> None:
    for name, entry in worked().items():
        for recipe in recipes(entry):
            used = formula(recipe["formula"])
            allowed = {argument.name: argument for argument in used.arguments}
            assert set(recipe["with"]) <= set(allowed), name
            assert {one.name for one in used.arguments if one.required} <= set(recipe["with"]), name
            assert "result" in recipe or len(used.results) == 1, name
            for quantity in quantities(recipe):
                assert quantity in readings() or quantity in worked(), f"{name}: {quantity}"


def test_worked_values_go_in_no_circle() -> None:
    def rests_on(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " -> ".join((*trail, name))
        if name in worked() and (not trail or name not in readings()):
            for recipe in recipes(worked()[name]):
                for quantity in quantities(recipe):
                    rests_on(quantity, (*trail, name))

    for name in worked():
        rests_on(name, ())


def test_a_worked_value_belongs_to_the_place_of_its_readings() -> None:
    for name, entry in worked().items():
        for quantity in (one for recipe in recipes(entry) for one in quantities(recipe)):
            here, there = place_of(name), place_of(quantity)
            assert there is None or here is None or there.startswith(here), f"{name}: {quantity}"


def test_units_of_worked_values_are_those_of_their_formulas() -> None:
    for name, entry in worked().items():
        for recipe in recipes(entry):
            used = formula(recipe["formula"])
            unit = used.unit_of(recipe.get("result", used.results[0].name))
            if unit in ("", "same unit"):
                continue
            assert unit == entry["unit"], name


def work(name: str, known: dict[str, float | str]) -> float | str | None:
    """Return a quantity's value from readings, by the first recipe whose arguments are known."""
    if name in known or name not in worked():
        return known.get(name)
    for recipe in recipes(worked()[name]):
        arguments: dict[str, float | str] = {}
        for argument, value in recipe["with"].items():
            source = value["from"] if isinstance(value, dict) else value
            found = work(source, known) if isinstance(source, str) else source
            if found is None and isinstance(value, dict):
                found = value.get("else")
            if found is not None:
                arguments[argument] = found
        if len(arguments) < len(recipe["with"]):
            continue
        used = formula(recipe["formula"])
        try:
            results = used.compute(**arguments)
        except FormulaError:
            continue
        return results[recipe.get("result", used.results[0].name)]
    return None


@pytest.mark.parametrize(
    ("name", "known", "value"),
    [
        # sums and differences worked by hand
        ("tt_b1_idle", {"stft_b1_idle": -8.59375, "ltft_b1_idle": 4.6875}, -3.90625),
        ("tt_slope_b1",
         {"stft_b1_idle": 20, "ltft_b1_idle": 10, "stft_b1_load": 1, "ltft_b1_load": 2},
         -27),
        ("tt_slope_b1",
         {"stft_b1_idle": 20, "ltft_b1_idle": 10, "stft_b1_2500": 4, "ltft_b1_2500": 5},
         -21),
        ("tt_split_2500",
         {"stft_b1_2500": 9, "ltft_b1_2500": 4, "stft_b2_2500": 1, "ltft_b2_2500": -1},
         13),
        ("maf_per_l_idle", {"maf_idle": 4.2, "veh_engine_litres": 3}, 1.4),
        ("map_err", {"map_koeo": 96, "baro_local": 101}, -5),
        ("vac_check", {"baro_local": 101, "map_idle": 33, "vacuum_idle": 65}, 3),
        ("cold_spread", {"ect_cold": 20, "iat_cold": 29, "ambient": 18}, 11),
        ("ect_err", {"ect_idle": 70, "ect_ir": 89}, -19),
        ("o2_amp_b1s1", {"o2_b1s1_max_2500": 0.82, "o2_b1s1_min_2500": 0.12}, 0.7),
        ("cat_ratio_b2", {"o2_b2s2_cross_2500": 9, "o2_b2s1_cross_2500": 12}, 0.75),
        ("cat_dt_b1", {"cat_out_c_b1": 375, "cat_in_c_b1": 340}, 35),
        ("gas_dil_idle", {"gas_co_idle": 0.2, "gas_co2_idle": 15.1}, 15.3),
        ("comp_spread", {"comp_high": 1240, "comp_low": 520}, 100 * 720 / 1240),
        ("misfire_rate_idle", {"misfire_count_idle": 60, "misfire_revs_idle": 1000}, 12),
        ("misfire_rate_idle",
         {"misfire_rate_idle": 3, "misfire_count_idle": 60, "misfire_revs_idle": 1000},
         3),
        ("batt_lift", {"batt_v_loads": 14.0, "batt_v_koeo": 12.5}, 1.5),
        ("boost_err", {"boost_actual_load": 160, "boost_target_load": 190}, -30),
        ("pedal_slope",
         {"pedal_d_v_rest": 0.75, "pedal_d_v_full": 4, "pedal_e_v_rest": 0.375, "pedal_e_v_full": 2},
         0.5),
        ("tps_slope",
         {"tps_a_v_closed": 0.6, "tps_a_v_wot": 4.4, "tps_b_v_closed": 4.4, "tps_b_v_wot": 0.6},
         -1),
        # ideal gas, 2.0 L at 6000 rpm filled to 91.353 % at 101.325 kPa and 20 °C draws 110 g/s
        ("fill_pct_wot",
         {"maf_peak": 110, "veh_engine_litres": 2, "rpm_at_maf_peak": 6000, "baro_local": 101.325,
          "ambient": 20},
         91.353),
        # the same engine at twice the pressure draws twice the air: the filling stays
        ("fill_pct_wot",
         {"maf_peak": 220, "veh_engine_litres": 2, "rpm_at_maf_peak": 6000, "baro_local": 101.325,
          "ambient": 20, "boost_actual_load": 202.65},
         91.353),
        ("ve_pct_idle",
         {"maf_idle": 2.5, "veh_engine_litres": 2, "rpm_idle": 750, "map_idle": 35, "iat_idle": 25},
         48.905),
        # a referenced regulator holds 300 kPa across the injector: 235 by gauge at 36 kPa in the manifold
        ("fuel_dp_idle", {"fuelp_idle": 235, "baro_local": 101, "map_idle": 36}, 300),
        # platinum law of IEC 60751, from memory: 6.0 Ω at 20 °C is 17.4616 Ω at 600 °C
        ("heater_ohms_20_b1s2", {"heater_ohms_b1s2": 17.4616, "heater_body_c_b1s2": 600}, 6.0),
        ("track_err_tps_closed",
         {"tps_a_v_closed": 0.75, "tps_b_v_closed": 4.24, "ref5v_koeo": 5, "tps_design": "sum"},
         0.2),
        ("track_err_pedal_full",
         {"pedal_d_v_full": 3.2, "pedal_e_v_full": 1.3, "pedal_design": "half"},
         12.0),
        ("track_err_pedal_rest",
         {"pedal_d_v_rest": 1.5, "pedal_e_v_rest": 0.5, "pedal_d_v_full": 4.1, "pedal_e_v_full": 2.9,
          "pedal_design": "offset", "ref5v_koeo": 5},
         2.0),
        ("batt_crank_min", {"ambient": 18.5}, 9.55),
        ("gas_dil_min", {"veh_fuel": "lpg"}, 0.91 * 13.97),
    ],
)  # fmt: skip
def test_worked_values_come_out_as_by_hand(name: str, known: dict[str, float | str], value: float) -> None:
    assert work(name, known) == pytest.approx(value, rel=1e-3)


def test_lambda_from_the_gases_takes_what_is_not_typed() -> None:
    """Petrol, 0.10 CO, 15.2 CO₂, 0.50 O₂, 40 ppm HC: 1.0185 by the exhaust gas balance worked by hand."""
    gases: dict[str, float | str] = {
        "gas_co_idle": 0.10, "gas_co2_idle": 15.2, "gas_o2_idle": 0.50, "gas_hc_idle": 40,
    }  # fmt: skip
    co, co2, o2, hc = 0.10, 15.2, 0.50, 40
    burnt = co2 + co / 2 + o2 + (0.4315 * 3.5 / (3.5 + co / co2) - 0.00875) * (co2 + co)
    by_hand = burnt / ((1 + 0.4315 - 0.00875) * (co2 + co + 6e-4 * hc))
    assert work("gas_lambda_calc_idle", gases) == pytest.approx(by_hand, abs=5e-4)
    assert work("gas_lambda_calc_idle", {**gases, "gas_no_idle": 2000}) != work("gas_lambda_calc_idle", gases)


def test_a_worked_value_is_not_known_while_a_reading_is_missing() -> None:
    assert work("tt_b1_idle", {"stft_b1_idle": 3}) is None
    assert (
        work("cat_ratio_b1", {"o2_b1s2_cross_2500": 1, "o2_b1s1_cross_2500": 5}) is None
    )  # too few to compare
    assert work("misfire_rate_load", {"misfire_count_load": 5, "misfire_revs_load": 200}) is None  # too short
    assert work("track_err_tps_wot", {"tps_a_v_wot": 4.4, "tps_b_v_wot": 0.6, "ref5v_koeo": 5}) is None
