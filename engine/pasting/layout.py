"""How a pasted block is laid out: a table with a heading, or one name with its value a line, or raw bytes."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from engine.errors import shown
from engine.inert import inert
from engine.pasting.names import words_of
from engine.units import UNITS

MOST_CHARACTERS = 1_000_000
MOST_LINES = 20_000
MOST_COLUMNS = 200
LONGEST_LINE = 4000
MOST_KEPT = 200
"""Unmatched lines that are listed one by one."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One value as it stands in the block."""

    line: int
    """Counted from 1."""
    text: str
    at: float | None = None
    """Seconds by the table's own time column."""


@dataclass(frozen=True, slots=True)
class Series:
    """A name with all its values, in the order of the block."""

    name: str
    unit: str
    line: int
    """Where the name stands."""
    cells: tuple[Cell, ...]


@dataclass(slots=True)
class Layout:
    """What was found in a block."""

    series: list[Series] = field(default_factory=list)
    raw: list[tuple[int, str]] = field(default_factory=list)
    """Lines of bytes: number and text."""
    rest: list[tuple[int, str, str]] = field(default_factory=list)
    """Lines that are neither: number, text, why."""
    notices: list[str] = field(default_factory=list)


_UNITS = frozenset(
    re.sub(r"\s+", "", name).casefold()
    for unit in UNITS.values()
    for name in (unit.symbol, *unit.aliases)
    if name
)
_HEX_LINE = re.compile(
    r"(?:[0-9A-Fa-f]{3}[ :]+)?(?:[0-9A-Fa-f]{2}[ ,]+){2,}[0-9A-Fa-f]{2}[ >]*"
    r"|(?:41|42|43|47|4A|4a)(?:[0-9A-Fa-f]{2}){2,}"
)
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)")
_VALUE = re.compile(
    r"(?P<number>[+−-]?\s?(?:[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+))\s*"
    r"(?P<unit>[^\s0-9]\S{0,11}(?: (?:abs|pts))?)?"
)
_CODE = re.compile(r"[PBCUpbcu][0-3][0-9A-Fa-f]{3}\b")
_SPLIT = re.compile(r"\s*(?:[:=\t;]|\s{2,}|,\s+)\s*")
_TIME_NAME = re.compile(
    r"^(?:elapsed )?(?:time|timestamp|time stamp)(?: s| ms| sec)?\b|^(?:t|ms|s|sec|seconds?|t s|t ms)$"
)
_CLOCK = re.compile(r"(?:.*[T ])?(?:(\d{1,2}):)?(\d{1,2}):(\d{2}(?:[.,]\d+)?)Z?")
_PLACE_WORD = re.compile(r"(?:bank|sensor|system|cyl(?:inder)?|track|b|s|no|number)\.?$", re.IGNORECASE)
_PLAIN_COMMA = re.compile(r"[+-]?(?:0?,[0-9]+|[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})|[0-9]{4,},[0-9]+)")
_BARE = re.compile(
    r"\(([^()]{1,12})\)\s*$|\[([^\[\]]{1,12})\]\s*$|,\s*([^,\s]{1,8})\s*$|\s/\s?([^\s/]{1,8})\s*$"
)


def is_unit(text: str) -> bool:
    """Tell whether a text is a unit of the table, however its letters are written."""
    return re.sub(r"\s+", "", text).casefold() in _UNITS


def lay_out(text: str) -> Layout:
    """Return the parts of a block; never raises."""
    layout = Layout()
    lines = _lines(text, layout)
    at = 0
    while at < len(lines):
        table = _table(lines, at, layout)
        if table > at:
            at = table
            continue
        line = lines[at].strip()
        at += 1
        if not line or re.fullmatch(r"[-=_*# ]+", line):
            continue
        if _HEX_LINE.fullmatch(line):
            layout.raw.append((at, line))
        elif (series := _named_line(line, at)) is not None:
            layout.series.append(series)
        else:
            _left(layout, at, line, "no name with a value")
    _gather(layout)
    _decimal_commas(layout)
    return layout


def _left(layout: Layout, line: int, text: str, why: str) -> None:
    if len(layout.rest) < MOST_KEPT:
        layout.rest.append((line, inert(text, limit=120), why))
    elif len(layout.rest) == MOST_KEPT:
        layout.rest.append((line, "…", f"and more: only the first {MOST_KEPT} are listed"))


