"""A countdown in figures that can be read from two metres away; the bell rings at its end."""

from __future__ import annotations

import time
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from tui.keys import Key
from tui.text import content, signs
from tui.widgets.lines import KeyLine

_FIGURES = {
    "0": ("####", "#  #", "#  #", "#  #", "####"),
    "1": ("  # ", " ## ", "  # ", "  # ", " ###"),
    "2": ("####", "   #", "####", "#   ", "####"),
    "3": ("####", "   #", " ###", "   #", "####"),
    "4": ("#  #", "#  #", "####", "   #", "   #"),
    "5": ("####", "#   ", "####", "   #", "####"),
    "6": ("####", "#   ", "####", "#  #", "####"),
    "7": ("####", "   #", "  # ", " #  ", " #  "),
    "8": ("####", "#  #", "####", "#  #", "####"),
    "9": ("####", "#  #", "####", "   #", "####"),
    ":": ("    ", " ## ", "    ", " ## ", "    "),
}


def large(text: str) -> list[str]:
    """Return figures drawn three cells wide and two lines high to each of their dots."""
    lines = []
    for row in range(5):
        drawn = "   ".join(_FIGURES[sign][row] for sign in text)
        wide = "".join(signs().bar * 3 if dot == "#" else "   " for dot in drawn)
        lines += [wide, wide]
    return lines


def clock_words(seconds: int) -> str:
    """Return seconds as minutes and seconds."""
    return f"{seconds // 60}:{seconds % 60:02d}" if seconds >= 60 else f"{seconds}"


class CountdownPage(ModalScreen[None]):
    """Counts down over the whole screen."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,enter,q", "close", show=False)]

    def __init__(self, seconds: float, words: str) -> None:
        super().__init__(classes="page")
        self.ends_at = time.monotonic() + seconds
        self.words = words
        self.has_rung = False

    def compose(self) -> ComposeResult:
        """Lay out the words and the figures."""
        with Vertical(classes="sheet"):
            yield Static(content(self.words), classes="sheet-note", markup=False)
            yield Static("", id="figures", markup=False)
            yield KeyLine((Key("enter", "close", "close"),), id="keys")

    def on_mount(self) -> None:
        """Begin."""
        self._draw()
        self.set_interval(0.25, self._draw)

    def _draw(self) -> None:
        left = max(round(self.ends_at - time.monotonic() + 0.49), 0)
        lines = large(clock_words(left))
        if left == 0:
            lines.append("")
            lines.append("Time is up. Enter goes back to the step.")
            if not self.has_rung:
                self.has_rung = True
                self.app.bell()
        self.query_one("#figures", Static).update(content("\n".join(lines), "bold"))

    def action_close(self) -> None:
        """Back to the step."""
        self.dismiss(None)
