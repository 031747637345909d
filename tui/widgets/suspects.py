"""Suspects: bars that always have their words."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.widget import Widget

from engine.suspects import Suspect
from tui.session import JobSession
from tui.text import RANKS, bar, content, padded, stacked


def rank_word(place: int) -> str:
    """Return the word for a place, counted from 0."""
    return RANKS[place] if place < len(RANKS) else f"{place + 1}th"


def moved_words(suspect: Suspect) -> str:
    """Return what moved a suspect most."""
    if suspect.fault is None:
        return "always keeps a share"
    return suspect.moves[0].words if suspect.moves else "by experience, not moved yet"


def name_of(session: JobSession, suspect: Suspect) -> str:
    """Return a suspect's words with its side."""
    side = session.place(suspect.side)
    return f"{suspect.label}, {side}" if side else suspect.label


def strip_lines(session: JobSession, cells: int, most: int) -> list[Content]:
    """Return one line a suspect: name, bar, rank, what moved it."""
    suspects = session.suspects()[:most]
    top = suspects[0].p if suspects else 1.0
    name_cells = min(34, max(22, cells // 3 + 4))
    lines = []
    for place, suspect in enumerate(suspects):
        drawn = padded(bar(suspect.p / top, 8), 8)
        name = padded(name_of(session, suspect), name_cells)
        head = f"{name} {drawn} {padded(rank_word(place), 7)} "
        lines.append(content(head + padded(moved_words(suspect), max(cells - name_cells - 18, 0))))
    return lines


MOST_IN_PANEL = 7
WORTH_A_LINE = 0.01
"""Share under which a suspect stands only on the page of all suspects."""


class SuspectStrip(Widget):
    """The first three suspects, one line each."""

    def __init__(self, session: JobSession, *, most: int = 3, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.job_session = session
        self.most = most

    def is_unmoved(self) -> bool:
        """Tell whether no evidence has moved any suspect yet."""
        return not any(suspect.moves for suspect in self.job_session.suspects())

    def render(self) -> Content:
        """Draw them."""
        if self.is_unmoved():
            return content("No evidence yet: suspects stand by experience alone (s lists them).", "$quiet")
        return stacked(strip_lines(self.job_session, self.size.width, self.most))


class SuspectPanel(Widget):
    """The suspects in a column of their own, each with what moved it."""

    def __init__(self, session: JobSession, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.job_session = session

    def render(self) -> Content:
        """Draw as many as there is room for."""
        return stacked(panel_lines(self.job_session, self.size.width, max(self.size.height // 3, 1)))


def panel_lines(session: JobSession, cells: int, most: int) -> Sequence[Content]:
    """Return three lines a suspect: name, bar with rank, what moved it."""
    suspects = session.suspects()[: min(most, MOST_IN_PANEL)]
    top = suspects[0].p if suspects else 1.0
    lines: list[Content] = [content("Suspects", "bold")]
    for place, suspect in enumerate(suspects):
        if place >= 3 and suspect.p < WORTH_A_LINE:
            break
        lines.append(content(padded(name_of(session, suspect), cells).rstrip(), "bold" if place == 0 else ""))
        lines.append(content(f"  {padded(bar(suspect.p / top, 10), 10)} {rank_word(place)}"))
        lines.append(content("  " + padded(moved_words(suspect), cells - 2).rstrip()))
    lines.append(content("s lists all of them", "$quiet"))
    return lines
