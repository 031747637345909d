"""Faults of fuel, its delivery and its vapours; fuel nobody ordered goes with the size of the engine."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from engine.car.faults.sensing import towards
from engine.car.hidden import Draft, HiddenFault


def _pump(draft: Draft, fault: HiddenFault) -> None:
    s, fuel = fault.severity, draft.engine.fuel
    binding = draft.chance.happens("pump-binds", 0.3)
    draft.fuel(
        pump_share=fuel.pump_share * towards(0.75, 0.27, s),
        pump_deadhead_kpa=towards(fuel.pump_deadhead_kpa, 1.1 * fuel.regulator_kpa, s),
        pump_amps=towards(fuel.pump_amps, 9.0 if binding else 3.6, s),
        hold_loss_kpa=towards(fuel.hold_loss_kpa, 90.0, s),
        hold_branch="supply_clamp",
    )


def _filter(draft: Draft, fault: HiddenFault) -> None:
    fuel = draft.engine.fuel
    draft.fuel(
        filter_kpa=towards(10.0, 380.0 * fuel.regulator_kpa / 300.0, fault.severity**1.5),
        pump_amps=towards(fuel.pump_amps, 7.2, fault.severity),
    )


def _pressure_high(draft: Draft, fault: HiddenFault) -> None:
    fuel = draft.engine.fuel
    draft.fuel(regulator_kpa=fuel.regulator_kpa * towards(1.03, 1.3, fault.severity))
    blocked = draft.engine.fuel_system == "port_return" and draft.chance.happens("return-blocked", 0.4)
    draft.looks["return_free"] = "blocked" if blocked else "free"


def _diaphragm(draft: Draft, fault: HiddenFault) -> None:
    s, fuel = fault.severity, draft.engine.fuel
    draft.fuel(
        diaphragm_g_s=0.055 * s * draft.engine.litres / 3.0,
        hold_loss_kpa=towards(fuel.hold_loss_kpa, 180.0, s),
        hold_branch="neither",
    )
    if s >= 0.6:
        draft.looks["oil_state"] = "over_smells_fuel"


def _drip(draft: Draft, fault: HiddenFault) -> None:
    s, fuel = fault.severity, draft.engine.fuel
    draft.cylinder(fault.cylinder or 1, drip_g_s=0.03 * s * draft.engine.litres / 3.0)
    draft.fuel(hold_loss_kpa=towards(fuel.hold_loss_kpa, 150.0, s), hold_branch="neither")
    draft.looks["plug_state"] = "fuel_wet"
    draft.looks["injector_swap_result"] = "bench_failed" if draft.chance.happens("bench", 0.4) else "followed"


def _clogged(draft: Draft, fault: HiddenFault) -> None:
    draft.cylinder(fault.cylinder or 1, injector_flow=towards(0.95, 0.70, fault.severity))
    draft.looks["injector_swap_result"] = "bench_failed" if draft.chance.happens("bench", 0.4) else "followed"


def _purge(draft: Draft, fault: HiddenFault) -> None:
    loaded = draft.chance.happens("canister-loaded", 0.6)
    draft.fuel(
        purge_leak_mm=1.6 * math.sqrt(fault.severity * draft.engine.litres / 3.0),
        vapour_share=0.145 if loaded else 0.0,
    )
    if loaded and draft.chance.happens("purge-refuel", 0.6):
        draft.events.append("refuel")


def _contaminated(draft: Draft, fault: HiddenFault) -> None:
    s, kind = fault.severity, draft.chance.weighed("bad-fuel", {"water": 50, "diesel": 30, "stale": 20})
    draft.fuel(burnable=towards(1.0, 0.90, s), miss_by_fuel=0.08 * s)
    draft.looks["fuel_sample"] = {"water": "water_layer", "diesel": "diesel_smell", "stale": "stale"}[kind]
    draft.events.append("long_storage" if kind == "stale" else "refuel")


def _ethanol(draft: Draft, fault: HiddenFault) -> None:
    draft.fuel(ethanol_pct=float(round(towards(10.0, 48.0, fault.severity))))
    draft.events.append("refuel")


def _diluted_oil(draft: Draft, fault: HiddenFault) -> None:
    draft.fuel(oil_fuel_g_s=0.03 * fault.severity * draft.engine.litres / 3.0)
    if fault.severity >= 0.3:
        draft.looks["oil_state"] = "over_smells_fuel"
    draft.events.append("short_trips")


CHANGES: Mapping[str, Callable[[Draft, HiddenFault], None]] = {
    "fuel_pump_weak": _pump,
    "fuel_filter_blocked": _filter,
    "fuel_reg_high": _pressure_high,
    "fuel_reg_diaphragm": _diaphragm,
    "injector_leaking": _drip,
    "injector_clogged": _clogged,
    "purge_stuck_open": _purge,
    "fuel_contaminated": _contaminated,
    "fuel_ethanol_excess": _ethanol,
    "oil_fuel_diluted": _diluted_oil,
}
