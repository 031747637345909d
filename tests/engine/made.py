"""Small catalogues, readings and steps made by hand, for tests that need no files."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.catalogue import (
    Argument,
    Catalogue,
    Choice,
    Code,
    CodeGroup,
    Codes,
    Drive,
    Fault,
    FaultTable,
    Finding,
    Limit,
    MakerFigure,
    Reading,
    Recipe,
    Source,
    Worked,
)
from engine.measured import Value
from engine.situation import FoundFact, Situation
from engine.tree import Cannot, Compare, Condition, Exit, Grade, Next, Origin, Rule, Step

HERE = Origin("made.yaml", 1, 1)
RULE_OF_THUMB = Source("common-practice", "made for a test")


def reading(name: str, **changes: Any) -> Reading:
    given: dict[str, Any] = {
        "id": name, "label": name, "kind": "num", "unit": "", "reject": (None, None), "reject_by_tool": {},
        "reject_if": (), "usual": (None, None), "usual_choices": (), "choices": (), "tools": ("MM",),
        "minutes": 1.0, "row": name, "state": "off", "takes": "mean", "keeps": "half-hour",
        "lost_by_repair": False, "assumed": None, "has": {},
    }  # fmt: skip
    given.update(changes)
    return Reading(**given)


def choice_reading(name: str, *words: str, not_looked: tuple[str, ...] = (), **changes: Any) -> Reading:
    choices = tuple(Choice(word, word, word in not_looked) for word in (*words, *not_looked))
    return reading(name, kind=changes.pop("kind", "one"), choices=choices, takes="latest", **changes)


def limit(name: str, value: float | None, **changes: Any) -> Limit:
    given: dict[str, Any] = {
        "id": name, "label": name, "unit": "", "value": value, "cases": (), "relative": None,
        "table_of": None, "table": (), "maker": None, "widen": 0.0, "source": RULE_OF_THUMB,
    }  # fmt: skip
    given.update(changes)
    return Limit(**given)


def fault(name: str, prior: float = 10.0, side: str = "none", **changes: Any) -> Fault:
    given: dict[str, Any] = {
        "id": name, "label": name, "system": "made", "side": side, "prior": prior, "repair": "Renew it.",
        "minutes": 30.0, "parts": "medium", "proof": "same numbers", "if_left": "It gets worse.",
        "drive": Drive.WITH_CARE, "directions": (), "proven_by": (), "exclude_first": (),
        "decided_by_repair": False,
    }  # fmt: skip
    given.update(changes)
    return Fault(**given)


def worked(name: str, formula: str, result: str | None = None, **arguments: str | float) -> Worked:
    fed = tuple(
        (key, Argument(value) if isinstance(value, str) else Argument(None, value))
        for key, value in arguments.items()
    )
    return Worked(name, name, "", (Recipe(formula, fed, result),), {})


def catalogue(
    readings: tuple[Reading, ...] = (),
    limits: tuple[Limit, ...] = (),
    worked_values: tuple[Worked, ...] = (),
    faults: tuple[Fault, ...] = (),
    findings: tuple[str, ...] = (),
    codes: Codes | None = None,
) -> Catalogue:
    return Catalogue(
        readings={r.id: r for r in (*readings, reading("veh_banks", keeps="ever"))},
        reading_groups={},
        worked={w.id: w for w in worked_values},
        faults=FaultTable({f.id: f for f in faults}, "something else", 10.0, 0.02, ()),
        findings={name: Finding(name, name, "none", None, False) for name in findings},
        left={},
        limits={one.id: one for one in limits},
        codes=codes or Codes((), {}),
        instruments={},
        state_minutes={},
        cautions={},
        words={},
    )


def situation(made: Catalogue, values: Mapping[str, Any], *, found: tuple[FoundFact, ...] = ()) -> Situation:
    """Make a situation; a value may be a number, a word, words, or a (number, own uncertainty) pair."""
    known = {}
    for name, given in values.items():
        if isinstance(given, Value):
            known[name] = given
        elif isinstance(given, tuple) and given and isinstance(given[0], float | int):
            known[name] = Value(name, float(given[0]), "MM", own=given[1])
        elif isinstance(given, int | float):
            known[name] = Value(name, float(given), "MM")
        else:
            choice = made.readings[name].choice(given) if isinstance(given, str) else None
            known[name] = Value(name, given, "EY", not_looked=choice is not None and choice.not_looked)
    return Situation(made, known, found)


def rule(name: str, when: Condition | None, to: str | Exit, **changes: Any) -> Rule:
    given: dict[str, Any] = {
        "id": name, "when": when, "covers_rest": False, "verdict": name, "grade": Grade.OK, "means": None,
        "side": None, "weigh": (), "findings": (), "also": (), "harm": False,
        "exit": Next(to) if isinstance(to, str) else to, "origin": HERE,
    }  # fmt: skip
    given.update(changes)
    return Rule(**given)


def step(*rules: Rule, cannot: str | None = "elsewhere", **changes: Any) -> Step:
    given: dict[str, Any] = {
        "id": "made", "title": "Made", "do": "Do it.", "how": None, "why": "To know.", "predict": None,
        "cautions": (), "wait": None, "leaves": (), "undoes": (), "readings": (), "optional": (),
        "only_if": None, "skip": None, "rules": rules, "notes": (), "origin": HERE,
        "cannot": Cannot("cannot", Next(cannot)) if cannot is not None else None,
    }  # fmt: skip
    given.update(changes)
    return Step(**given)


def below(quantity: str, value: str | float) -> Compare:
    return Compare(quantity, "below", value)


def above(quantity: str, value: str | float) -> Compare:
    return Compare(quantity, "above", value)


__all__ = ["Code", "CodeGroup", "Codes", "MakerFigure"]
