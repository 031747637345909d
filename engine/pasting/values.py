"""Many values of one name made the one number a reading takes: a mean, an extreme, a swing, a count."""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Sequence

from engine.catalogue import Reading
from engine.entry import Refusal
from engine.entry.numbers import plain
from engine.errors import shown
from engine.pasting.layout import Cell, Series, is_unit
from engine.pasting.names import Named, Signal, Statistic, words_of
from engine.tapping import watch

WINDOW = 10.0
"""s; the readings of the catalogue are means, extremes and counts of ten seconds. The last ten are taken."""
_SAMPLE = re.compile(r"([+−-]?\s?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+))\s*([^\s0-9].{0,11})?")
_NOTHING = frozenset(
    {"", "-", "--", "---", "n/a", "na", "null", "nan", "none", "no data", "unavailable", "err"}
)
_CODES = re.compile(r"\b[PBCU][0-3][0-9A-F]{3}\b", re.IGNORECASE)
_LOOP: tuple[tuple[str, str], ...] = (
    (r"\b(?:cl|closed)\b.*\bfault", "closed_fault"),
    (r"\b(?:cl|closed)\b", "closed"),
    (r"\b(?:ol|open)\b.*\bfault", "open_fault"),
    (r"\b(?:ol|open)\b.*\b(?:driv\w*|load|decel\w*|power)", "open_load"),
    (r"\b(?:ol|open)\b", "open_cold"),
)
"""Words of the fuel system status, the first that fits. Source: SAE J1979 (OL, CL, OL-Drive, OL-Fault,
CL-Fault and the texts that stand for them), from memory."""
_MOMENTARY = frozenset({"stft", "o2", "lambda", "wb_ma"})
"""Quantities that swing, of which one value says little."""


def loop_of(text: str) -> str | None:
    """Return the choice that words of the fuel system status mean, or None."""
    words = words_of(text).replace("not yet satisfied conditions to go closed loop", "not ready")
    return next((choice for pattern, choice in _LOOP if re.search(pattern, words)), None)


def last_text(series: Series, signal: Signal | None, *, codes: bool) -> str:
    """Return the last value that says anything; of codes all values together."""
    said = [cell.text for cell in series.cells if cell.text.strip().casefold() not in _NOTHING]
    if not said:
        return series.cells[-1].text or "none"
    if codes:
        found = [code.upper() for text in said for code in _CODES.findall(text)]
        return " ".join(dict.fromkeys(found or said))
    if signal is not None and signal.quantity == "loop":
        return loop_of(said[-1]) or said[-1]
    return said[-1]


def one_number(
    reading: Reading, signal: Signal | None, named: Named, series: Series, notices: list[str]
) -> tuple[str | Refusal, int]:
    """Return the text of one number made of a series as the reading takes it, and of how many values."""
    if len(series.cells) == 1:
        if signal is not None and signal.quantity in _MOMENTARY and named.statistic is None:
            notices.append(f"{shown(series.name)} is one value: the mean of ten seconds says more")
        return with_unit(series.cells[0].text, series.unit), 1
    cells = _window(series, notices)
    samples, unit, odd = samples_of(cells)
    name = shown(series.name)
    if odd:
        notices.append(f"{name}: {odd} of {len(cells)} values are no plain number and were left out")
    if not samples:
        return Refusal(f"{name} holds no number: write the value yourself"), 1
    unit = unit or series.unit
    if unit == "?":
        return Refusal(f"{name} changes its unit from row to row: write the value yourself"), 1
    how = signal.statistic if signal is not None else None
    if how == "cross":
        return _crossings(samples, unit, cells, notices, name), len(samples)
    number = _taken(samples, how, reading, named)
    return with_unit(plain(float(f"{number:.5g}")), unit), len(samples)


def _taken(samples: Sequence[float], how: Statistic | None, reading: Reading, named: Named) -> float:
    if how == "swing":
        return max(samples) - min(samples)
    if how == "min" or (how is None and reading.takes == "lowest"):
        return min(samples)
    if how == "max" or (how is None and reading.takes == "highest"):
        return max(samples)
    if reading.takes == "latest" and how is None and named.statistic is None:
        return samples[-1]
    return statistics.fmean(samples)


def _window(series: Series, notices: list[str]) -> tuple[Cell, ...]:
    """Return the values of the last ten seconds; all where there are no times."""
    last, first = series.cells[-1].at, series.cells[0].at
    if last is None or first is None:
        notices.append(f"no column of times: all {len(series.cells)} values are taken as about ten seconds")
        return series.cells
    if last - first < WINDOW * 0.9:
        notices.append(f"{last - first:.3g} s are recorded: hold the engine steady for ten seconds")
        return series.cells
    kept = tuple(cell for cell in series.cells if cell.at is not None and cell.at > last - WINDOW + 1e-6)
    if len(kept) < len(series.cells):
        notices.append(f"{last - first:.0f} s are recorded: the last ten are taken")
    return kept


def samples_of(cells: Sequence[Cell]) -> tuple[list[float], str, int]:
    """Return the numbers of cells, the unit written in them (``?`` when it changes), and the odd cells."""
    numbers, units, odd = [], set(), 0
    for cell in cells:
        text = cell.text.strip()
        if text.casefold() in _NOTHING:
            continue
        found = _SAMPLE.fullmatch(text)
        number = found[1].replace("−", "-").replace(" ", "") if found is not None else ""
        unit = (found[2] or "").strip() if found is not None else ""
        if (
            found is None
            or (unit and not is_unit(unit))
            or re.fullmatch(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}", number)
        ):
            odd += 1
            continue
        value = float(number.replace(",", "."))
        if math.isfinite(value):
            numbers.append(value)
            units.add(unit)
    return numbers, units.pop() if len(units) == 1 else "?" if units else "", odd


def _crossings(
    samples: Sequence[float], unit: str, cells: Sequence[Cell], notices: list[str], name: str
) -> str | Refusal:
    scale = 1e-3 if unit.casefold() == "mv" else 1.0
    first, last = cells[0].at, cells[-1].at
    rate = (
        (len(cells) - 1) / (last - first) if first is not None and last is not None and last > first else None
    )
    seen = watch([sample * scale for sample in samples], rate)
    if seen is None or rate is None:
        return Refusal(f"{name} has no column of times: crossings cannot be counted")
    if not seen.crossings.usable:
        return Refusal(f"{name}: crossings cannot be judged: {seen.crossings.why}")
    if seen.crossings.why:
        notices.append(f"{name}: {seen.crossings.why}")
    return plain(round(seen.crossings.count, 1))


def with_unit(text: str, unit: str) -> str:
    """Return a value with the unit of its heading, unless it has letters of its own."""
    return f"{text} {unit}" if unit and text and not re.search(r"[^\W\d_]|%|°", text) else text
