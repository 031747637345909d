"""What is known of the car at one moment, and what conditions say of it: true, false or unknown.

A ``Situation`` is a snapshot; evaluating it never changes it. Uncertainty enters as a *shift*: readings
moved away from what was read, so that the same code serves the nominal verdict and every sampled point.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from engine.catalogue import Argument, Catalogue, Limit, MakerFigure, Recipe, place_of
from engine.formulas.registry import FormulaError, formula
from engine.kit import Kit
from engine.local_figures import LocalFigure
from engine.measured import Answer, Value
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Condition, Found, Not, Settled

Truth = bool | None
"""True, False, or None for unknown."""

CODES_OF_EITHER_KIND = "dtc_any"
_CODE_READINGS = ("dtc_stored", "dtc_pending")


@dataclass(frozen=True, slots=True)
class FoundFact:
    """A finding made on the way."""

    finding: str
    side: str | None
    sure: float
    """Probability with which its rule held."""
    firm: bool = True
    """False when a maker's figure it needed was not to hand: it cannot carry *proven*."""


def sides_meet(one: str | None, other: str | None) -> bool:
    """Tell whether two sides speak of the same place: ``b1`` meets ``b1s1``, and None meets all."""
    return one is None or other is None or one.startswith(other) or other.startswith(one)


@dataclass(frozen=True, slots=True)
class Situation:
    """Known values, findings and the car, at one moment."""

    catalogue: Catalogue
    values: Mapping[str, Value]
    findings: tuple[FoundFact, ...] = ()
    _had: dict[str, bool] = field(default_factory=dict, compare=False, repr=False)
    _kits: list[Kit] = field(default_factory=list, compare=False, repr=False)

    @property
    def kit(self) -> Kit:
        """The instruments on the van."""
        if not self._kits:
            told = self.values.get("kit_tools")
            tools = told.answer if told is not None and isinstance(told.answer, tuple) else None
            self._kits.append(Kit(self.catalogue, tools))
        return self._kits[0]

    def has(self, quantity: str) -> bool:
        """Tell whether the car has this quantity at all: a bank 2, an air meter, a switching sensor."""
        if quantity not in self._had:
            self._had[quantity] = self._has(quantity)
        return self._had[quantity]

    def _has(self, quantity: str) -> bool:
        place = place_of(quantity)
        if place is not None and place.startswith("b2") and self.banks == 1:
            return False
        reading = self.catalogue.readings.get(quantity)
        if reading is not None:
            return self._facts_allow(reading.has)
        worked = self.catalogue.worked.get(quantity)
        if worked is None:
            return True
        return self._facts_allow(worked.has) and any(self._has_all(recipe) for recipe in worked.recipes)

    def _has_all(self, recipe: Recipe) -> bool:
        needed = (arg.quantity for _, arg in recipe.arguments if arg.quantity and arg.constant is None)
        return all(self.has(name) for name in needed)

    def _facts_allow(self, needs: Mapping[str, tuple[str, ...]]) -> bool:
        for fact, answers in needs.items():
            known = self.values.get(fact)
            if known is not None and known.answer not in answers:
                return False
        return True

    @property
    def banks(self) -> int:
        """Banks with their own upstream sensor; one until the papers say otherwise."""
        known = self.values.get("veh_banks")
        return int(known.number) if known is not None and isinstance(known.answer, float) else 1

    def found(self, finding: str, side: str | None = None) -> FoundFact | None:
        """Return the surest finding of this name on *side*, or None."""
        made = [fact for fact in self.findings if fact.finding == finding and sides_meet(fact.side, side)]
        return max(made, key=lambda fact: (fact.firm, fact.sure), default=None)

    def with_values(self, changed: Mapping[str, Value]) -> Situation:
        """Return this situation with some values replaced; for trying another value."""
        return replace(self, values={**self.values, **changed}, _had={}, _kits=[])


