"""Gaps and shadows: readings no rule answers, and rules no reading reaches.

Every quantity a step's rules ask for gets sample values: below, at and above each limit, the ends of what
can be typed, every choice. A search over these values decides one quantity at a time and looks no further
where the first rule that holds is settled, so it covers the whole product without writing it out.
Limits stand at their general figure, those relative to another quantity move with it; worked values are
taken as free.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations, pairwise
from typing import TypeAlias

from engine.catalogue import Catalogue, Limit, MakerFigure, Reading
from engine.measured import Value
from engine.situation import Situation, Truth
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Condition, Found, Not, Rule, Step

Sample: TypeAlias = float | str | tuple[str, ...] | bool
Key: TypeAlias = str | tuple[str, str | None]
"""A quantity, or a finding with its side."""

MOST_LOOKED_AT = 10_000
"""Partial combinations looked at in one step."""
_OTHER_CODE = "P1FFF"


@dataclass(slots=True)
class Coverage:
    """What a search over a step's sample values found."""

    first: set[str] = field(default_factory=set)
    """Rules that are the first to hold somewhere."""
    gap: Mapping[Key, Sample] | None = None
    """Values at which no rule holds."""
    complete: bool = True
    """False when the search was cut short."""


@dataclass(slots=True)
class _Search:
    rules: Sequence[Rule]
    samples: Samples
    evaluator: Evaluator
    coverage: Coverage = field(default_factory=Coverage)
    looked_at: int = 0

    def choose_facts(self, facts: Sequence[str], chosen: dict[Key, Sample]) -> None:
        """Choose first what the car has, since a quantity it has not got makes its conditions false."""
        if not facts:
            self.run(chosen, 0)
            return
        for sample in self.samples.at(facts[0], chosen):
            self.choose_facts(facts[1:], {**chosen, facts[0]: sample})

    def run(self, chosen: dict[Key, Sample], start: int) -> None:
        """Look at all that is open once *chosen* stands and the rules before *start* are false."""
        self.looked_at += 1
        if self.looked_at > MOST_LOOKED_AT:
            self.coverage.complete = False
            return
        for index in range(start, len(self.rules)):
            rule = self.rules[index]
            truth = True if rule.when is None else self.evaluator.truth(rule.when, chosen)
            if truth:
                self.coverage.first.add(rule.id)
                return
            if truth is None and rule.when is not None:
                self._branch(_undecided(rule.when, chosen, self.evaluator), chosen, index)
                return
        if self.coverage.gap is None:
            self.coverage.gap = dict(chosen)

    def _branch(self, key: Key, chosen: dict[Key, Sample], index: int) -> None:
        for sample in self.samples.at(key, chosen):
            chosen[key] = sample
            self.run(chosen, index)
            if not self.coverage.complete:
                break
        del chosen[key]


def coverage(step: Step, catalogue: Catalogue) -> Coverage:
    """Return which rules of a step come first somewhere, and values that none of them answers."""
    evaluator = Evaluator(catalogue)
    search = _Search(step.rules, Samples.of(step.rules, evaluator), evaluator)
    search.choose_facts(evaluator.facts_among(search.samples.tests), {})
    return search.coverage


