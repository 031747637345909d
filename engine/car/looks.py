"""Readings that are looked at, listened to or tried: choices, worked out from the car's state."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from engine.car.scene import Scene
from engine.car.supply_readings import ripple_kind
from engine.measured import Answer

Take = Callable[[Scene], Answer | None]
MISSES = 1.5
"""Share of missed cycles, %, from which a cylinder is called missing."""


def _fixed(answer: Answer) -> Take:
    return lambda scene: answer


def _seen(reading: str, sound: Answer) -> Take:
    return lambda scene: scene.look(reading, sound)


def _rough(scene: Scene) -> tuple[float, int]:
    """Return the worst cylinder of idle and load: missed share in %, number."""
    return max(scene.rate("idle"), scene.rate("load"))


def misses_at_random(scene: Scene) -> bool:
    """Tell whether the missed cycles go round the cylinders of the engine or of a bank."""
    for state in ("idle", "load"):
        missed = sorted((100.0 * share for share in scene.at(state).misfires), reverse=True)
        if missed[0] >= MISSES and missed[1] > 0.5 * missed[0]:
            return True
    return False


def _cylinder(scene: Scene) -> str:
    share, number = _rough(scene)
    if share < MISSES:
        return "none"
    return "random" if misses_at_random(scene) else str(number)


def _misfire_side(scene: Scene) -> str:
    share, number = _rough(scene)
    if share < MISSES or misses_at_random(scene):
        return "unknown"
    return f"b{scene.engine.bank_of(number) + 1}"


def _follows(reading: str, scene: Scene) -> str:
    found = scene.looks.get(reading)
    if isinstance(found, str):
        return found
    return "no" if _rough(scene)[0] >= MISSES else "not_done"


def _injector_swap(scene: Scene) -> str:
    found = scene.looks.get("injector_swap_result")
    return found if isinstance(found, str) else "stayed"


def _spark(scene: Scene) -> str:
    found = scene.looks.get("spark_test")
    return found if isinstance(found, str) else "strong"


def _plug(scene: Scene) -> str:
    if scene.chance.happens("plug-stuck", 0.05):
        return "not_removed"
    found = scene.looks.get("plug_state")
    if isinstance(found, str):
        return found
    return "sooty" if min(bank.lambda_true for bank in scene.at("2500").banks) < 0.9 else "tan"


def _needle(scene: Scene) -> str:
    idle, cruise = scene.at("idle").air, scene.at("2500").air
    missed = [100.0 * share for share in scene.at("idle").misfires]
    weakest = min(c.compression_kpa for c in scene.engine.cylinders)
    strongest = max(c.compression_kpa for c in scene.engine.cylinders)
    if cruise.vacuum < idle.vacuum - 5.0:
        return "falls_at_2500"
    if max(missed) >= 12.0 or weakest < 0.7 * strongest:
        return "random_flick" if misses_at_random(scene) else "regular_flick"
    if max(missed) >= 4.0:
        return "random_flick"
    return "low_steady" if idle.vacuum < 58.0 - (101.0 - idle.baro) else "steady"


def _fan(scene: Scene) -> str:
    warm = scene.at("idle").coolant
    if not scene.engine.cooling.fan_works:
        return "never"
    if warm.shown < 60.0 <= warm.true:
        return "always" if scene.chance.happens("fan-failsafe", 0.5) else "never"
    return "not_reached" if warm.true < 84.0 else "runs"


def _five_volts_back(scene: Scene) -> str:
    if scene.at("koeo").volts.ref5 >= 4.75:
        return "not_needed"
    found = scene.looks.get("ref5v_unplug_recovers")
    return found if isinstance(found, str) else "yes_sensor"


def _plate(scene: Scene) -> str:
    dirt = scene.engine.air.plate_dirt
    return "heavy_ring" if dirt > 0.3 else ("light_film" if dirt > 0.13 else "clean")


def _filter(scene: Scene) -> str:
    loss = scene.engine.air.filter_kpa
    return "blocked" if loss > 9.0 else ("dirty" if loss > 4.5 else "clean")


def _smoke_colour(scene: Scene) -> str:
    if any(bank.lambda_true < 0.90 for state in ("idle", "2500") for bank in scene.at(state).banks):
        return "black"
    found = scene.looks.get("smoke_colour")
    return found if isinstance(found, str) else "none"


def _smell(scene: Scene) -> str:
    gas = scene.at("idle").tailpipe
    if gas.co > 2.5 or gas.hc > 500.0:
        return "raw_fuel"
    return "rotten_egg" if gas.co > 0.5 else "none"


# ------------------------------------------------------------------------------------- leaks


def _places(scene: Scene) -> list[str]:
    return [place for place, diameter in sorted(scene.engine.air.leaks, key=lambda leak: -leak[1])]


def _smoke_intake(scene: Scene) -> str:
    words = {
        "pcv": "leak_pcv",
        "booster": "leak_booster",
        "after_meter": "leak_duct",
        "manifold": "leak_other",
    }
    for place in _places(scene):
        if place != "charge":
            return words.get(place, f"leak_{place}")
    return "tight"


def _listening(scene: Scene) -> str:
    """Return what a tube at the ear finds: small holes hiss too softly."""
    for place, diameter in scene.engine.air.leaks:
        if place != "charge" and diameter > 0.8:
            return {"manifold": "hose", "after_meter": "hose"}.get(place, place)
    return "none"


def _smoke_exhaust(scene: Scene) -> str:
    return "leak_pre_s1" if any(bank.exhaust_leak_mm > 0.4 for bank in scene.engine.banks) else "tight"


def _smoke_charge(scene: Scene) -> str | None:
    if scene.engine.induction == "na":
        return None
    return "leak" if "charge" in _places(scene) else "tight"


def _in_cabin(scene: Scene) -> str:
    leaks = scene.severity("exh_leak_pre_sensor") > 0.7 and scene.chance.happens("cabin", 0.15)
    return "yes" if leaks else "no"


def _wastegate(scene: Scene) -> Answer | None:
    if scene.engine.induction == "na":
        return None
    return scene.look("wg_mech", "moves_holds")


def _regulator_hose(scene: Scene) -> str:
    if scene.engine.fuel_system != "port_return":
        return "none_fitted"
    return "wet_fuel" if scene.engine.fuel.diaphragm_g_s > 0.0 else "dry"


def _leak_branch(scene: Scene) -> str:
    return scene.engine.fuel.hold_branch if scene.engine.fuel.hold_loss_kpa > 40.0 else "not_done"


def _leakdown_path(scene: Scene) -> str:
    return max(scene.engine.cylinders, key=lambda cylinder: cylinder.leakdown_pct).leakdown_path


def _egr_blanked(scene: Scene) -> str | None:
    if scene.facts.get("veh_egr") != "external":
        return None
    return "idle_smooths" if scene.engine.air.egr_share_idle > 0.05 else "no_change"


def _contact(scene: Scene) -> str:
    return "contact" if scene.facts.get("kit_temp_tool") == "contact" else "matt_spot"


def _design(which: str, scene: Scene) -> str:
    return scene.engine.air.tracks_design if which == "tps" else scene.engine.electrics.pedal_design


def _sweep(which: str, scene: Scene) -> str:
    bad = scene.engine.air.tracks_dropout if which == "tps" else scene.engine.electrics.pedal_dropout
    return "drop-out near the start" if bad else "no step, no drop-out"


def _loop(bank: str, state: str, scene: Scene) -> str | None:
    found = scene.bank(bank, state)
    return None if found is None else found.loop


def _power(scene: Scene) -> str:
    """Return whether power is held back: by the control unit, or because the engine starves or chokes."""
    found = scene.looks.get("reduced_power_shown")
    if isinstance(found, str):
        return found
    boost = scene.at("load").air
    lost = boost.boost_actual < boost.boost_target - 20.0 or boost.boost_actual > boost.boost_target + 25.0
    return "felt" if scene.engine.induction != "na" and lost else "none"


TAKES: Mapping[str, Take] = {
    "scene_safe": _fixed("safe"),
    "fuel_leak_seen": _fixed("none"),
    "exhaust_in_cabin": _in_cabin,
    "engine_temp_state": lambda scene: scene.chance.weighed("found", {"cold": 35, "warm": 30, "hot": 35}),
    "recent_event": lambda scene: tuple(sorted(scene.events)) or ("none",),
    "reduced_power_shown": _power,
    "vacuum_needle": _needle,
    "ect_ir_how": _contact,
    "fan_hot_state": _fan,
    "substitute_resistor_effect": _seen("substitute_resistor_effect", "reads_right"),
    "intake_resistor_effect": _seen("intake_resistor_effect", "reads_right"),
    "radiator_warms": _seen("radiator_warms", "when_hot"),
    "trans_codes": _seen("trans_codes", "no"),
    "ref5v_unplug_recovers": _five_volts_back,
    "ref_bridge_effect": _seen("ref_bridge_effect", "no_change"),
    "tps_design": partial(_design, "tps"),
    "pedal_design": partial(_design, "pedal"),
    "tps_sweep_trace": partial(_sweep, "tps"),
    "pedal_sweep_trace": partial(_sweep, "pedal"),
    "throttle_plate": _plate,
    "brake_pedal_firm": _seen("brake_pedal_firm", "firm"),
    "brake_switch_agree": _fixed("agree"),
    "air_filter_state": _filter,
    "visual_intake": _seen("visual_intake", ("ok",)),
    "visual_exhaust": _seen("visual_exhaust", ("ok",)),
    "visual_wiring": _seen("visual_wiring", ("ok",)),
    "oil_state": _seen("oil_state", "ok"),
    "coolant_state": _seen("coolant_state", "ok"),
    "smoke_colour": _smoke_colour,
    "tail_smell": _smell,
    "fuelp_leak_branch": _leak_branch,
    "fuel_reg_hose": _regulator_hose,
    "return_free": _seen("return_free", "free"),
    "fuel_sample": _seen("fuel_sample", "clear"),
    "injector_swap_result": _injector_swap,
    "gas_probe_valid": _fixed("yes"),
    "cat_tap": _seen("cat_tap", "silent"),
    "smoke_intake": _smoke_intake,
    "smoke_exhaust": _smoke_exhaust,
    "smoke_charge": _smoke_charge,
    "smoke_evap": lambda scene: "purge_passes" if scene.engine.fuel.purge_leak_mm > 0.0 else "tight",
    "leak_listen": _listening,
    "purge_flow_at_0": lambda scene: "flow" if scene.engine.fuel.purge_leak_mm > 0.3 else "none",
    "egr_block_effect": _egr_blanked,
    "misfire_cyl": _cylinder,
    "misfire_side": _misfire_side,
    "spark_test": _spark,
    "coil_swap_follows": partial(_follows, "coil_swap_follows"),
    "plug_swap_follows": partial(_follows, "plug_swap_follows"),
    "plug_state": _plug,
    "leakdown_path": _leakdown_path,
    "heater_fuse": _seen("heater_fuse", "ok"),
    "charge_ripple_kind": ripple_kind,
    "wiggle_effect": _seen("wiggle_effect", "none"),
    "wg_mech": _wastegate,
    "ign_trace": _fixed("recorded"),
    "maf_snap_trace": _fixed("recorded"),
    "fuelp_load_trace": _fixed("recorded"),
    **{
        f"loop_{bank}_{state}": partial(_loop, bank, state)
        for bank in ("b1", "b2")
        for state in ("cold", "idle", "2500")
    },
}
"""How each of these readings is taken from a car; None where the car has it not."""
