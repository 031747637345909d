"""A shop's own files laid over the shipped trees and catalogues.

An overlay adds: limits for its cars, weights with the reason, notes, cautions, steps, moves. It has no
words for taking a caution or a gate away, and a step before a gate must lead to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from engine.catalogue import Catalogue, FaultTable, Limit, Source
from engine.catalogue_entries import source_of
from engine.catalogue_loading import Sources
from engine.condition_loading import ConditionLoader, Known
from engine.errors import did_you_mean, shown
from engine.loading import TreeSource
from engine.loading.sources import LEAST_WEIGHT, MOST_WEIGHT, origin
from engine.parts import Part, Report
from engine.tree import AllOf, Call, Condition, Exit, Next, Note, Repair, Rule, Step, Tree
from engine.yaml_text import Document

_ADDED = {
    "readings": "readings.readings",
    "faults": "faults.faults",
    "findings": "findings.findings",
    "limits": "limits.limits",
    "cautions": "cautions.cautions",
}
SHOP_PREFIX = "shop-"


@dataclass(frozen=True, slots=True)
class Overlay:
    """One file of a shop."""

    root: Part

    @classmethod
    def of(cls, document: Document, report: Report) -> Overlay:
        """Return the overlay written in *document*."""
        return cls(Part.root(document, report))

    @property
    def extends(self) -> str:
        """The tree it is laid over."""
        return self.root.text("extends")


# ------------------------------------------------------------------------ catalogue


def add_entries(overlays: Iterable[Overlay], sources: Sources) -> None:
    """Add the shop's own readings, faults, findings, limits and cautions to the catalogue's sections."""
    for overlay in overlays:
        for kind, part in overlay.root.entries("add"):
            if kind not in _ADDED:
                part.unknown_key("catalogue", kind, _ADDED)
                continue
            for name, entry in part.entries():
                if not name.startswith(SHOP_PREFIX):
                    entry.key_problem(f"found {shown(name)}: a shop's own names begin with {SHOP_PREFIX}")
            sources.add(_ADDED[kind], part)


def laid_over_catalogue(catalogue: Catalogue, overlays: Iterable[Overlay]) -> Catalogue:
    """Return the catalogue with the shop's limits, maker's figures and weights."""
    conditions = ConditionLoader(Known.of(catalogue))
    limits = dict(catalogue.limits)
    table = catalogue.faults
    for overlay in overlays:
        for part in overlay.root.items("limits"):
            _change_limit(part, limits, conditions)
        for part in overlay.root.items("makers"):
            _add_maker(part, limits, catalogue, conditions)
        for part in overlay.root.items("weights"):
            if not part.has("at"):
                table = _weighted(part, table)
    return replace(catalogue, limits=limits, faults=table)


def _change_limit(part: Part, limits: dict[str, Limit], conditions: ConditionLoader) -> None:
    name, value = part.text("limit"), part.number("value")
    limit = limits.get(name)
    if limit is None:
        part.unknown("limit", name, limits, "limit")
    elif part.has("cars"):
        cars = conditions.load(part.get("cars"))
        limits[name] = replace(limit, cases=((cars, value), *limit.cases))
    else:
        source = source_of(part.get("source")) if part.has("source") else Source("shop", _said_by(part))
        limits[name] = replace(
            limit, value=value, cases=(), relative=None, table_of=None, table=(), source=source
        )


def _add_maker(
    part: Part, limits: dict[str, Limit], catalogue: Catalogue, conditions: ConditionLoader
) -> None:
    reading, value = part.text("reading"), part.number("value")
    cars: Condition = conditions.load(part.get("cars"))
    if reading not in catalogue.readings:
        part.unknown("reading", reading, catalogue.readings, "reading")
        return
    own = [limit for limit in limits.values() if limit.maker is not None and limit.maker.reading == reading]
    if not own:
        part.problem(f"no limit takes {shown(reading)} as the maker's figure", "reading")
    for limit in own:
        if limit.maker is not None:
            figure = value * limit.maker.times + limit.maker.plus
            limits[limit.id] = replace(limit, cases=((cars, figure), *limit.cases))


def _weighted(part: Part, table: FaultTable) -> FaultTable:
    name, times = part.text("fault"), _times(part)
    fault = table.faults.get(name)
    if part.has("cars"):
        part.key_problem(
            "a weight holds for every car: leave cars: out, or weigh in a step of your own", "cars"
        )
    if fault is None:
        part.unknown("fault", name, table.faults, "fault")
        return table
    return replace(table, faults={**table.faults, name: replace(fault, prior=fault.prior * times)})


def _times(part: Part) -> float:
    times = part.number("times")
    if not LEAST_WEIGHT <= times <= MOST_WEIGHT:
        part.problem(f"found {times:g}: a weight lies between {LEAST_WEIGHT} and {MOST_WEIGHT:g}", "times")
        return 1.0
    return times


def _said_by(part: Part) -> str:
    return f"{part.text('by', '')}, {part.text('on', '')}: {part.text('reason', '')}"


# ---------------------------------------------------------------------------- trees


def add_to_tree(overlay: Overlay, trees: Mapping[str, TreeSource], catalogue: Catalogue) -> None:
    """Add the shop's steps, conclusions, notes and cautions to the tree the overlay extends."""
    source = trees.get(overlay.extends)
    if source is None:
        overlay.root.unknown("tree", overlay.extends, trees, "extends")
        return
    for name, part in (*overlay.root.entries("steps"), *overlay.root.entries("conclusions")):
        if not name.startswith(SHOP_PREFIX):
            part.key_problem(f"found {shown(name)}: a shop's own names begin with {SHOP_PREFIX}")
    for name, part in overlay.root.entries("steps"):
        source.steps[name] = part
        source.before[name] = part.text("before")
    source.conclusions.update(dict(overlay.root.entries("conclusions")))
    source.signature = replace(
        source.signature,
        steps=tuple(dict.fromkeys((*source.signature.steps, *source.steps))),
        conclusions=tuple(dict.fromkeys((*source.signature.conclusions, *source.conclusions))),
    )
    for part in overlay.root.items("notes"):
        note = Note(_note_text(part), part.maybe_text("by"), part.maybe_text("on"), origin(part))
        source.notes.setdefault(_step_of(part, source), []).append(note)
    for part in overlay.root.items("warn"):
        for text, item in part.texts("cautions"):
            if text not in catalogue.cautions:
                item.unknown("caution", text, catalogue.cautions)
            source.cautions.setdefault(_step_of(part, source), []).append(text)