@dataclass(slots=True)
class Point:
    """One evaluation of a situation: with its readings as they are, or each shifted by some amount.

    Worked values are computed once a point. Comparisons named in *settled* are not evaluated again.
    """

    situation: Situation
    shift: Mapping[str, float] = field(default_factory=dict)
    settled: Mapping[Compare, Truth] = field(default_factory=dict)
    _worked: dict[str, Answer | None] = field(default_factory=dict)

    # ------------------------------------------------------------ quantities

    def answer(self, quantity: str) -> Answer | None:
        """Return the value of a reading or worked value here, or None when it is not known."""
        if quantity == CODES_OF_EITHER_KIND:
            return self._codes()
        value = self.situation.values.get(quantity)
        if value is not None:
            if isinstance(value.answer, float):
                return value.answer + self.shift.get(quantity, 0.0)
            return None if value.not_looked else value.answer
        if quantity not in self.situation.catalogue.worked:
            return None
        if quantity not in self._worked:
            self._worked[quantity] = self._work(quantity)
        return self._worked[quantity]

    def number(self, quantity: str) -> float | None:
        """Return the numeric value of a quantity, or None when it is not known or no number."""
        answer = self.answer(quantity)
        return answer if isinstance(answer, float) else None

    def _codes(self) -> tuple[str, ...] | None:
        known = [value.answer for name in _CODE_READINGS if (value := self.situation.values.get(name))]
        if not known:
            return None
        return tuple(sorted({code for answer in known if isinstance(answer, tuple) for code in answer}))

    def _work(self, quantity: str) -> Answer | None:
        if not self.situation.has(quantity):
            return None
        for recipe in self.situation.catalogue.worked[quantity].recipes:
            arguments = self._arguments(recipe)
            if arguments is None:
                continue
            results = self._results(recipe.formula, arguments)
            if results is None:
                continue
            answer = results[recipe.result] if recipe.result else next(iter(results.values()))
            return float(answer) if isinstance(answer, int | float) else answer
        return None

    def _results(self, name: str, arguments: Mapping[str, float | str]) -> Mapping[str, float | str] | None:
        """Return a formula's results; None outside its range, where a shifted reading may lie a little."""
        if self.shift:
            return formula(name).sampled(**arguments)
        try:
            return formula(name).compute(**arguments)
        except FormulaError:
            return None

    def _arguments(self, recipe: Recipe) -> dict[str, float | str] | None:
        arguments: dict[str, float | str] = {}
        for name, argument in recipe.arguments:
            value = self._argument(argument)
            if value is None:
                return None
            arguments[name] = value
        return arguments

    def _argument(self, argument: Argument) -> float | str | None:
        if argument.quantity is not None:
            answer = self.answer(argument.quantity)
            if isinstance(answer, float | str):
                return answer
        return argument.constant

    # ---------------------------------------------------------------- limits

    def limit(self, name_or_number: str | float) -> LimitUsed | None:
        """Return a limit as it stands for this car here, or None when what it rests on is not known."""
        if not isinstance(name_or_number, str):
            return LimitUsed(None, float(name_or_number), float(name_or_number), None)
        limit = self.situation.catalogue.limits[name_or_number]
        if limit.maker is not None:
            figure = self._figure(limit.maker)
            if figure is not None:
                return LimitUsed(limit, figure, figure, None, by_maker=True)
        general = self._general(limit)
        if general is None:
            return None
        local = isinstance(general, LocalFigure)
        known = isinstance(general, LocalFigure) and general.is_makers  # the shop has the maker's figure
        absent = limit.maker.reading if limit.maker is not None and not known else None
        unknown_axis = not local and limit.table_of is not None and self.number(limit.table_of) is None
        widened = general + limit.widen if absent or unknown_axis else general
        return LimitUsed(limit, general, widened, absent)

    def _general(self, limit: Limit) -> float | None:
        if limit.relative is not None:
            return self._figure(limit.relative)
        for condition, value in limit.cases:
            if self.truth(condition):
                return value
        if limit.table_of is not None:
            at = self.number(limit.table_of)
            if at is not None:
                return interpolate(limit.table, at)
        return limit.value

    def _figure(self, figure: MakerFigure) -> float | None:
        base = self.number(figure.reading)
        return None if base is None else base * figure.times + figure.plus

    # ------------------------------------------------------------ conditions

    def truth(self, condition: Condition) -> Truth:
        """Return what a condition says here, by three-valued logic."""
        match condition:
            case Settled(truth):
                return truth
            case Compare():
                if condition in self.settled:
                    return self.settled[condition]
                return self._compare(condition)
            case ChoiceIs():
                return self._choice(condition)
            case Found(findings, side):
                return all(self.situation.found(name, side) is not None for name in findings)
            case AllOf(parts):
                return _all(self.truth(part) for part in parts)
            case AnyOf(parts):
                return _any(self.truth(part) for part in parts)
            case Not(part):
                inner = self.truth(part)
                return None if inner is None else not inner

    def _compare(self, condition: Compare) -> Truth:
        if not self.situation.has(condition.quantity):
            return False
        value = self.number(condition.quantity)
        used = self.limit(condition.limit)
        if value is None or used is None:
            return None
        low, high = used.low, used.high
        match condition.how:
            case "above":
                return True if value > high else (False if value <= low else None)
            case "at_least":
                return True if value >= high else (False if value < low else None)
            case "below":
                return True if value < low else (False if value >= high else None)
            case "at_most":
                return True if value <= low else (False if value > high else None)

    def _choice(self, condition: ChoiceIs) -> Truth:
        if not self.situation.has(condition.quantity):
            return False
        answer = self.answer(condition.quantity)
        if answer is None:
            return None
        words = condition.values
        if condition.quantity == CODES_OF_EITHER_KIND and "dtc_stored" not in self.situation.values:
            # pending codes alone can show that a code is there, never that none is
            positive = condition.how in ("has", "has_any", "one_of")
            found = isinstance(answer, tuple) and self._several(condition.how, answer, words)
            return True if positive and found else None
        if isinstance(answer, tuple):
            return self._several(condition.how, answer, words)
        text = answer if isinstance(answer, str) else f"{answer:g}"
        match condition.how:
            case "is" | "one_of" | "has_any":
                return text in words
            case "has":
                return all(word == text for word in words)
            case "is_not" | "has_none" | "has_other_than":
                return text not in words

    def _several(self, how: str, answer: tuple[str, ...], words: tuple[str, ...]) -> bool:
        def is_one(entry: str) -> bool:
            return any(self._meets(entry, word) for word in words)

        every_word = all(any(self._meets(entry, word) for entry in answer) for word in words)
        match how:
            case "is":
                return every_word and all(is_one(entry) for entry in answer)
            case "is_not":
                return not (every_word and all(is_one(entry) for entry in answer))
            case "has":
                return every_word
            case "has_any" | "one_of":
                return any(is_one(entry) for entry in answer)
            case "has_none":
                return not any(is_one(entry) for entry in answer)
            case _:
                return any(not is_one(entry) for entry in answer)

    def _meets(self, entry: str, word: str) -> bool:
        if entry == word:
            return True
        if word.startswith("group:") or (len(word) == 11 and word[5] == "-"):
            return self.situation.catalogue.codes.matches(entry, word)
        return False


