"""Cautions of a step: one line each, above the fields; acknowledged with one key when they are due."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from engine.catalogue import Caution
from tui.text import content, stacked


class CautionBlock(Static, can_focus=True):
    """The cautions; while they are due nothing else takes keys but Enter or a."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter,a", "read", show=False)]

    @dataclass
    class Read(Message):
        """The person has read them."""

    def __init__(self, cautions: Sequence[Caution], *, due: bool) -> None:
        super().__init__("", id="cautions", markup=False)
        self.cautions = tuple(cautions)
        self.is_due = due and bool(self.cautions)

    def on_mount(self) -> None:
        """Draw them."""
        self._draw()

    def _draw(self) -> None:
        lines: list[Content] = [content(caution.line, "bold") for caution in self.cautions]
        if self.is_due:
            lines.append(content("Enter: read and understood", "reverse"))
        self.update(stacked(lines))
        self.display = bool(lines)
        self.can_focus = self.is_due
        self.set_class(self.is_due, "-due")

    def settle(self) -> None:
        """They were read."""
        self.is_due = False
        self._draw()

    def action_read(self) -> None:
        """Say that they were read."""
        if self.is_due:
            self.post_message(self.Read())
