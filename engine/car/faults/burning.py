"""Faults of ignition, engine, temperatures and catalyst."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Literal

from engine.car.faults.sensing import towards
from engine.car.hidden import Draft, HiddenFault, bank_index

_Path = Literal["intake", "exhaust", "crankcase", "coolant"]


def _coil(draft: Draft, fault: HiddenFault) -> None:
    s, cylinder = fault.severity, fault.cylinder or 1
    draft.cylinder(
        cylinder,
        spark_miss_idle=0.60 * s,
        spark_miss_2500=0.42 * s,
        spark_miss_load=0.70 * s,
        spark_kv=towards(9.0, 5.0, s),
        spark_kv_snap=towards(16.0, 8.0, s),
    )
    draft.looks["coil_swap_follows"] = "yes"
    draft.looks["spark_test"] = "weak" if s < 0.95 or draft.chance.happens("spark", 0.6) else "none"
    if s >= 0.6 and draft.chance.happens("coil-code", 0.35):
        draft.codes.append(f"P03{50 + cylinder:02d}")


def _plug(draft: Draft, fault: HiddenFault) -> None:
    s = fault.severity
    draft.cylinder(
        fault.cylinder or 1,
        spark_miss_idle=0.18 * s,
        spark_miss_2500=0.15 * s,
        spark_miss_load=0.50 * s,
        spark_kv=towards(9.0, 18.0, s),
        spark_kv_snap=towards(16.0, 31.0, s),
    )
    draft.looks["plug_swap_follows"] = "yes"
    draft.looks["plug_state"] = draft.chance.one_of("plug", ("worn_gap", "worn_gap", "cracked_tracked"))
    draft.looks["odometer_km"] = round(draft.chance.between("plug-km", 60_000, 220_000), -1)


def _compression(draft: Draft, fault: HiddenFault) -> None:
    s = fault.severity
    path: _Path = draft.chance.weighed(
        "compression", {"exhaust": 40, "intake": 20, "crankcase": 30, "coolant": 10}
    )
    draft.cylinder(
        fault.cylinder or 1,
        compression_kpa=towards(1050.0, 520.0, s),
        wet_gain_kpa=towards(60.0, 450.0, s) if path == "crankcase" else 60.0,
        leakdown_pct=towards(18.0, 65.0, s),
        leakdown_path=path,
    )
    if path == "coolant":
        draft.looks["coolant_state"] = "low"
    if path == "crankcase" and s >= 0.5:
        draft.looks["plug_state"] = "oily"


def _timing(draft: Draft, fault: HiddenFault) -> None:
    draft.air(cam_error_deg=14.0 * fault.severity)
    loss = 290.0 * fault.severity
    for place, cylinder in enumerate(draft.engine.cylinders, start=1):
        draft.cylinder(place, compression_kpa=cylinder.compression_kpa - loss)


def _coolant_sensor(draft: Draft, fault: HiddenFault) -> None:
    s = fault.severity
    if draft.chance.happens("coolant-wire", 0.25):
        draft.cooling(sensor_series_ohm=2300.0 * s)
        draft.looks["substitute_resistor_effect"] = "no_change"
        draft.look("visual_wiring", "corroded")
    else:
        draft.cooling(sensor_factor=towards(1.3, 10.0, s))
        draft.looks["substitute_resistor_effect"] = "reads_right"


def _thermostat(draft: Draft, fault: HiddenFault) -> None:
    draft.cooling(thermostat_open=fault.severity)
    draft.looks["radiator_warms"] = "from_start"


def _intake_sensor(draft: Draft, fault: HiddenFault) -> None:
    s = fault.severity
    if draft.chance.happens("intake-wire", 0.4):
        draft.air(iat_series_ohm=25_000.0 * s * s)
        draft.looks["intake_resistor_effect"] = "no_change"
    else:
        draft.air(iat_factor=towards(1.4, 11.0, s * s))
        draft.looks["intake_resistor_effect"] = "reads_right"


def _worn(draft: Draft, fault: HiddenFault) -> None:
    s, catalyst = fault.severity, draft.engine.banks[bank_index(fault.side)].catalyst
    draft.catalyst(fault.side, active=towards(catalyst.active, 0.35, s), store_g=towards(0.024, 0.008, s))
    draft.looks["odometer_km"] = round(draft.chance.between("cat-km", 120_000, 300_000), -1)


def _sooted(draft: Draft, fault: HiddenFault) -> None:
    draft.catalyst(fault.side, soot=towards(0.7, 0.9, fault.severity))
    draft.looks["plug_state"] = "sooty"
    draft.events.append("driven_misfiring")


def _hot(draft: Draft, fault: HiddenFault) -> None:
    s = fault.severity
    draft.cooling(overheat_k=towards(14.0, 25.0, s), fan_works=False)
    draft.looks["reduced_power_shown"] = "both" if s >= 0.6 else "felt"
    if draft.chance.happens("coolant-low", 0.6):
        draft.looks["coolant_state"] = "low"
    draft.events.append("overheated")


def _gearbox(draft: Draft, fault: HiddenFault) -> None:
    draft.cooling(transmission_c=towards(115.0, 134.0, fault.severity))
    draft.electrics(reduced_power=True)
    draft.looks["trans_codes"] = "yes"
    draft.looks["reduced_power_shown"] = "both" if fault.severity >= 0.5 else "felt"
    draft.codes.append("P0700")
    if fault.severity >= 0.5:
        draft.codes.append("P0218")


def _nothing(draft: Draft, fault: HiddenFault) -> None:
    draft.events.append(draft.chance.one_of("nothing", ("refuel", "battery_off", "service")))


CHANGES: Mapping[str, Callable[[Draft, HiddenFault], None]] = {
    "ign_coil": _coil,
    "ign_plug": _plug,
    "compression_low": _compression,
    "cam_crank_correlation": _timing,
    "ect_reads_cold": _coolant_sensor,
    "thermostat_stuck_open": _thermostat,
    "iat_wrong": _intake_sensor,
    "cat_worn": _worn,
    "cat_sooted": _sooted,
    "overheat_derate": _hot,
    "trans_derate": _gearbox,
    "no_fault_found": _nothing,
}