def _note_text(part: Part) -> str:
    text = part.text("text")
    cars = part.get("cars").data
    if not isinstance(cars, dict):
        return text
    words = [f"{fact} {' '.join(map(str, _flat(test)))}" for fact, test in cars.items()]
    return f"{text} (only {' and '.join(words)})"


def _flat(test: object) -> Iterator[object]:
    if isinstance(test, dict):
        for key, value in test.items():
            yield str(key).replace("_", " ")
            yield from _flat(value)
    elif isinstance(test, list):
        yield " or ".join(map(str, test))
    else:
        yield test


def _step_of(part: Part, source: TreeSource) -> str:
    """Return the step an address names; the rule after the slash is checked once the tree is built."""
    name = part.text("at").partition("/")[0]
    if name not in source.signature.steps:
        part.unknown("step", name, source.signature.steps, "at")
    return name


def laid_over_tree(tree: Tree, source: TreeSource, overlays: Iterable[Overlay], catalogue: Catalogue) -> Tree:
    """Return the built tree with the shop's steps led to, its cautions shown and its weights taken."""
    start, entries = tree.start, tree.entries
    steps = {binding: dict(table) for binding, table in tree.steps.items()}
    order = list(tree.step_ids)
    for overlay in overlays:
        for own, part in overlay.root.entries("steps"):
            before = part.text("before")
            if before not in tree.step_ids:
                part.unknown("step", before, tree.step_ids, "before")
                continue
            _check_gate(part, steps[next(iter(steps))], own, before, catalogue)
            cars = _cars(part, catalogue)
            for table in steps.values():
                _lead_through(table, own, before, cars)
            order.remove(own)
            order.insert(order.index(before), own)
            start = own if start == before else start
        for part in overlay.root.items("moves"):
            start = _move(part, steps.values(), order, start, catalogue)
        for part in overlay.root.items("weights"):
            if part.has("at"):
                _weigh_rules(part, steps.values(), catalogue)
    for name, cautions in source.cautions.items():
        for table in steps.values():
            if name in table:
                shown_now = dict.fromkeys((*table[name].cautions, *cautions))
                table[name] = replace(table[name], cautions=tuple(shown_now))
    return replace(tree, start=start, entries=entries, steps=steps, step_ids=tuple(order))


def _cars(part: Part, catalogue: Catalogue) -> Condition | None:
    return ConditionLoader(Known.of(catalogue)).load(part.get("cars")) if part.has("cars") else None


def is_gate(step: Step, catalogue: Catalogue) -> bool:
    """Tell whether a step can stop the car or guards against harm."""
    stops = (catalogue.findings.get(finding) for rule in step.rules for finding in rule.findings)
    return any(rule.harm for rule in step.rules) or any(one is not None and one.drive for one in stops)


