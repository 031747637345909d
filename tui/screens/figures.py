"""A maker's figure that a limit of the step rests on: typed, with where it stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from engine.catalogue import Reading
from engine.situation import Point, Situation, comparisons
from engine.tree import Step
from tui.hearing import Heard
from tui.keys import Key
from tui.text import content
from tui.widgets.lines import KeyLine
from tui.widgets.question import QuestionLine


def figures_missing(step: Step, situation: Situation) -> tuple[Reading, ...]:
    """Return the maker's figures that limits of this step rest on and nobody has told."""
    point = Point(situation)
    names: dict[str, None] = {}
    for rule in step.rules:
        for compare in comparisons(rule.when):
            name = _figure_behind(compare.limit, point) if situation.has(compare.quantity) else None
            if name is not None and name.startswith("spec_") and situation.has(name):
                names[name] = None
    readings = situation.catalogue.readings
    return tuple(readings[name] for name in names if name in readings)


def _figure_behind(name: str | float, point: Point) -> str | None:
    """Return the maker's figure a limit lacks: one that would replace it, or without which there is none."""
    used = point.limit(name)
    if used is not None:
        return used.not_to_hand
    limit = point.situation.catalogue.limits[str(name)]
    return limit.maker.reading if limit.maker is not None else None


@dataclass(frozen=True, slots=True)
class Figure:
    """A maker's figure as it was told."""

    heard: Heard
    typed: str
    source: str
    """Where it stands, in the person's words; may be empty."""


class FigurePage(ModalScreen[Figure | None]):
    """Asks for the figure, then for where it stands; Esc drops it."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "close", show=False)]
    AUTO_FOCUS = "#figure"

    def __init__(
        self,
        reading: Reading,
        unit: str,
        hear: Callable[[str], Heard],
        *,
        note: str = "The maker's figure for this very engine.",
        asks_source: bool = True,
    ) -> None:
        """Take what to ask.

        Args:
            reading: what is told.
            unit: of a bare number.
            hear: returns what a typed text means.
            note: a sentence over the field.
            asks_source: whether it is asked where the figure stands.
        """
        super().__init__(classes="page")
        self.reading, self.unit, self.hear = reading, unit, hear
        self.note, self.asks_source = note, asks_source
        self.heard: Heard | None = None

    def compose(self) -> ComposeResult:
        """Lay out both fields."""
        with Vertical(classes="sheet"):
            yield Static(content(self.reading.label, "bold"), classes="sheet-title", markup=False)
            unit = f"A bare number is in {self.unit}." if self.unit else ""
            yield Static(content(f"{self.note} {unit}"), classes="sheet-note", markup=False)
            yield Input(compact=True, id="figure", max_length=60, classes="wide-field")
            if self.asks_source:
                words = "Where does it stand? Enter alone leaves it open."
                yield Static(content(words), classes="sheet-note", markup=False)
                yield Input(compact=True, id="source", max_length=200, classes="wide-field")
            yield QuestionLine(id="figure-said")
            yield KeyLine((Key("enter", "next", "next"), Key("escape", "drop", "close")), id="keys")

    @on(Input.Submitted, "#figure")
    def _figure(self, event: Input.Submitted) -> None:
        event.stop()
        said = self.query_one(QuestionLine)
        heard = self.hear(event.value)
        if heard.candidates:
            said.ask(heard, event.value)
        elif heard.answer is None:
            said.say(f"! Not taken: {heard.refusal}")
        else:
            self._understood(heard)

    @on(Input.Changed, "#figure")
    def _changed(self, event: Input.Changed) -> None:
        event.stop()
        self.heard = None

    @on(QuestionLine.Answered)
    def _answered(self, event: QuestionLine.Answered) -> None:
        event.stop()
        if event.heard is None:
            self.query_one("#figure").focus()
        else:
            self._understood(event.heard)

    def _understood(self, heard: Heard) -> None:
        if not self.asks_source:
            self.dismiss(Figure(heard, self.query_one("#figure", Input).value.strip(), ""))
            return
        self.heard = heard
        self.query_one(QuestionLine).say(f"= {heard.echo}   Now where it stands, then Enter.")
        self.query_one("#source").focus()

    @on(Input.Submitted, "#source")
    def _source(self, event: Input.Submitted) -> None:
        event.stop()
        figure = self.query_one("#figure", Input)
        if self.heard is None:
            self.query_one(QuestionLine).say("First the figure, then Enter.")
            figure.focus()
            return
        self.dismiss(Figure(self.heard, figure.value.strip(), event.value.strip()))

    async def action_next(self) -> None:
        """As Enter in the field at hand."""
        if isinstance(self.focused, Input):
            await self.focused.action_submit()

    def action_close(self) -> None:
        """Drop it."""
        self.dismiss(None)
