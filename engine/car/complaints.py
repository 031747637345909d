"""What the customer says: the complaint a car's own state gives rise to, and when it shows."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from engine.car.scene import Scene
from engine.car.stored_codes import codes_of
from engine.measured import Answer

_BY_FAULT: Mapping[str, str] = {
    "thermostat_stuck_open": "slow_warmup",
    "tps_track_disagree": "reduced_power",
    "pedal_track_disagree": "reduced_power",
    "ref_5v_short": "reduced_power",
    "trans_derate": "reduced_power",
    "overheat_derate": "reduced_power",
    "throttle_dirty": "rough_idle",
}
"""What the driver notices first, whatever the numbers are."""
_WHEN: Mapping[str, tuple[str, ...]] = {
    "ect_reads_cold": ("hot_restart", "warm"),
    "purge_stuck_open": ("after_refuel", "idle"),
    "fuel_contaminated": ("after_refuel", "random"),
    "fuel_ethanol_excess": ("after_refuel", "cold"),
    "injector_leaking": ("hot_restart", "idle"),
    "fuel_pump_weak": ("full_load",),
    "fuel_filter_blocked": ("full_load",),
    "maf_under": ("full_load",),
    "air_filter_blocked": ("full_load",),
    "cat_blocked": ("full_load",),
    "boost_leak": ("full_load",),
    "overboost": ("full_load",),
    "vac_leak_small": ("idle",),
    "vac_leak_large": ("idle",),
    "vac_leak_gasket_bank": ("cold", "idle"),
    "pcv_stuck_open": ("idle",),
    "booster_leak": ("idle",),
    "egr_stuck_open": ("idle",),
    "throttle_dirty": ("idle",),
    "compression_low": ("idle",),
    "ign_plug": ("full_load", "wet"),
    "ign_coil": ("full_load", "wet"),
    "tps_track_disagree": ("tip_in",),
    "pedal_track_disagree": ("tip_in",),
    "thermostat_stuck_open": ("warming", "cruise"),
    "o2_heater_open": ("cold", "warming"),
    "o2_heater_supply": ("cold", "warming"),
    "trans_derate": ("full_load",),
    "overheat_derate": ("full_load",),
    "low_voltage": ("cold",),
}
LAMBDA_LEAST, LAMBDA_MOST, CO_IDLE, CO_FAST, HC_FAST = 0.97, 1.03, 0.3, 0.2, 100.0
"""Limits of the inspection of younger cars (Directive 2014/45/EU, from memory; local law decides)."""


def weights(scene: Scene) -> dict[str, float]:
    """Return how likely each complaint is, from what the engine does."""
    idle, cruise, pull = (scene.at(state) for state in ("idle", "2500", "load"))
    missing = 100.0 * max(*idle.misfires, 0.5 * max(pull.misfires))
    speed = abs(idle.rpm - scene.engine.idle_rpm) if idle.coolant.shown > 60.0 else 0.0
    gas = max(idle.tailpipe.co / 2.0, cruise.tailpipe.co)
    lean = max(max(bank.total, 100.0 * (bank.lambda_true - 1.02)) for s in (idle, cruise) for bank in s.banks)
    full = scene.at("wot")
    filled = full.air.total / (scene.engine.litres * (43.3 if scene.engine.induction == "na" else 73.7))
    filled *= 101.0 / full.air.baro
    stored = codes_of(scene).stored()
    found = {
        "rough_idle": min(missing / 6.0 + max(speed - 40.0, 0.0) / 40.0, 4.0),
        "rich": min(gas * 2.0, 4.0),
        "lean": min(max(lean - 8.0, 0.0) / 15.0, 1.5),
        "hesitation": min(
            max(0.90 - filled, 0.0) * 12.0 + max(full.banks[0].lambda_true - 0.96, 0.0) * 20.0, 4.0
        ),
        "emissions_fail": 1.2 if items_failed(scene) else 0.05,
        "lamp_only": 1.5 if stored else 0.05,
        "catalyst": 2.0 if any(code in ("P0420", "P0430") for code in stored) else 0.0,
        "o2_slow": 1.5 if any(code in ("P0133", "P0153") for code in stored) else 0.0,
        "o2_circuit": 2.0 if any(code.startswith(_CIRCUIT) for code in stored) else 0.0,
        "reduced_power": 3.0
        if scene.looks.get("reduced_power_shown") in ("both", "felt", "message")
        else 0.0,
        "slow_warmup": 1.0 if idle.coolant.true < 80.0 else 0.0,
    }
    for fault in scene.faults:
        if fault.fault in _BY_FAULT:
            found[_BY_FAULT[fault.fault]] += 3.0
    if not any(weight > 0.1 for weight in found.values()):
        found["hesitation"] = found["lamp_only"] = 0.3
    return found


_CIRCUIT = ("P0130", "P0131", "P0132", "P0134", "P0135", "P0136", "P0137", "P0138", "P0140", "P0141",
            "P015", "P016", "P219", "P227", "P223")  # fmt: skip


def items_failed(scene: Scene) -> tuple[str, ...]:
    """Return what an emissions test would fail the car for."""
    idle, fast = scene.at("idle").tailpipe, scene.at("2500").tailpipe
    stored = codes_of(scene).stored()
    tests = {
        "co_idle": idle.co > CO_IDLE,
        "co_fast": fast.co > CO_FAST,
        "hc_fast": fast.hc > HC_FAST,
        "lambda": not LAMBDA_LEAST <= fast.lambda_ <= LAMBDA_MOST,
        "lamp": bool(stored),
        "leak": any(bank.exhaust_leak_mm > 2.0 for bank in scene.engine.banks),
    }
    return tuple(sorted(item for item, failed in tests.items() if failed))


def complaint_of(scene: Scene) -> tuple[str, ...]:
    """Return the complaint and, behind it, when it shows."""
    said = scene.chance.weighed("complaint", weights(scene))
    when = [word for fault in scene.faults for word in _WHEN.get(fault.fault, ())]
    return (said, *(tuple(dict.fromkeys(when)) or ("random",)))


def _seen(scene: Scene) -> str:
    worst = max((fault.severity for fault in scene.faults), default=0.0)
    if not scene.faults or scene.faults[0].fault == "no_fault_found":
        return "no"
    return "yes" if worst >= 0.4 or scene.chance.happens("seen", 0.5) else "partly"


def _ride(scene: Scene) -> str:
    real = [fault for fault in scene.faults if fault.fault != "no_fault_found"]
    return "no" if real and max(fault.severity for fault in real) >= 0.3 else "yes"


def _monitors(scene: Scene) -> str:
    return "code_back" if codes_of(scene).stored() else "all_complete"


TAKES: Mapping[str, Callable[[Scene], Answer | None]] = {
    "complaint": lambda scene: scene.complaint[0],
    "complaint_condition": lambda scene: tuple(sorted(scene.complaint[1:])),
    "complaint_seen": _seen,
    "emis_fail_items": lambda scene: items_failed(scene) or None,
    "road_test_ok": _ride,
    "monitors_after": _monitors,
}
"""How each of these readings is taken from a car; None where the car has it not."""
