"""A shop's own steps, notes, cautions, moves and weights laid over a tree.

An overlay has no words for taking a caution or a gate away, and a step before a gate must lead to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from engine.catalogue import Catalogue
from engine.condition_loading import ConditionLoader, Known
from engine.errors import did_you_mean, shown
from engine.loading import TreeSource
from engine.loading.sources import LEAST_WEIGHT, MOST_WEIGHT, origin
from engine.local_lines import LineKind, Lines, LocalLine, cars_words, step_digest
from engine.overlays import EVERY_TREE, SHOP_PREFIX, Overlay, local_line, weight_of
from engine.parts import Part
from engine.tree import AllOf, Call, Condition, Exit, Next, Note, Repair, Rule, Step, Tree

_IN_A_TREE = ("steps", "conclusions", "notes", "warn", "moves")


def add_to_tree(
    overlay: Overlay, trees: Mapping[str, TreeSource], catalogue: Catalogue, lines: Lines
) -> None:
    """Add the shop's steps, conclusions, notes and cautions to the tree the overlay extends."""
    root = overlay.root
    if overlay.extends == EVERY_TREE:
        _refuse_in_every_tree(root)
        return
    source = trees.get(overlay.extends)
    if source is None:
        root.unknown("tree", overlay.extends, (*trees, EVERY_TREE), "extends")
        return
    for kind, key in ((LineKind.STEP, "steps"), (LineKind.CONCLUSION, "conclusions")):
        for name, part in root.entries(key):
            if not name.startswith(SHOP_PREFIX):
                part.key_problem(f"found {shown(name)}: a shop's own names begin with {SHOP_PREFIX}")
            before = f"before {part.text('before', '')}: " if key == "steps" else ""
            what = part.maybe_text("title") or part.maybe_text("because") or ""
            lines.add(local_line(part, kind, f"{overlay.extends}/{name}", f"{before}{what}"))
    for name, part in root.entries("steps"):
        source.steps[name] = part
        source.before[name] = part.text("before")
        _check_base(part, part.text("before"), source)
    source.conclusions.update(dict(root.entries("conclusions")))
    source.signature = replace(
        source.signature,
        steps=tuple(dict.fromkeys((*source.signature.steps, *source.steps))),
        conclusions=tuple(dict.fromkeys((*source.signature.conclusions, *source.conclusions))),
    )
    for part in root.items("notes"):
        _add_note(part, overlay, source, lines)
    for part in root.items("warn"):
        for text, item in part.texts("cautions"):
            if text not in catalogue.cautions:
                item.unknown("caution", text, catalogue.cautions)
            source.cautions.setdefault(_step_of(part, source), []).append(text)
            place = f"{overlay.extends}/{part.text('at')}"
            lines.add(local_line(part, LineKind.CAUTION, place, f"shows {text}"))


def _refuse_in_every_tree(root: Part) -> None:
    for key in _IN_A_TREE:
        if root.has(key):
            root.key_problem(
                f"{key}: belongs to one tree: put it into a file that says extends: and the tree's name", key
            )
    for part in root.items("weights"):
        if part.has("at"):
            part.key_problem("at: names a step of one tree: this file says extends: catalogue", "at")


def _add_note(part: Part, overlay: Overlay, source: TreeSource, lines: Lines) -> None:
    cars = cars_words(part)
    text = f"{part.text('text')} (only {cars})" if cars else part.text("text")
    note = Note(text, part.maybe_text("by") or None, part.maybe_text("on") or None, origin(part))
    source.notes.setdefault(_step_of(part, source), []).append(note)
    place = f"{overlay.extends}/{part.text('at')}"
    lines.add(local_line(part, LineKind.NOTE, place, f"shows: {part.text('text')}"))


def _step_of(part: Part, source: TreeSource, key: str = "at") -> str:
    """Return the step an address names; the rule after the slash is checked once the tree is built."""
    name = part.text(key).partition("/")[0]
    if name not in source.signature.steps:
        part.unknown("step", name, source.signature.steps, key)
    _check_base(part, name, source)
    return name


