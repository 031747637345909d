"""Faults of intake, air count, throttle, exhaust flow and boost.

Holes are for an engine of 3 L; a smaller engine has smaller hoses, so their area goes with its displacement.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from engine.car.faults.sensing import towards
from engine.car.hidden import Draft, HiddenFault, bank_index
from engine.car.parameters import LeakPlace


def _hole(draft: Draft, fault: HiddenFault, place: LeakPlace, gross_mm: float) -> None:
    """Open a hole: its area goes with the severity and with the engine."""
    size = gross_mm * math.sqrt(fault.severity * draft.engine.litres / 3.0)
    draft.air(leaks=(*draft.engine.air.leaks, (place, size)))


def _leak_small(draft: Draft, fault: HiddenFault) -> None:
    _hole(draft, fault, "manifold", 2.0)
    if draft.chance.happens("small-seen", 0.3 * fault.severity):
        draft.look("visual_intake", "hose_split")


def _leak_large(draft: Draft, fault: HiddenFault) -> None:
    _hole(draft, fault, "manifold", 3.1)
    if draft.chance.happens("large-seen", 0.75):
        draft.look("visual_intake", "hose_off" if fault.severity > 0.6 else "hose_split")


def _gasket(draft: Draft, fault: HiddenFault) -> None:
    _hole(draft, fault, "gasket_b2" if bank_index(fault.side) else "gasket_b1", 1.83)


def _pcv(draft: Draft, fault: HiddenFault) -> None:
    _hole(draft, fault, "pcv", 2.45)


def _booster(draft: Draft, fault: HiddenFault) -> None:
    _hole(draft, fault, "booster", 1.9)
    if fault.severity > 0.7:
        draft.looks["brake_pedal_firm"] = "hard_no_assist"


def _exhaust_leak(draft: Draft, fault: HiddenFault) -> None:
    draft.bank(fault.side, exhaust_leak_mm=3.0 * math.sqrt(fault.severity * draft.engine.litres / 3.0))
    if draft.chance.happens("exhaust-seen", 0.4 + 0.5 * fault.severity):
        draft.look("visual_exhaust", draft.chance.one_of("exhaust-look", ("soot_at_joint", "blowing")))


def _meter_under(draft: Draft, fault: HiddenFault) -> None:
    s, air = fault.severity, draft.engine.air
    draft.air(
        meter_gain_low=air.meter_gain_low * towards(1.0, 1.0, s),
        meter_gain_high=air.meter_gain_high * towards(1.0, 0.82, s),
    )


def _meter_over(draft: Draft, fault: HiddenFault) -> None:
    s, air = fault.severity, draft.engine.air
    draft.air(
        meter_gain_low=air.meter_gain_low * towards(1.0, 1.08, s),
        meter_gain_high=air.meter_gain_high * towards(1.0, 1.13, s),
    )


def _map_sensor(draft: Draft, fault: HiddenFault) -> None:
    gross = -6.0 if fault.direction == "reads_low" else 7.0
    draft.air(map_offset_kpa=draft.engine.air.map_offset_kpa + gross * fault.severity)


def _filter(draft: Draft, fault: HiddenFault) -> None:
    draft.air(filter_kpa=towards(draft.engine.air.filter_kpa, 28.0, fault.severity))


def _throttle_dirt(draft: Draft, fault: HiddenFault) -> None:
    draft.air(plate_dirt=towards(0.15, 0.66, fault.severity))


def _throttle_tracks(draft: Draft, fault: HiddenFault) -> None:
    draft.air(tracks_gap_v=-0.68 * fault.severity, tracks_dropout=fault.severity >= 0.4)
    draft.looks["reduced_power_shown"] = "both" if fault.severity >= 0.5 else "message"


def _pedal_tracks(draft: Draft, fault: HiddenFault) -> None:
    draft.electrics(pedal_gap_v=0.25 * fault.severity, pedal_dropout=fault.severity >= 0.4)
    draft.looks["reduced_power_shown"] = "both" if fault.severity >= 0.5 else "message"


def _egr(draft: Draft, fault: HiddenFault) -> None:
    draft.air(egr_share_idle=0.30 * fault.severity)


def _blocked(draft: Draft, fault: HiddenFault) -> None:
    gross = 8.0
    draft.bank(fault.side, exhaust_restriction=towards(1.5, gross, fault.severity))
    if draft.chance.happens("cat-rattles", 0.5):
        draft.looks["cat_tap"] = "rattles"
        draft.look("visual_exhaust", "rattle")
    if fault.severity > 0.8 and draft.chance.happens("cat-glows", 0.3):
        draft.look("visual_exhaust", "glowing")


def _boost_leak(draft: Draft, fault: HiddenFault) -> None:
    _hole(draft, fault, "charge", 8.2)
    if draft.chance.happens("boost-seen", 0.4):
        draft.look("visual_intake", draft.chance.one_of("boost-look", ("oil_wet", "clamp_loose")))


def _overboost(draft: Draft, fault: HiddenFault) -> None:
    draft.air(wastegate_stuck=fault.severity)
    draft.looks["wg_mech"] = "leaks" if draft.chance.happens("actuator-leaks", 0.4) else "stuck"


CHANGES: Mapping[str, Callable[[Draft, HiddenFault], None]] = {
    "exh_leak_pre_sensor": _exhaust_leak,
    "vac_leak_small": _leak_small,
    "vac_leak_large": _leak_large,
    "vac_leak_gasket_bank": _gasket,
    "pcv_stuck_open": _pcv,
    "booster_leak": _booster,
    "maf_under": _meter_under,
    "maf_over": _meter_over,
    "map_wrong": _map_sensor,
    "air_filter_blocked": _filter,
    "throttle_dirty": _throttle_dirt,
    "tps_track_disagree": _throttle_tracks,
    "pedal_track_disagree": _pedal_tracks,
    "egr_stuck_open": _egr,
    "cat_blocked": _blocked,
    "boost_leak": _boost_leak,
    "overboost": _overboost,
}
