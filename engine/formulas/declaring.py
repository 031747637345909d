"""What a formula declares about itself: arguments with unit and range, results, valid range, source."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import repeat
from typing import Any, Literal, TypeAlias

from engine.errors import LaybyError, did_you_mean, shown

Value: TypeAlias = float | str
Results: TypeAlias = Mapping[str, Value]

SAME = "same unit"
"""Unit of arguments that may be in any unit, all in the same; the result is then in it too."""


class FormulaError(LaybyError, ValueError):
    """Values a formula does not take; `str()` is one line: argument, what was found, what is allowed."""


@dataclass(frozen=True, slots=True)
class Argument:
    """One argument of a formula."""

    name: str
    unit: str
    meaning: str
    kind: Literal["number", "text"] = "number"
    low: float | None = None
    """Least value allowed; None where open."""
    high: float | None = None
    default: Value | None = None
    """Taken when the argument is not given; None means none."""
    choices: tuple[str, ...] = ()
    """Texts allowed; empty when any text is."""
    optional: bool = False
    """May be left out although it has no default."""

    @property
    def required(self) -> bool:
        """Whether the formula cannot do without it."""
        return self.default is None and not self.optional

    @property
    def allowed(self) -> str:
        """What is allowed, in words: ``-100 to 99.3 %``."""
        if self.choices:
            return ", ".join(self.choices)
        if self.kind == "text":
            return "text"
        unit = f" {self.unit}" if self.unit and self.unit != SAME else ""
        if self.low is not None and self.high is not None:
            return f"{self.low:g} to {self.high:g}{unit}"
        if self.low is not None:
            return f"{self.low:g}{unit} or more"
        return f"{self.high:g}{unit} or less" if self.high is not None else "any number"


@dataclass(frozen=True, slots=True)
class Result:
    """One named value a formula returns."""

    name: str
    unit: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Formula:
    """A named formula: the function with everything a person must know to trust it."""

    name: str
    title: str
    arguments: tuple[Argument, ...]
    results: tuple[Result, ...]
    range: str
    """Where it holds, in words."""
    source: str
    """Where it is from, and what kind of source that is."""
    function: Callable[..., Results]
    """The bare computation; checks only what would make no sense, not the range of each argument."""

    def compute(self, /, **values: Value) -> Results:
        """Return the results for *values*, after checking names, ranges and missing arguments.

        Raises:
            FormulaError: an argument is unknown, missing, not a number or outside its range, or the
                values do not go together.
        """
        known = {argument.name: argument for argument in self.arguments}
        for name in values:
            if name not in known:
                hint = did_you_mean(name, known)
                raise FormulaError(
                    f"{self.name}: no argument {shown(name)}{hint}; it takes {', '.join(known) or 'none'}"
                )
        missing = [name for name, argument in known.items() if argument.required and name not in values]
        if missing:
            raise FormulaError(
                f"{self.name}: {' and '.join(missing)} missing: {self._wanted(known[missing[0]])}"
            )
        checked = {name: self._checked(known[name], value) for name, value in values.items()}
        return self._finite(self._worked(checked))

    def sampled(self, /, **values: Value) -> Results | None:
        """Return the results without the range check of each argument, or None where there are none.

        For values shifted by an instrument's error, which may lie a little outside a range (a carbon
        monoxide reading of 0.00 % less the drift of its zero).
        """
        try:
            return self._finite(self._worked(values))
        except FormulaError:
            return None

    def sampled_at(
        self, names: tuple[str, ...], columns: Sequence[Sequence[Any]], result: str | None, count: int
    ) -> list[Any]:
        """Return one result at many points, as ``sampled`` gives it; None where there is none.

        Args:
            names: of the arguments.
            columns: their values, one sequence an argument; None makes the point one without a result.
            result: which result; None for the first.
            count: number of points.
        """
        quick = self._mapped(names, columns, result)
        if quick is not None:
            return quick
        answers: list[Any] = []
        for row in zip(*columns, strict=True) if columns else repeat((), count):
            known = None if None in row else self.sampled(**dict(zip(names, row, strict=True)))
            answer = None if known is None else known[result] if result else next(iter(known.values()))
            answers.append(float(answer) if isinstance(answer, int | float) else answer)
        return answers

    def _mapped(
        self, names: tuple[str, ...], columns: Sequence[Sequence[Any]], result: str | None
    ) -> list[float] | None:
        """Return a single numeric result by the bare function, or None where any point needs more care."""
        if len(self.results) != 1 or not columns or any(None in column for column in columns):
            return None
        if self.function.__code__.co_varnames[: len(names)] != names or self.function.__kwdefaults__:
            return None
        name = result or self.results[0].name
        try:
            answers = [float(found[name]) for found in map(self.function, *columns)]
        except (ArithmeticError, ValueError, TypeError, KeyError):  # FormulaError is a ValueError
            return None
        return answers if all(map(math.isfinite, answers)) else None

    def unit_of(self, result: str) -> str:
        """Return the unit of a result; empty for a bare number or a text."""
        return next((one.unit for one in self.results if one.name == result), "")

    def _wanted(self, argument: Argument) -> str:
        return f"{argument.name} is {argument.meaning} ({argument.allowed})"

    def _checked(self, argument: Argument, value: object) -> Value:
        if argument.kind == "text":
            if isinstance(value, str) and (not argument.choices or value in argument.choices):
                return value
        elif isinstance(value, int | float) and not isinstance(value, bool):
            above = argument.low is None or value >= argument.low
            below = argument.high is None or value <= argument.high
            if above and below and math.isfinite(value):
                return float(value)
        raise FormulaError(f"{self.name}: {argument.name} is {shown(value)}{self._refusal(argument, value)}")

    def _refusal(self, argument: Argument, value: object) -> str:
        """Return why a value is not allowed and what is, in words that follow the value."""
        if argument.kind == "text" and not isinstance(value, str):
            return f": write {argument.meaning} as text ({argument.allowed})"
        if argument.kind == "text":
            return f": write one of {argument.allowed}{did_you_mean(str(value), argument.choices)}"
        if isinstance(value, bool) or not isinstance(value, int | float):
            return f": write a number ({argument.allowed})"
        return f"{_unit(argument.unit)}: {argument.meaning} must be {argument.allowed}"

    def _worked(self, values: Mapping[str, Value]) -> Results:
        try:
            return self.function(**values)
        except FormulaError as error:
            raise FormulaError(f"{self.name}: {error}") from None
        except (ZeroDivisionError, OverflowError, ValueError):  # FormulaError is a ValueError: caught above
            raise FormulaError(f"{self.name}: no answer for these values: {_listed(values)}") from None

    def _finite(self, results: Results) -> Results:
        for value in results.values():
            if isinstance(value, float) and not math.isfinite(value):
                raise FormulaError(f"{self.name}: these values lead to no finite answer")
        return results


def _unit(unit: str) -> str:
    return f" {unit}" if unit and unit != SAME else ""


def _listed(values: Mapping[str, Value]) -> str:
    return ", ".join(
        f"{name}={value:g}" if isinstance(value, int | float) else f"{name}={value}"
        for name, value in values.items()
    )
