"""Which readings a condition, a comparison or a limit rests on."""

from __future__ import annotations

from collections.abc import Sequence

from engine.catalogue import Catalogue
from engine.conditions import comparisons, quantities
from engine.tree import Compare, Condition

MOST_KEPT = 20_000
"""Conditions whose readings are kept; the trees have some thousands."""


def figure_readings(catalogue: Catalogue, name_or_number: str | float) -> frozenset[str]:
    """Return the readings whose numbers go into a limit: a maker's figure, a base, the axis of a table."""
    limit = catalogue.limits.get(name_or_number) if isinstance(name_or_number, str) else None
    if limit is None:
        return frozenset()
    names = [figure.reading for figure in (limit.relative, limit.maker) if figure is not None]
    if limit.table_of is not None:
        names.append(limit.table_of)
    return frozenset().union(*(catalogue.base_readings(name) for name in names))


def limit_readings(catalogue: Catalogue, name_or_number: str | float) -> frozenset[str]:
    """Return all readings a limit rests on, those of its cases among them."""
    limit = catalogue.limits.get(name_or_number) if isinstance(name_or_number, str) else None
    cases = (condition_readings(catalogue, case) for case, _ in limit.cases) if limit is not None else ()
    return figure_readings(catalogue, name_or_number).union(*cases)


def compare_readings(catalogue: Catalogue, compares: Sequence[Compare]) -> tuple[str, ...]:
    """Return the readings that these comparisons and their limits' numbers rest on, in a fixed order."""
    names: set[str] = set()
    for compare in compares:
        names |= catalogue.base_readings(compare.quantity)
        names |= figure_readings(catalogue, compare.limit)
    return tuple(sorted(names))


def condition_readings(catalogue: Catalogue, condition: Condition | None) -> frozenset[str]:
    """Return the readings a condition rests on, those of its limits among them; worked out once for each."""
    if condition is None:
        return frozenset()
    known = catalogue.resting.get(id(condition))
    if known is None:
        if len(catalogue.resting) >= MOST_KEPT:
            catalogue.resting.clear()
        known = catalogue.resting[id(condition)] = (condition, _condition_readings(catalogue, condition))
    return known[1]


def _condition_readings(catalogue: Catalogue, condition: Condition) -> frozenset[str]:
    return frozenset().union(
        *(catalogue.base_readings(quantity) for quantity in quantities(condition)),
        *(limit_readings(catalogue, compare.limit) for compare in comparisons(condition)),
    )
