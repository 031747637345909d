"""The review of a whole library: every tree's paths, answers, evidence and cautions."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from pathlib import PurePosixPath

from engine.condition_loading import FALSE
from engine.errors import Problem
from engine.library import Library
from engine.review.evidence import review_proofs, review_tables
from engine.review.gaps import Coverage, Key, Sample, coverage
from engine.review.paths import review_paths
from engine.review.safety import narrow_findings, review_safety
from engine.review.ways import Ways, problem_at, ways_of
from engine.situation import comparisons
from engine.tree import Conclusion, Step

SHIPPED_FOLDERS = ("symptoms", "procedures")


def review(library: Library, files: Collection[str] | None = None) -> tuple[Problem, ...]:
    """Return what is wrong in valid trees, sorted by place.

    Args:
        library: loaded without errors.
        files: names of the files to speak of; None for all.
    """
    graphs = {name: ways_of(tree) for name, tree in library.trees.items()}
    problems = {problem for problem in _all(library, graphs) if files is None or problem.file in files}
    return tuple(sorted(problems))


def _all(library: Library, graphs: Mapping[str, Ways]) -> Iterator[Problem]:
    narrow = narrow_findings(graphs.values())
    for ways in graphs.values():
        yield from review_paths(ways)
        yield from review_safety(ways, library.catalogue, narrow)
        yield from _answers(ways, library)
        yield from _bare_numbers(ways)
    yield from review_proofs(graphs, library)
    yield from _tables(library)
    yield from _unnamed_faults(graphs, library)


def _catalogue_file(library: Library, name: str) -> str:
    return next((file for file in library.files if file.endswith(f"catalogue/{name}.yaml")), f"{name}.yaml")


def _tables(library: Library) -> Iterator[Problem]:
    file = _catalogue_file(library, "faults")
    for fault, message in review_tables(library.catalogue):
        yield Problem(file, _line_of(library, file, fault), 1, "error", f"faults.{fault}", message)


def _unnamed_faults(graphs: Mapping[str, Ways], library: Library) -> Iterator[Problem]:
    named = {
        fault for ways in graphs.values() for conclusion in _conclusions(ways) for fault in conclusion.faults
    }
    named |= {
        fault
        for ways in graphs.values()
        for step in ways.steps.values()
        for rule in step.rules
        for fault in rule.also
    }
    file = _catalogue_file(library, "faults")
    for fault in library.catalogue.faults.faults:
        if fault not in named:
            line = _line_of(library, file, fault)
            yield Problem(file, line, 1, "hint", f"faults.{fault}", "no tree can name this fault")


def _line_of(library: Library, file: str, key: str) -> int:
    """Return the line of a key of a catalogue file."""
    lines = library.files.get(file, b"").decode("utf-8", errors="replace").split("\n")
    return next((number for number, line in enumerate(lines, 1) if line.strip().startswith(f"{key}:")), 1)


def _conclusions(ways: Ways) -> tuple[Conclusion, ...]:
    return tuple(next(iter(ways.tree.conclusions.values()), {}).values())


# --------------------------------------------------------------------------- answers


def _answers(ways: Ways, library: Library) -> Iterator[Problem]:
    """Report readings no rule answers and rules that never come first."""
    for name in ways.steps:
        found = [(step, coverage(step, library.catalogue)) for step in _written_out(name, ways)]
        for step, one in found:
            if one.gap is not None:
                message = f"no rule answers {values_in_words(one.gap)}: add a rule, or otherwise:"
                yield problem_at(step.origin, f"steps.{name}.judge", message)
                break
        yield from _shadowed(name, found)


def _written_out(name: str, ways: Ways) -> list[Step]:
    """Return a step as it is written out first, and for the other sides where the first lacks something."""
    steps = list({id(one[name]): one[name] for one in ways.tree.steps.values()}.values())
    lacks = any(rule.when == FALSE for rule in steps[0].rules)
    return steps if lacks else steps[:1]


def _shadowed(name: str, found: list[tuple[Step, Coverage]]) -> Iterator[Problem]:
    """Report the lines of ``judge`` that are never the first to hold, for no place."""
    if not all(one.complete for _, one in found):
        return
    lines: dict[int, list[bool]] = {}
    first_step, _ = found[0]
    for step, one in found:
        for rule in step.rules:
            if rule.when is not None and rule.when != FALSE:
                lines.setdefault(rule.origin.line, []).append(rule.id in one.first)
    for rule in first_step.rules:
        if rule.origin.line in lines and not any(lines.pop(rule.origin.line)):
            message = f"the rule '{rule.id}' never decides: the rules before it answer all it could"
            yield problem_at(rule.origin, f"steps.{name}.judge", message)


def values_in_words(values: Mapping[Key, Sample]) -> str:
    """Return sample values as a person writes them."""
    words = []
    for key, value in values.items():
        if isinstance(key, tuple):
            words.append(f"{key[0]} {'found' if value else 'not found'}")
        elif isinstance(value, tuple):
            words.append(f"{key} = [{', '.join(value)}]")
        else:
            words.append(f"{key} = {value:g}" if isinstance(value, float) else f"{key} = {value}")
    return ", ".join(words) or "a step without a rule"


def _bare_numbers(ways: Ways) -> Iterator[Problem]:
    """Report numbers in the shipped trees that are no named limit."""
    for name, step in ways.steps.items():
        for rule in step.rules:
            if any(not isinstance(one.limit, str) for one in comparisons(rule.when)) and _shipped(
                rule.origin.file
            ):
                yield problem_at(rule.origin, f"steps.{name}.judge", BARE)
        if any(not isinstance(one.limit, str) for one in comparisons(step.only_if)) and _shipped(
            step.origin.file
        ):
            yield problem_at(step.origin, f"steps.{name}.only_if", BARE)
    for conclusion in _conclusions(ways):
        expected = conclusion.proof.expect if conclusion.proof else None
        if any(not isinstance(one.limit, str) for one in comparisons(expected)) and _shipped(
            conclusion.origin.file
        ):
            yield problem_at(conclusion.origin, f"conclusions.{conclusion.id}.proof", BARE)


BARE = "a bare number: name a limit of the limits catalogue instead"


def _shipped(file: str) -> bool:
    return PurePosixPath(file).parent.name in SHIPPED_FOLDERS