def settle(condition: Condition, point: Point, loose: Collection[Compare]) -> Condition:
    """Return *condition* with everything but the *loose* comparisons evaluated at *point*."""
    match condition:
        case Compare() if condition in loose:
            return _with_number(condition, point)
        case AllOf(parts):
            kept = _kept(parts, point, loose, neutral=True)
            return kept if isinstance(kept, Settled) else AllOf(kept)
        case AnyOf(parts):
            kept = _kept(parts, point, loose, neutral=False)
            return kept if isinstance(kept, Settled) else AnyOf(kept)
        case Not(part):
            inner = settle(part, point, loose)
            if isinstance(inner, Settled):
                return Settled(None if inner.truth is None else not inner.truth)
            return Not(inner)
        case _:
            return Settled(point.truth(condition))


def _with_number(compare: Compare, point: Point) -> Compare:
    """Return a comparison with the limit's number in place of its name, where no reading can move it."""
    if not isinstance(compare.limit, str):
        return compare
    limit = point.situation.catalogue.limits[compare.limit]
    used = point.limit(compare.limit)
    if used is None or limit.relative or limit.maker or limit.table_of or limit.cases:
        return compare
    return Compare(compare.quantity, compare.how, used.value)


def _kept(
    parts: tuple[Condition, ...], point: Point, loose: Collection[Compare], *, neutral: bool
) -> Settled | tuple[Condition, ...]:
    """Return the parts that still matter in an *and* (neutral True) or an *or* (neutral False)."""
    kept: list[Any] = []
    for part in parts:
        reduced = settle(part, point, loose)
        if not isinstance(reduced, Settled) or reduced.truth is None:
            kept.append(reduced)
        elif reduced.truth is not neutral:
            return reduced
    open_parts = [part for part in kept if not isinstance(part, Settled)]
    if not open_parts:
        return Settled(None if kept else neutral)
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class LimitUsed:
    """A limit as it stood when something was judged by it."""

    limit: Limit | None
    value: float
    widened: float
    """The other edge of the band in which nothing is decided; equal to *value* when there is none."""
    not_to_hand: str | None
    """The maker's figure that would have replaced it."""
    by_maker: bool = False

    @property
    def low(self) -> float:
        """The lower edge of the undecided band."""
        return min(self.value, self.widened)

    @property
    def high(self) -> float:
        """The upper edge of the undecided band."""
        return max(self.value, self.widened)

    @property
    def source_words(self) -> str:
        """Where it comes from, in words."""
        if self.by_maker:
            return "maker's figure"
        if isinstance(self.value, LocalFigure):
            return self.value.source.words
        return self.limit.source.words if self.limit is not None else "the tree"


def interpolate(points: tuple[tuple[float, float], ...], at: float) -> float:
    """Return the value at *at*, linear between the points and held at both ends."""
    if at <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return points[-1][1]


def comparisons(condition: Condition | None) -> Iterator[Compare]:
    """Yield every comparison inside a condition."""
    match condition:
        case Compare():
            yield condition
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from comparisons(part)
        case Not(part):
            yield from comparisons(part)
        case _:
            return


def quantities(condition: Condition | None) -> Iterator[str]:
    """Yield every reading or worked value a condition asks for."""
    match condition:
        case Compare(quantity) | ChoiceIs(quantity):
            yield quantity
        case AllOf(parts) | AnyOf(parts):
            for part in parts:
                yield from quantities(part)
        case Not(part):
            yield from quantities(part)
        case _:
            return


def _all(truths: Iterator[Truth]) -> Truth:
    result: Truth = True
    for truth in truths:
        if truth is False:
            return False
        if truth is None:
            result = None
    return result


def _any(truths: Iterator[Truth]) -> Truth:
    result: Truth = False
    for truth in truths:
        if truth is True:
            return True
        if truth is None:
            result = None
    return result


def standard_normal_cdf(z: float) -> float:
    """Return the share of a standard normal below *z*."""
    return 0.5 * math.erfc(-z / math.sqrt(2))