def _check_gate(part: Part, table: Mapping[str, Step], own: str, before: str, catalogue: Catalogue) -> None:
    """Refuse a step before a gate that leads past it."""
    if own not in table or not is_gate(table[before], catalogue):
        return
    past = [target for target in _targets(table[own]) if target not in (before, own)]
    if past:
        part.problem(
            f"'{before}' is a gate: every way on from a step before it leads to it, not to '{past[0]}'"
        )


def _targets(step: Step) -> Iterator[str]:
    exits = [rule.exit for rule in step.rules] + ([step.cannot.exit] if step.cannot else [])
    for exit_ in exits:
        yield from _next_steps(exit_)


def _next_steps(exit_: Exit) -> Iterator[str]:
    match exit_:
        case Next(step):
            yield step
        case Repair():
            yield exit_.next
        case Call():
            for _, inner in exit_.then:
                yield from _next_steps(inner)


def _lead_through(table: dict[str, Step], own: str, before: str, cars: Condition | None) -> None:
    """Lead everything that led to *before* to the shop's step; it stands only for *cars* when given."""
    for name, step in table.items():
        if name != own:
            table[name] = redirected(step, {before: own})
    if cars is not None:
        step = table[own]
        both = cars if step.only_if is None else AllOf((cars, step.only_if))
        table[own] = replace(step, only_if=both, skip=step.skip or before)


def redirected(step: Step, targets: Mapping[str, str]) -> Step:
    """Return *step* with exits to the steps named leading elsewhere."""
    return replace(
        step,
        rules=tuple(replace(rule, exit=_redirected(rule.exit, targets)) for rule in step.rules),
        cannot=replace(step.cannot, exit=_redirected(step.cannot.exit, targets)) if step.cannot else None,
        skip=targets.get(step.skip, step.skip) if step.skip else None,
    )


def _redirected(exit_: Exit, targets: Mapping[str, str]) -> Exit:
    match exit_:
        case Next(step):
            return Next(targets.get(step, step))
        case Repair():
            return replace(exit_, next=targets.get(exit_.next, exit_.next))
        case Call():
            then = tuple((outcome, _redirected(inner, targets)) for outcome, inner in exit_.then)
            return replace(exit_, then=then)
        case _:
            return exit_


def _move(
    part: Part, tables: Iterable[dict[str, Step]], order: list[str], start: str, catalogue: Catalogue
) -> str:
    """Put a step before another one; what led to it goes on where it leads when nothing is found."""
    own, before = part.text("step"), part.text("before")
    for key, name in (("step", own), ("before", before)):
        if name not in order:
            part.unknown("step", name, order, key)
            return start
    onward: Exit | None = None
    for table in tables:
        step = table[own]
        onward = step.rules[-1].exit if step.rules else None
        if is_gate(step, catalogue) or is_gate(table[before], catalogue):
            part.problem("a gate stays where it is: nothing is moved before it or away from it")
            return start
        if not isinstance(onward, Next) or own == before:
            part.problem(f"'{own}' cannot be moved: its last rule does not lead on to a step", "step")
            return start
        for name, other in table.items():
            if name != own:
                table[name] = redirected(other, {own: onward.step, before: own})
        table[own] = redirected(step, {onward.step: before})
    order.remove(own)
    order.insert(order.index(before), own)
    if start == before:
        return own
    return onward.step if start == own and isinstance(onward, Next) else start


def _weigh_rules(part: Part, tables: Iterable[dict[str, Step]], catalogue: Catalogue) -> None:
    """Multiply a fault's weight in one rule, or in all rules of a step that name it."""
    fault, times = part.text("fault"), _times(part)
    name, _, rule_id = part.text("at").partition("/")
    if part.has("cars"):
        part.key_problem(
            "a weight holds for every car: leave cars: out, or weigh in a step of your own", "cars"
        )
    if fault not in catalogue.faults.faults:
        part.unknown("fault", fault, catalogue.faults.faults, "fault")
        return
    for table in tables:
        step = table.get(name)
        if step is None:
            part.unknown("step", name, table, "at")
            return
        ids = [rule.id for rule in step.rules]
        if rule_id and rule_id not in ids:
            part.problem(f"'{name}' has no rule {shown(rule_id)}{did_you_mean(rule_id, ids)}", "at")
            return
        rules = tuple(
            _weighed(rule, fault, times, everywhere=not rule_id) if rule_id in ("", rule.id) else rule
            for rule in step.rules
        )
        table[name] = replace(step, rules=rules)


def _weighed(rule: Rule, fault: str, times: float, *, everywhere: bool) -> Rule:
    weights = dict(rule.weigh)
    if everywhere and fault not in weights:
        return rule
    weights[fault] = min(max(weights.get(fault, 1.0) * times, LEAST_WEIGHT), MOST_WEIGHT)
    return replace(rule, weigh=tuple(weights.items()))
