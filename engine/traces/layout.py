"""How a recording is laid out: separator, decimal sign, names, units, where the rows begin.

A file is not believed to be tidy: titles above the names, a row of units under them, quoted cells, columns of
other quantities beside the sensor's.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from engine.errors import shown
from engine.traces.metrics import TraceError

LOOKED_AT = 200
"""Lines from the top in which names and rows must begin."""
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
CLOCK = re.compile(r"(\d{1,3}):(\d\d)(?::(\d\d(?:[.,]\d+)?))?")
MISSING = frozenset({"", "nan", "-", "--", "---", "n/a", "na", "null", "none", "no data", "inf", "-inf"})
_UNIT = re.compile(
    r"(?:^|[\s(\[/_-])(ms|us|µs|μs|s|sec|secs|seconds?|milliseconds?|mv|v|volts?|millivolts?)[)\]]?$"
)
_TIME_NAME = re.compile(r"^(time|timestamp|elapsed|t|x|seconds?|sec|secs|milliseconds?|ms)\b|\btime\b")
_SENSOR_NAME = re.compile(
    r"\bo2|o2s|\bb[12] ?s[12]\b|bank ?[12]|sensor|lambda|volt|\bmv\b|\bv\b|signal"
    r"|\bch(annel)? ?[a-d0-9]\b|stream"
)
_OTHER_NAME = re.compile(
    r"rpm|speed|temp|coolant|trim|\bmap\b|\bmaf\b|load|throttle|pedal|heater|batt|current|pressure|advance|index|no\."
)
_SCALE_TIME = {"ms": 1e-3, "millisecond": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6}
_SCALE_VOLTS = {"mv": 1e-3, "millivolt": 1e-3}


@dataclass(frozen=True, slots=True)
class Layout:
    """What the top of a file says of its columns."""

    separator: str
    """One sign; a blank stands for any blanks."""
    decimal_comma: bool
    names: tuple[str, ...]
    """One for each column; empty texts without a heading."""
    units: tuple[str, ...]
    """Lower case; empty where nothing is said."""
    first_row: int
    """Index of the first line with numbers."""
    quoted: bool

    def cells(self, line: str) -> list[str]:
        """Return the cells of a line."""
        return split(line, self.separator, quoted=self.quoted)

    def time_scale(self, column: int) -> float | None:
        """Return seconds of one unit of a column, None when nothing is said."""
        unit = self.units[column]
        return _SCALE_TIME.get(unit.rstrip("s") if len(unit) > 3 else unit, 1.0) if unit else None

    def volt_scale(self, column: int) -> float | None:
        """Return volts of one unit of a column, None when nothing is said."""
        unit = self.units[column]
        return _SCALE_VOLTS.get(unit.rstrip("s"), 1.0) if unit else None


def split(line: str, separator: str, *, quoted: bool) -> list[str]:
    """Return the cells of a line, without blanks around them."""
    if separator == " ":
        return line.split()
    if quoted and '"' in line:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]
    return [cell.strip() for cell in line.split(separator)]


def is_number(cell: str) -> bool:
    """Tell whether a cell holds a number."""
    return _NUMBER.fullmatch(cell) is not None


def layout_of(lines: Sequence[str]) -> Layout:
    """Return the layout of a file from its first lines.

    Raises:
        TraceError: no rows of numbers, one column only, or a comma that may be separator or decimal sign.
    """
    head = [line.strip() for line in lines[:LOOKED_AT]]
    rows = [i for i, line in enumerate(head) if _looks_like_a_row(line)]
    if not rows:
        first = next((line for line in head if line), "")
        raise TraceError(f"no rows of numbers (it begins {shown(first)}): export time and volts as columns")
    samples = [head[i] for i in rows[-20:]]
    names_line = next((head[i] for i in range(rows[0] - 1, -1, -1) if head[i]), "")
    separator, quoted = _separator(samples, names_line)
    cells = [split(line, separator, quoted=quoted) for line in samples]
    width = max(len(row) for row in cells)
    decimal_comma = any("," in cell and is_number(cell) for row in cells for cell in row)
    names, units = _headings(head[: rows[0]], separator, quoted, width)
    return Layout(separator, decimal_comma, names, units, rows[0], quoted)


def _looks_like_a_row(line: str) -> bool:
    cells = [cell for cell in re.split(r'[;\t," ]+', line) if cell]
    if not cells or line[0].isalpha() or line[:2].lstrip('"').isalpha():
        return False
    good = sum(is_number(cell) or CLOCK.fullmatch(cell) is not None for cell in cells)
    return good >= 1 and 2 * good >= len(cells)


def _separator(samples: Sequence[str], names_line: str) -> tuple[str, bool]:
    """Return the sign between the cells, and whether cells are quoted."""
    quoted = any('"' in line for line in samples)
    if quoted:
        for sign in ";\t,":
            if all(len(split(line, sign, quoted=True)) > 1 for line in samples):
                return sign, True
    for sign in ";\t":
        if sum(sign in line for line in samples) * 2 > len(samples):
            return sign, quoted
    spaced = all(re.search(r"\S\s+\S", line) and not re.search(r",\s", line) for line in samples)
    if spaced and not any("," in line and "." in line for line in samples):
        return " ", quoted
    commas = [line.count(",") for line in samples]
    if not any(commas):
        return ",", quoted
    if any("." in line for line in samples) or names_line.count(",") == max(commas):
        return ",", quoted
    if max(commas) == 1 and _rises([line.split(",")[0] for line in samples]):
        return ",", quoted
    raise TraceError(
        "the comma may be separator or decimal sign here: export with semicolons or tabs between the columns"
    )


def _rises(cells: Sequence[str]) -> bool:
    numbers = [float(cell) for cell in cells if is_number(cell)]
    return len(numbers) > 1 and all(b > a for a, b in pairwise(numbers))


def _headings(
    above: Sequence[str], separator: str, quoted: bool, width: int
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return names and units of the columns from the lines above the first row."""
    rows = [split(line, separator, quoted=quoted) for line in above if line]
    rows = [(row + [""] * width)[:width] for row in rows if len(row) in (width, width + 1) or width == 1]
    blank = ("",) * width
    if not rows:
        return blank, blank
    units = [_unit_cell(cell) for cell in rows[-1]]
    has_units = all(unit or not cell for unit, cell in zip(units, rows[-1], strict=True)) and any(units)
    if has_units and len(rows) > 1 and any(row != rows[-1] for row in rows[:-1]):
        names = rows[-2]
    else:
        names = rows[-1]
        units = [""] * width
    found = [unit or _unit_in(name) for unit, name in zip(units, names, strict=True)]
    return tuple(name.strip('" ') for name in names), tuple(found)


