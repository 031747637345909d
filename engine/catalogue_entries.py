"""Single entries of the catalogues: readings, worked values, limits, accuracies."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Literal, TypeVar, cast

from engine.catalogue import (
    Accuracy,
    Argument,
    Choice,
    Keeps,
    Kind,
    Limit,
    MakerFigure,
    Range,
    Reading,
    Recipe,
    Source,
    Takes,
    Worked,
)
from engine.condition_loading import ConditionLoader, Known
from engine.errors import did_you_mean, shown
from engine.expansion import fill_slots, slots_missing
from engine.formulas.registry import FORMULAS, SAME, Formula
from engine.parts import Part, as_float
from engine.units import UNITS
from engine.yaml_text import Data

STATES = (
    "off", "koeo", "crank", "cold", "cool", "idle", "2500", "snap", "load", "wot", "overrun", "road",
    "reload", "any",
)  # fmt: skip
KINDS = ("num", "one", "many", "codes", "trace")
_OPEN: Range = (None, None)
_Filled = TypeVar("_Filled")


@dataclass(frozen=True, slots=True)
class Names:
    """What entries may refer to."""

    known: Known
    tools: frozenset[str]
    words: Mapping[str, str]
    readings: frozenset[str]


@dataclass(frozen=True, slots=True)
class Entry:
    """One id of a section, with the words of its family's slots."""

    id: str
    part: Part
    slots: tuple[str, ...]
    family: str

    @property
    def line(self) -> int:
        """Where its key stands."""
        return self.part.document.key_marks.get(self.part.path, (1, 1))[0]

    def fill(self, text: str, part: Part, *keys: str | int) -> str:
        """Return *text* with the slots written out; a number without a slot is reported."""
        for number in slots_missing(text, len(self.slots)):
            part.problem(f"'{number}' stands for nothing: the id has {len(self.slots)} slots", *keys)
        return fill_slots(text, self.slots)

    def label(self, words: Mapping[str, str]) -> str:
        """Return the label with the slots in words."""
        text = self.part.text("label")
        self.fill(text, self.part, "label")
        return fill_slots(text, tuple(words.get(slot, slot) for slot in self.slots))

    def inputs(self) -> Iterator[str]:
        """Return the quantities a worked value may be fed, as far as they can be read."""
        data = self.part.data if isinstance(self.part.data, dict) else {}
        either = data.get("either")
        recipes: list[Data] = [data, *(either if isinstance(either, list) else [])]
        for recipe in recipes:
            fed = recipe.get("with") if isinstance(recipe, dict) else None
            for value in fed.values() if isinstance(fed, dict) else ():
                name = value.get("from") if isinstance(value, dict) else value
                if isinstance(name, str):
                    yield fill_slots(name, self.slots)


def matching(pattern: str, names: Iterable[str]) -> tuple[str, ...]:
    """Return the names a pattern with ``*`` fits."""
    if "*" not in pattern:
        return (pattern,) if pattern in set(names) else ()
    return tuple(name for name in names if fnmatchcase(name, pattern))


# ------------------------------------------------------------------------ readings


def reading_of(entry: Entry, names: Names) -> Reading:
    """Return the reading of one entry."""
    part = entry.part
    kind = cast("Kind", part.one_of("kind", KINDS))
    if part.has("choices") and part.get("kind").data not in KINDS:
        kind = "one"
    choices = tuple(_choices(part))
    values = tuple(choice.value for choice in choices)
    if kind in ("one", "many") and not choices:
        part.key_problem("choices: is missing here")
    usual = part.get("usual")
    state = entry.fill(part.text("state"), part, "state")
    if state not in STATES and "<" not in state:
        part.unknown("engine state", state, STATES, "state")
    conditions = ConditionLoader(names.known)
    return Reading(
        id=entry.id,
        label=entry.label(names.words),
        kind=kind,
        unit=_unit(part),
        reject=_range(part.get("reject")),
        reject_by_tool={tool: _range(value) for tool, value in _known_tools(part, names)},
        reject_if=tuple(
            (conditions.load(item.get("when")), _range(item.get("reject")))
            for item in part.items("reject_if")
        ),
        usual=_range(usual) if kind == "num" else _OPEN,
        usual_choices=tuple(_usual(usual, values)) if kind in ("one", "many") else (),
        choices=choices,
        tools=tuple(_tools(part, names)),
        minutes=part.number("minutes"),
        row=entry.fill(part.text("row", ""), part, "row") or entry.family,
        state=state,
        takes=cast("Takes", part.one_of("takes", ("mean", "highest", "lowest", "latest"))),
        keeps=cast("Keeps", part.one_of("keeps", ("ever", "saved", "job", "day", "half-hour", "never"))),
        lost_by_repair=part.flag("lost_by_repair"),
        assumed=_assumed(part, values),
        has=_has(entry, names),
        parameter=_parameter(part),
    )


