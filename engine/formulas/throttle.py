"""Throttle and pedal: do the two tracks of a position sensor agree."""

from __future__ import annotations

from engine.formulas.declaring import Argument, Formula, FormulaError, Result, Results

DESIGNS = ("sum", "half", "offset")


def track_agreement(v1: float, v2: float, vref: float, design: str, offset: float | None = None) -> Results:
    """Return how far two tracks disagree, in % of the reference voltage.

    Args:
        v1: first track, V.
        v2: second track, V.
        vref: reference voltage, V.
        design: ``sum``: both add up to the reference; ``half``: the second is half the first; ``offset``: the
            first stays *offset* above the second.
        offset: V, needed for ``offset`` only.

    Raises:
        FormulaError: offset missing, or given where the design has none.
    Source: common practice.
    """
    if design == "offset":
        if offset is None:
            raise FormulaError("offset missing: write how many volts the first track stays above the second")
        apart = v1 - v2 - offset
    else:
        if offset:
            raise FormulaError(f"offset is {offset:g} V: the design {design} has none, leave it out")
        apart = v1 + v2 - vref if design == "sum" else v1 - 2.0 * v2
    return {"error": 100.0 * abs(apart) / vref}


FORMULAS = (
    Formula(
        "track_agreement",
        "agreement of two position tracks",
        (
            Argument("v1", "V", "first track", low=-0.3, high=18),
            Argument("v2", "V", "second track", low=-0.3, high=18),
            Argument("vref", "V", "reference voltage", low=0.5, high=18),
            Argument("design", "", "how the tracks belong together", "text", choices=DESIGNS),
            Argument(
                "offset", "V", "first track above the second, design offset", low=-5, high=5, optional=True
            ),
        ),
        (Result("error", "%", "disagreement, of the reference voltage"),),
        "the design must be known from data or a slow sweep; it says nothing of a shift both tracks share",
        "common practice",
        track_agreement,
    ),
)
