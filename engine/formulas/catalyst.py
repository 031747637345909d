"""The catalyst: how much of the upstream switching is left behind it."""

from __future__ import annotations

from engine.formulas.declaring import Argument, Formula, Result, Results

LEAST_CROSSINGS = 6.0


def catalyst_ratio(down: float, up: float) -> Results:
    """Return downstream over upstream crossings of 0.45 V in the same window.

    Args:
        down: crossings of the sensor behind the catalyst.
        up: crossings of the sensor before it, at least 6.
    Source: common practice.
    """
    return {"ratio": down / up}


FORMULAS = (
    Formula(
        "catalyst_ratio",
        "activity ratio of the catalyst",
        (
            Argument("down", "", "downstream crossings", low=0, high=100_000),
            Argument("up", "", "upstream crossings in the same time", low=LEAST_CROSSINGS, high=100_000),
        ),
        (Result("ratio", "", "downstream over upstream crossings; small is good"),),
        "both sensors switching types, warm, held at 2000 to 2500 rpm, at least 6 upstream crossings",
        "common practice",
        catalyst_ratio,
    ),
)
