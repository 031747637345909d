"""Total trims drawn as a line over air flow, with what would explain two of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import wrap
from typing import Any

from textual.content import Content
from textual.widget import Widget

from engine.formulas.declaring import FormulaError
from engine.formulas.registry import formula
from tui.session import JobSession
from tui.text import content, signs, stacked

Point = Mapping[str, Any]
FUEL_PER_AIR = 14.6
"""Stoichiometric air-fuel ratio of pump petrol, rounded; only for the words under the drawing."""
AIR = "air, g/s"
_STATE_ORDER = {"idle": 0, "2500": 1, "load": 2}


def drawable(points: Sequence[Point]) -> list[Point]:
    """Return the points of the bank that has most, in order of air flow (or of state without it)."""
    banks: dict[str, list[Point]] = {}
    for point in points:
        banks.setdefault(str(point["bank"]), []).append(point)
    best = max(banks.values(), key=len, default=[])
    known = all(point["air"] is not None for point in best)
    return sorted(
        best, key=lambda p: float(p["air"]) if known else float(_STATE_ORDER.get(str(p["state"]), 3))
    )


def trim_lines(points: Sequence[Point], cells: int, *, limits: Sequence[float] = (-10.0, 10.0)) -> list[str]:
    """Return the drawing, one text a line; empty with fewer than two points.

    Args:
        points: with ``trim`` in %, ``air`` in g/s or None, ``state``, ``bank``.
        cells: width of the drawing.
        limits: drawn as broken lines where they lie in the range.
    """
    shown = drawable(points)
    if len(shown) < 2:
        return []
    trims = [float(point["trim"]) for point in shown]
    levels = sorted({0.0, *trims, *(v for v in limits if min(trims) - 6 < v < max(trims) + 6)}, reverse=True)
    plot = max(min(cells - 8, 56), 16)
    places = _places(shown, plot)
    lines = [_row(level, shown, places, plot, level in limits) for level in levels]
    foot = [" "] * (plot + 10)
    marks = list(signs().rule * plot)
    for place in places:
        marks[place] = signs().foot
    lines.append(f"{'':6} {signs().corner}{''.join(marks)}")
    for place, point in zip(places, shown, strict=True):
        text = f"{float(point['air']):.1f}" if point["air"] is not None else str(point["state"])
        foot[place + 8 : place + 8 + len(text)] = text
    figures = "".join(foot).rstrip()
    if shown[0]["air"] is None:
        return [*lines, figures]
    if len(figures) + 2 + len(AIR) <= cells:
        return [*lines, f"{figures}  {AIR}"]
    return [*lines, figures, f"{AIR:>{min(plot + 8, cells)}}"]


def _places(shown: Sequence[Point], plot: int) -> list[int]:
    if any(point["air"] is None for point in shown):
        return [
            min(6, plot // 4) + i * (plot - plot // 4 - 8) // max(len(shown) - 1, 1)
            for i in range(len(shown))
        ]
    most = max(float(point["air"]) for point in shown) or 1.0
    return [min(int(float(point["air"]) / most * (plot - 9)) + 1, plot - 1) for point in shown]


def _row(level: float, shown: Sequence[Point], places: Sequence[int], plot: int, is_limit: bool) -> str:
    sign = signs()
    fill = "- " if is_limit else (f"{sign.middle} " if level == 0.0 else "  ")
    row = list((fill * plot)[:plot])
    if is_limit:
        row[-7:] = list(" limit ")
    for place, point in zip(places, shown, strict=True):
        if float(point["trim"]) == level:
            name = {"idle": "idle", "load": "load"}.get(str(point["state"]), str(point["state"]))
            words = f"{sign.dot} {name} "
            row[place : place + len(words)] = list(words)
    return f"{level:+6.1f} {sign.axis}{''.join(row[:plot]).rstrip()}".replace("+0.0", " 0.0")


def explained(points: Sequence[Point], *, map_kpa: float | None = None) -> str:
    """Return what one leak or one source of fuel would explain of the two points furthest apart."""
    shown = [point for point in drawable(points) if point["air"] is not None]
    if len(shown) < 2:
        return ""
    first, last = shown[0], shown[-1]
    given = {
        "trim1": float(first["trim"]),
        "air1": float(first["air"]),
        "trim2": float(last["trim"]),
        "air2": float(last["air"]),
    }
    if map_kpa is not None:
        given["map"] = map_kpa
    try:
        result = formula("leak_from_trims").compute(**given)
    except FormulaError:
        return ""
    additive, hole = float(result["additive"]), float(result["hole"])
    if abs(additive) < 0.02:
        return "The two points lie level: the error grows with the air flow, no fixed leak explains it."
    if additive > 0:
        return f"Air of about {additive:.2f} g/s past the meter explains both: one hole of {hole:.1f} mm."
    return f"Extra fuel or vapour of about {-additive / FUEL_PER_AIR:.3f} g/s explains both points."


class TrimChart(Widget):
    """The drawing in a column of its own, as wide as the column."""

    def __init__(self, session: JobSession, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.job_session = session

    def on_mount(self) -> None:
        """Take the room the drawing needs, or none."""
        self.display = bool(trim_lines(self.job_session.trim_points(), 40))

    def on_resize(self) -> None:
        """Be as high as the drawing is at this width."""
        self.styles.height = len(chart_lines(self.job_session.trim_points(), self.size.width))

    def render(self) -> Content:
        """Draw."""
        return stacked(chart_lines(self.job_session.trim_points(), self.size.width))


def chart_lines(points: Sequence[Point], cells: int) -> list[Content]:
    """Return heading, drawing and what explains it, no line wider than *cells*."""
    drawing = trim_lines(points, cells)
    if not drawing:
        return []
    banks = {str(point["bank"]) for point in points}
    which = f", bank {str(drawable(points)[0]['bank']).removeprefix('b')}" if len(banks) > 1 else ""
    words = wrap(explained(points), max(cells, 20))
    return [
        content(f"Total trim, %{which}", "bold"),
        *(content(line) for line in drawing),
        *(content(line) for line in words),
    ]
