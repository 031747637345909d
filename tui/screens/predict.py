"""Before the first field a learner says what they expect."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import Static

from engine.asking import Ask
from tui.keys import Key, bindings
from tui.screens.base import JobScreen
from tui.session import JobSession
from tui.text import content, joined
from tui.widgets.choices import ChoiceList


class PredictScreen(JobScreen):
    """One question with its answers; scored, and the answer is told after the verdict."""

    KEYS: ClassVar[tuple[Key, ...]] = (Key("enter", "take", "take", "Take the answer the pointer shows"),)
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(KEYS)]

    def __init__(self, session: JobSession, ask: Ask) -> None:
        super().__init__(session)
        self.ask = ask
        self.here_words = ask.step.title

    def compose_body(self) -> ComposeResult:
        """Lay out the step, the question and the answers."""
        predict = self.ask.step.predict
        assert predict is not None
        yield Static(content(self.ask.step.title, "bold"), id="step-title", markup=False)
        yield Static(content(self.ask.step.do), classes="reading", markup=False)
        yield Static(joined([("Before you look: ", "bold"), f"{predict.ask.rstrip('?')}?"]), markup=False)
        yield ChoiceList([(choice, choice) for choice in predict.choices])

    def focus_first(self) -> None:
        """Point at the answers."""
        self.query_one(ChoiceList).focus()

    def action_take(self) -> None:
        """Take the answer the pointer shows."""
        self.query_one(ChoiceList).action_take()

    @on(ChoiceList.Picked)
    def _picked(self, event: ChoiceList.Picked) -> None:
        event.stop()
        if self.app.attempt(lambda: self.job_session.predict(self.ask.step, event.values[0])):
            self.app.desk.show_stop(self.job_session, self.ask)
