"""Plain arithmetic for worked values: difference, ratio, sum, greatest, least."""

from __future__ import annotations

from engine.formulas.declaring import SAME, Argument, Formula, FormulaError, Result, Results

_NAMES = "abcdefgh"


def difference(a: float, b: float) -> Results:
    """Return a - b, in the unit both have."""
    return {"difference": a - b}


def ratio(a: float, b: float) -> Results:
    """Return a / b.

    Raises:
        FormulaError: b is 0.
    """
    if b == 0.0:
        raise FormulaError("b is 0: nothing can be divided by it, write another number")
    return {"ratio": a / b}


def total(**values: float) -> Results:
    """Return the sum of up to eight values."""
    return {"sum": float(sum(values.values()))}


def greatest(**values: float) -> Results:
    """Return the greatest of up to eight values."""
    return {"greatest": max(values.values())}


def least(**values: float) -> Results:
    """Return the least of up to eight values."""
    return {"least": min(values.values())}


_PAIR = (Argument("a", SAME, "first value"), Argument("b", SAME, "second value"))
_MANY = (
    Argument("a", SAME, "first value"),
    *(Argument(name, SAME, "another value", optional=True) for name in _NAMES[1:]),
)
_SOURCE = "derived: arithmetic"

FORMULAS = (
    Formula(
        "difference", "difference a - b", _PAIR, (Result("difference", SAME, "a - b"),), "any numbers",
        _SOURCE, difference,
    ),
    Formula(
        "ratio", "ratio a / b", _PAIR, (Result("ratio", "", "a / b"),), "b not 0", _SOURCE, ratio,
    ),
    Formula(
        "sum", "sum", _MANY, (Result("sum", SAME, "all values added"),),
        "one to eight numbers", _SOURCE, total,
    ),
    Formula(
        "greatest", "greatest value", _MANY, (Result("greatest", SAME, "greatest value"),),
        "one to eight numbers", _SOURCE, greatest,
    ),
    Formula(
        "least", "least value", _MANY, (Result("least", SAME, "least value"),),
        "one to eight numbers", _SOURCE, least,
    ),
)  # fmt: skip
