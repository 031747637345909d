"""Uncertainty: what an instrument's limit means, and how probable it is that a value meets limits."""

from __future__ import annotations

import math

from engine.formulas.declaring import SAME, Argument, Formula, FormulaError, Result, Results, Value

GAUGE_CLASSES = (0.1, 0.25, 0.6, 1.0, 1.6, 2.5, 4.0)
"""Accuracy classes of pressure gauges, % of span (EN 837-1, table seen)."""


def _below(score: float) -> float:
    """Return the standard normal probability below *score*, exact in both tails."""
    return 0.5 * math.erfc(-score / math.sqrt(2.0))


def conformity(value: float, u: float, lower: float | None = None, upper: float | None = None) -> Results:
    """Return the probability that the true value lies inside the limits.

    Args:
        value: measured value.
        u: its standard uncertainty, same unit, above 0.
        lower: lower limit, or none.
        upper: upper limit, or none.

    Raises:
        FormulaError: no limit, or limits the wrong way round.
    Source: conformance probability of a normal distribution, from memory of JCGM 106:2012.
    """
    if lower is None and upper is None:
        raise FormulaError("lower and upper missing: give at least one limit")
    if lower is not None and upper is not None and lower > upper:
        raise FormulaError(f"lower is {lower:g}, above upper ({upper:g}): give the smaller one as lower")
    if lower is None:
        return {"probability": _below(((upper or 0.0) - value) / u)}
    if upper is None:
        return {"probability": _below((value - lower) / u)}
    left, right = (lower - value) / u, (upper - value) / u
    if left > 0.0:  # count from the other tail, where the difference keeps its digits
        left, right = -right, -left
    return {"probability": _below(right) - _below(left)}


def instrument_limit(**values: Value) -> Results:
    """Return the largest error of an instrument within its data, and the standard uncertainty it stands for.

    Args:
        **values: ``reading`` with ``percent`` of reading, ``counts`` and ``resolution`` (a meter); or
            ``class`` in % and ``span`` (a pressure gauge).

    Raises:
        FormulaError: the two ways mixed, or incomplete.
    Source: meter data sheets (common practice); EN 837-1 for gauge classes; limit over root 3 for a
        rectangular distribution, from memory of JCGM 100:2008.
    """
    numbers = {name: float(value) for name, value in values.items()}
    gauge = [name for name in ("class", "span") if name in numbers]
    meter = [name for name in ("reading", "percent", "counts", "resolution") if name in numbers]
    if gauge and meter:
        raise FormulaError(
            f"{gauge[0]} and {meter[0]} do not go together: give class and span, or a meter's data"
        )
    limit = _gauge_limit(numbers) if gauge else _meter_limit(numbers)
    return {"limit": limit, "u": limit / math.sqrt(3.0)}


def _gauge_limit(numbers: dict[str, float]) -> float:
    if len(numbers) < 2:
        raise FormulaError(
            f"{'span' if 'class' in numbers else 'class'} missing: a gauge needs class and span"
        )
    if numbers["class"] not in GAUGE_CLASSES:
        allowed = ", ".join(f"{one:g}" for one in GAUGE_CLASSES)
        raise FormulaError(f"class is {numbers['class']:g}: gauges are built in classes {allowed}")
    return numbers["class"] / 100.0 * numbers["span"]


def _meter_limit(numbers: dict[str, float]) -> float:
    if "percent" in numbers and "reading" not in numbers:
        raise FormulaError("reading missing: percent counts from it")
    if "percent" not in numbers and "counts" not in numbers:
        raise FormulaError(
            "percent missing: give reading and percent, counts and resolution, or class and span"
        )
    if ("counts" in numbers) != ("resolution" in numbers):
        one = "resolution" if "counts" in numbers else "counts"
        raise FormulaError(f"{one} missing: counts are worth the resolution each")
    share = numbers.get("percent", 0.0) / 100.0 * abs(numbers.get("reading", 0.0))
    return share + numbers.get("counts", 0.0) * numbers.get("resolution", 0.0)


FORMULAS = (
    Formula(
        "conformity",
        "probability that limits are met",
        (
            Argument("value", SAME, "measured value"),
            Argument("u", SAME, "standard uncertainty", low=1e-12),
            Argument("lower", SAME, "lower limit", optional=True),
            Argument("upper", SAME, "upper limit", optional=True),
        ),
        (Result("probability", "", "0 to 1"),),
        "normal distribution; at least one limit; u above 0",
        "from memory of JCGM 106:2012",
        conformity,
    ),
    Formula(
        "instrument_limit",
        "largest error of an instrument",
        (
            Argument("reading", SAME, "reading of the meter", optional=True),
            Argument("percent", "%", "error in % of reading", low=0, high=100, optional=True),
            Argument("counts", "", "error in counts of the last digit", low=0, high=1000, optional=True),
            Argument("resolution", SAME, "worth of one count", low=0, optional=True),
            Argument("class", "", "accuracy class of a gauge", low=0.1, high=4, optional=True),
            Argument("span", SAME, "span of the gauge", low=1e-9, optional=True),
        ),
        (
            Result("limit", SAME, "largest error within the data"),
            Result("u", SAME, "standard uncertainty, limit over root 3"),
        ),
        "a rectangular distribution is assumed; position, leaks and drift come on top",
        "published: EN 837-1 classes, table seen; meters by their data sheets; from memory of JCGM 100:2008",
        instrument_limit,
    ),
)
