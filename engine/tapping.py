"""Crossings of 0.45 V, counted by tapping a key at each one or from a short column of volts.

A crossing is a change of state: rich above the threshold, lean below it, otherwise as before. The count is
given for ten seconds, whatever was watched. It may be judged only when the display shows at least five
values a second and at least ten seconds were watched.

Source: common practice for narrow-band zirconia sensors; the state machine and the counting are definitions
of this program. Wide-band sensors do not switch, so nothing here applies to them.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

THRESHOLD = 0.45
"""V; between rich and lean of a narrow-band sensor. Common practice."""
LEAST_RATE = 5.0
"""1/s; a slower display hides crossings. Common practice; `crossings_rate_least` of the catalogue."""
LEAST_SECONDS = 10.0
"""s; a shorter count is chance. Common practice."""
SAMPLES_A_PERIOD = 10.0
"""Samples that one full swing needs to be counted surely; fewer may hide some. Common practice."""
BOUNCE = 0.1
"""s; taps closer together come from a key held down or bouncing, no finger is so fast. Choice of this
program."""
MOST_SAMPLES = 100_000
_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Crossings:
    """How often the signal crossed the threshold, both directions."""

    count: float
    """Crossings in 10 s."""
    seconds: float
    """How long was watched."""
    usable: bool
    """The count may be judged."""
    why: str
    """Why it may not be judged, or what to bear in mind; empty when there is nothing to say."""


@dataclass(frozen=True, slots=True)
class VoltsSeen:
    """What a column of volts shows."""

    crossings: Crossings
    lowest: float
    """V."""
    highest: float
    """V."""
    mean: float
    """V."""
    rich_share: float
    """Share of the samples strictly above the threshold, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Column:
    """A pasted column of volts."""

    volts: tuple[float, ...]
    rate: float | None
    """Samples a second, when a column of times stands beside the volts."""
    notices: tuple[str, ...]


def count(
    times: Sequence[float],
    display_rate: float | None,
    *,
    started: float | None = None,
    ended: float | None = None,
) -> Crossings:
    """Return the crossings tapped at *times*.

    Args:
        times: of the taps, in seconds of any steady clock, in order.
        display_rate: values a second that the display shows; None when nobody knows.
        started: when watching began; without it the first tap begins it and counts no crossing itself.
        ended: when watching ended; without it the last tap ends it.

    Returns:
        the crossings in 10 s. Taps less than 0.1 s after the one before are left out.
    """
    if any(not math.isfinite(time) for time in (*times, started or 0.0, ended or 0.0)) or _goes_back(times):
        return Crossings(0.0, 0.0, usable=False, why="the times of the taps are not in order: count again")
    taps, dropped = _steady(times)
    first = started if started is not None else (taps[0] if taps else None)
    last = ended if ended is not None else (taps[-1] if taps else None)
    if first is None or last is None:
        return Crossings(
            0.0, 0.0, usable=False, why="nothing was tapped and nobody said how long was watched"
        )
    inside = [tap for tap in taps if first <= tap <= last]
    number = len(inside) - 1 if started is None and inside else len(inside)
    notice = f"{dropped} taps left out, less than {BOUNCE:g} s after the one before" if dropped else ""
    return _judged(number, max(last - first, 0.0), display_rate, notice)


def watch(
    volts: Sequence[float], rate: float | None, *, threshold: float = THRESHOLD, hysteresis: float = 0.0
) -> VoltsSeen | None:
    """Return what *volts* sampled *rate* times a second show; None when there are none.

    Args:
        volts: V, evenly spaced in time.
        rate: samples a second; None or 0 when not known, then nothing may be judged.
        threshold: V.
        hysteresis: V; rich only above threshold + hysteresis, lean only below threshold - hysteresis. 0 for a
            clean signal, 0.05 V for a noisy one.
    """
    samples = [float(volt) for volt in volts if math.isfinite(volt)]
    if not samples:
        return None
    known = rate if rate is not None and math.isfinite(rate) and rate > 0.0 else None
    seconds = len(samples) / known if known is not None else 0.0
    return VoltsSeen(
        crossings=_judged(crossings_of(samples, threshold, hysteresis), seconds, known, ""),
        lowest=min(samples),
        highest=max(samples),
        mean=statistics.fmean(samples),
        rich_share=sum(volt > threshold for volt in samples) / len(samples),
    )