def _lines(text: str, layout: Layout) -> list[str]:
    """Return the lines of a block, made harmless and cut to a size that can be read."""
    if len(text) > MOST_CHARACTERS:
        layout.notices.append(f"the block is too long: only its first {MOST_CHARACTERS} characters were read")
        text = text[:MOST_CHARACTERS]
    text = text.removeprefix("\ufeff")
    odd = sum(
        (sign < " " and sign not in "\t\n\r\f") or "\x7f" <= sign < "\xa0" or sign == "\ufffd"
        for sign in text
    )
    if odd > 0.1 * len(text):
        layout.notices.append(
            "this is no text: export the log as text or as a table with commas, and paste that"
        )
        return []
    if odd:
        layout.notices.append(f"{odd} control characters were left out")
    lines = inert(text, keep_lines=True, limit=MOST_CHARACTERS + 1).split("\n")
    if len(lines) > MOST_LINES:
        layout.notices.append(f"more than {MOST_LINES} lines: the rest was not read")
        lines = lines[:MOST_LINES]
    long = sum(len(line) > LONGEST_LINE for line in lines)
    if long:
        layout.notices.append(f"{long} lines of more than {LONGEST_LINE} characters were not read")
    return [line if len(line) <= LONGEST_LINE else "" for line in lines]


# --------------------------------------------------------------------------------------- one name a line


def _named_line(line: str, number: int) -> Series | None:
    """Return the name and value of a line: ``ECT: 88 °C``, ``STFT B1;%;-7,5``, ``O2 B1S1 0.45 V``."""
    if (code := _CODE.match(line)) is not None and not re.search(r"[;\t]", line):
        return Series("codes", "", number, (Cell(number, code[0]),))
    if (parted := _parted(line)) is not None:
        name, unit = name_and_unit(parted[0])
        return Series(name, unit, number, (Cell(number, parted[1]),))
    pieces = [piece.strip().strip('"') for piece in _SPLIT.split(line) if piece.strip()]
    if len(pieces) == 1:
        together = _run_together(line, number)
        if together is not None or line.count(",") not in (1, 2):
            return together
        pieces = _cut(line, ",")
    if not 2 <= len(pieces) <= 3 or not re.search(r"[^\W\d_]", pieces[0]):
        return None
    name, rest = pieces[0], pieces[1:]
    if len(rest) == 2 and is_unit(rest[0]):
        rest = [rest[1], rest[0]]
    if len(rest) == 2 and not (is_unit(rest[1]) and _NUMBER.fullmatch(rest[0])):
        return None
    bare, unit = name_and_unit(name)
    unit = rest[1] if len(rest) == 2 else unit
    return Series(bare, unit, number, (Cell(number, rest[0]),))


def _parted(line: str) -> tuple[str, str] | None:
    """Return name and value of a line with one colon or equals sign and no other mark between them."""
    marks = [sign for sign in line if sign in ":=;\t"]
    if len(marks) != 1 or marks[0] not in ":=":
        return None
    name, _, value = (part.strip() for part in line.partition(marks[0]))
    return (name, value) if value and re.search(r"[^\W\d_]", name) else None


def _run_together(line: str, number: int) -> Series | None:
    """Return name and value parted by single blanks only; a place at the end is no value."""
    for match in re.finditer(r"\s(?=[+−.,-]?[0-9])", line[:200]):
        name, value = line[: match.start()].strip(), line[match.end() :].strip()
        found = _VALUE.fullmatch(value)
        if found is None or (found["unit"] and not is_unit(found["unit"])):
            continue
        if _PLACE_WORD.search(name) or not re.search(r"[^\W\d_]", name):
            return None
        return Series(name, "", number, (Cell(number, value),))
    return None


def name_and_unit(name: str) -> tuple[str, str]:
    """Return a heading without its unit, and the unit: ``STFT B1 (%)``, ``Engine speed [rpm]``."""
    found = _BARE.search(name)
    if found is not None:
        unit = next(group for group in found.groups() if group is not None).strip()
        if is_unit(unit):
            return name[: found.start()].strip(), unit
    return name.strip(), ""


# ----------------------------------------------------------------------------------------------- a table


def _cut(line: str, mark: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader([line], delimiter=mark), [])]


def _is_value(cell: str) -> bool:
    return _VALUE.fullmatch(cell) is not None or _CLOCK.fullmatch(cell) is not None


