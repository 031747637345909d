"""A recording read from a file of columns: which are time and volts, in which unit, what is wrong where."""

from __future__ import annotations

import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from engine.errors import LONGEST_SHOWN, did_you_mean, shown
from engine.inert import inert
from engine.traces.layout import (
    CLOCK,
    MISSING,
    Layout,
    is_number,
    layout_of,
    sensor_of,
    time_column,
    volt_columns,
)
from engine.traces.metrics import GAP, TraceError

if TYPE_CHECKING:
    from engine.traces.metrics import Floats

MOST_BYTES = 200_000_000
"""Of a file; a million rows of two columns take about a tenth of it."""
MOST_VOLTS = 20.0
"""V; no signal of such a sensor reaches it, so larger numbers are millivolts or something else."""
_TOLD = 3
"""Places of one kind that are told one by one."""


@dataclass(frozen=True, slots=True)
class Channel:
    """One sensor's signal."""

    name: str
    """The column's heading, or its number."""
    volts: Floats
    """V; NaN where there is none."""
    sensor: str | None
    """``b1s1``, ``s2`` and so on where the heading says so."""


@dataclass(frozen=True, slots=True)
class Recording:
    """Signals over one time."""

    seconds: Floats
    channels: tuple[Channel, ...]
    notices: tuple[str, ...]
    """What was taken for granted, and where something is missing."""


@dataclass(frozen=True, slots=True)
class _Table:
    """Numbers of the rows, NaN where there is none, with their line numbers."""

    numbers: Floats
    lines: Floats
    notices: tuple[str, ...]


def load_recording(path: Path, *, columns: Sequence[str] = (), rate: float | None = None) -> Recording:
    """Return the recording in a file; see `read_recording`.

    Raises:
        TraceError: one line that begins with the file's name.
    """
    try:
        if path.is_dir():
            raise TraceError(f"{path}: is a folder: name the file of the recording")
        size = path.stat().st_size
        data = path.read_bytes() if size <= MOST_BYTES else b""
    except FileNotFoundError as error:
        raise TraceError(f"{path}: there is no such file") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "no usable name"
        raise TraceError(f"{shown(str(path))}: cannot be read: {str(reason).lower()}") from error
    if size > MOST_BYTES:
        raise TraceError(
            f"{path}: {size / 1e6:.0f} MB, at most {MOST_BYTES / 1e6:.0f} are read: cut out what counts"
        )
    try:
        return read_recording(data, columns=columns, rate=rate)
    except TraceError as error:
        text = str(error)
        place = re.match(r"line (\d+): ", text)
        raise TraceError(
            f"{path}:{place[1]}: {text[place.end() :]}" if place else f"{path}: {text}"
        ) from None


def read_recording(data: bytes, *, columns: Sequence[str] = (), rate: float | None = None) -> Recording:
    """Return the recording in the bytes of a text file.

    Args:
        data: the file.
        columns: names or numbers (from 1) of the volts columns; none: found by name, unit or order.
        rate: samples a second of a file without times.

    Raises:
        TraceError: what is wrong, where, and what to write instead; ``line N: `` first where there is one.
    """
    import numpy as np

    text = _decoded(data)
    lines = text.split("\n")
    layout = layout_of(lines)
    table = _table(lines, layout)
    width = table.numbers.shape[1]
    layout = _widened(layout, width)
    time = time_column(layout)
    notices = list(table.notices)
    if time is None and width > 1 and rate is None:
        time = 0
    chosen = [_column(layout, text, time) for text in columns] or volt_columns(layout, time)
    if not chosen:
        raise TraceError(
            "only one column: a time is needed beside the volts (or say --rate, samples a second)"
        )
    if rate is None and time is None:
        raise TraceError("no column of times: name one 'time', or say --rate, samples a second")
    if time is not None:
        seconds, told = _seconds(table, layout, time)
        notices += told
        keep = np.isfinite(seconds)
        table = replace(table, numbers=table.numbers[keep], lines=table.lines[keep])
        seconds = seconds[keep]
        _must_rise(seconds, table.lines)
    else:
        assert rate is not None
        if not rate > 0.0:
            raise TraceError(f"{rate:g} samples a second: give a number above 0")
        seconds = np.arange(table.numbers.shape[0]) / rate
    if seconds.size < 3:
        raise TraceError(f"{seconds.size} usable rows: a recording needs at least three, better 10 s of them")
    notices += _gaps(seconds, table.lines)
    channels = []
    for column in chosen:
        channel, told = _channel(table, layout, column)
        channels.append(channel)
        notices += told
    return Recording(seconds, tuple(channels), tuple(dict.fromkeys(notices)))


