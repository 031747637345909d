"""Readings of air, trims, temperatures, gas, exhaust, throttle and boost."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from engine.car.breathing import PRESSURE_PER_FLOW
from engine.car.scene import Scene
from engine.measured import Answer

Take = Callable[[Scene], Answer | None]
STATES = ("idle", "2500", "load")
IR_BELOW_COOLANT = 3.0
"""Housing below the coolant inside, K (common practice: 2 to 5)."""
BEHIND_SHARE = 0.4
"""Share of a free exhaust's back-pressure that is lost behind the catalyst; chosen."""
NEVER_MINUTES = 45.0


def _trim(bank: str, state: str, which: str, scene: Scene) -> float | None:
    found = scene.bank(bank, state)
    return None if found is None else (found.short if which == "stft" else found.long)


def _speed(scene: Scene) -> float:
    return scene.at("idle").rpm


def _crank_speed(scene: Scene) -> float:
    return float(200.0 * (scene.at("crank").volts.battery / 10.6) ** 1.5)


def _load(state: str, scene: Scene) -> float:
    return scene.at(state).air.load_calc


def _flow(state: str, scene: Scene) -> float | None:
    if scene.facts.get("veh_air_metering") == "map":
        return None
    return scene.engine.air.meter_zero if state == "koeo" else scene.at(state).air.maf_shown


def _manifold(state: str, scene: Scene) -> float | None:
    return scene.at(state).air.map_shown if scene.engine.map_sensor else None


def _vacuum(state: str, scene: Scene) -> float:
    if state != "crank":
        return scene.at(state).air.vacuum
    hole = sum(diameter**2 for place, diameter in scene.engine.air.leaks if place != "charge")
    weakest = min(cylinder.compression_kpa for cylinder in scene.engine.cylinders) / 1225.0
    pumped = scene.at("crank").air.vacuum * math.sqrt(min(weakest, 1.0))
    return pumped / (1.0 + hole / 12.0 / scene.engine.litres)


def _warm_up(scene: Scene) -> float:
    """Return minutes from cold to 80 °C as the control unit sees them; 45 stands for not in sight."""
    cooling, hot = scene.engine.cooling, scene.at("load").coolant
    if min(hot.true, hot.shown) < 80.0:
        return NEVER_MINUTES
    colder = 1.0 + 0.012 * (20.0 - scene.engine.ambient_c)
    return min(cooling.minutes_to_80 * colder / (1.0 - 0.8 * cooling.thermostat_open), NEVER_MINUTES)


def _outside_thermometer(scene: Scene) -> float:
    return scene.at("idle").coolant.true - IR_BELOW_COOLANT


# -------------------------------------------------------------------------------------- gas


def _gas(part: str, state: str, scene: Scene) -> float:
    gas = scene.at(state).tailpipe
    return float(getattr(gas, part))


def _before_catalyst(scene: Scene) -> float | None:
    """Return CO ahead of the catalyst of the bank that makes more of it; a seized sensor bars the way."""
    if scene.chance.happens("seized-tapping", 0.25):
        return None
    return max(bank.at_sensor.co for bank in scene.at("2500").banks)


def _shell(bank: str, where: str, scene: Scene) -> float | None:
    found = scene.bank(bank, "2500")
    return None if found is None else (found.in_c if where == "in" else found.out_c)


def _back_pressure(bank: str, state: str, scene: Scene) -> float | None:
    if scene.chance.happens(f"seized-port-{bank}", 0.25):
        return None
    found = scene.bank(bank, state)
    return None if found is None else found.back_pressure


def _behind_catalyst(bank: str, scene: Scene) -> float | None:
    """Return the pressure behind the catalyst: what pipe and silencer of a free exhaust take."""
    found = scene.bank(bank, "2500")
    if found is None or scene.chance.happens(f"seized-port-{bank}", 0.25):
        return None
    return BEHIND_SHARE * PRESSURE_PER_FLOW * found.air * len(scene.engine.banks) / scene.engine.litres


