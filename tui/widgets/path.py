"""The path so far: as one line, as a column, as lines of a page."""

from __future__ import annotations

from textual.content import Content
from textual.widget import Widget

from engine.walk_state import Event
from tui.session import JobSession
from tui.text import content, cut, padded, signs, stacked, width

GRADE_WORDS = {
    "ok": "ok",
    "watch": "watch",
    "likely": "likely",
    "fail": "fail",
    "inconclusive": "no clear answer",
}


def mark(event: Event) -> str:
    """Return a sign for a verdict's grade; its word stands wherever there is room."""
    if event["doubtful"]:
        return "?"
    table = {"ok": signs().tick, "watch": "~", "likely": "!", "fail": "!", "inconclusive": "?"}
    return table.get(event["grade"], "?")


def readings_words(session: JobSession, event: Event, most: int = 6) -> str:
    """Return the values a step rested on, worked values first."""
    shown = {**event["work"], **event["readings"]}
    words = [
        f"{session.catalogue.label(name)} {session.words(name, entry['value'])}"
        for name, entry in list(shown.items())[:most]
    ]
    more = len(shown) - most
    return "; ".join(words) + (f"; and {more} more" if more > 0 else "")


class PathLine(Widget):
    """The last steps and where the walk stands, in one line."""

    def __init__(self, session: JobSession, here: str, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.job_session = session
        self.here = here

    def render(self) -> Content:
        """Draw as much of the end as fits."""
        tail = cut(f"{signs().pointer} {self.here}", self.size.width)
        room = self.size.width - width(tail)
        pieces: list[str] = []
        for event in reversed(self.job_session.walk.state.path):
            piece = f"{mark(event)} {cut(event['title'], 26)} {signs().middle} "
            if width(piece) > room:
                pieces.append("... " if room >= 4 else "")
                break
            room -= width(piece)
            pieces.append(piece)
        return Content.assemble(content("".join(reversed(pieces))), content(tail, "bold"))


class PathPanel(Widget):
    """The path in a column: each step with its verdict, the latest last."""

    def __init__(self, session: JobSession, here: str, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.job_session = session
        self.here = here

    def render(self) -> Content:
        """Draw the last ones that fit."""
        cells, rows = self.size.width, max(self.size.height - 2, 1)
        lines: list[Content] = []
        for event in self.job_session.walk.state.path:
            lines.append(content(padded(f"{mark(event)} {event['title']}", cells).rstrip()))
            verdict = f"  {GRADE_WORDS.get(event['grade'], '')}: {event['verdict']}"
            lines.append(content(padded(verdict, cells).rstrip(), "$quiet"))
        here = content(padded(f"{signs().pointer} {self.here}", cells).rstrip(), "bold")
        return stacked([content("Path", "bold"), *lines[-(rows - 1) :], here])
