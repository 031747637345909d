"""Crossings counted with the space bar for ten seconds, or from a recorded column of volts."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from engine.tapping import Crossings, count, read_column, watch
from tui.keys import Key
from tui.screens.countdown import large
from tui.screens.paste import PastePage
from tui.text import content
from tui.widgets.lines import KeyLine

WATCHED = 10.0
"""s; as long as a count must be watched at least."""
READY = "Watch the sensor's volts. Enter starts; then space at each crossing of 0.45 V, up and down."


class TapPage(ModalScreen[Crossings | None]):
    """Enter starts, space counts, after ten seconds it says what came of it; Esc gives nothing."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "go", show=False),
        Binding("space", "tap", show=False),
        Binding("r", "again", show=False),
        Binding("v", "volts", show=False),
        Binding("escape,q", "close", show=False),
    ]

    def __init__(self, label: str, rate: float | None, clock: Callable[[], float] = time.monotonic) -> None:
        """Take what is counted.

        Args:
            label: of the reading.
            rate: values a second that the display shows; None when nobody knows.
            clock: a steady clock, s.
        """
        super().__init__(classes="page")
        self.heading, self.rate, self.clock = label, rate, clock
        self.began: float | None = None
        self.taps: list[float] = []
        self.result: Crossings | None = None
        self.problem = ""

    def compose(self) -> ComposeResult:
        """Lay out heading, what to do, the figures and the keys."""
        with Vertical(classes="sheet"):
            yield Static(content(self.heading, "bold"), classes="sheet-title", markup=False)
            yield Static("", id="tap-words", classes="sheet-note", markup=False)
            yield Static("", id="figures", markup=False)
            yield KeyLine((), id="keys")

    def on_mount(self) -> None:
        """Look at the clock often; the figures show whole seconds."""
        self._draw()
        self.set_interval(0.1, self.tick)

    # ------------------------------------------------------------- drawing

    def tick(self) -> None:
        """End the count when its time is up."""
        if self.began is None or self.result is not None:
            return
        if self.clock() - self.began >= WATCHED:
            self.result = count(self.taps, self.rate, started=self.began, ended=self.began + WATCHED)
            self.app.bell()
        self._draw()

    def _draw(self) -> None:
        figures = ""
        if self.result is not None:
            words = self._result_words(self.result)
            figures = f"{self.result.count:.0f}"
        elif self.began is None:
            words = READY
        else:
            figures = str(max(math.ceil(self.began + WATCHED - self.clock()), 0))
            words = f"Space at each crossing. Counted: {len(self.taps)}"
        if self.problem:
            words = f"{words}\n! {self.problem}"
        self.query_one("#tap-words", Static).update(content(words))
        self.query_one("#figures", Static).update(
            content("\n".join(large(figures)) if figures else "", "bold")
        )
        self.query_one("#keys", KeyLine).show(self._keys())

    @staticmethod
    def _result_words(result: Crossings) -> str:
        if not result.usable:
            return f"Cannot be judged: {result.why}. Enter leaves the reading not measurable; r counts again."
        why = f" Mind: {result.why}." if result.why else ""
        return f"{result.count:.3g} crossings in 10 s, watched for {result.seconds:.3g} s.{why}"

    def _keys(self) -> tuple[Key, ...]:
        close = Key("escape", "close", "close")
        volts = Key("v", "recorded volts", "volts")
        if self.result is not None:
            words = "take" if self.result.usable else "not measurable"
            return (Key("enter", words, "go"), Key("r", "again", "again"), volts, close)
        if self.began is None:
            return (Key("enter", "start", "go"), volts, close)
        return (Key("space", "crossing", "tap"), Key("r", "again", "again"), close)

    # ------------------------------------------------------------- commands

    def action_go(self) -> None:
        """Start, or give back what came of it."""
        if self.result is not None:
            self.dismiss(self.result)
        elif self.began is None:
            self.problem = ""
            self.began = self.clock()
            self._draw()

    def action_tap(self) -> None:
        """Count a crossing."""
        if self.began is None:
            self.problem = "Enter starts first"
        elif self.result is None and self.clock() - self.began <= WATCHED:
            self.taps.append(self.clock())
        self._draw()

    def action_again(self) -> None:
        """Forget the count."""
        self.began, self.taps, self.result, self.problem = None, [], None, ""
        self._draw()

    def action_volts(self) -> None:
        """Take a recorded column instead of taps."""
        if self.began is not None and self.result is None:
            return
        note = "One number a line, or a time and a number; or the path of a file that holds them."
        self.app.push_screen(PastePage("A column of volts", note), self._column)

    def _column(self, text: str | None) -> None:
        if text is None:
            return
        column = read_column(text)
        seen = watch(column.volts, column.rate or self.rate)
        self.problem = "; ".join(column.notices)
        if seen is None:
            self.problem = f"no volts in it: {self.problem or 'write one number a line'}"
        else:
            self.result = seen.crossings
            spread = f"{len(column.volts)} values, {seen.lowest:.2f} to {seen.highest:.2f} V"
            self.problem = f"{spread}; {self.problem}" if self.problem else spread
        self._draw()

    def action_close(self) -> None:
        """Give nothing back."""
        self.dismiss(None)
