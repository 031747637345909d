"""A formula worked out from what a person types: ``temp=600degC``, ``co=0,5``, ``fuel=e10``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.errors import did_you_mean, shown
from engine.formulas.registry import SAME, Argument, Formula, FormulaError, Value, formula
from engine.units import UnitError, convert, kind_of, parse_unit, split_number

Quantity = tuple[Value, str]
"""A value and its unit; the unit of a text or a bare number is empty."""


@dataclass(frozen=True, slots=True)
class WorkedFormula:
    """A formula with what it was given and what it answers."""

    formula: str
    title: str
    values: Mapping[str, Quantity]
    """What was given, as it was understood, in the formula's units."""
    assumed: Mapping[str, Quantity]
    """What was not given and was taken as the formula's default."""
    results: Mapping[str, Quantity]
    range: str
    source: str

    def as_json(self) -> dict[str, object]:
        """Return the results as plain data."""
        return {
            "formula": self.formula,
            "results": {name: {"value": value, "unit": unit} for name, (value, unit) in self.results.items()},
            "range": self.range,
            "source": self.source,
        }


def work(name: str, assignments: Sequence[str]) -> WorkedFormula:
    """Return the formula *name* worked out for texts of the form ``argument=value``.

    A bare number is in the argument's unit; another unit is converted. A text without ``=`` goes on with
    the value before it, so that ``bytes=1A F8`` and ``temp=600 degC`` need no quotes in a shell.

    Raises:
        FormulaError: the formula or an argument is not known, given twice, missing, not readable, in a
            unit of another kind, or outside the range; one line.
    """
    found = formula(name)
    texts = _assigned(found, assignments)
    common = _common_unit(found, texts)
    values = {argument: _value(found, argument, text, common) for argument, text in texts.items()}
    results = found.compute(**values)
    units = {argument.name: _unit(argument.unit, common) for argument in found.arguments}
    return WorkedFormula(
        formula=found.name,
        title=found.title,
        values={argument: (value, units[argument]) for argument, value in values.items()},
        assumed={
            argument.name: (argument.default, units[argument.name])
            for argument in found.arguments
            if argument.default is not None and argument.name not in values
        },
        results={
            result: (value, "" if isinstance(value, str) else _unit(found.unit_of(result), common))
            for result, value in results.items()
        },
        range=found.range,
        source=found.source,
    )


def _assigned(found: Formula, assignments: Sequence[str]) -> dict[str, str]:
    """Return the text of each argument, refusing unknown and doubled ones."""
    known = {argument.name for argument in found.arguments}
    order = ", ".join(argument.name for argument in found.arguments)
    texts: dict[str, str] = {}
    last = ""
    for assignment in assignments:
        name, equals, text = assignment.partition("=")
        if not equals:
            if not last:
                raise FormulaError(
                    f"{found.name}: {shown(assignment)}: write argument=value; it takes {order}"
                )
            texts[last] = f"{texts[last]} {assignment}"
            continue
        last = name.strip().lower()
        if last not in known:
            hint = did_you_mean(last, known)
            raise FormulaError(f"{found.name}: no argument {shown(name)}{hint}; it takes {order}")
        if last in texts:
            raise FormulaError(f"{found.name}: {last} is given twice, write it once")
        texts[last] = text.strip()
    return texts


def _argument(found: Formula, name: str) -> Argument:
    return next(argument for argument in found.arguments if argument.name == name)


def _common_unit(found: Formula, texts: Mapping[str, str]) -> str:
    """Return the unit of the arguments that share one: that of the first given, or none."""
    common, first, bare = "", "", ""
    for argument in found.arguments:
        if argument.unit != SAME or argument.name not in texts:
            continue
        unit = _typed(found, argument.name, texts[argument.name])[1]
        if unit and bare:
            raise FormulaError(f"{found.name}: {argument.name} is in {unit}, {bare} has no unit: write it")
        if not unit:
            bare = bare or ("" if common else argument.name)
        elif not common:
            common, first = unit, argument.name
        elif unit != common and kind_of(common) == kind_of(
            "K"
        ):  # an uncertainty is a difference, not a point
            raise FormulaError(
                f"{found.name}: {first} is in {common}, {argument.name} in {unit}: use one unit"
            )
    return common


def _unit(unit: str, common: str) -> str:
    return common if unit == SAME else unit


def _typed(found: Formula, name: str, text: str) -> tuple[float, str]:
    """Return the number and the canonical unit of a typed value; the unit is empty when none is written."""
    try:
        number, unit = split_number(text)
        return number, parse_unit(unit)
    except UnitError as error:
        raise FormulaError(f"{found.name}: {name}: {error}") from None


def _value(found: Formula, name: str, text: str, common: str) -> Value:
    """Return a typed value in the argument's unit."""
    argument = _argument(found, name)
    if argument.kind == "text":
        return text.lower() if argument.choices else text
    number, unit = _typed(found, name, text)
    if not unit:
        return number
    try:
        return convert(number, unit, _unit(argument.unit, common))
    except UnitError as error:
        raise FormulaError(f"{found.name}: {name}: {error}") from None
