"""How far each reading is from the limits it was judged by, and which limit would turn the verdict."""

from __future__ import annotations

from dataclasses import dataclass

from engine.judging import Judgement, first_match
from engine.situation import LimitUsed, Point, Situation, comparisons
from engine.tree import Compare, Rule, Step


@dataclass(frozen=True, slots=True)
class Margin:
    """One comparison of the step: a quantity, its limit, and the distance between them."""

    quantity: str
    value: float
    how: str
    limit: str | None
    """Name of the limit, None for a bare number."""
    limit_value: float
    source: str
    holds: bool
    distance: float
    """Value minus limit, in the quantity's unit."""
    turns_to: str | None
    """The verdict (or ``cannot``) that crossing this limit alone would give; None when it changes nothing."""


def margins(step: Step, situation: Situation, judgement: Judgement) -> tuple[Margin, ...]:
    """Return the margins of all comparisons that could be evaluated, the nearest turning one first."""
    point = situation.as_read
    now = first_match(step, point)
    found: dict[Compare, Margin] = {}
    for rule in step.rules:
        for compare in comparisons(rule.when):
            if compare not in found:
                margin = _margin(step, point, compare, now[0])
                if margin is not None:
                    found[compare] = margin
    scale = {m.quantity: max(abs(m.limit_value), 1e-9) for m in found.values()}
    return tuple(
        sorted(
            found.values(),
            key=lambda m: (m.turns_to is None, abs(m.distance) / scale[m.quantity]),
        )
    )


def _margin(step: Step, point: Point, compare: Compare, now: Rule | None) -> Margin | None:
    value, used = point.number(compare.quantity), point.limit(compare.limit)
    truth = point.truth(compare)
    if value is None or used is None or truth is None:
        return None
    crossed = point.crossing(compare, not truth)
    other, _ = first_match(step, crossed)
    turns = None
    if (other.id if other else None) != (now.id if now else None):
        turns = other.verdict if other else "cannot be decided"
    return Margin(
        quantity=compare.quantity,
        value=value,
        how=compare.how,
        limit=compare.limit if isinstance(compare.limit, str) else None,
        limit_value=used.value,
        source=used.source_words,
        holds=truth,
        distance=value - used.value,
        turns_to=turns,
    )


def limits_used(step: Step, situation: Situation) -> dict[str, LimitUsed]:
    """Return every named limit of the step's rules as it stood."""
    point = situation.as_read
    used: dict[str, LimitUsed] = {}
    for rule in step.rules:
        for compare in comparisons(rule.when):
            if isinstance(compare.limit, str) and compare.limit not in used:
                limit = point.limit(compare.limit)
                if limit is not None and point.situation.has(compare.quantity):
                    used[compare.limit] = limit
    return used


def makers_figures_missed(rule: Rule | None, situation: Situation) -> tuple[str, ...]:
    """Return the maker's figures that were not to hand for the limits of the rule that decided."""
    if rule is None:
        return ()
    point = situation.as_read
    missed = set()
    for compare in comparisons(rule.when):
        used = point.limit(compare.limit)
        if used is not None and used.not_to_hand:
            missed.add(used.not_to_hand)
    return tuple(sorted(missed))
