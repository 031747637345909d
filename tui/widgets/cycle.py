"""A line that shows one of a few words; blank or the right arrow shows the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widget import Widget

from tui.text import content, joined, padded, signs


class Cycle(Widget, can_focus=True):
    """One of a few values."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space,right", "turn(1)", show=False),
        Binding("left", "turn(-1)", show=False),
    ]

    @dataclass
    class Turned(Message):
        """Another value shows."""

        cycle: Cycle

    def __init__(
        self,
        label: str,
        options: Sequence[tuple[str, str]],
        *,
        value: str = "",
        cells: int = 22,
        id: str | None = None,  # noqa: A002
    ) -> None:
        super().__init__(id=id)
        self.label = label
        self.options = tuple(options)
        self.cells = cells
        values = [option for option, _ in self.options]
        self.at = values.index(value) if value in values else 0

    @property
    def value(self) -> str:
        """The value shown."""
        return self.options[self.at][0]

    def render(self) -> Content:
        """Draw the label, all values, the one that holds between angle signs."""
        parts: list[str | tuple[str, str]] = [padded(self.label, self.cells)]
        for i, (_, words) in enumerate(self.options):
            shown = f"[{words}]" if i == self.at else f" {words} "
            parts.append(
                (
                    shown,
                    "bold reverse" if i == self.at and self.has_focus else ("bold" if i == self.at else ""),
                )
            )
        pointer = signs().pointer if self.has_focus else " "
        return joined([f"{pointer} ", *parts]) if self.size.width else content("")

    def action_turn(self, by: int) -> None:
        """Show the next value."""
        self.at = (self.at + by) % len(self.options)
        self.refresh()
        self.post_message(self.Turned(self))

    def on_click(self, _: events.Click) -> None:
        """Show the next value."""
        self.action_turn(1)

    def on_key(self, event: events.Key) -> None:
        """Take the digit of a value."""
        character = event.character or ""
        if character.isascii() and character.isdigit() and 1 <= int(character) <= len(self.options):
            event.stop()
            self.at = int(character) - 1
            self.refresh()
            self.post_message(self.Turned(self))
