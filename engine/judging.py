"""Rules against readings: which exit, and how sure, given what the instruments can know.

Every exit of a step gets the probability that it is the first match, the readings being uncertain
(``engine.probabilities``): normal, with the standard uncertainty of a rectangular +/-a taken as a/sqrt(3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from engine.conditions import Truth, comparisons
from engine.measured import Value
from engine.probabilities import Outcomes, closed_form, sampled
from engine.resting import compare_readings, condition_readings
from engine.situation import Point, Situation, settle
from engine.tree import Compare, Condition, Exit, Grade, Refer, Rule, Settled, Step

FAR = 4.5
"""Standard uncertainties from a limit beyond which a comparison is taken as settled (p < 1e-5)."""
NEAR = 3.0
"""Standard uncertainties within which taking a reading again may well change a verdict."""
CONFIDENCE = 0.95
PROVEN_AT = 0.99
NO_WAY = Refer("This step could not be done and the tree gives no other way from here.")


@dataclass(frozen=True, slots=True)
class Share:
    """How probable it is that a rule decides; *rule* is None when none does and only the way is clear."""

    rule: Rule | None
    exit: Exit
    p: float


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a step's rules say of the readings."""

    step: Step
    shares: tuple[Share, ...]
    """All that have any probability, in the order of the rules; ``cannot`` last."""
    taken: Share
    """The most probable rule of the exit that is taken."""
    sure: float
    """Probability of the exit."""
    doubtful: bool
    """Under the confidence asked: it rules nothing out, finds nothing and carries nothing proven."""
    for_safety: bool
    """A less probable exit was taken because harm is possible."""
    open: bool
    """Something that is not known could still change the exit."""

    @property
    def exit(self) -> Exit:
        """The exit that is taken."""
        return self.taken.exit

    @property
    def rule(self) -> Rule | None:
        """The rule that decided, None when none did."""
        return self.taken.rule

    def probability_of(self, *, finding: str | None = None, also: str | None = None) -> float:
        """Return the summed probability of the rules that make a finding, or name a second fault."""
        rules = ((share.rule, share.p) for share in self.shares if share.rule is not None)
        return min(sum(p for rule, p in rules if finding in rule.findings or also in rule.also), 1.0)

    def probability_of_side(self, side: str | None) -> float:
        """Return the summed probability of the rules that name this side."""
        rules = ((share.rule, share.p) for share in self.shares if share.rule is not None)
        return min(sum(p for rule, p in rules if rule.side == side), 1.0)


def judge(step: Step, situation: Situation, confidence: float = CONFIDENCE) -> Judgement:
    """Judge a step.

    Args:
        step: with at least one rule.
        situation: what is known; readings that are missing count as not measurable.
        confidence: the least probability at which an exit is not doubtful.
    """
    nominal = situation.as_read
    first = first_match(step, nominal)
    loose = _loose(step, nominal, FAR)
    outcomes: Outcomes = [(first, 1.0)]
    if loose:
        near = _settled(step, nominal, loose)
        alone = _only_reading(situation, loose)
        outcomes = (
            closed_form(near, situation, loose, alone, first_match)
            if alone is not None
            else sampled(near, situation, _uncertain_readings(situation, loose), first_match)
        )
    shares = _shares(step, outcomes)
    return _choose(step, shares, confidence, _is_open(step, nominal))


# ------------------------------------------------------------- the first match


def first_match(step: Step, point: Point) -> tuple[Rule | None, Exit]:
    """Return the rule that decides at a point and its exit; the rule is None when none does.

    At the first rule that is unknown the step goes the way of ``cannot``, unless every rule still open leads
    the same way: then that way is taken. A true rule behind the unknown one still says what is wrong, but
    nothing is cleared there: an *ok* (or an ``otherwise``) leaves only its way.
    ``otherwise`` itself is taken only when all rules before it are false.
    """
    unknown: list[Rule] = []
    for rule in step.rules:
        truth: Truth = True if rule.when is None else point.truth(rule.when)
        if truth is None:
            unknown.append(rule)
        elif truth:
            if not unknown:
                return rule, rule.exit
            if any(other.exit != rule.exit for other in unknown):
                break
            clears = rule.when is None or rule.grade in (Grade.OK, Grade.INCONCLUSIVE)
            return None if clears else rule, rule.exit
    return None, step.cannot.exit if step.cannot else NO_WAY


def _is_open(step: Step, point: Point) -> bool:
    """Tell whether something not known, before the first rule that is true, leaves the verdict undecided."""
    for rule in step.rules:
        truth = True if rule.when is None else point.truth(rule.when)
        if truth is not False:
            return truth is None
    return False


# ------------------------------------------------------ which comparisons matter


_Moved: TypeAlias = dict[tuple[str, float], Point]
"""The points with one reading moved up or down by its standard uncertainty."""


def _loose(step: Step, nominal: Point, far: float) -> list[Compare]:
    """Return the comparisons that lie within *far* standard uncertainties of their limit."""
    loose: dict[Compare, None] = {}
    moved: _Moved = {}
    for rule in step.rules:
        for compare in comparisons(rule.when):
            if compare not in loose and not _is_far(compare, nominal, far, moved):
                loose[compare] = None
    return list(loose)


def _settled(step: Step, nominal: Point, loose: Sequence[Compare]) -> Step:
    """Return the step with everything but the loose comparisons evaluated once and for all."""
    rules = (
        rule if rule.when is None else replace(rule, when=settle(rule.when, nominal, loose))
        for rule in step.rules
    )
    return replace(step, rules=tuple(rule for rule in rules if rule.when != Settled(False)))