def _parameter(part: Part) -> tuple[str, str] | None:
    """Return the live-data parameter a reading is, and which of its values."""
    if not part.has("parameter"):
        return None
    inner = part.get("parameter")
    return inner.text("pid"), inner.text("value")


def _unit(part: Part) -> str:
    """Return the unit, one that can be converted when it is typed in another."""
    unit = part.text("unit", "")
    if unit and unit not in UNITS:
        part.unknown("unit", unit, UNITS, "unit")
    return unit


def _choices(part: Part) -> Iterator[Choice]:
    for value, item in part.entries("choices"):
        if isinstance(item.data, dict):
            yield Choice(value, item.text("label"), item.flag("not_looked"))
        else:
            yield Choice(value, str(item.data) if isinstance(item.data, int) else item.as_text() or value)


def _range(part: Part) -> Range:
    """Return lowest and highest; null is open."""
    if part.data is None:
        return _OPEN
    if not isinstance(part.data, list) or len(part.data) != 2:
        part.problem(f"found {shown(part.data)}, expected [lowest, highest], null where it is open")
        return _OPEN
    low, high = (as_float(value) for value in part.data)
    for index, (value, number) in enumerate(zip(part.data, (low, high), strict=True)):
        if value is not None and number is None:
            part.problem(f"found {shown(value)}, expected a number or null", index)
    if low is not None and high is not None and low > high:
        part.problem(f"the lowest, {low:g}, is above the highest, {high:g}")
    return (low, high)


def _usual(part: Part, values: tuple[str, ...]) -> Iterator[str]:
    for item in list(part.items()) if isinstance(part.data, list) else [part]:
        if item.data is None:
            continue
        word = str(item.data)
        if word not in values:
            item.unknown("choice", word, values)
        yield word


def _assumed(part: Part, values: tuple[str, ...]) -> str | float | None:
    found = part.get("assumed").data
    if found is None or isinstance(found, str):
        if found is not None and values and found not in values:
            part.unknown("choice", found, values, "assumed")
        return found
    return part.number("assumed")


def _tools(part: Part, names: Names) -> Iterator[str]:
    if not part.has("tool"):
        part.key_problem("tool: is missing here")
    for tool, item in part.texts("tool"):
        if tool not in names.tools:
            item.unknown("tool", tool, names.tools)
        yield tool


def _known_tools(part: Part, names: Names) -> Iterator[tuple[str, Part]]:
    for tool, value in part.entries("reject_by_tool"):
        if tool not in names.tools:
            value.unknown_key("tool", tool, names.tools)
        yield tool, value


def _has(entry: Entry, names: Names) -> dict[str, tuple[str, ...]]:
    needs = {}
    for raw, part in entry.part.entries("has"):
        fact = entry.fill(raw, part)
        about = names.known.quantities.get(fact)
        if about is None:
            part.unknown_key("reading", fact, names.known.quantities)
            continue
        answers = []
        for item in part.items():
            answer = entry.fill(str(item.data), item)
            if about.choices and answer not in about.choices:
                item.problem(f"{shown(answer)} is no answer of {fact}{did_you_mean(answer, about.choices)}")
            answers.append(answer)
        needs[fact] = tuple(answers)
    return needs


# ------------------------------------------------------------------- worked values


def worked_of(entry: Entry, names: Names) -> Worked:
    """Return the worked value of one entry."""
    part = entry.part
    recipes = list(part.items("either")) if part.has("either") else [part]
    return Worked(
        id=entry.id,
        label=entry.label(names.words),
        unit=_unit(part),
        recipes=tuple(recipe for one in recipes if (recipe := _recipe(entry, one, names)) is not None),
        has=_has(entry, names),
    )


def _recipe(entry: Entry, part: Part, names: Names) -> Recipe | None:
    name = part.text("formula")
    formula = FORMULAS.get(name)
    if formula is None:
        if name:
            part.unknown("formula", name, FORMULAS, "formula")
        return None
    takes = {argument.name: argument for argument in formula.arguments}
    arguments = []
    for key, value in part.entries("with"):
        if key not in takes:
            value.unknown_key(f"argument of {name}", key, takes)
            continue
        argument = _argument(entry, value, names)
        arguments.append((key, argument))
        _check_unit(value, argument, takes[key].unit, names, name)
    missing = [key for key, one in takes.items() if one.required and key not in dict(arguments)]
    if missing and not any(key not in takes for key, _ in part.entries("with")):
        part.key_problem(f"{name} needs {' and '.join(missing)} as well", "with")
    return Recipe(name, tuple(arguments), _result(part, formula))


