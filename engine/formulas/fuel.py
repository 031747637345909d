"""Fuel delivery: injector flow, pressure difference and duty, pressure held after stopping, misfire rate."""

from __future__ import annotations

import math

from engine.formulas.declaring import SAME, Argument, Formula, FormulaError, Result, Results

LEAST_REVOLUTIONS = 500.0
"""Fewer say nothing about a misfire rate (common practice)."""


def injector_flow(flow: float, dp1: float, dp2: float) -> Results:
    """Return an injector's flow at another pressure difference, in the unit *flow* has.

    Args:
        flow: known flow, any unit.
        dp1: pressure difference it is stated for, kPa.
        dp2: pressure difference wanted, kPa.
    Source: Bernoulli, from memory of injection textbooks.
    """
    return {"flow": flow * math.sqrt(dp2 / dp1)}


def injector_pressure(
    gauge: float,
    baro: float,
    map: float,  # noqa: A002 -- the trade's word
) -> Results:
    """Return the pressure difference over a port injector, kPa.

    Args:
        gauge: rail pressure above the atmosphere, kPa.
        baro: barometric pressure, kPa.
        map: manifold pressure, kPa absolute.
    Source: definition; a gauge reads above the atmosphere, the injector sprays into the manifold.
    """
    return {"dp": gauge + baro - map}


def injector_duty(pulse: float, rpm: float) -> Results:
    """Return the share of the time in % an injector is open, at one pulse in two revolutions.

    Args:
        pulse: injection time, ms.
        rpm: engine speed, 1/min.
    Source: derived: a cycle of a four-stroke engine lasts 120000/rpm ms.
    """
    return {"duty": pulse * rpm / 1200.0}


def leak_down(start: float, end: float, seconds: float) -> Results:
    """Return how fast fuel pressure falls (kPa/min, negative when it rises) and the share held (%).

    Args:
        start: pressure at the start, kPa.
        end: pressure at the end, kPa.
        seconds: time between, s.
    Source: definition.
    """
    return {"rate": (start - end) / seconds * 60.0, "held": 100.0 * end / start}


def misfire_rate(count: float, revolutions: float) -> Results:
    """Return the misfires of one cylinder per 100 of its cycles, %.

    Args:
        count: misfires counted.
        revolutions: engine revolutions counted over, at least 500.

    Raises:
        FormulaError: more misfires than cycles.
    Source: derived: a four-stroke cylinder fires once in two revolutions.
    """
    if count > revolutions / 2.0:
        raise FormulaError(
            f"count is {count:g}: in {revolutions:g} revolutions it fires {revolutions / 2:g} times at most"
        )
    return {"rate": 100.0 * count / (revolutions / 2.0)}


FORMULAS = (
    Formula(
        "injector_flow",
        "injector flow at another pressure difference",
        (
            Argument("flow", SAME, "flow at the first pressure difference", low=0, high=1e6),
            Argument("dp1", "kPa", "pressure difference it is stated for", low=1, high=40000),
            Argument("dp2", "kPa", "pressure difference wanted", low=0, high=40000),
        ),
        (Result("flow", SAME, "flow at the second pressure difference"),),
        "same fuel and opening; both differences over the injector, not gauge readings",
        "from memory of injection textbooks (Bernoulli)",
        injector_flow,
    ),
    Formula(
        "injector_pressure",
        "pressure difference over a port injector",
        (
            Argument("gauge", "kPa", "rail pressure above the atmosphere", low=0, high=1000),
            Argument("baro", "kPa", "barometric pressure", low=50, high=110),
            Argument("map", "kPa", "manifold pressure, absolute", low=0, high=400),
        ),
        (Result("dp", "kPa", "pressure difference over the injector"),),
        "port injection, gauge pressure up to 1000 kPa",
        "derived: gauge + barometer - manifold",
        injector_pressure,
    ),
    Formula(
        "injector_duty",
        "share of the time an injector is open",
        (
            Argument("pulse", "ms", "injection time", low=0, high=200),
            Argument("rpm", "rpm", "engine speed", low=0, high=16383.75),
        ),
        (Result("duty", "%", "share of the cycle; 100 or more is open all the time"),),
        "four-stroke engines, one pulse in two revolutions",
        "derived from the length of a cycle",
        injector_duty,
    ),
    Formula(
        "leak_down",
        "fuel pressure held after stopping",
        (
            Argument("start", "kPa", "pressure at the start", low=1, high=40000),
            Argument("end", "kPa", "pressure at the end", low=0, high=40000),
            Argument("seconds", "s", "time between", low=1, high=86400),
        ),
        (Result("rate", "kPa/min", "fall of pressure"), Result("held", "%", "share of the pressure left")),
        "at least 1 s; a cold engine hides leaks that show when it is hot; say which rule is applied to it",
        "derived: definition; the limits set on it are common practice",
        leak_down,
    ),
    Formula(
        "misfire_rate",
        "misfires per 100 cycles",
        (
            Argument("count", "", "misfires counted on one cylinder", low=0, high=65535),
            Argument(
                "revolutions", "", "engine revolutions counted over", low=LEAST_REVOLUTIONS, high=10_000_000
            ),
        ),
        (Result("rate", "%", "misfires per 100 cycles of the cylinder"),),
        "four-stroke engines, counted over at least 500 revolutions",
        "derived: one firing in two revolutions; the least count is common practice",
        misfire_rate,
    ),
)
