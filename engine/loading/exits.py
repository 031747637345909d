"""Exits: plain data -> `engine.tree.Exit`, each target checked."""

from __future__ import annotations

from engine.condition_loading import PLACE
from engine.errors import did_you_mean, shown
from engine.loading.signatures import Signature
from engine.loading.sources import Context
from engine.parts import Part
from engine.tree import (
    RETURNED,
    Call,
    Conclude,
    Continue,
    Exit,
    Next,
    Refer,
    Repair,
    Return,
)

_KINDS = ("next", "conclude", "tree", "call", "return", "repair", "refer")
_ALLOWED = (*_KINDS, "side", "at", "with", "then")
NAMES_KEPT = frozenset(
    {
        "triage", "hesitation", "rich-running", "lean-running", "reduced-power", "oxygen-sensor-circuit",
        "catalyst", "failed-emissions", "rough-idle", "slow-warm-up", "upstream-sensor", "sensor-heater",
        "supply-voltage", "fuel-delivery", "exhaust-restriction", "catalyst-efficiency",
    }
)  # fmt: skip
"""Trees and procedures that other trees may lead to before they are written."""
DEEPEST = 6
NOWHERE = Next("")
"""Stands in for an exit that could not be read; there is a problem then."""


def load_exit(part: Part, context: Context, *, called: bool = False, depth: int = 0) -> Exit:
    """Return the exit written at *part*.

    Args:
        part: a word (short for ``{next: word}``) or a map.
        context: the tree around it.
        called: inside the ``then`` of a call, where a conclusion may have been brought back.
        depth: how many calls are around it.
    """
    if isinstance(part.data, str):
        return Next(context.step(part))
    if not isinstance(part.data, dict):
        part.problem(f"found {shown(part.data)}, expected a step or one of {', '.join(_KINDS)}")
        return NOWHERE
    kinds = [kind for kind in _KINDS if kind in part.data]
    if len(kinds) != 1:
        _wrong_kinds(part, kinds)
        return NOWHERE
    if depth > DEEPEST:
        part.problem(f"more than {DEEPEST} calls inside one another")
        return NOWHERE
    match kinds[0]:
        case "next":
            return Next(context.step(part, "next"))
        case "conclude":
            return _conclude(part, context, called)
        case "tree":
            return _continue(part, context)
        case "call":
            return _call(part, context, depth)
        case "return":
            return _return(part, context)
        case "repair":
            return _repair(part.get("repair"), context)
        case _:
            return _refer(part.get("refer"), context)


def _wrong_kinds(part: Part, kinds: list[str]) -> None:
    if kinds:
        part.problem(f"an exit leads one way, found {' and '.join(kinds)}")
        return
    found = next(iter(part.data)) if isinstance(part.data, dict) and part.data else ""
    near = did_you_mean(found, _ALLOWED) if found else ""
    part.problem(f"no exit here{near}: write one of {', '.join(_KINDS)}")


def _conclude(part: Part, context: Context, called: bool) -> Exit:
    name = part.get("conclude")
    side = context.conditions.side(part, "side", ("from_codes",))
    if name.data == RETURNED:
        if not called:
            name.problem("nothing was brought back here: returned stands only in the then: of a call")
        return Conclude(RETURNED, side)
    return Conclude(context.conclusion(name), side)


def _continue(part: Part, context: Context) -> Exit:
    name = part.text("tree")
    at = part.maybe_text("at")
    target = context.trees.get(name)
    if target is None:
        _not_here("tree", name, part, context, "tree")
    elif target.kind == "procedure":
        part.problem(f"'{name}' is a procedure: write call: and then:", "tree")
    elif at is not None and at not in target.entries:
        entries = f": its entries are {', '.join(target.entries)}" if target.entries else ": it declares none"
        part.problem(f"'{name}' has no entry {shown(at)}{did_you_mean(at, target.entries)}{entries}", "at")
    return Continue(name, at)


def _not_here(what: str, name: str, part: Part, context: Context, key: str) -> None:
    """Report a tree that is not here: a mistake, unless it has one of the names kept for trees to come."""
    if name in NAMES_KEPT:
        part.problem(f"the {what} '{name}' is not here yet: the job ends open there", key, level="warning")
    else:
        part.unknown(what, name, context.trees, key)


