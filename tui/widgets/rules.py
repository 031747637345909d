"""The rule that fired and the rules it beat, in words; and how far the readings moved each suspect."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from textual.content import Content

from engine.situation import Point, comparisons, quantities
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Condition, Found, Not, Rule
from engine.walk_state import Event, evidence_of
from tui.session import JobSession
from tui.text import content, joined
from tui.widgets.suspects import rank_word, readings_behind
from tui.widgets.verdicts import Margin, distance_words, signed

MOST_REASONS = 2
NOTICED_SHARE = 0.0005
"""A rule with less probability than this had no chance."""
_HOW = {"below": "under", "above": "over", "at_least": "at least", "at_most": "at most"}
_OTHERWISE = {"below": "at least", "above": "at most", "at_least": "under", "at_most": "over"}


def percent(share: float) -> str:
    """Return a probability as text; never a certainty."""
    return "over 99 %" if share >= 0.995 else f"{100 * share:.0f} %" if share >= 0.01 else "under 1 %"


def rule_lines(session: JobSession, event: Event) -> list[Content]:
    """Return the rule that fired with what it rests on, and each rule it beat with the reason."""
    lines = [content("The rule that fired, and those it beat", "bold")]
    shares = {share["rule"]: share for share in event["rules"]}
    fired = shares.get(event["rule"])
    if fired is not None:
        lines.append(joined([("fired  ", "bold"), f"{event['verdict']}, {percent(fired['p'])}"]))
    if event["kind"] != "judged":
        others = [share for rule, share in shares.items() if rule != event["rule"]]
        return [*lines, *(content(f"beaten {s['verdict']}, {percent(s['p'])}") for s in others)]
    reasons = _Reasons.of(session, event)
    rules = session.step_of(event).rules
    place = next((i for i, rule in enumerate(rules) if rule.id == event["rule"]), len(rules))
    if place < len(rules):
        lines += [content(f"       because {words}") for words in reasons.holding(rules[place])]
    for index, rule in enumerate(rules):
        share = shares.get(rule.id)
        if rule.id != event["rule"] and (rule.when is not None or share is not None):
            lines += _beaten(
                reasons, rule, share["p"] if share is not None else 0.0, comes_after=index > place
            )
    return lines


def _beaten(reasons: _Reasons, rule: Rule, share: float, *, comes_after: bool) -> list[Content]:
    chance = f", {percent(share)}" if share >= NOTICED_SHARE else ""
    lines = [content(f"beaten {rule.verdict}{chance}")]
    failing = list(dict.fromkeys(reasons.failing(rule.when)))[:MOST_REASONS]
    if failing:
        lines += [content(f"       {words}", "$quiet") for words in failing]
    elif comes_after:
        lines.append(content("       comes after the one that fired", "$quiet"))
    return lines


@dataclass(frozen=True, slots=True)
class _Reasons:
    """Words for what held and what failed, from the numbers as they were judged."""

    session: JobSession
    margins: Mapping[tuple[str, str, str | float], Margin]
    point: Point

    @classmethod
    def of(cls, session: JobSession, event: Event) -> _Reasons:
        margins = {
            (m["quantity"], m["how"], m["limit"] if m["limit"] is not None else m["limit_value"]): m
            for m in event["margins"]
        }
        return cls(session, margins, Point(session.walk.state.situation()))

    def holding(self, rule: Rule) -> list[str]:
        """Return the comparisons of a rule that hold, and its answers."""
        words = []
        for compare in comparisons(rule.when):
            margin = self.margins.get((compare.quantity, compare.how, compare.limit))
            if margin is not None and margin["holds"]:
                words.append(f"{self._value(margin)} is {_HOW[compare.how]} {self._limit(margin)}")
        compared = {compare.quantity for compare in comparisons(rule.when)}
        for name in dict.fromkeys(quantities(rule.when)):
            answer = self.point.answer(name)
            if name not in compared and answer is not None:
                words.append(f"{self.session.catalogue.label(name)}: {self.session.words(name, answer)}")
        return list(dict.fromkeys(words))[:4]

    def failing(self, condition: Condition | None, *, wanted: bool = True) -> Iterator[str]:
        """Yield, for a condition that is not as wanted, what would have to be otherwise."""
        match condition:
            case Compare():
                yield from self._number(condition, wanted)
            case ChoiceIs():
                yield from self._choice(condition, wanted)
            case Found(findings):
                if self.point.truth(condition) is not wanted:
                    labels = (self.session.catalogue.findings[name].label for name in findings)
                    yield f"asks {'for' if wanted else 'against'}: {', '.join(labels)}"
            case Not(part):
                yield from self.failing(part, wanted=not wanted)
            case AllOf(parts) | AnyOf(parts):
                found = [list(self.failing(part, wanted=wanted)) for part in parts]
                one_is_enough = isinstance(condition, AnyOf) is wanted
                if not (one_is_enough and any(not reasons for reasons in found)):
                    yield from (words for reasons in found for words in reasons)

    def _number(self, compare: Compare, wanted: bool) -> Iterator[str]:
        margin = self.margins.get((compare.quantity, compare.how, compare.limit))
        if margin is None:
            yield f"{self.session.catalogue.label(compare.quantity)} is not known"
        elif margin["holds"] is not wanted:
            how = _HOW[compare.how] if wanted else _OTHERWISE[compare.how]
            missed = f"missed by {distance_words(margin)}"
            yield f"{self._value(margin)}, asks for {how} {self._limit(margin)}: {missed}"

    def _choice(self, choice: ChoiceIs, wanted: bool) -> Iterator[str]:
        if self.point.truth(choice) is wanted:
            return
        label, answer = self.session.catalogue.label(choice.quantity), self.point.answer(choice.quantity)
        if answer is None:
            yield f"{label} is not known"
            return
        shown = [self.session.words(choice.quantity, (value,)) for value in choice.values[:3]]
        more = " or others" if len(choice.values) > 3 else ""
        asks_for = (choice.how not in ("is_not", "has_none", "has_other_than")) is wanted
        kind = "asks for" if asks_for else "asks for other than"
        yield f"{label}: {self.session.words(choice.quantity, answer)}, {kind} {' or '.join(shown)}{more}"

    def _value(self, margin: Margin) -> str:
        name = margin["quantity"]
        return f"{self.session.catalogue.label(name)} {self.session.words(name, margin['value'])}"

    def _limit(self, margin: Margin) -> str:
        return signed(margin["quantity"], margin["limit_value"], margin["unit"])


# ------------------------------------------------------------------------ suspects


def move_lines(session: JobSession, event: Event, before: Sequence[Event], most: int = 4) -> list[Content]:
    """Return how far this verdict moved each suspect, and by which readings."""
    evidence = evidence_of(event)
    moved = [
        (evidence.factor(suspect.fault, suspect.side), place, suspect)
        for place, suspect in enumerate(session.suspects())
        if suspect.fault in evidence.named
    ]
    moved = [entry for entry in moved if abs(entry[0] - 1.0) > 0.02]
    if not moved:
        return [content("No suspect is moved by this verdict.")]
    moved.sort(key=lambda entry: (-abs(math.log(entry[0])), entry[1]))
    lines = [joined([("Moved by ", "bold"), f"{readings_behind(session, event)}:"])]
    for factor, place, suspect in moved[:most]:
        how = f"up {factor:.2g} times" if factor > 1.0 else f"down to {100 * factor:.0f} %"
        side = session.place(suspect.side)
        name = f"{suspect.label}, {side}" if side else suspect.label
        lines.append(content(f"  {name}: {how}, {_ranks(suspect.fault, place, before)}"))
    if len(moved) > most:
        lines.append(content(f"  and {len(moved) - most} more (s lists all)", "$quiet"))
    return lines


def _ranks(fault: str | None, place: int, before: Sequence[Event]) -> str:
    earlier = next((event["suspects"] for event in reversed(before) if event.get("suspects")), None)
    now = f"now {rank_word(place)}"
    if earlier is None:
        return now
    was = next((i for i, suspect in enumerate(earlier) if suspect["fault"] == fault), None)
    return f"{now}, was {rank_word(was)}" if was is not None else f"{now}, was further down"
