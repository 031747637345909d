"""Limits of a step in words: value, unit, source."""

from __future__ import annotations

from engine.situation import Point, Situation, comparisons
from engine.tree import Step
from engine.wording import is_trim, number_words

_HOW = {"below": "<", "at_most": "≤", "above": ">", "at_least": "≥"}


def limit_words(step: Step, situation: Situation, quantity: str, most: int = 2) -> str:
    """Return the limits a quantity is judged by at this step, with where they come from."""
    point = Point(situation)
    unit = situation.catalogue.unit(quantity)
    found: dict[tuple[str, float], str] = {}
    for rule in step.rules:
        for compare in comparisons(rule.when):
            if compare.quantity != quantity:
                continue
            used = point.limit(compare.limit)
            if used is not None:
                found.setdefault((_HOW[compare.how], round(used.value, 6)), used.source_words)
    if not found:
        return ""
    shown = list(found)[:most]
    figures = ", ".join(f"{how} {_signed(quantity, value, unit)}" for how, value in shown)
    return f"{figures} {unit}; {next(iter(found.values()))}".replace("  ", " ")


def _signed(quantity: str, value: float, unit: str) -> str:
    text = number_words(value, unit).removesuffix(unit).rstrip()
    return f"+{text}" if is_trim(quantity) and value > 0 and not text.startswith("+") else text


def judged_quantities(step: Step) -> list[str]:
    """Return every number the step's rules compare with a limit, in order."""
    names: dict[str, None] = {}
    for rule in step.rules:
        for compare in comparisons(rule.when):
            names[compare.quantity] = None
    return list(names)
