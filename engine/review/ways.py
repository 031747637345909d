"""A tree as a graph: which step leads where, by which rule, and what can be reached."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from engine.errors import Level, Problem
from engine.tree import Call, Conclude, Exit, Next, Origin, Repair, Return, Rule, Step, Tree


@dataclass(frozen=True, slots=True)
class Way:
    """One way out of a step."""

    step: str
    rule: Rule | None
    """None for the way of ``cannot`` and of ``skip``."""
    exit: Exit
    """Never a call: each of its outcomes is a way of its own."""
    called: str | None
    """The procedure walked on this way."""

    @property
    def target(self) -> str | None:
        """The step it leads to in the same tree."""
        if isinstance(self.exit, Next):
            return self.exit.step
        return self.exit.next if isinstance(self.exit, Repair) else None


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways of one tree, for one binding."""

    tree: Tree
    steps: Mapping[str, Step]
    by_step: Mapping[str, tuple[Way, ...]]

    @property
    def roots(self) -> tuple[str, ...]:
        """The steps at which a walk of this tree begins."""
        return tuple(dict.fromkeys((self.tree.start, *self.tree.entries)))

    def all(self) -> Iterator[Way]:
        """Return every way of the tree."""
        for ways in self.by_step.values():
            yield from ways

    def reached_from(self, steps: Iterable[str]) -> frozenset[str]:
        """Return these steps and all that can be reached from them."""
        seen: set[str] = set()
        open_steps = [step for step in steps if step in self.steps]
        while open_steps:
            step = open_steps.pop()
            if step in seen:
                continue
            seen.add(step)
            for way in self.by_step[step]:
                if way.target is not None and way.target in self.steps:
                    open_steps.append(way.target)
        return frozenset(seen)


def ways_of(tree: Tree) -> Ways:
    """Return the graph of a tree; it is the same for every binding but for what they lack."""
    steps = next(iter(tree.steps.values()), {})
    return Ways(tree, steps, {name: tuple(_ways(step)) for name, step in steps.items()})


def _ways(step: Step) -> Iterator[Way]:
    for rule in step.rules:
        for exit_, called in leaves(rule.exit):
            yield Way(step.id, rule, exit_, called)
    if step.cannot is not None:
        for exit_, called in leaves(step.cannot.exit):
            yield Way(step.id, None, exit_, called)
    if step.skip is not None:
        yield Way(step.id, None, Next(step.skip), None)


def leaves(exit_: Exit, called: str | None = None) -> Iterator[tuple[Exit, str | None]]:
    """Return where an exit leads, calls resolved to the exits of their outcomes."""
    if isinstance(exit_, Call):
        for _, inner in exit_.then:
            yield from leaves(inner, exit_.procedure)
    else:
        yield exit_, called


def is_end(exit_: Exit) -> bool:
    """Tell whether the walk of this tree ends here."""
    return not isinstance(exit_, Next | Repair)


def conclusion_named(exit_: Exit) -> str | None:
    """Return the conclusion of this tree that an exit names."""
    if isinstance(exit_, Conclude):
        return exit_.conclusion
    return exit_.conclusion if isinstance(exit_, Return) else None


def problem_at(origin: Origin, place: str, message: str, level: Level = "warning") -> Problem:
    """Return a problem of the review at the line something is written."""
    return Problem(origin.file, origin.line, origin.column, level, place, message)
