"""The rule that fired and the rules it beat, in words; and how far the readings moved each suspect."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from textual.content import Content

from engine.situation import Point, comparisons, quantities
from engine.suspects import NOTICED
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Condition, Found, Not, Rule
from engine.walk_state import Event, evidence_of
from tui.session import JobSession
from tui.text import COLUMN, RANKS, content, hanging
from tui.widgets.suspects import name_of, rank_word, readings_behind
from tui.widgets.verdicts import Margin, distance_words, signed

MOST_REASONS = 2
_INDENT = 7
NOTICED_SHARE = 0.0005
"""A rule with less probability than this had no chance."""
_HOW = {"below": "under", "above": "over", "at_least": "at least", "at_most": "at most"}
_OTHERWISE = {"below": "at least", "above": "at most", "at_least": "under", "at_most": "over"}


def percent(share: float) -> str:
    """Return a probability as text; never a certainty."""
    return "over 99 %" if share >= 0.995 else f"{100 * share:.0f} %" if share >= 0.01 else "under 1 %"


def rule_lines(
    session: JobSession, event: Event, cells: int = COLUMN, most: int | None = None
) -> list[Content]:
    """Return the rule that fired with what it rests on, and the rules it beat with the reason.

    Args:
        session: the job.
        event: the judged step.
        cells: width there is.
        most: beaten rules at most, those that had a chance or were nearest; all when not given.
    """
    lines = [content("The rule that fired, and those it beat", "bold")]
    shares = {share["rule"]: share["p"] for share in event["rules"]}
    if event["rule"] in shares:
        said = f"{event['verdict']}, {percent(shares[event['rule']])}"
        lines.append(hanging("fired", said, indent=_INDENT, cells=cells))
    if event["kind"] != "judged":
        others = [share for share in event["rules"] if share["rule"] != event["rule"]]
        return [*lines, *(content(f"beaten {s['verdict']}, {percent(s['p'])}") for s in others)]
    reasons = _Reasons.of(session, event)
    rules = session.step_of(event).rules
    fired = next((rule for rule in rules if rule.id == event["rule"]), None)
    if fired is not None:
        held = reasons.holding(fired)
        lines += [hanging("", f"because {words}", indent=_INDENT, cells=cells) for words in held]
    beaten = [
        rule
        for rule in rules
        if rule is not fired and (rule.when is not None or shares.get(rule.id, 0.0) > 0.0)
    ]
    here = [rule for rule in beaten if reasons.is_for_this_car(rule)]
    shown = _nearest(event, here, shares, most)
    after = {rule.id for rule in rules[rules.index(fired) :]} if fired is not None else set()
    for rule in shown:
        lines += _beaten(reasons, rule, shares.get(rule.id, 0.0), cells, comes_after=rule.id in after)
    if len(here) > len(shown):
        lines.append(content(f"and {len(here) - len(shown)} more, further off (w lists all)", "$quiet"))
    if most is None and len(beaten) > len(here):
        lines.append(content(f"and {len(beaten) - len(here)} about what this car has not got", "$quiet"))
    return lines


def _nearest(
    event: Event, rules: Sequence[Rule], shares: Mapping[str, float], most: int | None
) -> list[Rule]:
    """Return the rules that had a chance or that one limit away would fire, in the order of the tree."""
    if most is None:
        return list(rules)
    turning = [margin["turns_to"] for margin in event["margins"] if margin["turns_to"] is not None]

    def rank(rule: Rule) -> tuple[float, int]:
        near = turning.index(rule.verdict) if rule.verdict in turning else len(turning)
        return (-shares.get(rule.id, 0.0), near)

    kept = sorted(rules, key=rank)[:most]
    return [rule for rule in rules if rule in kept]


def _beaten(reasons: _Reasons, rule: Rule, share: float, cells: int, *, comes_after: bool) -> list[Content]:
    chance = f", {percent(share)}" if share >= NOTICED_SHARE else ""
    lines = [hanging("beaten", f"{rule.verdict}{chance}", indent=_INDENT, cells=cells)]
    failing = list(dict.fromkeys(reasons.failing(rule.when)))[:MOST_REASONS]
    if not failing and comes_after:
        failing = ["holds too, but comes after the one that fired"]
    return [*lines, *(hanging("", words, indent=_INDENT, cells=cells) for words in failing)]


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

    def is_for_this_car(self, rule: Rule) -> bool:
        """Tell whether the car has everything the rule asks for."""
        return all(self.point.situation.has(name) for name in quantities(rule.when))

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


def move_lines(
    session: JobSession, event: Event, before: Sequence[Event], cells: int = COLUMN, most: int = 3
) -> list[Content]:
    """Return how far this verdict moved each suspect, up and then down, and by which readings."""
    evidence = evidence_of(event)
    moved = [
        (evidence.factor(suspect.fault, suspect.side), place, suspect)
        for place, suspect in enumerate(session.suspects())
        if suspect.fault is not None and suspect.fault in evidence.named
    ]
    up = [entry for entry in moved if entry[0] > 1.0 + NOTICED]
    down = [entry for entry in moved if entry[0] < 1.0 - NOTICED]
    if not up and not down:
        return [content("No suspect is moved by this verdict.")]
    by = f"{readings_behind(session, event)}:"
    lines = [hanging("Moved by", by, indent=9, cells=cells)]
    for factor, place, suspect in (*up[:most], *down[: most - 1]):
        how = f"up {factor:.2g} times" if factor > 1.0 else f"down to {100 * factor:.0f} %"
        words = f"{name_of(session, suspect)}: {how}{_ranks(str(suspect.fault), place, before)}"
        lines.append(hanging("", words, indent=2, cells=cells))
    more = len(up) + len(down) - len(up[:most]) - len(down[: most - 1])
    return [*lines, content(f"  and {more} more (s lists all)", "$quiet")] if more else lines


def _ranks(fault: str, place: int, before: Sequence[Event]) -> str:
    """Return which place a suspect has now and had before, while it is among the first."""
    if place >= len(RANKS):
        return ""
    earlier = next((event["suspects"] for event in reversed(before) if event.get("suspects")), ())
    was = next((i for i, suspect in enumerate(earlier) if suspect["fault"] == fault), None)
    return f", now {rank_word(place)}" + (f", was {rank_word(was)}" if was is not None else "")
