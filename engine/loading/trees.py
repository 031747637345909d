"""Whole trees: every step and conclusion for every binding, objects shared where nothing differs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from engine.catalogue import Catalogue, Drive
from engine.condition_loading import Known, Scope
from engine.errors import Problem, shown
from engine.expansion import PLACEHOLDERS
from engine.loading.signatures import EVERY_PLACE, Signature
from engine.loading.sources import Context, TreeSource, origin
from engine.loading.steps import load_step, names_in
from engine.parts import Part
from engine.tree import BINDINGS, Binding, Conclusion, Origin, Proof, Step, Strength, Tree

_Built = TypeVar("_Built")
_STRENGTHS = tuple(str(strength) for strength in Strength)
_DRIVES = tuple(str(drive) for drive in Drive)
_OF_BINDING = tuple(name for name in PLACEHOLDERS if name != "each")


def load_trees(
    sources: Mapping[str, TreeSource], catalogue: Catalogue
) -> tuple[dict[str, Tree], tuple[Problem, ...]]:
    """Return the trees by id and everything wrong in their files; with errors they are not fit for use."""
    signatures = {name: source.signature for name, source in sources.items()}
    known = Known.of(catalogue)
    trees = {name: load_tree(source, catalogue, signatures, known) for name, source in sources.items()}
    problems = (problem for source in sources.values() for problem in source.report.problems)
    return trees, tuple(sorted(problems))


def load_tree(
    source: TreeSource, catalogue: Catalogue, trees: Mapping[str, Signature], known: Known | None = None
) -> Tree:
    """Return one tree; what is wrong goes to the source's report.

    Args:
        source: the tree's document and the shop's additions.
        catalogue: what its names are looked up in.
        trees: the outside of every tree it may lead to or call.
        known: the catalogue's names, when they are to hand.
    """
    own = source.signature
    context = Context(catalogue, known or Known.of(catalogue), trees, own, Scope())
    root = source.root
    step_parts = {**dict(root.entries("steps")), **source.steps}
    conclusion_parts = {**dict(root.entries("conclusions")), **source.conclusions}
    _check_head(root, own)

    def step(name: str, part: Part, at: Context) -> Step:
        return load_step(name, part, at, tuple(source.notes.get(name, ())))

    steps = _for_all(step_parts, context, step)
    conclusions = _for_all(conclusion_parts, context, _conclusion)
    return Tree(
        id=own.id,
        kind=own.kind,
        title=root.text("title"),
        complaints=tuple(text for text, _ in root.texts("complaints")),
        start=root.text("start"),
        entries=own.entries,
        takes=own.takes,
        takes_for=own.takes_for,
        outcomes=own.outcomes,
        steps=steps,
        conclusions=conclusions,
        origin=_origin(root),
        step_ids=tuple(step_parts),
    )


def _origin(root: Part) -> Origin:
    return origin(root.get("tree"))


def _check_head(root: Part, own: Signature) -> None:
    """Check what stands before the steps."""
    root.one_of("kind", ("symptom", "procedure"))
    start = root.text("start")
    if start and start not in own.steps:
        root.unknown("step", start, own.steps, "start")
    for text, item in root.texts("entries"):
        if text not in own.steps:
            item.unknown("step", text, own.steps)
    if not own.steps:
        root.key_problem("steps: is missing here")
    if root.has("takes"):
        root.one_of("takes", ("bank", "sensor"))
    for text, item in root.texts("for"):
        if text not in EVERY_PLACE or (len(text) > 2) != (own.takes == "sensor"):
            item.problem(f"found {shown(text)}, expected a {own.takes or 'place'}")
    outcomes = list(root.texts("outcomes"))
    if own.kind == "procedure" and not outcomes:
        root.key_problem("outcomes: is missing here")
    for key in ("outcomes", "takes", "for") if own.kind == "symptom" else ("complaints",):
        if root.has(key):
            other = "procedure" if own.kind == "symptom" else "symptom tree"
            root.key_problem(f"{key}: stands only in a {other}", key)


def _for_all(
    parts: Mapping[str, Part], context: Context, build: Callable[[str, Part, Context], _Built]
) -> dict[Binding, dict[str, _Built]]:
    """Build everything for every binding of the tree; one object serves all that it is the same for."""
    own = context.own
    out: dict[Binding, dict[str, _Built]] = {binding: {} for binding in own.bindings}
    placeholders = own.kind == "symptom" or own.takes is not None
    every = tuple(dict(binding.words) for binding in own.bindings)
    for name, part in parts.items():
        mentioned = names_in(part.data)
        used = [word for word in _OF_BINDING if word in mentioned]
        built: dict[tuple[str, ...], _Built] = {}
        for binding, places in zip(own.bindings, every, strict=True):
            key = tuple(places[word] for word in used)
            if key not in built:
                others = tuple(other for other in every if other is not places)
                scope = Scope(places, others) if placeholders else Scope()
                built[key] = build(name, part, context.at(scope))
            out[binding][name] = built[key]
    return _with_stand_ins(out)


def _with_stand_ins(
    out: dict[Binding, dict[str, _Built]],
) -> dict[Binding, dict[str, _Built]]:
    """Let a procedure called for a sensor it is not written for go on with the sensor of that bank."""
    for binding in BINDINGS:
        if binding not in out:
            near = next((one for one in out if one.bank == binding.bank), next(iter(out)))
            out[binding] = out[near]
    return out


def _conclusion(name: str, part: Part, context: Context) -> Conclusion:
    catalogue = context.catalogue
    strength = Strength(part.one_of("strength", _STRENGTHS))
    faults = context.names(part, "faults", "fault", catalogue.faults.faults)
    main = catalogue.faults.faults.get(faults[0]) if faults else None
    if not faults and strength is not Strength.NOT_FOUND_HERE and part.has("strength"):
        part.problem("a proven or probable conclusion names its fault", "faults")
    direction = part.maybe_text("direction")
    if direction is not None and main is not None and direction not in main.directions:
        part.unknown(f"direction of {main.id}", direction, main.directions, "direction")
    drive = Drive(part.one_of("drive", _DRIVES)) if part.has("drive") else None
    return Conclusion(
        id=name,
        faults=faults,
        strength=strength,
        because=context.prose(part, "because"),
        repair=context.maybe_prose(part, "repair") or (main.repair if main else ""),
        proof=_proof(part.get("proof"), context) if part.has("proof") else None,
        drive=drive or (main.drive if main else Drive.WITH_CARE),
        if_left=context.maybe_prose(part, "if_left") or (main.if_left if main else ""),
        side=context.conditions.side(part, "side", ("from_codes",)),
        direction=direction,
        undoes=context.names(part, "undoes", "entry of left:", catalogue.left),
        origin=origin(part),
    )


def _proof(part: Part, context: Context) -> Proof:
    measure = context.quantities(part, "measure")
    if not part.has("measure"):
        part.key_problem("measure: is missing here")
    return Proof(measure, context.conditions.load(part.get("expect")))
