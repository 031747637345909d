"""Conditions: plain data -> `engine.tree.Condition`, with every name checked."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias, cast, get_args

from engine.catalogue import Catalogue
from engine.errors import did_you_mean, shown
from engine.expansion import PLACEHOLDERS, fill_places, placeholders
from engine.parts import Part, as_float
from engine.tree import AllOf, AnyOf, ChoiceIs, ChoiceTest, Compare, Comparison, Condition, Found, Not

ANY_CODE = "dtc_any"
"""Codes stored or pending."""
PLACE = re.compile(r"b[12](?:s[123])?")

_COMPARISONS = cast("tuple[str, ...]", get_args(Comparison))
_CHOICE_TESTS = cast("tuple[str, ...]", get_args(ChoiceTest))
_CODE = re.compile(r"[PCBU][0-9A-F]{4}")
_SEVERAL_ONLY = ("has", "has_any", "has_none", "has_other_than")
FALSE = AnyOf(())
"""A condition on what this place has not got."""
DEEPEST = 24

QuantityKind: TypeAlias = Literal["num", "one", "many", "codes", "trace", "worked"]
"""`worked` may be a number or a word."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a condition must know of a reading or worked value."""

    kind: QuantityKind
    unit: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Known:
    """The names a condition may use."""

    quantities: Mapping[str, Quantity]
    limits: Mapping[str, str]
    """Limit -> unit."""
    findings: Collection[str]
    code_groups: Collection[str]

    @classmethod
    def of(cls, catalogue: Catalogue) -> Known:
        """Return the names of a finished catalogue."""
        quantities = {
            reading.id: Quantity(reading.kind, reading.unit, tuple(one.value for one in reading.choices))
            for reading in catalogue.readings.values()
        }
        for worked in catalogue.worked.values():
            quantities.setdefault(worked.id, Quantity("num" if worked.unit else "worked", worked.unit))
        quantities[ANY_CODE] = Quantity("codes", "")
        limits = {limit.id: limit.unit for limit in catalogue.limits.values()}
        return cls(quantities, limits, catalogue.findings.keys(), catalogue.codes.groups.keys())


@dataclass(frozen=True, slots=True)
class Scope:
    """What placeholders stand for at one place of a tree."""

    places: Mapping[str, str] = field(default_factory=dict)
    others: tuple[Mapping[str, str], ...] = ()
    """What they stand for elsewhere: a name that exists for one of these is no mistake."""

    def with_each(self, place: str, every: tuple[str, ...]) -> Scope:
        """Return this scope with ``<each>`` standing for *place*, one of *every*."""
        others = tuple({**other, "each": one} for other in (self.places, *self.others) for one in every)
        return Scope({**self.places, "each": place}, others)

    def fill(self, text: str, part: Part, *keys: str | int) -> str:
        """Return an id with its placeholders written out; what stands for nothing is reported."""
        for name in placeholders(text):
            if name not in self.places:
                part.problem(self._why_not(name), *keys)
        return fill_places(text, self.places)

    def _why_not(self, name: str) -> str:
        if name == "each":
            return "nothing stands for '<each>' here: write each: bank or each: sensor on the step or rule"
        if name in PLACEHOLDERS:
            return f"nothing stands for '<{name}>' here: this procedure has no takes:"
        return f"unknown placeholder '<{name}>'{did_you_mean(name, PLACEHOLDERS)}"

    def known_elsewhere(self, text: str, names: Collection[str]) -> bool:
        """Tell whether an id with placeholders is known for some other place."""
        return "<" in text and any(fill_places(text, places) in names for places in self.others)


NOWHERE = Scope()


