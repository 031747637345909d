"""What stands inside a condition, and three-valued logic."""

from __future__ import annotations

from collections.abc import Iterator

from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Condition, Not

Truth = bool | None
"""True, False, or None for unknown."""


def comparisons(condition: Condition | None) -> Iterator[Compare]:
    """Yield every comparison inside a condition."""
    match condition:
        case Compare():
            yield condition
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from comparisons(part)
        case Not(part):
            yield from comparisons(part)
        case _:
            return


def quantities(condition: Condition | None) -> Iterator[str]:
    """Yield every reading or worked value a condition asks for."""
    match condition:
        case Compare(quantity) | ChoiceIs(quantity):
            yield quantity
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from quantities(part)
        case Not(part):
            yield from quantities(part)
        case _:
            return


def all_true(truths: Iterator[Truth]) -> Truth:
    """Return the three-valued *and*; true of none."""
    result: Truth = True
    for truth in truths:
        if truth is False:
            return False
        if truth is None:
            result = None
    return result


def any_true(truths: Iterator[Truth]) -> Truth:
    """Return the three-valued *or*; false of none."""
    result: Truth = False
    for truth in truths:
        if truth is True:
            return True
        if truth is None:
            result = None
    return result
