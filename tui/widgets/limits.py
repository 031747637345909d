"""Limits of a step in words: value, unit, source."""

from __future__ import annotations

from collections.abc import Iterable

from engine.situation import LimitUsed, Point, Situation, comparisons
from engine.tree import Step
from engine.wording import is_trim, number_words


def limits_of(step: Step, situation: Situation, quantity: str, most: int = 4) -> tuple[str, str]:
    """Return the limits a quantity is judged by at this step and where they come from, the maker first."""
    point = Point(situation)
    unit = situation.catalogue.unit(quantity)
    found: dict[float, str] = {}
    by_maker = ""
    for rule in step.rules:
        for compare in comparisons(rule.when):
            used = point.limit(compare.limit) if compare.quantity == quantity else None
            if used is not None:
                found.setdefault(round(used.value, 6), used.source_words)
                by_maker = used.source_words if used.by_maker else by_maker
    if not found:
        return "", ""
    figures = [_signed(quantity, value, unit) for value in sorted(list(found)[:most])]
    word = "limit" if len(figures) == 1 else "limits"
    return f"{word} {', '.join(figures)} {unit}".rstrip(), by_maker or next(iter(found.values()))


def band_words(step: Step, situation: Situation, quantity: str, value: float | None) -> tuple[str, str]:
    """Return the good band of a quantity at this step, or the limits nearest to its value, with the source.

    The good band lies between the limits of the rules whose verdict is good. Where they close none, the
    nearest limit on each side of *value* is given, of zero while there is no value.
    """
    point = Point(situation)
    good: dict[bool, list[LimitUsed]] = {True: [], False: []}
    every: dict[float, LimitUsed] = {}
    for rule in step.rules:
        for compare in comparisons(rule.when):
            used = point.limit(compare.limit) if compare.quantity == quantity else None
            if used is None:
                continue
            every.setdefault(round(used.value, 6), used)
            if rule.grade == "ok":
                good[compare.how in ("below", "at_most")].append(used)
    if not every:
        return "", ""
    unit = situation.catalogue.unit(quantity)
    low = max((used.value for used in good[False]), default=None)
    high = min((used.value for used in good[True]), default=None)
    if low is not None and high is not None and low < high:
        source = min(good[False], key=lambda used: abs(used.value - low)).source_words
        words = f"good {_signed(quantity, low, unit)} … {_signed(quantity, high, unit)} {unit}".rstrip()
        return words, source
    at = value if value is not None else 0.0
    under = max((limit for limit in every if limit <= at), default=None)
    over = min((limit for limit in every if limit > at), default=None)
    nearest = [limit for limit in (under, over) if limit is not None]
    figures = ", ".join(_signed(quantity, limit, unit) for limit in nearest)
    word = "limit" if len(nearest) == 1 else "limits"
    return f"{word} {figures} {unit}".rstrip(), every[nearest[0]].source_words


def limit_words(step: Step, situation: Situation, quantity: str) -> str:
    """Return the limits of a quantity with their source in one text."""
    figures, source = limits_of(step, situation, quantity, most=3)
    return f"{figures}; {source}" if figures else ""


def _signed(quantity: str, value: float, unit: str) -> str:
    text = number_words(value, unit).removesuffix(unit).rstrip()
    return f"+{text}" if is_trim(quantity) and value > 0 and not text.startswith("+") else text


def short_label(label: str, words: Iterable[str]) -> str:
    """Return a label without what follows its first comma and without these words of place and state."""
    text = label.partition(",")[0]
    for part in words:
        text = text.replace(part, "") if part else text
    return " ".join(text.split())


def judged_quantities(step: Step) -> list[str]:
    """Return every number the step's rules compare with a limit, in order."""
    names: dict[str, None] = {}
    for rule in step.rules:
        for compare in comparisons(rule.when):
            names[compare.quantity] = None
    return list(names)
