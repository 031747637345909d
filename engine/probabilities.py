"""How probable each outcome of a step is, the readings being uncertain: closed form or a fixed set of points.

With one uncertain reading: the share of a normal between limits, the closed form of JCGM 106:2012. Otherwise
the share of a fixed low-discrepancy set of points over the readings, in the manner of JCGM 101:2008, in which
the accuracy error of one instrument is common to all its readings. Every comparison is worked out at all
points at once, and the rules are asked only once for each way in which the comparisons come out together.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import pairwise
from statistics import NormalDist
from typing import TypeAlias

from engine.catalogue import Reading
from engine.columns import Columns
from engine.conditions import Truth, comparisons
from engine.measured import Value
from engine.situation import Point, Situation
from engine.tree import Compare, Exit, Rule, Step

PAIRS = 512
"""Mirrored pairs of points in the low-discrepancy set; p comes out within 0.5 % as a rule, 2 % at worst."""
AGREED = 128
"""When this many points all come out the same, the rest would hardly differ (p > 0.98)."""

Outcome: TypeAlias = tuple[Rule | None, Exit]
Outcomes: TypeAlias = list[tuple[Outcome, float]]
FirstMatch: TypeAlias = Callable[[Step, Point], Outcome]


def closed_form(
    step: Step, situation: Situation, loose: Sequence[Compare], value: Value, first_match: FirstMatch
) -> Outcomes:
    """Return the outcome of each interval between the limits with the normal's share of it (JCGM 106)."""
    nominal = situation.as_read
    edges: set[float] = set()
    for compare in loose:
        used = nominal.limit(compare.limit)
        if used is not None:
            edges |= {used.low, used.high}
    cuts = sorted(edges)
    inside = [cuts[0] - 1.0, *((a + b) / 2 for a, b in pairwise(cuts)), cuts[-1] + 1.0]
    below = [standard_normal_cdf((cut - value.number) / value.uncertainty) for cut in cuts]
    shares = [b - a for a, b in zip([0.0, *below], [*below, 1.0], strict=True)]
    return [
        (first_match(step, Point(situation, {value.reading: at - value.number})), share)
        for at, share in zip(inside, shares, strict=True)
    ]


def sampled(step: Step, situation: Situation, values: Sequence[Value], first_match: FirstMatch) -> Outcomes:
    """Return the outcomes at the points of a fixed low-discrepancy set over the readings.

    Args:
        step: with everything but the comparisons near their limits settled.
        situation: what is known.
        values: the readings that are uncertain.
        first_match: says which rule decides at a point.
    """
    compares = tuple(dict.fromkeys(c for rule in step.rules for c in comparisons(rule.when)))
    known: dict[tuple[Truth, ...], Outcome] = {}
    for count in (AGREED, 2 * PAIRS):
        columns = Columns(situation, _shifts(situation, values, count), count)
        patterns = _counted(columns, compares)
        for pattern in patterns.keys() - known.keys():
            settled = dict(zip(compares, pattern, strict=True))
            known[pattern] = first_match(step, Point(situation, settled=settled))
        outcomes = [(known[pattern], number / count) for pattern, number in patterns.items()]
        if all(outcome == outcomes[0][0] for outcome, _ in outcomes):
            break
    return outcomes


def _counted(columns: Columns, compares: Sequence[Compare]) -> dict[tuple[Truth, ...], int]:
    """Return how often each pattern of truths comes up, in the order in which they come up first."""
    if not compares:
        return {(): columns.count}
    return Counter(zip(*(columns.truths(compare) for compare in compares), strict=True))


def _shifts(situation: Situation, values: Sequence[Value], count: int) -> dict[str, list[float]]:
    """Return by how much each reading is moved at each of the first *count* points."""
    instruments = sorted({_common_error(situation, v) for v in values if v.shared > 0.0})
    dimensions = _normal_columns(len(instruments) + len(values))
    shifts: dict[str, list[float]] = {}
    for i, value in enumerate(values):
        own = [value.own * z for z in dimensions[len(instruments) + i][:count]]
        if value.shared > 0.0:
            common = dimensions[instruments.index(_common_error(situation, value))]
            own = [moved + value.shared * z for moved, z in zip(own, common, strict=False)]
        shifts[value.reading] = own
    return shifts


def _common_error(situation: Situation, value: Value) -> str:
    """Name the error a reading shares with others: its instrument's, in its unit."""
    reading: Reading | None = situation.catalogue.readings.get(value.reading)
    return f"{value.instrument}/{reading.unit if reading else ''}"


@lru_cache(maxsize=32)
def normal_points(dimensions: int) -> tuple[tuple[float, ...], ...]:
    """Return points of independent standard normals: PAIRS of them, each with its mirror image.

    A Kronecker sequence on the powers of the generalised golden ratio (the root of x^(d+1) = x + 1): low
    discrepancy in every dimension used here, symmetric, and the same on every machine.
    """
    root = 2.0
    for _ in range(64):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = [root ** -(i + 1) for i in range(dimensions)]
    normal = NormalDist()
    half = [
        tuple(normal.inv_cdf(min(max((0.5 + n * step) % 1.0, 1e-6), 1.0 - 1e-6)) for step in steps)
        for n in range(1, PAIRS + 1)
    ]
    return tuple(point for one in half for point in (one, tuple(-z for z in one)))


@lru_cache(maxsize=32)
def _normal_columns(dimensions: int) -> tuple[tuple[float, ...], ...]:
    return tuple(zip(*normal_points(dimensions), strict=True))


def standard_normal_cdf(z: float) -> float:
    """Return the share of a standard normal below *z*."""
    return 0.5 * math.erfc(-z / math.sqrt(2))
