"""A recorded signal as text and as a vector drawing, with the 0.45 V line and the transitions marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine.tapping import THRESHOLD

if TYPE_CHECKING:
    from engine.traces.metrics import Floats, Numbers

_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_ASCII = {(True, False): "'", (False, True): ".", (True, True): ":"}
_LABEL = 6
"""Cells left of the drawing: volts and the axis."""


@dataclass(frozen=True, slots=True)
class Envelope:
    """Lowest and highest volts in equal slices of time; NaN where there is no sample."""

    low: Floats
    high: Floats


def envelope(seconds: Numbers, volts: Numbers, slices: int) -> Envelope:
    """Return lowest and highest volts of each of *slices*; short holes are bridged by a straight line."""
    import numpy as np

    times, values = np.asarray(seconds, dtype=float), np.asarray(volts, dtype=float)
    good = np.isfinite(times) & np.isfinite(values)
    times, values = times[good], values[good]
    low, high = np.full(slices, np.nan), np.full(slices, np.nan)
    if times.size < 2:
        return Envelope(low, high)
    span = float(times[-1] - times[0])
    at = np.minimum(((times - times[0]) / span * slices).astype(int), slices - 1)
    starts = np.flatnonzero(np.diff(at, prepend=-1))
    low[at[starts]] = np.minimum.reduceat(values, starts)
    high[at[starts]] = np.maximum.reduceat(values, starts)
    empty = np.isnan(low)
    if empty.any():
        centres = times[0] + (np.arange(slices) + 0.5) * span / slices
        usual = float(np.median(np.diff(times)))
        after = np.clip(np.searchsorted(times, centres), 1, times.size - 1)
        bridged = empty & (times[after] - times[after - 1] <= 5.0 * usual)
        low[bridged] = high[bridged] = np.interp(centres[bridged], times, values)
    return Envelope(low, high)


def draw(
    seconds: Numbers,
    volts: Numbers,
    turns: Sequence[tuple[float, bool]],
    *,
    cells: int = 76,
    rows: int = 12,
    ascii_only: bool = False,
) -> list[str]:
    """Return the signal as lines of text, none wider than *cells*.

    Args:
        seconds: times, s.
        volts: V.
        turns: when the state changed (s), and whether to rich; marked under the drawing.
        cells: width.
        rows: height of the drawing itself.
        ascii_only: for a terminal that knows no more.
    """
    import numpy as np

    plot = max(cells - _LABEL - 1, 10)
    across, down = (1, 2) if ascii_only else (2, 4)
    slices = envelope(seconds, volts, plot * across)
    finite = np.isfinite(slices.low)
    if not finite.any():
        return ["nothing to draw"]
    floor = min(0.0, float(np.floor(10.0 * slices.low[finite].min()) / 10.0))
    top = max(1.0, float(np.ceil(10.0 * slices.high[finite].max()) / 10.0))
    dots = _dots(slices, floor, top, rows * down)
    middle = min(max(int((top - THRESHOLD) / (top - floor) * rows), 0), rows - 1)
    lines = []
    for row in range(rows):
        part = dots[row * down : (row + 1) * down]
        blank = ("-" if ascii_only else "╌") if row == middle else " "
        signs = "".join(_cell(part[:, c * across : (c + 1) * across], blank, ascii_only) for c in range(plot))
        label = f"{top:.2f}" if row == 0 else f"{floor:.2f}" if row == rows - 1 else ""
        label = "0.45" if row == middle else label
        lines.append(f"{label:>{_LABEL - 1}} {'|' if ascii_only else '┤'}{signs}".rstrip())
    return [*lines, *_marks(seconds, turns, plot, ascii_only)]


def _dots(slices: Envelope, floor: float, top: float, height: int) -> Floats:
    """Return which dots are set; neighbours are joined, so that an edge is a line."""
    import numpy as np

    dots = np.zeros((height, slices.low.size), dtype=bool)
    level = (height - 1) / (top - floor)
    before: tuple[int, int] | None = None
    for column, (low, high) in enumerate(zip(slices.low.tolist(), slices.high.tolist(), strict=True)):
        if low != low:
            before = None
            continue
        first, last = round((top - high) * level), round((top - low) * level)
        if before is not None:
            first, last = min(first, before[1]), max(last, before[0])
        dots[first : last + 1, column] = True
        before = round((top - high) * level), round((top - low) * level)
    return dots


def _cell(part: Floats, blank: str, ascii_only: bool) -> str:
    if not part.any():
        return blank
    if ascii_only:
        return _ASCII[bool(part[0, 0]), bool(part[1, 0])]
    bits = sum(_DOTS[r][c] for r in range(4) for c in range(2) if part[r, c])
    return chr(0x2800 + bits)


def _marks(seconds: Numbers, turns: Sequence[tuple[float, bool]], plot: int, ascii_only: bool) -> list[str]:
    """Return the row of transitions and the row of times."""
    begin, end = float(seconds[0]), float(seconds[-1])
    row = [" "] * plot
    up, down, both = ("^", "v", "x") if ascii_only else ("▲", "▼", "◆")
    for moment, to_rich in turns:
        place = min(int((moment - begin) / (end - begin) * plot), plot - 1)
        sign = up if to_rich else down
        row[place] = sign if row[place] in (" ", sign) else both
    marks = f"{'':{_LABEL}} {''.join(row)}".rstrip()
    last = f"{end - begin:.4g} s"
    foot = f"{'':{_LABEL}} 0{last:>{plot - 1}}"
    words = f"{'':{_LABEL}} {up} to rich  {down} to lean" + (f"  {both} several" if both in row else "")
    return [marks, foot, words] if turns else [foot]


def as_svg(seconds: Numbers, volts: Numbers, turns: Sequence[tuple[float, bool]]) -> str:
    """Return the signal as an SVG element of numbers and fixed words only."""
    import numpy as np

    wide, high, left, foot = 720, 220, 44, 30
    slices = envelope(seconds, volts, 600)
    finite = np.isfinite(slices.low)
    if not finite.any():
        return ""
    floor, top = min(0.0, float(slices.low[finite].min())), max(1.0, float(slices.high[finite].max()))

    def x(share: float) -> float:
        return round(left + share * (wide - left - 8), 1)

    def y(volt: float) -> float:
        return round(8 + (top - volt) / (top - floor) * (high - foot - 8), 1)

    span = float(seconds[-1]) - float(seconds[0])
    points: list[tuple[float, float]] = []
    parts: list[list[tuple[float, float]]] = []
    for place, (low, most) in enumerate(zip(slices.low.tolist(), slices.high.tolist(), strict=True)):
        if low != low:
            parts.append(points)
            points = []
            continue
        points += [(x(place / 600), y(most)), (x(place / 600), y(low))]
    lines = "".join(
        '<polyline fill="none" stroke="#111" stroke-width="1.2" points="'
        + " ".join(f"{a:g},{b:g}" for a, b in part)
        + '"/>'
        for part in (*parts, points)
        if part
    )
    ticks = "".join(
        f'<text x="{x((moment - float(seconds[0])) / span):g}" y="{high - 18}" text-anchor="middle" '
        f'font-size="9">{"▲" if to_rich else "▼"}</text>'
        for moment, to_rich in turns[:400]
    )
    labels = "".join(
        f'<text x="{left - 4}" y="{y(volt) + 4:g}" text-anchor="end" font-size="11">{volt:.2f}</text>'
        for volt in (floor, THRESHOLD, top)
    )
    return (
        f'<svg viewBox="0 0 {wide} {high}" width="100%" role="img" aria-label="recorded signal, volts over '
        f'time, with the 0.45 V line"><rect x="{left}" y="8" width="{wide - left - 8}" '
        f'height="{high - foot - 8}" fill="none" stroke="#777"/>'
        f'<line x1="{left}" x2="{wide - 8}" y1="{y(THRESHOLD):g}" y2="{y(THRESHOLD):g}" stroke="#777" '
        f'stroke-dasharray="6 4"/>{lines}{ticks}{labels}'
        f'<text x="{left}" y="{high - 4}" font-size="11">0 s</text>'
        f'<text x="{wide - 8}" y="{high - 4}" text-anchor="end" font-size="11">{span:.4g} s</text></svg>'
    )
