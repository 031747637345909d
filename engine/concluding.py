"""From a tree's conclusion to what may be said of this job: how firm, what is missing, may it be driven."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from engine.catalogue import DRIVE_ORDER, Drive, Fault
from engine.judging import PROVEN_AT
from engine.suspects import Suspect
from engine.tree import Conclusion, Strength
from engine.walk_state import Event, WalkState
from engine.wording import fill, side_words

NO_FAULT = "no_fault_found"
OUTWEIGHED = 0.5
"""A probable conclusion with less than this share of the first suspect's weight is not named."""
STANDS_OUT = 0.4
"""Weight from which a suspect forbids to call everything in order."""
PROVEN_WEIGHT = 0.5
"""Least weight among all suspects of a fault called proven."""
CLEARED_BELOW = 0.34
"""A suspect counts as not condemned when evidence took at least two thirds of its weight."""


def conclude(
    state: WalkState,
    tree: str,
    conclusion: Conclusion,
    side: str | None,
    judged: Event | None,
    suspects: Sequence[Suspect],
) -> dict[str, Any]:
    """Return the event of a conclusion.

    Args:
        state: the walk so far.
        tree: id of the tree that holds the conclusion.
        conclusion: what the tree says.
        side: the side found, when the conclusion names none.
        judged: the event of the verdict that led here.
        suspects: the present ranking.
    """
    faults = [state.catalogue.faults.faults[name] for name in conclusion.faults]
    main = faults[0] if faults else None
    placed = _side_for(main, conclusion.side or side)
    missing = _missing(state, conclusion, main, placed, judged)
    sure = _weight_of(main, suspects)
    if main is not None and sure < PROVEN_WEIGHT and conclusion.strength is not Strength.NOT_FOUND_HERE:
        missing.append("evidence that outweighs every other suspect together")
    strength = conclusion.strength
    if strength is Strength.PROVEN and missing:
        strength = Strength.PROBABLE
    point = state.situation().as_read
    drive, reasons = drive_decision(state, conclusion.drive)
    return {
        "kind": "concluded",
        "tree": tree,
        "id": conclusion.id,
        "faults": list(conclusion.faults),
        "labels": [fault.label for fault in faults],
        "side": placed,
        "side_words": side_words(state.catalogue, placed),
        "cylinder": _cylinder(state),
        "direction": conclusion.direction,
        "strength": strength.value,
        "asked_strength": conclusion.strength.value,
        "sure": sure,
        "because": fill(conclusion.because, point),
        "repair": fill(conclusion.repair, point),
        "if_left": conclusion.if_left,
        "drive": drive.value,
        "own_drive": conclusion.drive.value,
        "decided": bool(main is not None and _deciding(state, main, placed)),
        "drive_reasons": reasons,
        "missing": missing,
        "also": [list(pair) for pair in state.also],
        "not_condemned": not_condemned(state, conclusion.faults, suspects),
        "has_proof": conclusion.proof is not None,
        "undoes": list(conclusion.undoes),
    }


def contradicting(event: Event, suspects: Sequence[Suspect]) -> Suspect | None:
    """Return the suspect that the evidence weighs against a conclusion, or None when they agree.

    A probable fault whose deciding test was not made, with less than half the weight of another suspect, is
    not named, and nothing is called in order while one suspect stands out.
    """
    first = next((suspect for suspect in suspects if suspect.fault is not None), None)
    if first is None or first.fault in event["faults"] or event["decided"]:
        return None
    if event["strength"] == Strength.NOT_FOUND_HERE.value:
        return first if first.p >= STANDS_OUT and first.fault != NO_FAULT else None
    weight = max((s.p for s in suspects if s.fault in event["faults"]), default=0.0)
    return first if weight < OUTWEIGHED * first.p else None


def _side_for(fault: Fault | None, side: str | None) -> str | None:
    """Return the side in the form the fault has it: none, a bank, or a sensor."""
    if fault is None or fault.side == "none" or side is None:
        return None
    bank = side[:2]
    match fault.side:
        case "bank":
            return bank
        case "upstream":
            return f"{bank}s1"
        case "downstream":
            return f"{bank}s2"
        case _:
            return side if len(side) == 4 else f"{bank}s1"


def _missing(
    state: WalkState,
    conclusion: Conclusion,
    fault: Fault | None,
    side: str | None,
    judged: Event | None,
) -> list[str]:
    """Return, in words, what keeps this from *proven*; empty when nothing does."""
    if fault is None or conclusion.strength is Strength.NOT_FOUND_HERE:
        return []
    findings = state.catalogue.findings
    situation = state.situation()
    missing = []
    made = [fact for name in fault.proven_by if (fact := situation.found(name, side)) is not None]
    if not _deciding(state, fault, side):
        wanted = " or ".join(findings[name].label for name in fault.proven_by)
        if made and not any(fact.firm for fact in made):
            missing.append(f"the maker's figure for: {wanted}")
        else:
            missing.append(wanted or "a deciding test that can be done at the roadside")
    for name in (*fault.exclude_first, *state.catalogue.faults.proven_needs):
        if situation.found(name, side) is None:
            missing.append(findings[name].label)
    if fault.decided_by_repair and not state.repairs:
        missing.append("the same reading taken again after the repair")
    if judged is not None and (judged["doubtful"] or judged["sure"] < PROVEN_AT):
        missing.append("the last verdict at 99 %")
    return missing