def _is_far(compare: Compare, nominal: Point, far: float, moved: _Moved) -> bool:
    value, used = nominal.number(compare.quantity), nominal.limit(compare.limit)
    if value is None or used is None or not nominal.situation.has(compare.quantity):
        return True
    spread = _spread(compare, nominal, moved)
    return spread == 0.0 or (value < used.low - far * spread or value > used.high + far * spread)


def _spread(compare: Compare, nominal: Point, moved: _Moved) -> float:
    """Return a bound on the standard uncertainty of value minus limit: the sum over the readings' effects."""
    situation = nominal.situation
    total = 0.0
    for name in compare_readings(situation.catalogue, [compare]):
        value = situation.values.get(name)
        if value is None or not isinstance(value.answer, float) or value.uncertainty == 0.0:
            continue
        if name == compare.quantity and isinstance(compare.limit, float):
            total += value.uncertainty
            continue
        total += max(_effect(compare, nominal, value, sign, moved) for sign in (1.0, -1.0))
    return total


def _effect(compare: Compare, nominal: Point, value: Value, sign: float, moved: _Moved) -> float:
    """Return how far the gap moves when a reading is moved by its standard uncertainty."""
    key = (value.reading, sign)
    if key not in moved:
        moved[key] = Point(nominal.situation, {value.reading: sign * value.uncertainty})
    before, after = _gap(compare, nominal), _gap(compare, moved[key])
    if before is None or after is None:
        return float("inf")
    return abs(after - before)


def _gap(compare: Compare, point: Point) -> float | None:
    value, used = point.number(compare.quantity), point.limit(compare.limit)
    return None if value is None or used is None else value - used.value


def _uncertain_readings(situation: Situation, compares: Sequence[Compare]) -> tuple[Value, ...]:
    values = (situation.values.get(name) for name in compare_readings(situation.catalogue, compares))
    return tuple(v for v in values if v is not None and isinstance(v.answer, float) and v.uncertainty > 0.0)


def _only_reading(situation: Situation, loose: Sequence[Compare]) -> Value | None:
    """Return the one uncertain reading when all near comparisons are of it against fixed limits."""
    uncertain = _uncertain_readings(situation, loose)
    if len(uncertain) != 1 or any(compare.quantity != uncertain[0].reading for compare in loose):
        return None
    for compare in loose:
        limit = situation.catalogue.limits.get(compare.limit) if isinstance(compare.limit, str) else None
        if limit is not None and uncertain[0].reading in compare_readings(situation.catalogue, [compare])[1:]:
            return None
    return uncertain[0]


# ------------------------------------------------------------------ the choice


def _shares(step: Step, outcomes: Outcomes) -> tuple[Share, ...]:
    whole = {rule.id: rule for rule in step.rules}
    order: dict[str | None, int] = {rule.id: i for i, rule in enumerate(step.rules)}
    order[None] = len(step.rules)
    total: dict[tuple[str | None, int], float] = {}
    kept: dict[tuple[str | None, int], tuple[Rule | None, Exit]] = {}
    exits: list[Exit] = []
    for (rule, way), p in outcomes:
        if way not in exits:
            exits.append(way)
        key = (rule.id if rule else None, exits.index(way))
        total[key] = total.get(key, 0.0) + p
        kept[key] = (whole[rule.id] if rule else None, way)
    ordered = sorted(total, key=lambda key: (order[key[0]], key[1]))
    return tuple(Share(*kept[key], min(total[key], 1.0)) for key in ordered if total[key] > 0.0)


def _choose(step: Step, shares: tuple[Share, ...], confidence: float, is_open: bool) -> Judgement:
    exits: list[Exit] = []
    for share in shares:
        if share.exit not in exits:
            exits.append(share.exit)

    def probability(way: Exit) -> float:
        return sum(share.p for share in shares if share.exit == way)

    best = max(exits, key=lambda way: (round(probability(way), 9), -exits.index(way)))
    harmful = next(
        (
            s
            for s in shares
            if s.rule is not None and s.rule.harm and s.p >= 1.0 - confidence and s.exit != best
        ),
        None,
    )
    for_safety = harmful is not None
    way = harmful.exit if harmful is not None else best
    taken = harmful or max((s for s in shares if s.exit == way), key=lambda s: s.p)
    sure = min(probability(way), 1.0)
    return Judgement(
        step=step,
        shares=shares,
        taken=taken,
        sure=sure,
        doubtful=sure < confidence and not for_safety,
        for_safety=for_safety,
        open=is_open,
    )


def near_limits(step: Step, situation: Situation) -> tuple[Value, ...]:
    """Return the uncertain readings of the comparisons that could come out either way."""
    return _uncertain_readings(situation, _loose(step, situation.as_read, NEAR))


def readings_used(step: Step, situation: Situation) -> tuple[str, ...]:
    """Return the known readings that this step's rules and their limits rest on, in a fixed order."""
    names: set[str] = set()
    for rule in step.rules:
        names |= readings_of(situation, rule.when)
    return tuple(sorted(name for name in names if name in situation.values))


def readings_of(situation: Situation, condition: Condition | None) -> frozenset[str]:
    """Return the readings a condition rests on, those of its limits among them."""
    return condition_readings(situation.catalogue, condition)
