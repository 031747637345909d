"""The event of a judgement: everything it rested on, so that a report needs nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from engine.asking import is_on_van
from engine.judging import NO_WAY, Judgement, readings_of, readings_used
from engine.margins import limits_used, makers_figures_missed, margins
from engine.situation import Point, Situation, quantities
from engine.tree import (
    Call,
    Conclude,
    Continue,
    Exit,
    Next,
    Refer,
    Repair,
    Return,
    Rule,
    Step,
)
from engine.walk_state import WalkState
from engine.wording import fill

CANNOT_VERDICT = "Could not be decided here"


def judged_event(
    state: WalkState,
    step: Step,
    here: Mapping[str, str],
    situation: Situation,
    judgement: Judgement | None,
    cannot_why: str | None,
    side: str | None,
    confidence: float,
    *,
    attended: bool,
) -> dict[str, Any]:
    """Return the event of one judged step; *judgement* is None when the step was not done."""
    used = readings_used(step, situation)
    values = [situation.values[name] for name in used]
    rule = judgement.rule if judgement is not None else None
    point = situation.as_read
    done = cannot_why is None and (
        rule is not None or any(name in situation.values for name in step.readings)
    )
    return {
        "kind": "judged",
        **here,
        "title": step.title,
        "rule": rule.id if rule is not None else None,
        "verdict": fill(rule.verdict, point) if rule is not None else _cannot_verdict(step),
        "means": fill(rule.means, point) if rule is not None and rule.means else None,
        "grade": rule.grade.value if rule is not None else "inconclusive",
        "sure": judgement.sure if judgement is not None else 1.0,
        "verdict_sure": min(judgement.taken.p, 1.0) if judgement is not None else 1.0,
        "doubtful": judgement is not None and judgement.doubtful,
        "for_safety": judgement is not None and judgement.for_safety,
        "cannot": cannot_why,
        "exit": exit_as_data(_exit(step, judgement)),
        "exit_by": _exit_rule(step, judgement),
        "side": side,
        "readings": {
            v.reading: {
                "value": list(v.answer) if isinstance(v.answer, tuple) else v.answer,
                "unit": situation.catalogue.unit(v.reading),
                "u": v.uncertainty,
                "instrument": v.instrument,
            }
            for v in values
        },
        "work": _worked(step, situation, point),
        "limits": _limits(step, situation) if judgement is not None else {},
        "rules": _shares(judgement),
        "margins": _margins(step, situation, judgement),
        "findings": _findings(situation, here, judgement, rule, confidence),
        "weighings": _weighings(step, judgement, side),
        "also": _also(judgement, confidence),
        "leaves": list(step.leaves) if done else [],
        "undoes": _undone(state, step, attended) if done else [],
        "takes": _takes(step, situation, used),
        "rests_on": sorted(used),
        "not_on_van": [
            name
            for name in step.readings
            if name not in situation.values
            and situation.has(name)
            and not is_on_van(situation, situation.catalogue.readings[name])
        ],
        "missed_figures": list(makers_figures_missed(rule, situation)),
        "minutes": state.minutes,
    }


def _exit(step: Step, judgement: Judgement | None) -> Exit:
    if judgement is not None:
        return judgement.exit
    return step.cannot.exit if step.cannot is not None else NO_WAY


def _undone(state: WalkState, step: Step, attended: bool) -> list[str]:
    """Return what the step puts back: all when it was done; when it only passed by, what it left itself.

    A gauge is off when somebody took it off, not when its step was decided from what was known already.
    Without a screen nobody can be asked, and it is taken as put back.
    """
    if not attended or state.inputs > state.inputs_at_verdict:
        return list(step.undoes)
    return [item for item in step.undoes if item in step.leaves]


def _takes(step: Step, situation: Situation, used: Sequence[str]) -> list[int]:
    """Return every take that had a part in it: in the verdict, or in whether the step was done at all."""
    names = {*used, *readings_of(situation, step.only_if)} & situation.values.keys()
    return sorted({number for name in names for number in situation.values[name].takes})


def _exit_rule(step: Step, judgement: Judgement | None) -> str | None:
    """Return the rule whose exit was taken, None for the way of ``cannot``."""
    if judgement is None:
        return None
    if judgement.rule is not None:
        return judgement.rule.id
    if step.cannot is not None and judgement.exit == step.cannot.exit:
        return None
    return next((rule.id for rule in step.rules if rule.exit == judgement.exit), None)


def _cannot_verdict(step: Step) -> str:
    return step.cannot.say if step.cannot is not None else CANNOT_VERDICT


def exit_as_data(way: Exit) -> dict[str, Any]:
    """Return an exit as plain data, in the words of the tree format."""
    match way:
        case Next(step):
            return {"next": step}
        case Conclude(conclusion, side):
            return {"conclude": conclusion} | ({"side": side} if side else {})
        case Continue(tree, at):
            return {"tree": tree} | ({"at": at} if at else {})
        case Call(procedure, arguments):
            return {"call": procedure, "with": dict(arguments)}
        case Return(outcome, conclusion):
            return {"return": outcome} | ({"conclusion": conclusion} if conclusion else {})
        case Repair(say, _, step):
            return {"repair": say, "next": step}
        case Refer(say, tree):
            return {"refer": say} | ({"tree": tree} if tree else {})


def _worked(step: Step, situation: Situation, point: Point) -> dict[str, Any]:
    names: dict[str, None] = {}
    for rule in step.rules:
        for quantity in quantities(rule.when):
            if quantity in situation.catalogue.worked and situation.has(quantity):
                names[quantity] = None
    worked = {}
    for name in names:
        answer = point.answer(name)
        if answer is not None:
            worked[name] = {"value": answer, "unit": situation.catalogue.unit(name)}
    return worked


def _limits(step: Step, situation: Situation) -> dict[str, Any]:
    return {
        name: {
            "label": used.limit.label if used.limit is not None else name,
            "value": used.value,
            "unit": used.limit.unit if used.limit is not None else "",
            "source": used.source_words,
            "not_to_hand": used.not_to_hand,
        }
        for name, used in limits_used(step, situation).items()
    }


def _shares(judgement: Judgement | None) -> list[dict[str, Any]]:
    if judgement is None:
        return []
    return [
        {
            "rule": share.rule.id if share.rule is not None else None,
            "verdict": share.rule.verdict if share.rule is not None else CANNOT_VERDICT,
            "p": share.p,
        }
        for share in judgement.shares
    ]


def _margins(step: Step, situation: Situation, judgement: Judgement | None) -> list[dict[str, Any]]:
    if judgement is None:
        return []
    catalogue = situation.catalogue
    return [
        {
            "quantity": margin.quantity,
            "label": catalogue.label(margin.quantity),
            "unit": catalogue.unit(margin.quantity),
            "value": margin.value,
            "how": margin.how,
            "limit": margin.limit,
            "limit_value": margin.limit_value,
            "source": margin.source,
            "holds": margin.holds,
            "distance": margin.distance,
            "turns_to": margin.turns_to,
        }
        for margin in margins(step, situation, judgement)
    ]


def _findings(
    situation: Situation,
    here: Mapping[str, str],
    judgement: Judgement | None,
    decided: Rule | None,
    confidence: float,
) -> list[dict[str, Any]]:
    """Return the findings that hold with the confidence asked; a doubtful verdict finds nothing.

    Where a less probable verdict was taken for safety, its own findings are made, though not firm.
    """
    if judgement is None or decided is None or judgement.doubtful:
        return []
    names = dict.fromkeys(
        name for share in judgement.shares if share.rule is not None for name in share.rule.findings
    )
    firm = not makers_figures_missed(decided, situation) and not judgement.open
    made = []
    for name in names:
        holders = [s for s in judgement.shares if s.rule is not None and name in s.rule.findings]
        sure = judgement.probability_of(finding=name)
        for_safety = judgement.for_safety and name in decided.findings
        if sure >= confidence or for_safety:
            side = _finding_side(situation, here, name, max(holders, key=lambda s: s.p).rule)
            made.append(
                {"finding": name, "side": side, "sure": sure, "firm": firm and not judgement.for_safety}
            )
    return made


def _also(judgement: Judgement | None, confidence: float) -> list[str]:
    """Return the second findings that hold with the confidence asked."""
    if judgement is None or judgement.rule is None or judgement.doubtful:
        return []
    return [f for f in judgement.rule.also if judgement.probability_of(also=f) >= confidence]


def _finding_side(situation: Situation, here: Mapping[str, str], name: str, rule: Rule | None) -> str | None:
    kind = situation.catalogue.findings[name].side
    side = rule.side if rule is not None and rule.side not in (None, "from_codes") else None
    match kind:
        case "none":
            return None
        case "bank":
            return (side or here["bank"])[:2]
        case "sensor":
            return side if side is not None and len(side) > 2 else (f"{side}s1" if side else here["sensor"])


def _weighings(step: Step, judgement: Judgement | None, side: str | None) -> list[dict[str, Any]]:
    if judgement is None:
        factors = dict(step.cannot.weigh) if step.cannot is not None else {}
        return [{"p": 1.0, "side": None, "factors": factors}] if factors else []
    weighings = []
    for share in judgement.shares:
        weigh = share.rule.weigh if share.rule is not None else (step.cannot.weigh if step.cannot else ())
        if weigh:
            own = share.rule.side if share.rule is not None else None
            placed = side if own == "from_codes" else own
            weighings.append({"p": share.p, "side": placed, "factors": dict(weigh)})
    return weighings
