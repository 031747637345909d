"""What is known of the car at one moment, and what conditions say of it: true, false or unknown.

A ``Situation`` is a snapshot; evaluating it never changes it. Uncertainty enters as a *shift*: readings
moved away from what was read, so that the same code serves the nominal verdict and every sampled point.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from engine.catalogue import Argument, Catalogue, Limit, MakerFigure, Recipe, place_of
from engine.conditions import Truth as Truth
from engine.conditions import all_true, any_true
from engine.conditions import comparisons as comparisons
from engine.conditions import quantities as quantities
from engine.formulas.registry import FormulaError, formula
from engine.kit import Kit
from engine.limits_used import LimitUsed as LimitUsed
from engine.limits_used import interpolate
from engine.local_figures import LocalFigure
from engine.measured import Answer, Value
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Comparison, Condition, Found, Not, Settled

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
    _read: list[Point] = field(default_factory=list, compare=False, repr=False)

    @property
    def as_read(self) -> Point:
        """The readings as they are, nothing shifted; what is worked out there is kept."""
        if not self._read:
            self._read.append(Point(self))
        return self._read[0]

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

    def take_over(self, before: Situation) -> None:
        """Take over what an earlier situation knows of the car and the van, where they are the same."""
        if self.values.get("kit_tools") is before.values.get("kit_tools"):
            self._kits.extend(before._kits[:1])
        if all(self.values.get(fact) is before.values.get(fact) for fact in self.catalogue.facts):
            self._had.update(before._had)

    def with_values(self, changed: Mapping[str, Value]) -> Situation:
        """Return this situation with some values replaced; for trying another value."""
        return replace(self, values={**self.values, **changed}, _had={}, _kits=[], _read=[])


@dataclass(slots=True)
class Point:
    """One evaluation of a situation: with its readings as they are, or each shifted by some amount.

    Worked values are computed once a point. Comparisons named in *settled* are not evaluated again.
    """

    situation: Situation
    shift: Mapping[str, float] = field(default_factory=dict)
    settled: Mapping[Compare, Truth] = field(default_factory=dict)
    _worked: dict[str, Answer | None] = field(default_factory=dict)
    _truths: dict[Condition, Truth] = field(default_factory=dict)
    """What single comparisons and choices said here."""
    _limits: dict[str, LimitUsed | None] = field(default_factory=dict)

    def crossing(self, compare: Compare, truth: Truth) -> Point:
        """Return this point as it would be if one comparison came out as *truth*."""
        settled = {**self.settled, compare: truth}
        return Point(self.situation, self.shift, settled, self._worked, self._truths, self._limits)

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
        if name_or_number not in self._limits:
            self._limits[name_or_number] = self._limit(name_or_number)
        return self._limits[name_or_number]

    def _limit(self, name: str) -> LimitUsed | None:
        limit = self.situation.catalogue.limits[name]
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
            case Compare():
                if condition in self.settled:
                    return self.settled[condition]
                if condition not in self._truths:
                    self._truths[condition] = self._compare(condition)
                return self._truths[condition]
            case ChoiceIs():
                if condition not in self._truths:
                    self._truths[condition] = self._choice(condition)
                return self._truths[condition]
            case AllOf(parts):
                return all_true(map(self.truth, parts))
            case AnyOf(parts):
                return any_true(map(self.truth, parts))
            case Not(part):
                inner = self.truth(part)
                return None if inner is None else not inner
            case Settled(truth):
                return truth
            case Found(findings, side):
                return all(self.situation.found(name, side) is not None for name in findings)

    def _compare(self, condition: Compare) -> Truth:
        if not self.situation.has(condition.quantity):
            return False
        value = self.number(condition.quantity)
        used = self.limit(condition.limit)
        if value is None or used is None:
            return None
        return truth_of(condition.how, value, used.low, used.high)

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


def truth_of(how: Comparison, value: float, low: float, high: float) -> Truth:
    """Return what a comparison says of *value*; between *low* and *high* of its limit nothing is decided."""
    match how:
        case "above":
            return True if value > high else (False if value <= low else None)
        case "at_least":
            return True if value >= high else (False if value < low else None)
        case "below":
            return True if value < low else (False if value >= high else None)
        case "at_most":
            return True if value <= low else (False if value > high else None)


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