@dataclass(frozen=True, slots=True)
class ConditionLoader:
    """Builds conditions; a name that does not exist for this place makes its part false."""

    known: Known
    scope: Scope = NOWHERE

    def load(self, part: Part, depth: int = 0) -> Condition:
        """Return the condition written at *part*; several keys are *and*."""
        if not isinstance(part.data, dict) or not part.data:
            part.problem(f"found {shown(part.data)}, expected a condition: {{reading: {{test: limit}}}}")
            return FALSE
        if depth > DEEPEST:
            part.problem(f"more than {DEEPEST} conditions inside one another")
            return FALSE
        parts = [one for key, value in part.entries() for one in self._key(key, value, depth)]
        return parts[0] if len(parts) == 1 else AllOf(tuple(parts))

    def _key(self, key: str, value: Part, depth: int) -> list[Condition]:
        match key:
            case "any":
                return [AnyOf(tuple(self.load(item, depth + 1) for item in value.items()))]
            case "all":
                return [AllOf(tuple(self.load(item, depth + 1) for item in value.items()))]
            case "not":
                return [Not(self.load(value, depth + 1))]
            case "found":
                return [self._found(value)]
        quantity = self.quantity(key, value, of_key=True)
        return [FALSE] if quantity is None else self._tests(quantity, value)

    def quantity(self, name: str, part: Part, *, of_key: bool = False) -> str | None:
        """Return a reading or worked value written out, or None when this place has not got it."""
        filled = self.scope.fill(name, part)
        quantities = self.known.quantities
        if filled in quantities:
            return filled
        if placeholders(filled) or self.scope.known_elsewhere(name, quantities):
            return None
        report = part.unknown_key if of_key else part.unknown
        report("reading", filled, quantities)
        return None

    def _found(self, part: Part) -> Condition:
        side = None
        names = part
        if isinstance(part.data, dict):
            names = part.get("findings")
            side = self.side(part, "side")
        if not isinstance(names.data, list) or not names.data:
            part.problem("found: takes a list of findings, or {findings: [..], side: b1}")
            return FALSE
        for text, item in names.texts():
            if text not in self.known.findings:
                item.unknown("finding", text, self.known.findings)
        return Found(tuple(text for text in names.data if isinstance(text, str)), side)

    def side(self, part: Part, key: str, extra: Collection[str] = ()) -> str | None:
        """Return the place under *key* written out, or None where there is none."""
        text = part.maybe_text(key)
        if text is None or text in extra:
            return text
        filled = self.scope.fill(text, part, key)
        if not placeholders(filled) and not PLACE.fullmatch(filled):
            part.problem(f"found {shown(filled)}, expected a place: b1, b2, b1s1 …, <bank> or <sensor>", key)
        return filled

    # ----------------------------------------------------------------- tests

    def _tests(self, quantity: str, part: Part) -> list[Condition]:
        if not isinstance(part.data, dict) or not part.data:
            part.problem(f"found {shown(part.data)}, expected a test: {{at_least: limit}} or {{is: word}}")
            return [FALSE]
        about = self.known.quantities[quantity]
        tests: list[Condition] = []
        for how, value in part.entries():
            if how in _COMPARISONS:
                tests.append(self._compare(quantity, about, cast("Comparison", how), value))
            elif how in _CHOICE_TESTS:
                tests.append(self._choice(quantity, about, cast("ChoiceTest", how), value))
            else:
                part.unknown_key("test", how, (*_COMPARISONS, *_CHOICE_TESTS), how)
        return tests or [FALSE]

    def _compare(self, quantity: str, about: Quantity, how: Comparison, part: Part) -> Condition:
        if about.kind not in ("num", "worked"):
            part.key_problem(f"{how}: is for numbers, and {quantity} is {_KIND_WORDS[about.kind]}")
            return FALSE
        if not isinstance(part.data, str):
            number = as_float(part.data)
            if number is None:
                part.problem(f"found {shown(part.data)}, expected the name of a limit or a number")
            return Compare(quantity, how, number or 0.0)
        limit = self.scope.fill(part.data, part)
        if limit not in self.known.limits:
            if not placeholders(limit) and not self.scope.known_elsewhere(part.data, self.known.limits):
                part.unknown("limit", limit, self.known.limits)
            return FALSE
        unit = self.known.limits[limit]
        if unit != about.unit:
            limit_unit, own = unit or "a bare number", about.unit or "a bare number"
            part.problem(f"limit '{limit}' is in {limit_unit}, {quantity} in {own}: name a limit in {own}")
        return Compare(quantity, how, limit)

    def _choice(self, quantity: str, about: Quantity, how: ChoiceTest, part: Part) -> Condition:
        words = self._words(part)
        counted = about.kind == "num" and not about.unit and how in ("is", "is_not", "one_of")
        if counted and all(word.isdecimal() for word, _ in words):
            return ChoiceIs(quantity, how, tuple(word for word, _ in words))
        if about.kind in ("num", "trace"):
            use = "at_least, at_most, above, below" if about.kind == "num" else "a reading taken from it"
            part.key_problem(f"{how}: is for choices, and {quantity} is {_KIND_WORDS[about.kind]}: use {use}")
            return FALSE
        if about.kind == "one" and how in _SEVERAL_ONLY:
            better = "is" if how == "has" else "one_of" if how == "has_any" else "not: with one_of"
            part.key_problem(f"{how}: is for several choices, and {quantity} has one: use {better}")
        for word, place in words:
            if about.kind == "codes":
                self._code(word, place)
            elif about.choices and word not in about.choices:
                self._not_a_choice(quantity, about, word, place)
        return ChoiceIs(quantity, how, tuple(word for word, _ in words))

    def _not_a_choice(self, quantity: str, about: Quantity, word: str, part: Part) -> None:
        near = did_you_mean(word, about.choices)
        if not near:
            near = f": it has {', '.join(about.choices[:12])}"
        part.problem(f"{shown(word)} is no answer of {quantity}{near}")

    def _words(self, part: Part) -> list[tuple[str, Part]]:
        values = list(part.items()) if isinstance(part.data, list) else [part]
        words = []
        for value in values:
            if isinstance(value.data, int) and not isinstance(value.data, bool):
                words.append((str(value.data), value))
            elif isinstance(value.data, str):
                words.append((self.scope.fill(value.data, value), value))
            else:
                value.problem(f"found {shown(value.data)}, expected a word or a list of words")
        return words

    def _code(self, word: str, part: Part) -> None:
        if word.startswith("group:"):
            if word[6:] not in self.known.code_groups:
                part.unknown("group of codes", word[6:], self.known.code_groups)
            return
        first, dash, last = word.partition("-")
        good = _CODE.fullmatch(first) and (not dash or _CODE.fullmatch(last))
        if not good:
            part.problem(f"{shown(word)} is no code: write P0172, P0300-P0312 or group:name")
        elif dash and (last[0] != first[0] or last < first):
            part.problem(f"{shown(word)} runs backwards: the lower code comes first")


_KIND_WORDS = {
    "num": "a number",
    "one": "a choice",
    "many": "a choice of several",
    "codes": "a list of codes",
    "trace": "a recorded trace",
    "worked": "a worked value",
}
