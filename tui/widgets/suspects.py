"""Suspects: bars that always have their words."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

from textual.content import Content
from textual.widget import Widget

from engine.situation import quantities
from engine.suspects import Move, Suspect
from engine.walk_state import Event
from tui.session import JobSession
from tui.text import RANKS, bar, content, padded, plain, stacked

_FACTS = ("veh_", "kit_", "spec_")


def rank_word(place: int) -> str:
    """Return the word for a place, counted from 0."""
    return RANKS[place] if place < len(RANKS) else f"{place + 1}th"


def moved_words(suspect: Suspect) -> str:
    """Return what moved a suspect most."""
    if suspect.fault is None:
        return "always keeps a share"
    return suspect.moves[0].words if suspect.moves else "by experience, not moved yet"


def readings_behind(session: JobSession, event: Event, most: int = 3) -> str:
    """Return the readings that decided a verdict, worked values in place of what they are made of."""
    shown: dict[str, Any] = {**event["work"], **event["readings"]}
    names = [name for name in shown if not name.startswith(_FACTS)]
    if event["kind"] == "judged":
        rule = next((r for r in session.step_of(event).rules if r.id == event["rule"]), None)
        asked = dict.fromkeys(quantities(rule.when)) if rule is not None else {}
        names = [name for name in asked if name in names] or names
    inside = {
        base for name in names if name in event["work"] for base in session.catalogue.base_readings(name)
    }
    names = [name for name in names if name in event["work"] or name not in inside]
    words = [
        f"{session.catalogue.label(name)} {session.words(name, shown[name]['value'])}"
        for name in names[:most]
    ]
    return "; ".join(words)


def behind(session: JobSession, move: Move) -> str:
    """Return the readings behind a move: which reading moved the suspect."""
    event = next(
        (
            e
            for e in reversed(session.walk.state.path)
            if (e["title"], e["verdict"]) == (move.title, move.verdict)
        ),
        None,
    )
    return readings_behind(session, event) if event is not None else ""


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
        return stacked(panel_lines(self.job_session, self.size.width, self.size.height))


def panel_lines(session: JobSession, cells: int, rows: int) -> Sequence[Content]:
    """Return for each suspect its name, bar with rank, and what moved it, as many as the rows hold."""
    suspects = session.suspects()[:MOST_IN_PANEL]
    top = suspects[0].p if suspects else 1.0
    lines: list[Content] = [content("Suspects", "bold")]
    for place, suspect in enumerate(suspects):
        if place >= 3 and suspect.p < WORTH_A_LINE:
            break
        own: list[Content] = []
        name = wrap(plain(name_of(session, suspect)), max(cells, 10))[:2]
        own += [content(line, "bold" if place == 0 else "") for line in name]
        own.append(content(f"  {padded(bar(suspect.p / top, 10), 10)} {rank_word(place)}"))
        moved = wrap(plain(moved_words(suspect)), max(cells - 2, 10))[: 2 if place < 3 else 1]
        own += [content(f"  {line}") for line in moved]
        if place > 0 and len(lines) + len(own) + 1 > rows:
            break
        lines += own
    lines.append(content("s lists all of them", "$quiet"))
    return lines
