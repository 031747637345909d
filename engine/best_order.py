"""The best possible order of tests, by dynamic programming over sets of causes that are left.

A test has one of several results for each cause, or none that is known: then it splits nothing. Some tests
share work (an instrument set up, the engine warmed) that is paid once; what was paid is part of the state.
One cause, tests free of error. For tests with two results and no shared work ``engine.deciding.best_tests``
gives the same figure.

Source: AND/OR dynamic programming for test sequencing, K. R. Pattipati and M. G. Alexandridis, IEEE
Transactions on Systems, Man and Cybernetics 20, 1990, 872-887; from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

MOST_CAUSES = 14
MOST_TESTS = 40
MOST_STATES = 200_000
"""States worked out before giving up."""


class TooMany(ValueError):
    """More states than can be worked out."""


@dataclass(frozen=True, slots=True)
class DiscreteTest:
    """A test with discrete results."""

    name: str
    cost: float
    """Of the test itself, in minutes or money."""
    says: tuple[str, ...]
    """Its result when each cause is the one, in the order of the causes."""
    needs: frozenset[str] = frozenset()
    """Shared work it needs, each paid once."""


@dataclass(frozen=True, slots=True)
class BestOrder:
    """The cheapest way to tell the causes apart as far as the tests can."""

    cost: float
    """Expected cost until no test tells the causes that are left apart."""
    first: str | None
    """The test to begin with; None when none is of use."""
    groups: tuple[tuple[int, ...], ...]
    """Causes by number that no test here tells apart, each group together."""


def best_order_of_tests(
    p: Sequence[float], tests: Sequence[DiscreteTest], shared: Mapping[str, float] | None = None
) -> BestOrder:
    """Return the cheapest sequence of tests.

    Args:
        p: probability of each cause; scaled to add up to 1.
        tests: with their results for each cause.
        shared: cost of each piece of shared work.

    Raises:
        ValueError: no cause has any weight.
        TooMany: more causes, tests or states than can be worked out.
    """
    weights, work = _scaled(p), dict(shared or {})
    useful = [test for test in tests if len(set(test.says)) > 1]
    if len(weights) > MOST_CAUSES or len(useful) > MOST_TESTS:
        raise TooMany(
            f"{len(weights)} causes and {len(useful)} tests: at most {MOST_CAUSES} and {MOST_TESTS}"
        )
    splits = [_masks(test.says) for test in useful]

    @cache
    def weight(causes: int) -> float:
        return math.fsum(w for at, w in enumerate(weights) if causes >> at & 1)

    @cache
    def best(causes: int, paid: frozenset[str]) -> tuple[float, int]:
        if best.cache_info().currsize > MOST_STATES:
            raise TooMany(f"more than {MOST_STATES} sets of causes to work out")
        least, chosen = math.inf, -1
        for at, (test, masks) in enumerate(zip(useful, splits, strict=True)):
            parts = [part for mask in masks if (part := causes & mask)]
            if len(parts) < 2:
                continue
            now = test.cost + sum(work.get(name, 0.0) for name in test.needs - paid)
            total = weight(causes) * now
            for part in parts:
                if total >= least:
                    break
                total += best(part, paid | test.needs)[0]
            if total < least:
                least, chosen = total, at
        return (least, chosen) if chosen >= 0 else (0.0, -1)

    cost, first = best((1 << len(weights)) - 1, frozenset())
    return BestOrder(cost, useful[first].name if first >= 0 else None, _alike(len(weights), useful))


def _scaled(p: Sequence[float]) -> list[float]:
    total = math.fsum(p)
    if total <= 0.0 or min(p) < 0.0:
        raise ValueError("the causes need weights of 0 or more, not all 0")
    return [share / total for share in p]


def _masks(says: Sequence[str]) -> tuple[int, ...]:
    """Return, for each result, the set of causes that give it, as bits."""
    found: dict[str, int] = {}
    for at, result in enumerate(says):
        found[result] = found.get(result, 0) | 1 << at
    return tuple(found.values())


def _alike(count: int, tests: Sequence[DiscreteTest]) -> tuple[tuple[int, ...], ...]:
    groups: dict[tuple[str, ...], list[int]] = {}
    for cause in range(count):
        groups.setdefault(tuple(test.says[cause] for test in tests), []).append(cause)
    return tuple(tuple(group) for group in groups.values())
