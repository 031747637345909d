"""Cautions a step must show, and circuit tests that only a known narrow-band sensor may get.

Source of every entry: common practice of the trade; the maker's data and local rules come first.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from engine.catalogue import Catalogue, Reading
from engine.errors import Problem
from engine.review.ways import Way, Ways, problem_at
from engine.tree import AllOf, ChoiceIs, Condition, Found, Step

RUNNING = ("idle", "2500", "snap", "reload")
"""Engine states with the engine running at a standstill."""
MOVING = ("road", "overrun", "wot", "load", "reload")
_HANDS_OFF = ("CR", "GA", "EY", "DOC")
"""Instruments read without hands near the engine."""
NARROW = "narrow"
_TYPES = ("veh_upstream_type", "veh_downstream_type")
_INTO_THE_CIRCUIT = re.compile(r"o2_b[12]s[12]_(?:gnd|sub)_v")


@dataclass(frozen=True, slots=True)
class Need:
    """Readings that ask for a caution."""

    caution: str
    readings: re.Pattern[str]
    why: str


NEEDS: tuple[Need, ...] = tuple(
    Need(caution, re.compile(pattern), why)
    for caution, pattern, why in (
        (
            "C-FUEL",
            r"fuelp_(?!.*trace).*|fuel_flow_.*|fuel_sample|fuel_reg_hose|return_free",
            "opens or taps the fuel side",
        ),
        (
            "C-HV",
            r"spark_.*|coil_swap_.*|plug_.*|comp_.*|leakdown_.*|ign_trace",
            "works on ignition or plugs",
        ),
        (
            "C-ELEC",
            r"o2_b[12]s[12]_(?:gnd|sub|open|harness|sig|bias).*|heater_(?:ohms|supply|amps|ctrl)_.*|ref5v_.*|ref_bridge.*",
            "works on a circuit",
        ),
        ("C-SMOKE", r"smoke_(?!colour).*", "blows smoke or air in"),
        ("C-PINCH", r"pinch_.*|hose_pinch_.*|fuelp_deadhead", "pinches a hose"),
        ("C-BRAKE", r"pinch_booster.*", "pinches the hose of the brake booster"),
        ("C-PROP", r"forced_rich_.*", "feeds gas to a running engine"),
        ("C-PROBE", r"gas_.*", "takes exhaust gas"),
        ("C-HOT", r"bp_.*|cat_(?:in|out)_c_.*|o2_tip_.*|sensor_tip.*", "works on the hot exhaust"),
        ("C-THREAD", r"bp_.*|o2_tip_.*|sensor_tip.*", "takes a sensor out"),
        ("C-ETC", r"throttle_plate|tps_.*", "goes near the throttle plate"),
        ("C-CAT", r"o2_b[12]s[12]_cross_reload|cat_(?:in|out)_c_.*", "heats the catalyst"),
        ("C-SRS", r"pedal_.*", "works near seat belts and column"),
        ("C-BATT", r"batt_v_.*|charge_ripple_mv", "works at the battery"),
        ("C-COOL", r"coolant_state|ect_ir", "goes near hot coolant"),
        ("C-BRAKE", r"brake_pedal_firm|brake_switch_agree", "may find brakes without assistance"),
        ("C-CLEAR", r"dtc_stored|monitors_incomplete", "reads codes that clearing would erase"),
    )
)


def narrow_findings(graphs: Iterable[Ways]) -> frozenset[str]:
    """Return the findings that are only ever made where the sensor is known to be narrow-band."""
    rules = [rule for ways in graphs for step in ways.steps.values() for rule in step.rules]
    guarded = {one for rule in rules if _implies_narrow(rule.when, frozenset()) for one in rule.findings}
    loose = {one for rule in rules if not _implies_narrow(rule.when, frozenset()) for one in rule.findings}
    return frozenset(guarded - loose)


def review_safety(
    ways: Ways, catalogue: Catalogue, narrow: frozenset[str] = frozenset()
) -> Iterator[Problem]:
    """Return the cautions that are missing and the circuit tests that nothing guards.

    Args:
        ways: the tree.
        catalogue: its readings and cautions.
        narrow: findings that stand for a sensor known to be narrow-band.
    """
    for name, step in ways.steps.items():
        shown = set(step.cautions)
        for caution, why in _needed(step, catalogue):
            if caution in catalogue.cautions and caution not in shown:
                message = f"{why}: add {caution} to cautions:"
                yield problem_at(step.origin, f"steps.{name}.cautions", message)
    yield from _unguarded(ways, catalogue, narrow)


def _needed(step: Step, catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    """Return each caution a step needs, once, with the reason."""
    asked = [
        catalogue.readings[name] for name in (*step.readings, *step.optional) if name in catalogue.readings
    ]
    seen: set[str] = set()
    for caution, why in (need for reading in asked for need in _needs_of(reading)):
        if caution not in seen:
            seen.add(caution)
            yield caution, why


def _needs_of(reading: Reading) -> Iterator[tuple[str, str]]:
    if reading.state in RUNNING:
        yield "C-CO", f"the engine runs for {reading.id}"
        if not set(reading.tools[:1]) <= set(_HANDS_OFF):
            yield "C-MOVE", f"hands are near the running engine for {reading.id}"
    if reading.state in MOVING and reading.keeps not in ("ever", "saved"):
        yield "C-ROAD", f"the car is driven for {reading.id}"
    for need in NEEDS:
        if need.readings.fullmatch(reading.id):
            yield need.caution, f"{reading.id} {need.why}"


# --------------------------------------------------------- guarded circuit tests


def _unguarded(ways: Ways, catalogue: Catalogue, narrow: frozenset[str]) -> Iterator[Problem]:
    """Report steps that load or feed a sensor's circuit and are reached without its type being known."""
    open_steps = [root for root in ways.roots if root in ways.steps]
    seen: set[str] = set()
    while open_steps:
        name = open_steps.pop()
        if name in seen or _implies_narrow(ways.steps[name].only_if, narrow):
            skip = ways.steps[name].skip
            if name not in seen and skip in ways.steps and skip is not None:
                open_steps.append(skip)
            seen.add(name)
            continue
        seen.add(name)
        for way in ways.by_step[name]:
            if (
                way.target is not None
                and way.target in ways.steps
                and not _guards(way, ways, catalogue, narrow)
            ):
                open_steps.append(way.target)
        step = ways.steps[name]
        risky = next(
            (one for one in (*step.readings, *step.optional) if _INTO_THE_CIRCUIT.fullmatch(one)), None
        )
        if risky is not None:
            message = (
                f"{risky} joins or feeds the sensor's wires, and a path leads here without the type known"
            )
            advice = "ask veh_upstream_type first, and come here only when it is narrow"
            yield problem_at(step.origin, f"steps.{name}.readings", f"{message}: {advice}", "error")


def _guards(way: Way, ways: Ways, catalogue: Catalogue, narrow: frozenset[str]) -> bool:
    """Tell whether a way is taken only when the type is known to be narrow-band."""
    if way.rule is None:
        return False
    if _implies_narrow(way.rule.when, narrow):
        return True
    for fact in _TYPES:
        reading = catalogue.readings.get(fact)
        left = {choice.value for choice in reading.choices if not choice.not_looked} if reading else set()
        everything = frozenset(left)
        for rule in ways.steps[way.step].rules:
            if rule is way.rule:
                break
            if (
                isinstance(rule.when, ChoiceIs)
                and rule.when.quantity == fact
                and rule.when.how in ("is", "one_of")
            ):
                left -= set(rule.when.values)
        if left != everything and left <= {NARROW, "none"}:
            return True
    return False


def _implies_narrow(condition: Condition | None, narrow: frozenset[str]) -> bool:
    match condition:
        case ChoiceIs(quantity, how, values):
            return quantity in _TYPES and how in ("is", "one_of") and set(values) == {NARROW}
        case Found(findings):
            return not narrow.isdisjoint(findings)
        case AllOf(parts):
            return any(_implies_narrow(part, narrow) for part in parts)
        case _:
            return False