@dataclass(slots=True)
class Evaluator:
    """Says what conditions are at sample values, and remembers what it worked out of codes and choices."""

    catalogue: Catalogue
    _answered: dict[tuple[ChoiceIs, Sample], bool] = field(default_factory=dict)
    _met: dict[tuple[str, str], bool] = field(default_factory=dict)
    _facts: dict[str, frozenset[str]] = field(default_factory=dict)
    _had: dict[tuple[str, tuple[Sample | None, ...]], bool] = field(default_factory=dict)

    def facts_among(self, keys: Iterable[Key]) -> list[str]:
        """Return those of *keys* that decide whether the car has another of them."""
        names = [key for key in keys if isinstance(key, str)]
        deciding = frozenset().union(*(self._facts_of(name) for name in names)) if names else frozenset()
        return [name for name in names if name in deciding]

    def _facts_of(self, quantity: str) -> frozenset[str]:
        if quantity not in self._facts:
            catalogue = self.catalogue
            worked = catalogue.worked.get(quantity)
            facts = set(worked.has) if worked else set()
            for name in catalogue.base_readings(quantity):
                reading = catalogue.readings.get(name)
                facts.update(reading.has if reading else ())
            if "b2" in f"{quantity} {' '.join(catalogue.base_readings(quantity))}":
                facts.add("veh_banks")
            self._facts[quantity] = frozenset(facts - {quantity})
        return self._facts[quantity]

    def _has(self, quantity: str, chosen: Mapping[Key, Sample]) -> bool:
        """Tell whether a car with the chosen facts has this quantity."""
        facts = sorted(self._facts_of(quantity))
        known = tuple(chosen.get(fact) for fact in facts)
        if not any(value is not None for value in known):
            return True
        if (quantity, known) not in self._had:
            values = {
                fact: Value(fact, value, "DOC")
                for fact, value in zip(facts, known, strict=True)
                if value is not None
            }
            self._had[quantity, known] = Situation(self.catalogue, values).has(quantity)
        return self._had[quantity, known]

    def truth(self, condition: Condition, chosen: Mapping[Key, Sample]) -> Truth:
        """Return what a condition says; None while values it needs are not chosen."""
        match condition:
            case Compare(quantity) | ChoiceIs(quantity) if not self._has(quantity, chosen):
                return False
            case Compare(quantity, how, limit):
                value, figure = chosen.get(quantity), self.figure(limit, chosen)
                return None if value is None or figure is None else _compares(value, how, figure)
            case ChoiceIs(quantity):
                answer = chosen.get(quantity)
                return None if answer is None else self._choice(condition, answer)
            case Found(findings, side):
                return _all([chosen.get((finding, side)) for finding in findings])
            case AllOf(parts):
                return _all([self.truth(part, chosen) for part in parts])
            case AnyOf(parts):
                truths = [self.truth(part, chosen) for part in parts]
                return True if True in truths else None if None in truths else False
            case Not(part):
                inner = self.truth(part, chosen)
                return None if inner is None else not inner
        raise AssertionError(condition)

    def figure(self, limit: str | float, chosen: Mapping[Key, Sample]) -> float | None:
        """Return a limit as it stands here; None while the quantity it moves with is not chosen."""
        moving = moves_with(limit, self.catalogue)
        if moving is None:
            return figure_of(limit, self.catalogue)
        base = chosen.get(moving.reading)
        return base * moving.times + moving.plus if isinstance(base, float) else None

    def _choice(self, condition: ChoiceIs, answer: Sample) -> bool:
        key = (condition, answer)
        if key not in self._answered:
            self._answered[key] = self._chooses(answer, condition.how, condition.values)
        return self._answered[key]

    def _chooses(self, answer: Sample, how: str, words: tuple[str, ...]) -> bool:
        if not isinstance(answer, tuple):
            word = f"{answer:g}" if isinstance(answer, float) else str(answer)
            negated = how in ("is_not", "has_none", "has_other_than")
            return (word not in words) if negated else (word in words)
        hits = [any(self._meets(one, word) for one in answer) for word in words]
        strange = [not any(self._meets(one, word) for word in words) for one in answer]
        match how:
            case "is":
                return all(hits) and not any(strange)
            case "is_not":
                return not (all(hits) and not any(strange))
            case "has":
                return all(hits)
            case "has_any" | "one_of":
                return any(hits)
            case "has_none":
                return not any(hits)
            case _:
                return any(strange)

    def _meets(self, entry: str, word: str) -> bool:
        if entry == word:
            return True
        if not word.startswith("group:") and not (len(word) == 11 and word[5] == "-"):
            return False
        key = (entry, word)
        if key not in self._met:
            self._met[key] = self.catalogue.codes.matches(entry, word)
        return self._met[key]


def _all(truths: Sequence[Sample | None]) -> Truth:
    return False if False in truths else None if None in truths else True


def _compares(value: Sample, how: str, limit: float) -> bool:
    if not isinstance(value, float):
        return False
    match how:
        case "below":
            return value < limit
        case "above":
            return value > limit
        case "at_least":
            return value >= limit
        case _:
            return value <= limit


def _undecided(condition: Condition, chosen: Mapping[Key, Sample], evaluator: Evaluator) -> Key:
    """Return something a condition still hangs on."""
    if isinstance(condition, AllOf | AnyOf):
        for part in condition.parts:
            if evaluator.truth(part, chosen) is None:
                return _undecided(part, chosen, evaluator)
    return next(key for key, _ in asked(condition, evaluator.catalogue) if key not in chosen)


def asked(condition: Condition | None, catalogue: Catalogue) -> Iterator[tuple[Key, Condition | None]]:
    """Return everything a condition asks for, with the test; what its limits move with has none."""
    match condition:
        case Compare(quantity, _, limit):
            moving = moves_with(limit, catalogue)
            if moving is not None:
                yield moving.reading, None
            yield quantity, condition
        case ChoiceIs(quantity):
            yield quantity, condition
        case Found(findings, side):
            for finding in findings:
                yield (finding, side), condition
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from asked(part, catalogue)
        case Not(part):
            yield from asked(part, catalogue)
        case None:
            return


# ------------------------------------------------------------------------- samples