def _decoded(data: bytes) -> str:
    """Return the text of a file, lines ending in a line feed only."""
    if not data.strip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0"):
        raise TraceError("empty: export the recording again")
    head = data[:4096]
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = data.decode("utf-16", "replace")
    elif head[1:200:2].count(0) > len(head[1:200:2]) * 0.8:
        text = data.decode("utf-16-le", "replace")
    elif head[0:200:2].count(0) > len(head[0:200:2]) * 0.8:
        text = data.decode("utf-16-be", "replace")
    elif b"\0" in head:
        raise TraceError("no text file: export the recording as text with commas, semicolons or tabs")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def _table(lines: Sequence[str], layout: Layout) -> _Table:
    return _fast(lines, layout) or _careful(lines, layout)


def _fast(lines: Sequence[str], layout: Layout) -> _Table | None:
    """Return the numbers of rows that are all alike, read in one go; None when they are not."""
    import numpy as np

    if layout.quoted or (layout.separator == "," and layout.decimal_comma):
        return None
    rows = lines[layout.first_row :]
    while rows and not rows[-1].strip():
        rows = rows[:-1]
    joined = "\n".join(rows)
    if any(sign in joined for sign in ":/\"'"):
        return None
    if layout.decimal_comma:
        joined = joined.replace(",", ".")
    if layout.separator != " ":
        flat = joined.encode("utf-8", "replace")
        data = np.frombuffer(flat, dtype=np.uint8)
        ends = np.flatnonzero(data == 10)
        marks = np.searchsorted(np.flatnonzero(data == ord(layout.separator)), np.append(ends, data.size))
        per_row = np.diff(marks, prepend=0)
        if per_row.min() != per_row.max():
            return None
        width = int(per_row[0]) + 1
        joined = joined.replace(layout.separator, " ")
    else:
        width = len(rows[0].split())
    joined = joined.replace("\n", " ")
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        try:
            numbers = np.fromstring(joined, dtype=float, sep=" ")
        except (DeprecationWarning, ValueError):
            return None
    if numbers.size != len(rows) * width:
        return None
    numbers = numbers.reshape(len(rows), width)
    places = np.arange(len(rows)) + layout.first_row + 1
    return _Table(numbers, places, _missing_told(numbers, places))


def _careful(lines: Sequence[str], layout: Layout) -> _Table:
    """Return the numbers row by row; a cell that is neither number nor empty is an error with its line."""
    import numpy as np

    width = len(layout.names)
    rows, places, short = [], [], []
    last = max((i for i, line in enumerate(lines) if line.strip()), default=0)
    for index in range(layout.first_row, last + 1):
        line = lines[index]
        if not line.strip():
            continue
        cells = layout.cells(line)
        if len(cells) < width:
            short.append(index + 1)
        rows.append([_number(cell, index + 1) for cell in (cells + [""] * width)[:width]])
        places.append(index + 1)
    numbers, where = np.array(rows, dtype=float), np.array(places)
    told = [f"{_listed(short)}: fewer cells than columns"] if short else []
    return _Table(numbers, where, (*told, *_missing_told(numbers, where)))


def _number(cell: str, line: int) -> float:
    text = cell.strip('" ')
    if is_number(text):
        return float(text.replace(",", "."))
    if text.lower() in MISSING:
        return float("nan")
    clock = CLOCK.fullmatch(text)
    if clock is not None:
        if clock[3] is None:
            return 60.0 * int(clock[1]) + int(clock[2])
        return 3600.0 * int(clock[1]) + 60.0 * int(clock[2]) + float(clock[3].replace(",", "."))
    with_unit = re.fullmatch(r"(\S+)\s*(mV|V|s|ms)", text)
    if with_unit is not None and is_number(with_unit[1]):
        return float(with_unit[1].replace(",", ".")) * (1e-3 if with_unit[2].startswith("m") else 1.0)
    raise TraceError(f"line {line}: {shown(text)} is no number: correct the cell, or leave it empty")


