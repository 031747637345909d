"""Limits of a step in words: value, unit, source."""

from __future__ import annotations

from collections.abc import Iterable

from engine.situation import Point, Situation, comparisons
from engine.tree import Step
from engine.wording import is_trim, number_words


def limits_of(step: Step, situation: Situation, quantity: str, most: int = 4) -> tuple[str, str]:
    """Return the limits a quantity is judged by at this step, and where the first comes from, in words."""
    point = Point(situation)
    unit = situation.catalogue.unit(quantity)
    found: dict[float, str] = {}
    for rule in step.rules:
        for compare in comparisons(rule.when):
            used = point.limit(compare.limit) if compare.quantity == quantity else None
            if used is not None:
                found.setdefault(round(used.value, 6), used.source_words)
    if not found:
        return "", ""
    figures = [_signed(quantity, value, unit) for value in sorted(list(found)[:most])]
    word = "limit" if len(figures) == 1 else "limits"
    return f"{word} {', '.join(figures)} {unit}".rstrip(), next(iter(found.values()))


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
