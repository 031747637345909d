"""Faults of battery, charging, supplies, grounds and control unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from engine.car.faults.sensing import towards
from engine.car.hidden import Draft, HiddenFault


def _five_volts(draft: Draft, fault: HiddenFault) -> None:
    draft.electrics(ref5_v=towards(4.6, 1.8, fault.severity))
    draft.looks["ref5v_unplug_recovers"] = (
        "yes_sensor" if draft.chance.happens("five-sensor", 0.6) else "yes_harness"
    )
    draft.looks["reduced_power_shown"] = "both"


def _low_voltage(draft: Draft, fault: HiddenFault) -> None:
    s, parts = fault.severity, draft.engine.electrics
    kind = draft.chance.weighed("volts", {"charging": 60, "battery": 40})
    if kind == "charging" or s >= 0.9:
        draft.electrics(
            battery_rest_v=towards(12.1, 11.7, s),
            battery_mohm=towards(parts.battery_mohm, 19.0, s),
            charge_v=towards(13.1, 12.2, s),
            ripple_mv=towards(parts.ripple_mv, 650.0, s),
        )
    else:
        draft.electrics(battery_rest_v=towards(12.0, 11.6, s), battery_mohm=towards(15.0, 24.0, s))


def _ground(draft: Draft, fault: HiddenFault) -> None:
    s, parts = fault.severity, draft.engine.electrics
    draft.electrics(
        engine_ground_ohm=towards(parts.engine_ground_ohm, 0.62 / 30.0, s),
        ecu_ground_ohm=towards(parts.ecu_ground_ohm, 0.48 / 3.0, s),
    )
    draft.looks["ref_bridge_effect"] = "corrects"
    if draft.chance.happens("strap-seen", 0.5):
        draft.look("visual_wiring", "corroded")


def _control_unit(draft: Draft, fault: HiddenFault) -> None:
    draft.sensor("b1s1", input_good=False)
    draft.codes.append("P0130")


CHANGES: Mapping[str, Callable[[Draft, HiddenFault], None]] = {
    "ref_5v_short": _five_volts,
    "low_voltage": _low_voltage,
    "bad_ground": _ground,
    "ecu_suspected": _control_unit,
}
