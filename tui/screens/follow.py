"""A job that can only be read: another window writes it, or its file is damaged. It follows what is added."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from engine.errors import LaybyError
from tui.keys import Key, bindings
from tui.screens.base import COMMON, JobScreen
from tui.screens.end import EndScreen
from tui.session import JobSession
from tui.text import content, joined, stacked
from tui.widgets.path import PathLine, PathPanel
from tui.widgets.verdicts import head_lines, number_lines

FOLLOW_EVERY = 1.0
"""Seconds between two looks at the file."""


class FollowScreen(JobScreen):
    """Where a job stands, read from its file alone."""

    KEYS: ClassVar[tuple[Key, ...]] = (
        Key("q", "close job", "leave", "Close; open it again to write when the other window is closed"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(KEYS)]

    def __init__(self, session: JobSession) -> None:
        super().__init__(session)
        self.here_words = self._here()
        self.problem = ""

    def _here(self) -> str:
        walk = self.job_session.walk
        if walk.state.concluded is not None:
            return "concluded"
        if walk.state.open_end is not None:
            return "open end"
        return walk.step().title

    def compose_body(self) -> ComposeResult:
        """Lay out notices, where it stands, and the last verdict."""
        yield Static("", id="follow", markup=False)

    def on_mount(self) -> None:
        """Draw, and look again every second."""
        self._draw()
        self.set_interval(FOLLOW_EVERY, self.look_again)

    def _draw(self) -> None:
        self.query_one("#follow", Static).update(stacked(self._lines()))

    def _lines(self) -> list[Content]:
        session = self.job_session
        state = session.walk.state
        lines = [content("Read only: this window shows the job and follows what another one writes.", "bold")]
        lines += [content(notice) for notice in session.job.notices]
        if self.problem:
            lines.append(content(f"! {self.problem}"))
        lines.append(content(""))
        if state.concluded is not None or state.open_end is not None:
            return [*lines, *EndScreen(session).lines()]
        step = session.walk.step()
        lines += [joined([("Now: ", "bold"), step.title]), content(step.do), content("")]
        if state.path:
            event = state.path[-1]
            lines += [content(f"Last: {event['title']}", "bold"), *head_lines(event)]
            lines += number_lines(session, event)
        return lines

    def look_again(self) -> None:
        """Take over what was added to the file."""
        try:
            has_more = self.job_session.job.follow()
        except LaybyError as error:
            self.problem, has_more = str(error), True
        if has_more:
            self.here_words = self._here()
            for path_widget in self.query(PathLine):
                path_widget.here = self.here_words
            for panel in self.query(PathPanel):
                panel.here = self.here_words
            self._draw()
            self.refresh_frame()

    def line_keys(self) -> Sequence[Key]:
        """Only what reads."""
        allowed = {"why", "how", "path", "suspects", "report", "help"}
        return [*self.KEYS, *(key for key in COMMON if key.action in allowed)]

    def action_note(self) -> None:
        """Nothing can be written here."""
        self._refuse()

    def action_back(self) -> None:
        """Nothing can be corrected here."""
        self._refuse()

    def action_drive(self) -> None:
        """Nothing can be decided here."""
        self._refuse()

    def action_undo_list(self) -> None:
        """Nothing can be ticked here."""
        self._refuse()

    def _refuse(self) -> None:
        self.app.say("Read only here: another window writes this job, or its file is damaged.")
