"""Expected cost of an order of tests, and which test would separate what is left.

The theory behind an order (value of a test, shared access, bounds on any order) is in ``engine.deciding``.

The expected cost of looking at causes one after the other is the sum over the order of
(probability that none before was it) x cost; with one fault and costs that do not depend on one another the
best order is by falling probability/cost. Source: decision-theoretic troubleshooting (Heckerman, Breese and
Rommelse, Communications of the ACM 38(3), 1995, 49-57; pages from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from engine.situation import Situation
from engine.suspects import Suspect
from engine.tree import Binding, Step, Tree
from engine.walk_state import StepKey

TELLING = math.log(3.0)
"""A test separates two suspects when a verdict of it moves one three times as far as the other."""


def expected_cost(order: Sequence[str], p: Mapping[str, float], cost: Mapping[str, float]) -> float:
    """Return the expected cost of examining causes in *order* until the one at fault is found.

    Args:
        order: causes, each once.
        p: probability of each; they need not add up to one.
        cost: of examining each, in minutes or money.
    """
    left, total = 1.0, 0.0
    for name in order:
        total += left * cost[name]
        left -= p[name]
    return total


def best_order(p: Mapping[str, float], cost: Mapping[str, float]) -> tuple[str, ...]:
    """Return the causes by falling probability/cost; free ones first, ties by name."""
    return tuple(sorted(p, key=lambda name: (-(p[name] / cost[name]) if cost[name] else -math.inf, name)))


@dataclass(frozen=True, slots=True)
class Separating:
    """A step that would tell the first suspects apart."""

    title: str
    tools: tuple[str, ...]
    minutes: float
    telling: float
    """Largest difference of log weights between the two, over the step's rules."""

    @property
    def words(self) -> str:
        """The test in words."""
        with_what = f" with {' and '.join(self.tools)}" if self.tools else ""
        return f"{self.title[:1].lower()}{self.title[1:]}{with_what}, about {self.minutes:g} min"


def separating_steps(
    trees: Mapping[str, Tree],
    situation: Situation,
    suspects: Sequence[Suspect],
    done: Mapping[StepKey, int],
    most: int = 3,
) -> tuple[Separating, ...]:
    """Return the steps not yet done that tell the two heaviest suspects apart, best per minute first."""
    named = list(dict.fromkeys(s.fault for s in suspects if s.fault is not None))[:2]
    if len(named) < 2:
        return ()
    visited = {(tree, step) for tree, step, _ in done}
    found: dict[str, Separating] = {}
    for tree_id, step in _all_steps(trees):
        if (tree_id, step.id) in visited or step.title in found or not _can_be_done(situation, step):
            continue
        telling = _telling(step, named[0], named[1])
        if telling >= TELLING:
            minutes = _minutes(situation, step)
            found[step.title] = Separating(step.title, _tools(situation, step), minutes, telling)
    ranked = sorted(found.values(), key=lambda s: (-s.telling / max(s.minutes, 1.0), s.title))
    return tuple(ranked[:most])


def _all_steps(trees: Mapping[str, Tree]) -> Iterator[tuple[str, Step]]:
    for tree_id in sorted(trees):
        tree = trees[tree_id]
        binding = Binding() if Binding() in tree.steps else next(iter(tree.steps))
        for step in tree.steps[binding].values():
            yield tree_id, step


def _can_be_done(situation: Situation, step: Step) -> bool:
    """Tell whether the step is for this car and there is anything on it to read."""
    if step.only_if is not None and situation.as_read.truth(step.only_if) is False:
        return False
    return any(situation.has(name) for name in step.readings)


def _telling(step: Step, one: str, other: str) -> float:
    differences = [0.0]
    for rule in step.rules:
        weigh = dict(rule.weigh)
        if one in weigh or other in weigh:
            differences.append(abs(math.log(weigh.get(one, 1.0) / weigh.get(other, 1.0))))
    return max(differences)


def _minutes(situation: Situation, step: Step) -> float:
    catalogue = situation.catalogue
    readings = [catalogue.readings[name] for name in step.readings if situation.has(name)]
    rows = {reading.row: reading.minutes for reading in readings}
    setups = dict.fromkeys(tool for reading in readings for tool in reading.tools[:1])
    kits = (catalogue.instruments[tool].setup for tool in setups if tool in catalogue.instruments)
    return sum(rows.values()) + sum(kits)


def _tools(situation: Situation, step: Step) -> tuple[str, ...]:
    instruments = situation.catalogue.instruments
    names = dict.fromkeys(
        tool
        for name in step.readings
        if situation.has(name)
        for tool in situation.catalogue.readings[name].tools[:1]
    )
    bare = {"EY", "DOC"}
    return tuple(instruments[tool].label for tool in names if tool in instruments and tool not in bare)
