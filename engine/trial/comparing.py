"""What an edit changed: the cars that came out differently, and the step where they parted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest

from engine.trial.lazy import CarResult, PathStep


@dataclass(frozen=True, slots=True)
class Parted:
    """A car that two versions of the trees do not treat alike."""

    one: CarResult
    other: CarResult
    at: int
    """Place in the path where they part; the length of both when only the end differs."""

    @property
    def here(self) -> PathStep | None:
        """The step of these trees where they part; None when these have ended."""
        return self.one.path[self.at] if self.at < len(self.one.path) else None

    @property
    def there(self) -> PathStep | None:
        """The step of the other trees where they part."""
        return self.other.path[self.at] if self.at < len(self.other.path) else None


def parted(these: Sequence[CarResult], others: Sequence[CarResult]) -> tuple[Parted, ...]:
    """Return the cars that came out differently, those whose score differs first.

    Args:
        these: the cars through these trees.
        others: the same cars through the others.
    """
    found = [
        Parted(one, other, _place(one.path, other.path))
        for one, other in zip(these, others, strict=True)
        if outcome(one) != outcome(other)
    ]
    return tuple(sorted(found, key=lambda p: (p.one.score == p.other.score, p.one.number)))


def outcome(result: CarResult) -> tuple[object, ...]:
    """Return what counts as how a car came out."""
    return (result.ended, result.conclusion, result.side, result.strength, result.score)


def _place(one: Sequence[PathStep], other: Sequence[PathStep]) -> int:
    for at, (mine, theirs) in enumerate(zip_longest(one, other)):
        if mine != theirs:
            return at
    return len(one)