@dataclass(slots=True)
class Samples:
    """Sample values of everything some rules ask for; one of those that all tests take alike."""

    tests: Mapping[Key, Sequence[Condition]]
    bases: frozenset[Key]
    """Quantities that limits move with: all their values are kept."""
    evaluator: Evaluator
    _fixed: dict[Key, tuple[Sample, ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, rules: Sequence[Rule], evaluator: Evaluator) -> Samples:
        """Return the samples for these rules."""
        tests: dict[Key, list[Condition]] = {}
        bases: set[Key] = set()
        for rule in rules:
            for key, test in asked(rule.when, evaluator.catalogue):
                tests.setdefault(key, [])
                if test is None:
                    bases.add(key)
                else:
                    tests[key].append(test)
        return cls(tests, frozenset(bases), evaluator)

    def at(self, key: Key, chosen: Mapping[Key, Sample]) -> tuple[Sample, ...]:
        """Return the values to try for *key* once *chosen* stands."""
        if key in self._fixed:
            return self._fixed[key]
        if isinstance(key, tuple):
            return (True, False)
        tests = self.tests[key]
        values = _values(key, tests, self.evaluator, chosen)
        moving = any(isinstance(t, Compare) and moves_with(t.limit, self.evaluator.catalogue) for t in tests)
        if key in self.bases:
            found = tuple(values)
        else:
            alike: dict[tuple[Truth, ...], Sample] = {}
            for value in values:
                there = {**chosen, key: value}
                alike.setdefault(tuple(self.evaluator.truth(test, there) for test in tests), value)
            found = tuple(alike.values())
        if not moving and not self._depends_on_facts(key):
            self._fixed[key] = found
        return found

    def _depends_on_facts(self, key: str) -> bool:
        return bool(self.evaluator.facts_among([key, *self.tests]))


def _values(
    quantity: str, tests: Sequence[Condition], evaluator: Evaluator, chosen: Mapping[Key, Sample]
) -> Sequence[Sample]:
    catalogue = evaluator.catalogue
    reading = catalogue.readings.get(quantity)
    words = {word: None for test in tests if isinstance(test, ChoiceIs) for word in test.values}
    kind = reading.kind if reading else "codes" if quantity == "dtc_any" else "num"
    if kind == "one" and reading is not None:
        return [choice.value for choice in reading.choices if not choice.not_looked]
    if kind == "many" and reading is not None:
        return _sets(reading, list(words))
    if kind == "codes":
        return _code_sets(list(words), catalogue)
    figures = (evaluator.figure(test.limit, chosen) for test in tests if isinstance(test, Compare))
    limits = {figure for figure in figures if figure is not None}
    counts = {float(word) for word in words if word.isdecimal()}
    numbers = _numbers(reading, limits, counts)
    return [*numbers, *(word for word in words if not word.isdecimal())] or [0.0]


def _numbers(reading: Reading | None, limits: set[float], counts: set[float]) -> list[float]:
    """Return numbers at, below and above every limit, and the ends of what can be typed."""
    low, high = reading.reject if reading else (None, None)
    ends = {end for end in (low, high) if end is not None}
    if counts and not limits:
        return sorted(counts | ends)
    edges = sorted(limits | counts)
    gaps = [second - first for first, second in pairwise(edges)]
    step = min([*gaps, 1.0]) / 4
    near = {edge + sign * step for edge in edges for sign in (-1, 0, 1)}
    if not edges and reading is not None:
        near = {end for end in reading.usual if end is not None}
    return sorted(value for value in near | ends if _within(value, low, high))


def moves_with(limit: str | float, catalogue: Catalogue) -> MakerFigure | None:
    """Return what a limit moves with, when it is relative to another quantity."""
    return catalogue.limits[limit].relative if isinstance(limit, str) else None


def _within(value: float, low: float | None, high: float | None) -> bool:
    return (low is None or value >= low) and (high is None or value <= high)


def figure_of(limit: str | float, catalogue: Catalogue) -> float:
    """Return the general figure of a limit."""
    if not isinstance(limit, str):
        return float(limit)
    return _general(catalogue.limits[limit], catalogue)


def _general(limit: Limit, catalogue: Catalogue) -> float:
    if limit.value is not None:
        return limit.value
    if limit.cases:
        return limit.cases[0][1]
    if limit.table:
        return limit.table[len(limit.table) // 2][1]
    figure = limit.maker
    if figure is None:
        return 0.0
    reading = catalogue.readings.get(figure.reading)
    low, high = reading.usual if reading else (None, None)
    middle = ((low or 0.0) + (high or low or 0.0)) / 2 if reading else 1.0
    return middle * figure.times + figure.plus


def _sets(reading: Reading, words: list[str]) -> list[tuple[str, ...]]:
    """Return nothing, each answer alone, and the pairs of those the rules name."""
    answers = [choice.value for choice in reading.choices if not choice.not_looked]
    named = [word for word in words if word in answers]
    rest = next((answer for answer in answers if answer not in named), None)
    pool = [*named, *([rest] if rest else [])]
    return [(), *((answer,) for answer in answers), *combinations(pool, 2)]


def _code_sets(words: list[str], catalogue: Catalogue) -> list[tuple[str, ...]]:
    codes = dict.fromkeys(code for word in words if (code := _code_of(word, catalogue)) is not None)
    pool = [*codes, _OTHER_CODE]
    pairs = combinations(pool, 2) if len(pool) <= 12 else ()
    return [(), *((code,) for code in pool), *pairs]


def _code_of(word: str, catalogue: Catalogue) -> str | None:
    """Return a code that a word of a rule stands for."""
    if not word.startswith("group:"):
        return word[:5]
    return next((entry.first for entry in catalogue.codes.codes if word[6:] in entry.groups), None)
