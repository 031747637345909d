"""Where a walk can get stuck: dead ends, what is never reached, circles, things left behind."""

from __future__ import annotations

from collections.abc import Iterator

from engine.errors import Problem
from engine.review.ways import Ways, conclusion_named, is_end, problem_at
from engine.situation import quantities
from engine.tree import Repair, Step, Strength


def review_paths(ways: Ways) -> Iterator[Problem]:
    """Return what is wrong with the paths of one tree."""
    reached = ways.reached_from(ways.roots)
    yield from _unreached(ways, reached)
    yield from _dead_ends(ways, reached)
    yield from _circles(ways)
    yield from _left_behind(ways, reached)
    yield from _without_proof(ways)


def _unreached(ways: Ways, reached: frozenset[str]) -> Iterator[Problem]:
    for name, step in ways.steps.items():
        if name not in reached:
            yield problem_at(step.origin, f"steps.{name}", "no path leads to this step")
    named = {conclusion_named(way.exit) for way in ways.all() if way.step in reached}
    for name, conclusion in next(iter(ways.tree.conclusions.values()), {}).items():
        if name not in named:
            yield problem_at(conclusion.origin, f"conclusions.{name}", "no path leads to this conclusion")


def _dead_ends(ways: Ways, reached: frozenset[str]) -> Iterator[Problem]:
    """Report steps that no end can be reached from, and steps with no way on when they cannot be done."""
    ending = {way.step for way in ways.all() if is_end(way.exit)}
    for name in ways.steps:
        step = ways.steps[name]
        if name in reached and not ways.reached_from([name]) & ending:
            message = "dead end: from here no conclusion, return, other tree or refer can be reached"
            yield problem_at(step.origin, f"steps.{name}", message, "error")
        elif step.cannot is None and _may_be_unknown(step):
            message = "nothing is said for when this cannot be done: add cannot: {say: …, exit: …}"
            yield problem_at(step.origin, f"steps.{name}", message)


def _may_be_unknown(step: Step) -> bool:
    return bool(step.readings) and any(True for rule in step.rules for _ in quantities(rule.when))


def _circles(ways: Ways) -> Iterator[Problem]:
    """Report circles in which nothing is asked and nothing is repaired: they would never end."""
    idle = {name for name, step in ways.steps.items() if not step.readings}
    ahead = {
        name: {
            way.target
            for way in ways.by_step[name]
            if way.target is not None and way.target in idle and not isinstance(way.exit, Repair)
        }
        for name in idle
    }
    for name in sorted(idle, key=lambda one: ways.steps[one].origin.line):
        circle = _circle_through(name, ahead)
        if circle and name == min(circle, key=lambda one: ways.steps[one].origin.line):
            message = f"a circle in which nothing is asked: {' -> '.join([*circle, name])}"
            yield problem_at(ways.steps[name].origin, f"steps.{name}", message, "error")


def _circle_through(name: str, ahead: dict[str, set[str]]) -> list[str]:
    """Return the steps of a circle that begins and ends at *name*, or none."""
    trails: list[list[str]] = [[name]]
    seen: set[str] = set()
    while trails:
        trail = trails.pop(0)
        for target in sorted(ahead[trail[-1]]):
            if target == name:
                return trail
            if target not in seen:
                seen.add(target)
                trails.append([*trail, target])
    return []


def _left_behind(ways: Ways, reached: frozenset[str]) -> Iterator[Problem]:
    """Report what a step leaves that nothing after it undoes."""
    conclusions = next(iter(ways.tree.conclusions.values()), {})
    for name in reached:
        step = ways.steps[name]
        if not step.leaves:
            continue
        later = ways.reached_from([name])
        undone = {item for other in later for item in ways.steps[other].undoes}
        for other in later:
            for way in ways.by_step[other]:
                ended = conclusions.get(conclusion_named(way.exit) or "")
                undone.update(ended.undoes if ended else ())
        for item in step.leaves:
            if item not in undone:
                message = f"leaves '{item}' behind, and no step after it undoes it: add undoes: [{item}]"
                yield problem_at(step.origin, f"steps.{name}.leaves", message)


def _without_proof(ways: Ways) -> Iterator[Problem]:
    for name, conclusion in next(iter(ways.tree.conclusions.values()), {}).items():
        measured = conclusion.proof is not None and conclusion.proof.measure
        if conclusion.strength is not Strength.NOT_FOUND_HERE and not measured:
            message = "no proof of the repair: add proof: {measure: [..], expect: {..}}"
            yield problem_at(conclusion.origin, f"conclusions.{name}", message)