# --------------------------------------------------------------------------- tests by trim


def _hose(hose: str, scene: Scene) -> float:
    """Return what pinching a hose does to the total trim at idle."""
    leaks = scene.engine.air.leaks
    if hose == "purge":
        return scene.trim_change(hose, scene.with_fuel(purge_leak_mm=0.0))
    shut = replace(scene.engine, air=replace(scene.engine.air, leaks=tuple(k for k in leaks if k[0] != hose)))
    if hose == "pcv":
        shut = replace(shut, fuel=replace(shut.fuel, oil_fuel_g_s=0.0))
    return scene.trim_change(hose, shut)


def _regulator_hose(scene: Scene) -> float:
    return scene.trim_change("regulator", scene.with_fuel(diaphragm_g_s=0.0))


def _sealed_intake(scene: Scene) -> float:
    return scene.trim_change("sealed", scene.without_leaks("charge"))


def _sealed_exhaust(scene: Scene) -> float:
    banks = tuple(replace(bank, exhaust_leak_mm=0.0) for bank in scene.engine.banks)
    return scene.trim_change("exhaust", replace(scene.engine, banks=banks))


def _good_meter(scene: Scene) -> float | None:
    """Return what a known-good air meter does to the total trim: the largest move of idle, 2500 and load."""
    if scene.facts.get("veh_air_metering") == "map":
        return None
    if scene.engine.metering != "maf":
        return 0.0
    changed = scene.with_air(meter_gain_low=1.0, meter_gain_high=1.0)
    return max((scene.trim_change_at(state, changed) for state in STATES), key=abs)


# --------------------------------------------------------------------- throttle, pedal, boost


def _track(track: str, end: str, scene: Scene) -> float:
    """Return the volts of a throttle track; both hang on the 5 V supply."""
    full = end == "wot"
    first = 4.40 if full else 0.60
    second = {"sum": 5.0 - first, "half": first / 2.0, "offset": first - 0.3}[scene.engine.air.tracks_design]
    volts = first if track == "a" else second + scene.engine.air.tracks_gap_v
    return min(max(volts, 0.0), 5.0) * scene.at("koeo").volts.ref5 / 5.0


def _pedal(track: str, end: str, scene: Scene) -> float:
    first = 4.00 if end == "full" else 0.75
    parts = scene.engine.electrics
    second = {"sum": 5.0 - first, "half": first / 2.0, "offset": first - 0.3}[parts.pedal_design]
    volts = first if track == "d" else second + parts.pedal_gap_v
    return min(max(volts, 0.0), 5.0) * scene.at("koeo").volts.ref5 / 5.0


def _command(scene: Scene) -> float:
    return scene.at("idle").air.throttle_cmd


def _command_gap(scene: Scene) -> float:
    air = scene.engine.air
    return 1.0 + 8.0 * air.tracks_dropout + 2.0 * max(0.0, air.plate_dirt - 0.3)


def _free_rev(scene: Scene) -> float:
    """Return the speed a free rev reaches: a control unit that limits power limits it."""
    if scene.severity("tps_track_disagree") >= 0.4 or scene.engine.electrics.ref5_v < 4.0:
        return 2200.0
    if scene.severity("pedal_track_disagree") >= 0.4:
        return 1900.0
    if scene.engine.electrics.reduced_power or scene.at("idle").coolant.true > 108.0:
        return 3000.0
    free = 5400.0 + scene.chance.normal("rev", 0.0, 150.0)
    worst = max(bank.exhaust_restriction for bank in scene.engine.banks)
    lean = scene.at("wot").banks[0].lambda_true
    return free / (1.0 + 0.06 * (worst - 1.0)) * (0.75 if lean > 1.1 else 1.0)


def _boost(which: str, scene: Scene) -> float | None:
    if scene.engine.induction == "na":
        return None
    air = scene.at("load").air
    return {"target": air.boost_target, "actual": air.boost_actual, "duty": air.wastegate_duty}[which]