def _missing_told(numbers: Floats, places: Floats) -> tuple[str, ...]:
    import numpy as np

    missing = places[~np.isfinite(numbers).all(axis=1)]
    if not missing.size:
        return ()
    if 2 * missing.size > numbers.shape[0] and not np.isfinite(numbers).all(axis=0).sum() > 1:
        raise TraceError(f"{missing.size} of {numbers.shape[0]} rows lack a value: export it again")
    return (f"{_listed(missing.tolist())}: no number, left out",)


def _listed(places: Sequence[int]) -> str:
    more = len(places) - _TOLD
    told = ", ".join(str(place) for place in places[:_TOLD])
    return f"line{'s' if len(places) > 1 else ''} {told}" + (f" and {more} more" if more > 0 else "")


def _widened(layout: Layout, width: int) -> Layout:
    blank = ("",) * width
    return replace(layout, names=(layout.names + blank)[:width], units=(layout.units + blank)[:width])


def _column(layout: Layout, text: str, time: int | None) -> int:
    """Return the column that is meant by a name, a part of one, or a number from 1."""
    wanted = text.strip().lower()
    names = [name.lower() for name in layout.names]
    if wanted in names:
        return names.index(wanted)
    if wanted.isdecimal() and 1 <= int(wanted) <= len(names):
        return int(wanted) - 1
    within = [c for c, name in enumerate(names) if wanted and wanted in name and c != time]
    if len(within) == 1:
        return within[0]
    known = ", ".join(name[:LONGEST_SHOWN] for name in layout.names if name) or f"1 to {len(names)}"
    hint = did_you_mean(wanted, names)
    raise TraceError(f"no column {shown(text)}{hint}: there are {shown(known)[1:-1]}")


def _seconds(table: _Table, layout: Layout, column: int) -> tuple[Floats, list[str]]:
    """Return the times in s, from 0 on; a unit nobody names is guessed from the step, and said."""
    import numpy as np

    times = table.numbers[:, column]
    finite = times[np.isfinite(times)]
    if finite.size < 3:
        raise TraceError(
            f"{finite.size} rows hold a time: a recording needs at least three, better 10 s of them"
        )
    scale, told = layout.time_scale(column), []
    if scale is None:
        step = float(np.median(np.diff(finite)))
        scale = 1e-3 if step >= 5.0 or (step >= 1.0 and finite.size >= 200) else 1.0
        if step >= 1.0:
            told.append(f"the times have no unit: taken as {'ms' if scale < 1.0 else 's'}")
    return (times - finite[0]) * scale, told


def _must_rise(seconds: Floats, places: Floats) -> None:
    import numpy as np

    steps = np.diff(seconds)
    if steps.size and steps.min() <= 0.0:
        at = int(np.argmax(steps <= 0.0)) + 1
        how = "goes back" if steps[at - 1] < 0.0 else "stands still"
        raise TraceError(
            f"line {places[at]}: the time {how} ({seconds[at]:.6g} s after {seconds[at - 1]:.6g} s):"
            " sort the rows, or cut the file there"
        )


def _gaps(seconds: Floats, places: Floats) -> list[str]:
    import numpy as np

    steps = np.diff(seconds)
    usual = float(np.median(steps))
    wide = np.flatnonzero(steps > GAP * usual)
    told = [f"gap of {steps[i]:.3g} s after line {places[i]}" for i in wide[:_TOLD]]
    if wide.size > _TOLD:
        told.append(f"{wide.size - _TOLD} more gaps, the longest {float(steps[wide].max()):.3g} s")
    return told


def _channel(table: _Table, layout: Layout, column: int) -> tuple[Channel, list[str]]:
    """Return one signal in V; where no unit is named the size of the numbers tells."""
    import numpy as np

    numbers = table.numbers[:, column]
    name = inert(layout.names[column], limit=LONGEST_SHOWN) or f"column {column + 1}"
    finite = numbers[np.isfinite(numbers)]
    if finite.size < 3:
        raise TraceError(f"{shown(name)} holds {finite.size} numbers: choose another with --column")
    scale, told = layout.volt_scale(column), []
    size = float(np.percentile(np.abs(finite), 98.0))
    if scale != 1e-3 and size > MOST_VOLTS:
        if size > 1000.0 * MOST_VOLTS:
            raise TraceError(f"{shown(name)} reaches {size:.4g}: no volts of a sensor, choose with --column")
        told.append(f"numbers up to {float(finite.max()):.4g} in {shown(name)}: taken as mV")
        scale = 1e-3
    return Channel(name, numbers * (scale or 1.0), sensor_of(name)), told
