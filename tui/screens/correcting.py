"""One reading typed again: the page that corrects a take, or tries another value."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from engine.asking import Line
from engine.catalogue import Reading
from tui.hearing import Heard
from tui.keys import Key
from tui.session import JobSession
from tui.text import content
from tui.widgets.choices import ChoiceList
from tui.widgets.entries import EntryTable
from tui.widgets.lines import KeyLine
from tui.widgets.question import QuestionLine


class EntryPage(ModalScreen[tuple[Heard, str] | None]):
    """Asks for one reading; answers what was understood and what was typed, or nothing."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "close", show=False)]
    AUTO_FOCUS = None

    def __init__(self, session: JobSession, reading: Reading, title: str, *, note: str = "") -> None:
        super().__init__(classes="page")
        self.job_session = session
        self.reading = reading
        self.heading = title
        self.note = note

    def compose(self) -> ComposeResult:
        """Lay out heading, entry line and keys."""
        line = Line(self.reading, False, None, False)
        unit = {self.reading.id: self.job_session.settings.unit(self.reading.unit)}
        with Vertical(classes="sheet"):
            yield Static(content(self.heading, "bold"), classes="sheet-title", markup=False)
            if self.note:
                yield Static(content(self.note), classes="sheet-note", markup=False)
            with VerticalScroll(can_focus=False):
                yield EntryTable((line,), {}, unit, {}, {}, self.job_session.catalogue.words)
                yield QuestionLine(id="said")
            yield KeyLine((Key("enter", "take", "take"), Key("escape", "as it was", "close")), id="keys")

    def on_mount(self) -> None:
        """Open the field."""
        table = self.query_one(EntryTable)
        table.point_at(table.slots[0])

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        if event.value.strip():
            self.query_one(QuestionLine).say(self.job_session.hear(self.reading, event.value).echo)

    @on(Input.Submitted)
    def _submitted(self, event: Input.Submitted) -> None:
        event.stop()
        if event.value.strip():
            self._heard(self.job_session.hear(self.reading, event.value), event.value)

    @on(ChoiceList.Picked)
    def _picked(self, event: ChoiceList.Picked) -> None:
        event.stop()
        self._heard(self.job_session.hear_choice(self.reading, event.values), ", ".join(event.values))

    @on(QuestionLine.Answered)
    def _answered(self, event: QuestionLine.Answered) -> None:
        event.stop()
        table = self.query_one(EntryTable)
        if event.heard is None:
            table.point_at(table.slots[0])
            return
        self.dismiss((event.heard, event.typed))

    def _heard(self, heard: Heard, typed: str) -> None:
        said = self.query_one(QuestionLine)
        if heard.candidates:
            said.ask(heard, typed)
        elif heard.answer is None:
            said.say(f"! {heard.refusal}")
        else:
            self.dismiss((heard, typed))

    def action_take(self) -> None:
        """Take what stands there."""
        control = self.query_one(EntryTable).slots[0].control
        if isinstance(control, ChoiceList):
            control.action_take()
        else:
            self.call_next(control.action_submit)

    def action_close(self) -> None:
        """Leave it as it was."""
        self.dismiss(None)