def _call(part: Part, context: Context, depth: int) -> Exit:
    name = part.text("call")
    target = context.trees.get(name)
    then = tuple(
        (outcome, load_exit(value, context, called=True, depth=depth + 1))
        for outcome, value in part.entries("then")
    )
    if target is None:
        _not_here("procedure", name, part, context, "call")
    elif target.kind != "procedure":
        part.problem(f"'{name}' is a symptom tree: write tree:", "call")
    else:
        _check_outcomes(part, target)
    return Call(name, tuple(_arguments(part, context, target)), then)


def _check_outcomes(part: Part, target: Signature) -> None:
    mapped = {outcome for outcome, _ in part.entries("then")}
    for outcome, value in part.entries("then"):
        if outcome != "otherwise" and outcome not in target.outcomes:
            value.unknown_key(f"outcome of {target.id}", outcome, (*target.outcomes, "otherwise"))
    missing = [outcome for outcome in target.outcomes if outcome not in mapped]
    if missing and "otherwise" not in mapped:
        part.key_problem(f"nothing is said for {', '.join(missing)}: add them, or otherwise:", "then")


def _arguments(part: Part, context: Context, target: Signature | None) -> list[tuple[str, str]]:
    arguments = []
    for key, value in part.entries("with"):
        raw = value.as_text() or ""
        place = context.scope.fill(raw, value)
        if target is not None and target.kind == "procedure":
            _check_argument(key, raw, place, value, target)
        arguments.append((key, place))
    if target is not None and target.takes and not arguments:
        stand = "<bank>" if target.takes == "bank" else "<sensor>"
        part.problem(f"'{target.id}' takes a {target.takes}: write with: {{{target.takes}: {stand}}}", "call")
    return arguments


def _check_argument(key: str, raw: str, place: str, part: Part, target: Signature) -> None:
    if key != target.takes:
        takes = f"a {target.takes}" if target.takes else "nothing"
        part.key_problem(f"'{target.id}' takes {takes}, not a {key}")
    elif "<" in place:
        return
    elif not PLACE.fullmatch(place) or (len(place) > 2) != (key == "sensor"):
        wanted = "b1 or b2" if key == "bank" else "b1s1, b2s1, b1s2 or b2s2"
        part.problem(f"found {shown(raw)}, expected {wanted}")
    elif place not in target.takes_for and "<" not in raw:
        part.problem(f"'{target.id}' is for {', '.join(target.takes_for)}, not for {place}")


def _return(part: Part, context: Context) -> Exit:
    value = part.get("return")
    if context.own.kind != "procedure":
        part.key_problem("only a procedure returns: write conclude:, tree: or refer:", "return")
        return NOWHERE
    conclusion = None
    outcome = value
    if isinstance(value.data, dict):
        outcome = value.get("outcome")
        conclusion = context.conclusion(value.get("conclusion")) if value.has("conclusion") else None
    text = outcome.as_text() or ""
    if text not in context.own.outcomes:
        outcome.unknown("outcome", text, context.own.outcomes)
    return Return(text, conclusion)


def _repair(part: Part, context: Context) -> Exit:
    forget = []
    for text, item in part.texts("forget"):
        if text in context.catalogue.reading_groups:
            forget.append(text)
            continue
        name = context.scope.fill(text, item)
        known = context.known.quantities
        if name in known:
            forget.append(name)
        elif "<" not in name and not context.scope.known_elsewhere(text, known):
            item.unknown("reading or group", name, [*known, *context.catalogue.reading_groups])
    times = part.number("times", 1.0)
    if not 1 <= times <= 9 or times != int(times):
        part.problem(f"found {times:g}, expected a whole number from 1 to 9", "times")
        times = 1
    return Repair(context.prose(part, "say"), tuple(forget), context.step(part, "next"), int(times))


def _refer(part: Part, context: Context) -> Exit:
    if isinstance(part.data, dict):
        return Refer(context.prose(part, "say"), part.maybe_text("tree"))
    return Refer(part.as_text() or "")