def _table(lines: Sequence[str], at: int, layout: Layout) -> int:
    """Read the table that begins at a line, and return the line after it; *at* itself when there is none."""
    for mark in ("\t", ";", ","):
        if mark not in lines[at]:
            continue
        heads = _cut(lines[at], mark)
        if not 2 <= len(heads) <= MOST_COLUMNS or sum(map(_is_value, heads)) * 2 > len(heads):
            continue
        body = at + 1
        units: list[str] = []
        if body < len(lines) and mark in lines[body]:
            second = _cut(lines[body], mark)
            if (
                len(second) == len(heads)
                and any(second)
                and all(not c or is_unit(c.strip("()[]")) for c in second)
            ):
                units, body = [cell.strip("()[]") for cell in second], body + 1
        rows: list[tuple[int, list[str]]] = []
        end = body
        while end < len(lines) and mark in lines[end] and len(row := _cut(lines[end], mark)) == len(heads):
            rows.append((end + 1, row))
            end += 1
        if rows and _is_table(heads, rows):
            _add_table(heads, units, at + 1, rows, layout)
            return end
    return at


def _is_table(heads: Sequence[str], rows: Sequence[tuple[int, list[str]]]) -> bool:
    """Tell a table of rows from a list with one name a line."""
    first = rows[0][1]
    named = sum(bool(re.search(r"[^\W\d_]", row[0])) and not _is_value(row[0]) for _, row in rows)
    if named * 2 > len(rows) and not re.match(r"\d", first[0]):
        return False
    return sum(_is_value(cell) for cell in first) * 2 >= sum(bool(cell) for cell in first) > 0 and any(
        re.search(r"[^\W\d_]", head) for head in heads
    )


def _add_table(
    heads: Sequence[str],
    units: Sequence[str],
    line: int,
    rows: Sequence[tuple[int, list[str]]],
    layout: Layout,
) -> None:
    times: list[float] | None = None
    columns = []
    for column, head in enumerate(heads):
        name, unit = name_and_unit(head)
        unit = unit or (units[column] if units else "")
        cells = [row[column] for _, row in rows]
        if times is None and _TIME_NAME.search(words_of(name)):
            times = _seconds(cells, in_ms=unit.casefold() == "ms" or " ms" in f" {words_of(head)}")
            if times is None and len(cells) > 1:
                layout.notices.append(
                    f"{shown(head)} does not rise from row to row: it is no use as the time"
                )
            continue
        columns.append((name or f"column {column + 1}", unit, cells))
    for name, unit, cells in columns:
        made = tuple(
            Cell(rows[at][0], cell, times[at] if times is not None else None) for at, cell in enumerate(cells)
        )
        layout.series.append(Series(name, unit, line, made))


def _seconds(cells: Sequence[str], *, in_ms: bool) -> list[float] | None:
    """Return a column of times in seconds, or None when a cell is no time or they do not rise."""
    found = []
    for cell in cells:
        clock = _CLOCK.fullmatch(cell)
        if clock is not None:
            found.append(
                int(clock[1] or 0) * 3600.0 + int(clock[2]) * 60.0 + float(clock[3].replace(",", "."))
            )
        elif _NUMBER.fullmatch(cell) and cell.count(",") + cell.count(".") <= 1:
            found.append(float(cell.replace(",", ".")) * (1e-3 if in_ms else 1.0))
        else:
            return None
    return found if all(later >= earlier for earlier, later in pairwise(found)) else None


# ------------------------------------------------------------------------------------------ afterwards


def _gather(layout: Layout) -> None:
    """Put values of one name on several lines together; a table's columns stay as they are."""
    gathered: dict[tuple[str, str, bool], Series] = {}
    for at, series in enumerate(layout.series):
        single = len(series.cells) == 1 and series.cells[0].at is None
        key = (words_of(series.name) if single else str(at), series.unit.casefold(), single)
        old = gathered.get(key)
        if old is None:
            gathered[key] = series
        else:
            gathered[key] = Series(old.name, old.unit, old.line, (*old.cells, *series.cells))
    layout.series = list(gathered.values())


def _decimal_commas(layout: Layout) -> None:
    """Write commas as points where the block shows that a comma stands before the decimals."""
    numbers = [m[0] for s in layout.series for c in s.cells if (m := _NUMBER.match(c.text))]
    if not any(_PLAIN_COMMA.fullmatch(number) for number in numbers) or any("." in n for n in numbers):
        return
    layout.notices.append("a comma stands before the decimals in this block")
    layout.series = [
        Series(s.name, s.unit, s.line, tuple(Cell(c.line, _with_point(c.text), c.at) for c in s.cells))
        for s in layout.series
    ]


def _with_point(text: str) -> str:
    found = _NUMBER.match(text)
    return text.replace(",", ".", 1) if found is not None and found[0].count(",") == 1 else text
