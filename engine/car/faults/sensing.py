"""Faults of oxygen sensors, their heaters and their wires.

Time constants, shares and offsets at severity 1 are chosen so that a scope shows what the trade calls gross.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from engine.car.hidden import Draft, HiddenFault, places, sensor_at

BURNT_OUT = 1e6
"""Ohm: an open heater or feed."""


def towards(sound: float, gross: float, severity: float) -> float:
    """Return a parameter between its sound and its gross value."""
    return sound + (gross - sound) * severity


def _at(fault: HiddenFault) -> str:
    return fault.side or "b1s1"


def _slow(draft: Draft, fault: HiddenFault, rise: float, fall: float, layer: float, gain: float) -> None:
    s, sound = fault.severity, sensor_at(draft.engine, _at(fault))
    draft.sensor(
        _at(fault),
        rise_s=towards(sound.rise_s, rise, s),
        fall_s=towards(sound.fall_s, fall, s),
        diffusion_s=towards(sound.diffusion_s, layer, s),
        gain=towards(sound.gain, gain, s),
    )


def _lazy(draft: Draft, fault: HiddenFault) -> None:
    _slow(draft, fault, 0.58, 0.45, 0.5, 0.85)
    draft.looks["odometer_km"] = round(draft.chance.between("lazy-km", 110_000, 260_000), -1)


def _stuck_lean(draft: Draft, fault: HiddenFault) -> None:
    s = fault.severity
    draft.sensor(_at(fault), gain=towards(0.25, 0.10, s), centre_v=towards(0.20, 0.08, s))


def _stuck_rich(draft: Draft, fault: HiddenFault) -> None:
    s = fault.severity
    draft.sensor(_at(fault), gain=towards(0.25, 0.10, s), centre_v=towards(0.70, 0.83, s))


def _biased(draft: Draft, fault: HiddenFault) -> None:
    sign = 1.0 if fault.direction == "reads_rich" else -1.0
    draft.sensor(_at(fault), shift=sign * 0.03 * fault.severity)


def _silicone(draft: Draft, fault: HiddenFault) -> None:
    _slow(draft, fault, 0.24, 0.46, 0.34, 0.88)
    sound = sensor_at(draft.engine, _at(fault))
    draft.sensor(_at(fault), shift=0.035 * fault.severity, centre_v=sound.centre_v + 0.05 * fault.severity)
    if fault.severity >= 0.4:
        draft.looks[f"o2_tip_{_at(fault)}"] = "white_grain"
    if draft.chance.happens("silicone-coolant", 0.25):
        draft.looks["coolant_state"] = "low"
    else:
        draft.events.append("sealant_used")


def _ash(draft: Draft, fault: HiddenFault) -> None:
    _slow(draft, fault, 0.33, 0.27, 0.36, 0.74)
    draft.sensor(_at(fault), shift=-0.016 * fault.severity, centre_v=0.43)
    coolant = draft.chance.happens("ash-coolant", 0.25)
    if fault.severity >= 0.4:
        draft.looks[f"o2_tip_{_at(fault)}"] = "white_glaze" if coolant else "brown_ash"
    draft.looks["coolant_state" if coolant else "oil_state"] = "low"
    if fault.severity >= 0.5:
        draft.looks["smoke_colour"] = "white" if coolant else "blue"
    _coat(draft, fault)


def _additive(draft: Draft, fault: HiddenFault) -> None:
    _slow(draft, fault, 0.40, 0.26, 0.36, 0.68)
    draft.sensor(_at(fault), shift=-0.03 * fault.severity, centre_v=towards(0.45, 0.36, fault.severity))
    if fault.severity >= 0.4:
        lead = draft.chance.happens("lead", 0.4)
        draft.looks[f"o2_tip_{_at(fault)}"] = "shiny_lead" if lead else "red_orange"
    draft.events.append("additive_used")
    _coat(draft, fault)


def _coat(draft: Draft, fault: HiddenFault) -> None:
    """What coats the sensor coats the catalyst behind it: it stores about a fifth, gross."""
    catalyst = draft.engine.banks[1 if _at(fault).startswith("b2") else 0].catalyst
    draft.catalyst(
        _at(fault),
        store_g=catalyst.store_g * towards(1.0, 0.22, fault.severity),
        active=catalyst.active * towards(1.0, 0.7, fault.severity),
    )


def _down(draft: Draft, fault: HiddenFault) -> None:
    s, kind = fault.severity, draft.chance.weighed("down", {"dead": 60, "open": 20, "slow": 20})
    side = fault.side or "b1s2"
    if kind == "dead" or s >= 0.9:
        draft.sensor(side, gain=towards(0.22, 0.05, s), centre_v=0.45)
    elif kind == "open":
        draft.sensor(side, signal="open", short_inside=True)
    else:
        draft.sensor(side, gain=towards(0.5, 0.2, s), rise_s=3.0 * s, fall_s=3.0 * s, centre_v=0.45)


def _heater(draft: Draft, fault: HiddenFault) -> None:
    draft.sensor(_at(fault), heater_ohms=BURNT_OUT)


def _heater_supply(draft: Draft, fault: HiddenFault) -> None:
    if fault.side is not None:
        draft.sensor(fault.side, heater_driven=False)
        return
    draft.electrics(heater_feed_ohm=BURNT_OUT)
    draft.looks["heater_fuse"] = "blown"
    if draft.chance.happens("fuse-loom", 0.5):
        draft.look("visual_wiring", draft.chance.one_of("fuse-loom-look", ("melted", "chafed")))


def _seen_on_loom(draft: Draft, fault: HiddenFault, words: tuple[str, ...]) -> None:
    if draft.chance.happens(f"{fault.fault}-seen", 0.5):
        draft.look("visual_wiring", draft.chance.one_of(f"{fault.fault}-look", words))
    if draft.chance.happens(f"{fault.fault}-wiggle", 0.3):
        draft.looks["wiggle_effect"] = "jumps"


def _short_ground(draft: Draft, fault: HiddenFault) -> None:
    draft.sensor(_at(fault), signal="short_ground")
    _seen_on_loom(draft, fault, ("chafed", "melted"))


def _short_supply(draft: Draft, fault: HiddenFault) -> None:
    inside = draft.chance.happens("short-inside", 0.4)
    draft.sensor(
        _at(fault), signal="short_supply", short_inside=inside, insulation_kohm=0.5 if inside else 20_000.0
    )
    if not inside:
        _seen_on_loom(draft, fault, ("chafed", "melted"))


def _open(draft: Draft, fault: HiddenFault) -> None:
    draft.sensor(_at(fault), signal="open")
    _seen_on_loom(draft, fault, ("pin_back", "corroded", "chafed"))


def _offset(draft: Draft, fault: HiddenFault) -> None:
    for number, place in enumerate(places(draft.engine)):
        draft.sensor(place, ground_offset_v=(0.30 - 0.01 * number) * fault.severity)
    draft.electrics(engine_ground_ohm=draft.engine.electrics.engine_ground_ohm + 0.0095 * fault.severity)
    draft.looks["ref_bridge_effect"] = "corrects"


def _swapped(draft: Draft, fault: HiddenFault) -> None:
    draft.engine = replace(draft.engine, upstream_crossed=True)
    draft.events.append(draft.chance.one_of("swapped-event", ("sensor_fitted", "exhaust_work")))


CHANGES: Mapping[str, Callable[[Draft, HiddenFault], None]] = {
    "o2_up_lazy": _lazy,
    "o2_up_stuck_lean": _stuck_lean,
    "o2_up_stuck_rich": _stuck_rich,
    "o2_up_biased": _biased,
    "o2_up_contam_silicone": _silicone,
    "o2_up_contam_ash": _ash,
    "o2_up_contam_additive": _additive,
    "o2_down_faulty": _down,
    "o2_heater_open": _heater,
    "o2_heater_supply": _heater_supply,
    "o2_sig_short_gnd": _short_ground,
    "o2_sig_short_pwr": _short_supply,
    "o2_sig_open": _open,
    "o2_ground_offset": _offset,
    "o2_swapped_banks": _swapped,
}
