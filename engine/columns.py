"""Quantities, limits and comparisons at many shifted points at once.

The same rules as ``engine.situation.Point`` has for one point, which stays the reference: what a column
cannot do (a limit that moves with a reading) is asked of a point each.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import repeat
from typing import Any

from engine.catalogue import Argument, Recipe
from engine.conditions import Truth
from engine.formulas.registry import formula
from engine.measured import Answer
from engine.resting import limit_readings
from engine.situation import Point, Situation, truth_of
from engine.tree import Compare, Comparison

Column = list[Answer | None]
_ASKED: Mapping[Comparison, Callable[[Any, Any], bool]] = {
    "above": operator.gt, "at_least": operator.ge, "below": operator.lt, "at_most": operator.le,
}  # fmt: skip
"""What a comparison asks of numbers where its limit has no undecided band."""


@dataclass(slots=True)
class Columns:
    """A situation at *count* points, at each of which some readings are shifted."""

    situation: Situation
    shifts: Mapping[str, Sequence[float]]
    count: int
    _columns: dict[str, Column] = field(default_factory=dict)
    _points: list[Point] = field(default_factory=list)

    def truths(self, compare: Compare) -> Sequence[Truth]:
        """Return what a comparison says at each point."""
        if not self.situation.has(compare.quantity):
            return [False] * self.count
        if not self._varies(limit_readings(self.situation.catalogue, compare.limit)):
            used = self._first.limit(compare.limit)
            if used is None:
                return [None] * self.count
            return _compared(compare.how, self.column(compare.quantity), used.low, used.high)
        figures = self._figures(compare.limit)
        if figures is None:
            return [point.truth(compare) for point in self._every_point()]
        values = self.column(compare.quantity)
        if _all_numbers(values) and _all_numbers(figures):
            return list(map(_ASKED[compare.how], values, figures))
        return [_truth(compare.how, value, edge) for value, edge in zip(values, figures, strict=True)]

    def _figures(self, name: str | float) -> Column | None:
        """Return a limit that is another quantity x times + plus, at each point; None for any other limit."""
        limit = self.situation.catalogue.limits[name] if isinstance(name, str) else None
        if limit is None or limit.relative is None or limit.maker is not None:
            return None
        if limit.table_of is not None or limit.cases:
            return None
        times, plus = limit.relative.times, limit.relative.plus
        base = self.column(limit.relative.reading)
        return [value * times + plus if isinstance(value, float) else None for value in base]

    def column(self, quantity: str) -> Column:
        """Return the value of a quantity at each point."""
        known = self._columns.get(quantity)
        if known is None:
            known = self._columns[quantity] = self._column(quantity)
        return known

    def _column(self, quantity: str) -> Column:
        if not self._varies(self.situation.catalogue.base_readings(quantity)):
            return [self._first.answer(quantity)] * self.count
        value = self.situation.values.get(quantity)
        if value is None:
            return self._work(quantity)
        shift = self.shifts.get(quantity)
        if shift is None or not isinstance(value.answer, float):
            return [self._first.answer(quantity)] * self.count
        read = value.answer
        return [read + moved for moved in shift]

    def _work(self, quantity: str) -> Column:
        """Work a value out at each point, by the first recipe that gives one there."""
        answers: Column = [None] * self.count
        worked = self.situation.catalogue.worked.get(quantity)
        if worked is None or not self.situation.has(quantity):
            return answers
        still_open: Sequence[int] = range(self.count)
        for recipe in worked.recipes:
            found = self._results(recipe, still_open)
            if len(found) == self.count and None not in found:
                return found
            for i, answer in zip(still_open, found, strict=True):
                answers[i] = answer
            still_open = [i for i in still_open if answers[i] is None]
            if not still_open:
                break
        return answers

    def _results(self, recipe: Recipe, points: Sequence[int]) -> Column:
        names = tuple(name for name, _ in recipe.arguments)
        columns = [self._argument(argument, points) for _, argument in recipe.arguments]
        return formula(recipe.formula).sampled_at(names, columns, recipe.result, len(points))

    def _argument(self, argument: Argument, points: Sequence[int]) -> Column:
        constant = argument.constant
        if argument.quantity is None:
            return [constant] * len(points)
        column = self.column(argument.quantity)
        if len(points) == self.count and _all_numbers(column):
            return column
        return [answer if isinstance(answer := column[i], float | str) else constant for i in points]

    def _varies(self, readings: frozenset[str]) -> bool:
        return not readings.isdisjoint(self.shifts)

    @property
    def _first(self) -> Point:
        """The first point; it stands for all where nothing that is shifted has a part."""
        if not self._points:
            self._points.append(self._point(0))
        return self._points[0]

    def _every_point(self) -> Sequence[Point]:
        self._points.extend(self._point(i) for i in range(len(self._points), self.count))
        return self._points

    def _point(self, number: int) -> Point:
        return Point(self.situation, {name: shift[number] for name, shift in self.shifts.items()})


def _truth(how: Comparison, value: Answer | None, edge: Answer | None) -> Truth:
    if not isinstance(value, float) or not isinstance(edge, float):
        return None
    return truth_of(how, value, edge, edge)


def _compared(how: Comparison, column: Column, low: float, high: float) -> Sequence[Truth]:
    if low == high and _all_numbers(column):
        return list(map(_ASKED[how], column, repeat(high)))
    return [truth_of(how, value, low, high) if isinstance(value, float) else None for value in column]


def _all_numbers(column: Column) -> bool:
    return set(map(type, column)) == {float}