def crossings_of(volts: Sequence[float], threshold: float = THRESHOLD, hysteresis: float = 0.0) -> int:
    """Return how often *volts* (V) change between rich and lean; between the two edges nothing changes."""
    number = 0
    rich: bool | None = None
    for volt in volts:
        now = True if volt > threshold + hysteresis else False if volt < threshold - hysteresis else rich
        number += rich is not None and now is not rich
        rich = now
    return number


def _judged(number: int, seconds: float, rate: float | None, notice: str) -> Crossings:
    """Return a count for 10 s, and whether it may be judged; the one way for taps and volts."""
    per_ten = number * 10.0 / seconds if seconds > 0.0 else 0.0
    why = []
    if rate is None:
        why.append("the display's rate is not known: see how many values it shows in 10 s")
    elif not math.isfinite(rate) or rate < LEAST_RATE - _SLACK:
        why.append(f"{rate:.3g} values a second: at least {LEAST_RATE:g} are needed, slower hides crossings")
    if seconds < LEAST_SECONDS - _SLACK:
        why.append(f"watched for {seconds:.3g} s: at least {LEAST_SECONDS:g} s are needed")
    usable = not why
    if usable and rate is not None and per_ten > 20.0 * rate / SAMPLES_A_PERIOD + _SLACK:
        why.append(f"at {rate:.3g} values a second some crossings may be hidden: at least this many")
    if notice:
        why.append(notice)
    return Crossings(per_ten, seconds, usable, "; ".join(why))


def _goes_back(times: Sequence[float]) -> bool:
    return any(later < earlier for earlier, later in pairwise(times))


def _steady(times: Sequence[float]) -> tuple[list[float], int]:
    """Return the taps of a finger, and how many of a held or bouncing key were left out."""
    kept = [time for at, time in enumerate(times) if at == 0 or time - times[at - 1] >= BOUNCE - _SLACK]
    return kept, len(times) - len(kept)


# ------------------------------------------------------------------------------------------ a pasted column

_CELL = re.compile(r"([+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+))\s*(mV|V|s|ms)?", re.IGNORECASE)


def read_column(text: str) -> Column:
    """Return the volts of a pasted column: one number a line, or a time and a number.

    Times are in seconds, in milliseconds where ``ms`` stands by the number or in the heading; volts in V, in
    mV where ``mV`` does. A decimal comma is read. Nothing raises; lines that hold no number are counted.
    """
    rows: list[list[tuple[float, str]]] = []
    heading = ""
    left_out = 0
    for line in text[: 40 * MOST_SAMPLES].splitlines()[:MOST_SAMPLES]:
        cells = _cells(line)
        if cells:
            rows.append(cells)
        elif line.strip():
            left_out += 1
            heading = heading or line[:200]
    width = max((len(row) for row in rows), default=0)
    rows = [row for row in rows if len(row) == width]
    notices = [f"{left_out} lines hold no number and were left out"] if left_out > 1 else []
    if width not in (1, 2):
        return Column((), None, (*notices, "write one number a line, or a time and a number"))
    scale = 1e-3 if re.search(r"\bmV\b", heading) else 1.0
    volts = tuple(
        number * (1e-3 if unit == "mv" else scale if not unit else 1.0)
        for number, unit in (r[-1] for r in rows)
    )
    rate = None
    if width == 2:
        in_ms = bool(re.search(r"\bms\b|millisec", heading))
        times = [
            number * (1e-3 if unit == "ms" or (in_ms and not unit) else 1.0)
            for number, unit in (r[0] for r in rows)
        ]
        rate = rate_of(times)
        if rate is None:
            notices.append("the first column is no steady time: say how many samples a second")
    return Column(volts, rate, tuple(notices))


def rate_of(times: Sequence[float]) -> float | None:
    """Return samples a second of a column of times (s), or None when they do not rise throughout."""
    if len(times) < 2 or any(later <= earlier for earlier, later in pairwise(times)):
        return None
    return (len(times) - 1) / (times[-1] - times[0])


def _cells(line: str) -> list[tuple[float, str]]:
    """Return the numbers of a line with their units; empty when it holds anything else."""
    pieces = re.split(r"[;\t]|,\s+|(?<=[0-9.Vs])\s+(?=[+-.,0-9])", line.strip()[:80])
    if len(pieces) == 1 and line.count(",") == 1 and "." in line:
        pieces = line.strip().split(",")
    found = [_CELL.fullmatch(piece.strip()) for piece in pieces if piece.strip()]
    if not found or not all(found):
        return []
    return [(float(m[1].replace(",", ".")), (m[2] or "").lower()) for m in found if m is not None]
