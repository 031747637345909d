"""Steps and rules: plain data -> `engine.tree.Step`, written out for one binding."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import count

from engine.condition_loading import FALSE
from engine.errors import shown
from engine.expansion import placeholders, without_placeholders
from engine.loading.exits import NOWHERE, load_exit
from engine.loading.sources import Context, origin
from engine.parts import Part
from engine.tree import Cannot, Condition, Grade, Note, Predict, Rule, Step
from engine.yaml_text import Data

EACH = {"bank": ("b1", "b2"), "sensor": ("b1s1", "b2s1")}
_GRADES = tuple(str(grade) for grade in Grade)
_WAIT = re.compile(r"([0-9]{1,6}(?:\.[0-9]{1,3})?) ?(s|min|h)")
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}


def load_step(name: str, part: Part, context: Context, notes: tuple[Note, ...] = ()) -> Step:
    """Return the step written at *part* for the binding of *context*."""
    each = _each(part)
    only_if = context.conditions.load(part.get("only_if")) if part.has("only_if") else None
    if part.has("only_if") != part.has("skip"):
        missing, other = ("skip", "only_if") if part.has("only_if") else ("only_if", "skip")
        part.key_problem(f"{other}: stands only together with {missing}:", other)
    return Step(
        id=name,
        title=context.prose(part, "title"),
        do=context.prose(part, "do"),
        how=context.maybe_prose(part, "how"),
        why=context.prose(part, "why"),
        predict=_predict(part.get("predict")) if part.has("predict") else None,
        cautions=context.names(part, "cautions", "caution", context.catalogue.cautions),
        wait=_wait(part),
        leaves=context.names(part, "leaves", "entry of left:", context.catalogue.left),
        undoes=context.names(part, "undoes", "entry of left:", context.catalogue.left),
        readings=_readings(part, "readings", context, each),
        optional=_readings(part, "optional", context, each),
        only_if=only_if,
        skip=context.step(part, "skip") if part.has("skip") else None,
        rules=tuple(_rules(part, context, each)),
        cannot=_cannot(part.get("cannot"), context) if part.has("cannot") else None,
        notes=notes,
        origin=origin(part),
    )


def _each(part: Part) -> tuple[str, ...]:
    """Return the places ``each`` stands for, or none."""
    return EACH[part.one_of("each", tuple(EACH))] if part.has("each") else ()


def _scopes(context: Context, each: tuple[str, ...]) -> list[Context]:
    return [context.at(context.scope.with_each(place, each)) for place in each]


def _readings(part: Part, key: str, context: Context, each: tuple[str, ...]) -> tuple[str, ...]:
    """Return the readings listed, those with ``<each>`` for every place."""
    names: dict[str, None] = {}
    for text, item in part.texts(key):
        every = _scopes(context, each) if each and "<each>" in text else [context]
        for one in every:
            name = one.conditions.quantity(text, item)
            if name is not None and name not in context.catalogue.readings:
                item.problem(f"{shown(name)} is worked out, not measured: list the readings it rests on")
            elif name is not None:
                names[name] = None
    return tuple(names)


def _wait(part: Part) -> float | None:
    text = part.maybe_text("wait")
    if text is None:
        return None
    found = _WAIT.fullmatch(text)
    if found is None:
        part.problem(f"found {shown(text)}, expected a time such as 30 s or 5 min", "wait")
        return None
    return float(found.group(1)) * _SECONDS[found.group(2)]


def _predict(part: Part) -> Predict:
    choices = tuple(text for text, _ in part.texts("choices"))
    right = part.text("right")
    if right not in choices:
        part.unknown("choice", right, choices, "right")
    return Predict(part.text("ask"), choices, right)


def _cannot(part: Part, context: Context) -> Cannot:
    way = load_exit(part.get("exit"), context) if part.has("exit") else NOWHERE
    if not part.has("exit"):
        part.key_problem("exit: is missing here")
    return Cannot(context.prose(part, "say"), way, context.weigh(part))


# --------------------------------------------------------------------------- rules


def _rules(step: Part, context: Context, each: tuple[str, ...]) -> Iterator[Rule]:
    """Return the rules in order; those with ``<each>`` once for every place."""
    items = list(step.items("judge"))
    if not items:
        step.key_problem("judge: is missing here")
    taken: set[str] = set()
    for index, part in enumerate(items):
        own = _each(part) or (each if each and "each" in names_in(part.data) else ())
        if part.has("otherwise") and index + 1 < len(items):
            part.key_problem("otherwise: stands last; the rules after it are never reached", "otherwise")
        for one in _scopes(context, own) or [context]:
            yield _rule(part, one, taken)


def names_in(data: Data) -> frozenset[str]:
    """Return the names of all placeholders anywhere in *data*, of keys and values."""
    found: set[str] = set()
    todo: list[Data] = [data]
    while todo:
        part = todo.pop()
        if isinstance(part, str):
            if "<" in part:
                found.update(placeholders(part))
        elif isinstance(part, list):
            todo.extend(part)
        elif isinstance(part, dict):
            todo.extend(part)
            todo.extend(part.values())
    return frozenset(found)


def _rule(part: Part, context: Context, taken: set[str]) -> Rule:
    if not isinstance(part.data, dict):
        part.problem(f"found {shown(part.data)}, expected a rule with when:, verdict:, grade: and exit:")
    grade = Grade(part.one_of("grade", _GRADES))
    covers_rest = part.flag("covers_rest")
    when = _when(part, context)
    if when is None and not covers_rest and grade is not Grade.INCONCLUSIVE and part.has("grade"):
        advice = "otherwise: is graded inconclusive unless it says covers_rest: true"
        part.problem(f"found {shown(str(grade))}: {advice}", "grade")
    if when is not None and covers_rest:
        part.key_problem("covers_rest: stands only together with otherwise:", "covers_rest")
    if not part.has("exit"):
        part.key_problem("exit: is missing here")
    return Rule(
        id=_rule_id(part, taken),
        when=when,
        covers_rest=covers_rest,
        verdict=context.prose(part, "verdict"),
        grade=grade,
        means=context.maybe_prose(part, "means"),
        side=context.conditions.side(part, "side", ("from_codes",)),
        weigh=context.weigh(part),
        findings=context.names(part, "finding", "finding", context.catalogue.findings),
        also=context.names(part, "also", "fault", context.catalogue.faults.faults),
        harm=part.flag("harm"),
        exit=load_exit(part.get("exit"), context) if part.has("exit") else NOWHERE,
        origin=origin(part),
    )


def _when(part: Part, context: Context) -> Condition | None:
    """Return the condition, or None for ``otherwise``."""
    if part.has("when") == part.has("otherwise"):
        part.key_problem("exactly one of when: and otherwise: belongs here")
        return FALSE
    if part.has("when"):
        return context.conditions.load(part.get("when"))
    if part.get("otherwise").data is not True:
        part.problem("write otherwise: true", "otherwise")
    return None


def _rule_id(part: Part, taken: set[str]) -> str:
    """Return the rule's id, or one made of its verdict; a number makes it unique."""
    text = part.maybe_text("id") or slug(part.text("verdict", ""))
    numbered = (text if number == 1 else f"{text}-{number}" for number in count(1))
    name = next(one for one in numbered if one not in taken)
    taken.add(name)
    return name


def slug(text: str) -> str:
    """Return *text* as an id: ``Rich at idle on <each>`` -> ``rich-at-idle-on``."""
    words = re.findall(r"[a-z0-9]+", without_placeholders(re.sub(r"\{[^}]*\}", " ", text)).lower())
    return "-".join(words[:8]) or "rule"