def _unit_cell(cell: str) -> str:
    """Return the unit a cell of a row of units holds; any other unit counts as one too."""
    inner = cell.strip(' "()[]').lower()
    return inner if inner and (_UNIT.search(inner) or (len(inner) <= 4 and not inner[0].isdigit())) else ""


def _unit_in(name: str) -> str:
    match = _UNIT.search(name.strip(' "').lower())
    return match[1] if match is not None else ""


def time_column(layout: Layout) -> int | None:
    """Return the column named as a time, or None."""
    for column, name in enumerate(layout.names):
        if name and _TIME_NAME.search(_plain(name)):
            return column
    return None


def volt_columns(layout: Layout, time: int | None) -> tuple[int, ...]:
    """Return the columns that a name or a unit calls a sensor's signal; the first one after the time else."""
    others = [column for column in range(len(layout.names)) if column != time]
    named = [c for c in others if _SENSOR_NAME.search(_plain(layout.names[c]))]
    named = [c for c in named if not _OTHER_NAME.search(_plain(layout.names[c]))]
    sided = [c for c in named if sensor_of(layout.names[c])]
    if sided or named:
        return tuple(sided or named)
    in_volts = [c for c in others if layout.units[c] in ("v", "mv", "volt", "volts")]
    return tuple(in_volts or others[:1])


def sensor_of(name: str) -> str | None:
    """Return the sensor a name tells of: ``b1s1``, or ``s1``/``s2`` for upstream/downstream of any bank."""
    plain = _plain(name)
    exact = re.search(r"b(?:ank)? ?([12])[ ,]*s(?:ensor)? ?([12])", plain)
    if exact is not None:
        return f"b{exact[1]}s{exact[2]}"
    bank = re.search(r"\bb(?:ank)? ?([12])\b", plain)
    if re.search(r"downstream|\brear\b|\bpost|after cat|\bs2\b|sensor 2", plain):
        return f"b{bank[1]}s2" if bank else "s2"
    if re.search(r"upstream|\bfront\b|\bpre\b|before cat|\bs1\b|sensor 1", plain):
        return f"b{bank[1]}s1" if bank else "s1"
    return None


def _plain(name: str) -> str:
    return re.sub(r"[\s_\-.()\[\]/²]+", " ", name.lower().replace("o₂", "o2")).strip()