def _check_base(part: Part, step: str, source: TreeSource) -> None:
    """Warn of a line that was written for another wording of the shipped step."""
    if not part.has("base"):
        return
    shipped = source.root.get("steps").get(step)
    now = step_digest(shipped.data)
    if isinstance(shipped.data, dict) and part.text("base") != now:
        part.problem(
            f"the shipped step '{step}' has changed since this was written:"
            f' if it still holds, write base: "{now}"',
            "base",
            level="warning",
        )


def laid_over_tree(
    tree: Tree, source: TreeSource, overlays: Iterable[Overlay], catalogue: Catalogue, lines: Lines
) -> Tree:
    """Return the built tree with the shop's steps led to, its cautions shown and its weights taken."""
    start, entries = tree.start, tree.entries
    steps = {binding: dict(table) for binding, table in tree.steps.items()}
    order = list(tree.step_ids)
    weighed: list[LocalLine] = []
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
            _check_base(part, part.text("step"), source)
            change = f"walked before {part.text('before')}"
            lines.add(local_line(part, LineKind.MOVE, f"{tree.id}/{part.text('step')}", change))
        for key in ("notes", "warn"):
            for part in overlay.root.items(key):
                _check_rule(part, next(iter(steps.values())))
        weighed += _weights(overlay, source, next(iter(steps.values())), catalogue, lines)
    for table in steps.values():
        for name, step in table.items():
            table[name] = _with_weights(step, weighed)
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


def _check_rule(part: Part, table: Mapping[str, Step]) -> bool:
    """Tell whether the place a line names is in the tree; a rule that is not is reported."""
    name, _, rule_id = part.text("at").partition("/")
    if name not in table:
        return False
    ids = [rule.id for rule in table[name].rules]
    if rule_id and rule_id not in ids:
        near = did_you_mean(rule_id, ids) or f": its rules are {', '.join(ids)}"
        part.problem(f"'{name}' has no rule {shown(rule_id)}{near}", "at")
    return not rule_id or rule_id in ids


def _weights(
    overlay: Overlay, source: TreeSource, table: Mapping[str, Step], catalogue: Catalogue, lines: Lines
) -> list[LocalLine]:
    """Return the weights of one file that change what verdicts say of faults."""
    found = []
    for part in overlay.root.items("weights"):
        if not part.has("at"):
            continue
        if part.has("cars"):
            part.key_problem(
                "a weight at a step holds for every car: leave out cars:, or leave out at:", "cars"
            )
        _step_of(part, source)
        line = weight_of(part, overlay, catalogue)
        if line is None or not _check_rule(part, table):
            continue
        name, _, rule_id = str(line.at).partition("/")
        if not rule_id and all(line.subject not in dict(rule.weigh) for rule in table[name].rules):
            part.problem(
                f"no verdict of '{name}' speaks of {line.subject}: name the rule, at: {name}/rule-id", "at"
            )
        lines.add(replace(line, at=f"{overlay.extends}/{line.at}"))
        if not line.ended:
            found.append(line)
    return found


def _with_weights(step: Step, weighed: Iterable[LocalLine]) -> Step:
    """Return a step with the shop's factors in its rules; of two for one place the later holds."""
    factors: dict[tuple[str, str], float] = {}
    for line in weighed:
        name, _, rule_id = str(line.at).partition("/")
        if name != step.id:
            continue
        for rule in step.rules:
            if rule.id == rule_id or (not rule_id and line.subject in dict(rule.weigh)):
                factors[rule.id, line.subject] = line.times
    if not factors:
        return step
    return replace(step, rules=tuple(_weighed(rule, factors) for rule in step.rules))


def _weighed(rule: Rule, factors: Mapping[tuple[str, str], float]) -> Rule:
    weights = dict(rule.weigh)
    for (rule_id, fault), times in factors.items():
        if rule_id == rule.id:
            weights[fault] = min(max(weights.get(fault, 1.0) * times, LEAST_WEIGHT), MOST_WEIGHT)
    return replace(rule, weigh=tuple(weights.items()))