def _deciding(state: WalkState, fault: Fault, side: str | None) -> bool:
    """Tell whether a test that decides for this fault was made, firmly and at 99 %."""
    made = (state.situation().found(name, side) for name in fault.proven_by)
    return any(fact is not None and fact.firm and fact.sure >= PROVEN_AT for fact in made)


def drive_decision(state: WalkState, least: Drive | None) -> tuple[Drive, list[str]]:
    """Return the worst of the conclusion and every stop finding; not known is *with care*.

    The reasons are the labels of the findings that raised it.
    """
    worst = least if least is not None else Drive.WITH_CARE
    reasons: list[str] = []
    for made in state.findings:
        finding = state.catalogue.findings[made.fact.finding]
        if finding.drive is None or finding.drive is Drive.MAY_DRIVE:
            continue
        if finding.label not in reasons:
            reasons.append(finding.label)
        worst = max(worst, finding.drive, key=DRIVE_ORDER.index)
    for item in state.left:
        left = state.catalogue.left[item]
        reasons.append(f"not undone: {left.label}")
        worst = Drive.DO_NOT_DRIVE
    return worst, reasons


def drive_words(drive: Drive) -> str:
    """Return the words for the customer; never a clearance."""
    match drive:
        case Drive.MAY_DRIVE:
            return "Nothing measured speaks against driving on. This is no roadworthiness test."
        case Drive.WITH_CARE:
            return (
                "With care only: gently, straight to the next garage, no towing; stop if anything changes. "
                "Nothing measured says that it must be recovered."
            )
        case Drive.DO_NOT_DRIVE:
            return "Do not drive. Have the car recovered."


def _weight_of(fault: Fault | None, suspects: Sequence[Suspect]) -> float:
    if fault is None:
        return next((s.p for s in suspects if s.fault is None), 0.0)
    return next((s.p for s in suspects if s.fault == fault.id), 0.0)


def _cylinder(state: WalkState) -> int | None:
    takes = state.live_takes("misfire_cyl")
    answer = takes[-1].answer if takes else None
    return int(answer) if isinstance(answer, str) and answer.isdigit() else None


def not_condemned(
    state: WalkState, condemned: Sequence[str], suspects: Sequence[Suspect], most: int = 5
) -> list[dict[str, Any]]:
    """Return the dear or likely parts that evidence speaks against, with what cleared them."""
    worth = {"none": 0.5, "small": 0.5, "medium": 1.0, "large": 2.0, "very-large": 3.0}
    cleared = []
    for suspect in suspects:
        if suspect.fault is None or suspect.fault in condemned:
            continue
        total = 1.0
        for move in suspect.moves:
            total *= move.factor
        against = [move for move in suspect.moves if move.factor < 1.0]
        if total > CLEARED_BELOW or not against:
            continue
        fault = state.catalogue.faults.faults[suspect.fault]
        cleared.append(
            (fault.prior * worth[fault.parts], suspect.label, min(against, key=lambda m: m.factor))
        )
    cleared.sort(key=lambda entry: (-entry[0], entry[1]))
    return [{"label": label, "by": move.title, "verdict": move.verdict} for _, label, move in cleared[:most]]


def open_end(
    state: WalkState,
    say: str,
    tree: str | None,
    suspects: Sequence[Suspect],
    separate: Sequence[str],
    outweighed: Event | None = None,
) -> Event:
    """Return the event of an honest open end: what is left, and what would separate it.

    Args:
        state: the walk so far.
        say: what the tree says of it.
        tree: the tree that would go on, when it is known but not here.
        suspects: the present ranking.
        separate: tests that would tell the first suspects apart, in words.
        outweighed: a conclusion that was not named; its caution and its repair are kept.
    """
    drive, reasons = drive_decision(state, Drive(outweighed["own_drive"]) if outweighed is not None else None)
    return {
        "kind": "opened-end",
        "say": say,
        "tree": tree,
        "suspects": [{"fault": s.fault, "label": s.label, "side": s.side, "p": s.p} for s in suspects[:5]],
        "separate": list(separate),
        "outweighed": {"labels": outweighed["labels"], "repair": outweighed["repair"]}
        if outweighed
        else None,
        "own_drive": outweighed["own_drive"] if outweighed is not None else None,
        "drive": drive.value,
        "drive_reasons": reasons,
        "not_condemned": not_condemned(state, (), suspects),
        "also": [list(pair) for pair in state.also],
    }