def _table() -> dict[str, Take]:
    found: dict[str, Take] = {
        "rpm_crank": _crank_speed,
        "rpm_idle": _speed,
        "maf_peak": partial(_flow, "wot"),
        "rpm_at_maf_peak": lambda scene: scene.engine.peak_rpm,
        "baro_local": lambda scene: scene.at("koeo").air.baro,
        "ect_cold": lambda scene: scene.at("cold").coolant.shown,
        "ect_idle": lambda scene: scene.at("idle").coolant.shown,
        "ect_ir": _outside_thermometer,
        "ect_minutes_to_80": _warm_up,
        "iat_cold": lambda scene: scene.at("koeo").air.iat_shown,
        "iat_idle": lambda scene: scene.at("idle").air.iat_shown,
        "ambient": lambda scene: scene.engine.ambient_c,
        "trans_temp": lambda scene: scene.engine.cooling.transmission_c,
        "gas_co_precat_2500": _before_catalyst,
        "hose_pinch_reg_dtrim": _regulator_hose,
        "seal_leak_dtrim": _sealed_intake,
        "seal_exhaust_dtrim": _sealed_exhaust,
        "maf_swap_dtrim": _good_meter,
        "crankcase_kpa_idle": lambda scene: scene.at("idle").air.crankcase,
        "throttle_cmd_idle": _command,
        "throttle_err_max": _command_gap,
        "snap_max_rpm": _free_rev,
        "boost_target_load": partial(_boost, "target"),
        "boost_actual_load": partial(_boost, "actual"),
        "wg_duty_load": partial(_boost, "duty"),
        "knock_retard_load": lambda scene: scene.at("load").knock_retard,
        "cam_crank_err": lambda scene: scene.engine.air.cam_error_deg,
        "egr_cmd_idle": lambda scene: 0.0,
        "purge_duty_idle": lambda scene: scene.engine.fuel.purge_duty_idle,
    }
    for state in ("koeo", *STATES):
        found[f"maf_{state}"] = partial(_flow, state)
    for state in ("koeo", *STATES, "wot"):
        found[f"map_{state}"] = partial(_manifold, state)
    for state in ("idle", "2500", "crank"):
        found[f"vacuum_{state}"] = partial(_vacuum, state)
    for state in ("idle", "2500"):
        found[f"load_calc_{state}"] = partial(_load, state)
        for part in ("co", "co2", "o2", "hc", "no"):
            found[f"gas_{part}_{state}"] = partial(_gas, part, state)
        found[f"gas_lambda_{state}"] = partial(_gas, "lambda_", state)
    for hose in ("pcv", "booster", "purge"):
        found[f"pinch_{hose}_dtrim"] = partial(_hose, hose)
    for bank in ("b1", "b2"):
        found |= _of_bank(bank)
    for track in ("a", "b"):
        for end in ("closed", "wot"):
            found[f"tps_{track}_v_{end}"] = partial(_track, track, end)
    for track in ("d", "e"):
        for end in ("rest", "full"):
            found[f"pedal_{track}_v_{end}"] = partial(_pedal, track, end)
    return found


def _of_bank(bank: str) -> dict[str, Take]:
    found: dict[str, Take] = {
        f"bp_{bank}_behind_2500": partial(_behind_catalyst, bank),
        f"cat_in_c_{bank}": partial(_shell, bank, "in"),
        f"cat_out_c_{bank}": partial(_shell, bank, "out"),
    }
    for state in STATES:
        found[f"stft_{bank}_{state}"] = partial(_trim, bank, state, "stft")
        found[f"ltft_{bank}_{state}"] = partial(_trim, bank, state, "ltft")
    for state in ("idle", "2500"):
        found[f"bp_{bank}_{state}"] = partial(_back_pressure, bank, state)
    return found


TAKES: Mapping[str, Take] = _table()
"""How each of these readings is taken from a car; None where the car has it not."""