def _argument(entry: Entry, part: Part, names: Names) -> Argument:
    data = part.data
    if isinstance(data, dict):
        otherwise = part.get("else").data
        constant = otherwise if isinstance(otherwise, str) else as_float(otherwise)
        return Argument(_input(entry, part.text("from"), part, names, "from"), constant)
    if isinstance(data, str):
        return Argument(_input(entry, data, part, names))
    return Argument(None, part.as_number())


def _input(entry: Entry, raw: str, part: Part, names: Names, *keys: str) -> str:
    quantity = entry.fill(raw, part, *keys)
    if quantity not in names.known.quantities and "<" not in quantity:
        part.unknown("reading", quantity, names.known.quantities, *keys)
    return quantity


def _check_unit(part: Part, argument: Argument, unit: str, names: Names, formula: str) -> None:
    about = names.known.quantities.get(argument.quantity or "")
    if about is not None and unit and unit != SAME and about.unit and about.unit != unit:
        part.problem(f"{formula} takes {unit} here, '{argument.quantity}' is in {about.unit}")


def _result(part: Part, formula: Formula) -> str | None:
    result = part.maybe_text("result")
    known = [one.name for one in formula.results]
    if result is None:
        if len(known) > 1:
            part.key_problem(f"{formula.name} has several results: say result: {' or '.join(known)}")
        return None
    if result not in known:
        part.unknown(f"result of {formula.name}", result, known, "result")
        return None
    return result


# -------------------------------------------------------------------------- limits


def limit_of(name: str, part: Part, names: Names) -> Limit:
    """Return the limit of one entry."""
    conditions = ConditionLoader(names.known)
    unit = _unit(part)
    value = part.number("value") if part.has("value") else None
    table = part.get("at")
    cases = tuple((conditions.load(item.get("when")), item.number("value")) for item in part.items("cases"))
    relative, maker = _figure(part, "relative", unit, names), _figure(part, "maker", unit, names)
    if value is None and not cases and relative is None and maker is None and table.data is None:
        part.key_problem("value: is missing here (or cases:, relative:, at:, maker:)")
    return Limit(
        id=name,
        label=part.text("label"),
        unit=unit,
        value=value,
        cases=cases,
        relative=relative,
        table_of=_input(_plain(part), table.text("reading"), table, names, "reading") if table.data else None,
        table=tuple(_points(table)) if table.data else (),
        maker=maker,
        widen=part.number("widen", 0.0),
        source=source_of(part.get("source")),
    )


def _plain(part: Part) -> Entry:
    return Entry("", part, (), "")


def _figure(part: Part, key: str, unit: str, names: Names) -> MakerFigure | None:
    if not part.has(key):
        return None
    figure = part.get(key)
    reading = figure.text("reading")
    about = names.known.quantities.get(reading)
    if about is None:
        figure.unknown("reading", reading, names.known.quantities, "reading")
    elif about.unit != unit and not figure.has("times"):
        own = about.unit or "a bare number"
        figure.problem(f"'{reading}' is in {own}, the limit in {unit or 'a bare number'}")
    return MakerFigure(reading, figure.number("times", 1.0), figure.number("plus", 0.0))


def _points(part: Part) -> Iterator[tuple[float, float]]:
    last: float | None = None
    for item in part.items("points"):
        pair = [as_float(value) for value in item.data] if isinstance(item.data, list) else []
        if len(pair) != 2 or pair[0] is None or pair[1] is None:
            item.problem(f"found {shown(item.data)}, expected [quantity, limit]")
            continue
        if last is not None and pair[0] <= last:
            item.problem(f"the points rise: {pair[0]:g} comes after {last:g}")
        last = pair[0]
        yield pair[0], pair[1]


def source_of(part: Part) -> Source:
    """Return where a number comes from."""
    kinds = ("published", "common-practice", "from-memory", "maker", "shop", "derived")
    kind = cast("Literal['shop']", part.one_of("kind", kinds))
    return Source(kind, part.text("of", ""), part.flag("seen"))


def accuracies(part: Part, names: Names) -> tuple[Accuracy, ...]:
    """Return how well an instrument shows what."""
    return tuple(_accuracy(item, names.readings) for item in part.items("accuracy"))


def _accuracy(part: Part, readings: Collection[str]) -> Accuracy:
    patterns = list(part.texts("for"))
    for pattern, item in patterns:
        if not matching(pattern, readings):
            item.problem(f"no reading is named like {shown(pattern)}{did_you_mean(pattern, readings)}")
    return Accuracy(
        patterns=tuple(pattern for pattern, _ in patterns),
        unit=part.maybe_text("unit"),
        percent=part.number("percent"),
        plus_minus=part.number("plus_minus"),
        resolution=part.number("resolution"),
        scatter=part.number("scatter"),
        source=source_of(part.get("source")),
    )
