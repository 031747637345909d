"""What a reading can be at all, what it usually is, and which slip of the typing would explain the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from engine.catalogue import Range, Reading
from engine.measured import Answer
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Condition, Found, Not, Settled
from engine.units import convert, kind_of

_DATA_ITEM_ENDS: Mapping[str, frozenset[float]] = {
    "%": frozenset({-100.0, 99.3}), "V": frozenset({1.275}), "kPa": frozenset({255.0, 655350.0}),
    "rpm": frozenset({16383.0}), "g/s": frozenset({655.35}), "°C": frozenset({-40.0, 215.0}),
    "mA": frozenset({-128.0, 128.0}), "km": frozenset({65535.0}), "km/h": frozenset({255.0}),
    "°": frozenset({-64.0, 63.5}), "": frozenset({2.0, 255.0, 65535.0}),
}  # fmt: skip
"""Where a data item that a code reader shows begins or ends. Source: SAE J1979 scaling, from memory."""

_MISTAKEN: Mapping[str, tuple[str, ...]] = {
    "a pressure": ("bar", "psi", "kPa", "inHg", "mbar", "mmHg"), "a temperature": ("°C", "°F"),
    "a voltage": ("V", "mV", "kV"), "a current": ("A", "mA"), "a resistance": ("Ω", "kΩ", "MΩ"),
    "a mass flow": ("g/s", "kg/h", "lb/min"), "a time": ("ms", "s", "min"), "a volume": ("L", "mL"),
    "a length": ("km", "mi"),
}  # fmt: skip
"""Units of one kind that are taken for one another, the commonest first. Common practice."""

_LOSES_ITS_POINT = frozenset({"V", "A", "%", "ms", "g/s", "", "bar"})
"""Units shown with decimals, where a point is lost or moved in typing."""


def reject_bounds(reading: Reading, tool: str | None, facts: Mapping[str, Answer]) -> tuple[Range, str]:
    """Return what the reading can be with this tool on this car, and words for what bounds it.

    A case of the catalogue whose facts are not known counts as possible, so that nothing is refused that
    this car may well show.
    """
    if tool is not None and tool in reading.reject_by_tool:
        return reading.reject_by_tool[tool], "this instrument can show"
    possible: list[Range] = []
    for condition, bounds in reading.reject_if:
        truth = holds(condition, facts)
        if truth:
            return _widest([*possible, bounds]), "possible on this car"
        if truth is None:
            possible.append(bounds)
    return _widest([*possible, reading.reject]), "possible here"


def impossible(value: float, reading: Reading, tool: str | None, facts: Mapping[str, Answer]) -> str | None:
    """Return the bound that *value*, in the reading's unit, breaks, with its origin; None if it can be."""
    (low, high), where = reject_bounds(reading, tool, facts)
    ends = _DATA_ITEM_ENDS.get(reading.unit, frozenset())
    scaled = reading.tools[:1] == ("CR",) and tool in (None, "CR")
    if high is not None and value > high:
        bound = f"{high:.10g} {reading.unit}".rstrip()
        return f"the data item ends at {bound}" if scaled and high in ends else f"{bound} is the most {where}"
    if low is not None and value < low:
        bound = f"{low:.10g} {reading.unit}".rstrip()
        return (
            f"the data item begins at {bound}" if scaled and low in ends else f"{bound} is the least {where}"
        )
    return None


def is_usual(value: float, reading: Reading) -> bool:
    """Tell whether *value* is what such a reading usually shows; true where the catalogue names no range."""
    return _inside(value, reading.usual)


def slip(
    number: float, unit: str, reading: Reading, bounds: Range, *, has_point: bool
) -> tuple[float, str, str] | None:
    """Return the slip that would explain an unlikely or impossible number, or None.

    Args:
        number: as typed.
        unit: the unit it was taken in.
        reading: what was read.
        bounds: what the reading can be.
        has_point: the number was typed with a decimal sign.

    Returns:
        number and unit as they were perhaps meant, and what then went wrong, in words; none for the unit.
    """
    window = reading.usual if reading.usual != (None, None) else bounds
    if window == (None, None):
        return None
    for other in _MISTAKEN.get(kind_of(unit), ()):
        if other != unit and _fits(number, other, reading, window, bounds):
            return number, other, ""
    if bounds[0] == 0.0 and number < 0.0 and _fits(-number, unit, reading, window, bounds):
        return -number, unit, "without the minus"
    factor = 10.0 if has_point else 0.1
    shifted = float(f"{number * factor:.12g}")
    if number and unit in _LOSES_ITS_POINT and _fits(shifted, unit, reading, window, bounds):
        return shifted, unit, "with the lost factor of ten"
    return None


def _fits(number: float, unit: str, reading: Reading, window: Range, bounds: Range) -> bool:
    value = convert(number, unit, reading.unit)
    return _inside(value, window) and _inside(value, bounds)


def _inside(value: float, bounds: Range) -> bool:
    low, high = bounds
    return (low is None or value >= low) and (high is None or value <= high)


def _widest(ranges: Sequence[Range]) -> Range:
    lows, highs = [low for low, _ in ranges], [high for _, high in ranges]
    return (
        None if None in lows else min(low for low in lows if low is not None),
        None if None in highs else max(high for high in highs if high is not None),
    )


# ------------------------------------------------------------------------- conditions on the facts of the car


def holds(condition: Condition, facts: Mapping[str, Answer]) -> bool | None:
    """Return what a condition on facts of the car says, None when a fact is missing or a limit is named."""
    match condition:
        case ChoiceIs(quantity, how, values):
            answer = facts.get(quantity)
            return None if answer is None else _choice(answer, how, frozenset(values))
        case Compare(quantity, how, limit):
            number = facts.get(quantity)
            if not isinstance(number, float) or isinstance(limit, str):
                return None
            return {
                "below": number < limit, "above": number > limit,
                "at_most": number <= limit, "at_least": number >= limit,
            }[how]  # fmt: skip
        case AllOf(parts):
            truths = [holds(part, facts) for part in parts]
            return False if False in truths else None if None in truths else True
        case AnyOf(parts):
            truths = [holds(part, facts) for part in parts]
            return True if True in truths else None if None in truths else False
        case Not(part):
            inner = holds(part, facts)
            return None if inner is None else not inner
        case Settled(truth):
            return truth
        case Found():
            return None


def _choice(answer: Answer, how: str, values: frozenset[str]) -> bool:
    if isinstance(answer, float):
        answer = f"{answer:g}"
    given = frozenset(answer) if isinstance(answer, tuple) else frozenset({answer})
    match how:
        case "is":
            return given == values if isinstance(answer, tuple) else given <= values
        case "is_not":
            return given != values if isinstance(answer, tuple) else not given & values
        case "has":
            return values <= given
        case "one_of" | "has_any":
            return bool(given & values)
        case "has_none":
            return not given & values
        case _:
            return bool(given - values)
