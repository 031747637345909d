"""What a test is worth, what any order must cost at least, and the best order where work is shared.

One fault, tests that do not depend on one another; costs in minutes or money, all in the same unit.

Sources: Heckerman, Breese and Rommelse, "Decision-theoretic troubleshooting", Communications of the ACM
38(3), 1995, 49-57 (expected cost of repair, value of a test); Pattipati and Alexandridis, IEEE Transactions
on Systems, Man and Cybernetics 20, 1990, 872-887 (shortest code as a bound); pages from memory.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import permutations

from engine.ordering import best_order, expected_cost

MOST_TRIED = 8
"""Causes whose orders are all tried; above it the best order with shared access is not sought."""
MOST_CAUSES = 14
"""Causes for which the best sequence of tests is worked out in full."""


def expected_cost_of_repair(
    order: Sequence[str], p: Mapping[str, float], inspect: Mapping[str, float], repair: Mapping[str, float]
) -> float:
    """Return the expected cost of inspecting in *order* and repairing the cause that is found.

    The repairs cost the same in every order, so the best order is by falling probability/inspection.

    Args:
        order: causes, each once.
        p: probability of each.
        inspect: cost of finding out whether it is this one.
        repair: cost of repairing it, paid only when it is.
    """
    return expected_cost(order, p, inspect) + math.fsum(p[name] * repair[name] for name in order)


@dataclass(frozen=True, slots=True)
class TestWorth:
    """What a test before the inspections is worth."""

    __test__ = False

    before: float
    """Expected cost without the test, in the best order."""
    after: float
    """Expected cost with it: its own cost, then the best order for each of its results."""
    break_even: float
    """The most it may cost to be worth doing."""

    @property
    def value(self) -> float:
        """Cost saved on average; the test is worth doing when this is above 0."""
        return self.before - self.after


def value_of_test(
    p: Mapping[str, float], cost: Mapping[str, float], positive: Mapping[str, float], test_cost: float
) -> TestWorth:
    """Return what one test with two results is worth.

    Args:
        p: probability of each cause, together 1.
        cost: of inspecting each.
        positive: probability that the test says yes when this is the cause; 1 and 0 for a perfect test.
        test_cost: of the test itself.
    """
    before = expected_cost(best_order(p, cost), p, cost)
    inspections = 0.0
    for yes in (True, False):
        joint = {name: p[name] * (positive[name] if yes else 1.0 - positive[name]) for name in p}
        share = math.fsum(joint.values())
        if share <= 0.0:
            continue
        left = {name: value / share for name, value in joint.items() if value > 0.0}
        inspections += share * expected_cost(best_order(left, cost), left, cost)
    return TestWorth(before, test_cost + inspections, before - inspections)


# ------------------------------------------------------------------------------------- shared access


def cost_with_access(
    order: Sequence[str],
    p: Mapping[str, float],
    cost: Mapping[str, float],
    access: Mapping[str, tuple[str, float]],
) -> float:
    """Return the expected cost of an order in which some inspections share work that is paid once.

    Args:
        order: causes, each once.
        p: probability of each.
        cost: of inspecting each, without the access.
        access: cause -> name of the access work it needs (cover off, warm-up) and its cost.
    """
    left, total = 1.0, 0.0
    opened: set[str] = set()
    for name in order:
        needed, price = access.get(name, ("", 0.0))
        total += left * (cost[name] + (price if needed and needed not in opened else 0.0))
        opened.add(needed)
        left -= p[name]
    return total


def best_order_with_access(
    p: Mapping[str, float], cost: Mapping[str, float], access: Mapping[str, tuple[str, float]]
) -> tuple[str, ...]:
    """Return the cheapest order where inspections share work; probability/cost is not the best one there.

    All orders of up to eight causes are tried; ties go to the first by name.

    Raises:
        ValueError: more than eight causes.
    """
    if len(p) > MOST_TRIED:
        raise ValueError(f"{len(p)} causes are too many to try every order of: at most {MOST_TRIED}")
    return min(permutations(sorted(p)), key=lambda order: cost_with_access(order, p, cost, access))


# -------------------------------------------------------------------------- bounds on any sequence of tests


def entropy(p: Sequence[float]) -> float:
    """Return -sum p log2 p in bits: no sequence of yes-or-no tests is shorter on average."""
    return -math.fsum(share * math.log2(share) for share in p if share > 0.0)


def shortest_code(p: Sequence[float]) -> float:
    """Return the mean length of the shortest prefix code, in tests: a bound at least as tight as the entropy.

    Source: D. A. Huffman, "A method for the construction of minimum-redundancy codes", Proc. IRE 40(9), 1952,
        1098-1101; from memory.
    """
    heap = sorted(p)
    total = 0.0
    while len(heap) > 1:
        joined = heapq.heappop(heap) + heapq.heappop(heap)
        total += joined
        heapq.heappush(heap, joined)
    return total


def least_cost(costs: Sequence[float], mean_tests: float) -> float:
    """Return the least that any sequence of tests costs on average, when it needs *mean_tests* of them.

    The cheapest tests are taken to be the ones that are needed: the whole ones of *mean_tests*, and the part
    of the next.

    Args:
        costs: of the tests there are.
        mean_tests: mean number needed, as ``shortest_code`` gives it.
    """
    cheapest = sorted(costs)
    whole = min(math.floor(mean_tests), len(cheapest))
    part = cheapest[whole] * (mean_tests - whole) if whole < len(cheapest) else 0.0
    return math.fsum(cheapest[:whole]) + part


@dataclass(frozen=True, slots=True)
class BestTests:
    """The best sequence of yes-or-no tests."""

    cost: float
    """Expected cost until no test tells the causes left apart."""
    first: int | None
    """The test to begin with; None when none is of use."""


def best_tests(p: Sequence[float], says: Sequence[Sequence[bool]], costs: Sequence[float]) -> BestTests:
    """Return the cheapest sequence of error-free tests, worked out over all sets of causes that can be left.

    Args:
        p: probability of each cause, together 1.
        says: for each cause, what each test says when it is the one.
        costs: of the tests.

    Raises:
        ValueError: more than fourteen causes.
    """
    if len(p) > MOST_CAUSES:
        raise ValueError(f"{len(p)} causes are too many for every set of them: at most {MOST_CAUSES}")
    yes = [sum(1 << cause for cause, row in enumerate(says) if row[test]) for test in range(len(costs))]

    def weight(causes: int) -> float:
        return math.fsum(p[cause] for cause in range(len(p)) if causes >> cause & 1)

    @cache
    def best(causes: int) -> tuple[float, int | None]:
        options = [
            (weight(causes) * costs[test] + best(causes & mask)[0] + best(causes & ~mask)[0], test)
            for test, mask in enumerate(yes)
            if causes & mask and causes & ~mask
        ]
        return min(options, default=(0.0, None))

    return BestTests(*best((1 << len(p)) - 1))
