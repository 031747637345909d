"""A numbered list of answers: the digit picks, nine a page, 0 turns the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widget import Widget

from tui.text import content, padded, signs, stacked, width

PAGE = 9
ALONE = frozenset({"none", "ok", "not_done", "not_looked", "unknown", "not_tested"})
"""Answers that exclude every other one of a list of several."""


class ChoiceList(Widget, can_focus=True):
    """One answer, or several: a digit picks or ticks, Enter takes."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
        Binding("enter", "take", show=False),
        Binding("space", "mark", show=False),
    ]

    @dataclass
    class Picked(Message):
        """The person picked *values*; one of them where one was asked."""

        sender_list: ChoiceList
        values: tuple[str, ...]

        @property
        def control(self) -> ChoiceList:
            """The list."""
            return self.sender_list

    @dataclass
    class Nothing(Message):
        """Enter was pressed with nothing picked."""

        sender_list: ChoiceList

    def __init__(
        self,
        options: Sequence[tuple[str, str]],
        *,
        several: bool = False,
        start: Sequence[str] = (),
        id: str | None = None,  # noqa: A002
    ) -> None:
        super().__init__(id=id)
        self.options = tuple(options)
        self.several = several
        self.marked: set[str] = set(start) if several else set()
        values = [value for value, _ in self.options]
        self.at = values.index(start[0]) if start and start[0] in values else 0
        self.has_pointed = bool(start)
        """Whether Enter alone may take what the pointer shows."""

    def on_mount(self) -> None:
        """Take the room the page needs."""
        self._fit()

    def on_resize(self) -> None:
        """Take the room the page needs in another width."""
        self._fit()

    @property
    def page(self) -> int:
        """The page shown, counted from 0."""
        return self.at // PAGE

    @property
    def _here(self) -> tuple[tuple[str, str], ...]:
        return self.options[self.page * PAGE : (self.page + 1) * PAGE]

    def _columns(self) -> int:
        longest = max((width(label) for _, label in self._here), default=0) + 8
        return 2 if len(self._here) > 4 and longest * 2 <= self.size.width else 1

    def _fit(self) -> None:
        rows = -(-len(self._here) // self._columns())
        self.styles.height = rows + (1 if len(self.options) > PAGE else 0)

    def render(self) -> Content:
        """Draw the page, in two columns where they fit."""
        columns = self._columns()
        rows = -(-len(self._here) // columns)
        cells = self.size.width // columns
        lines = []
        for row in range(rows):
            parts = [self._option(i, cells) for i in range(row, len(self._here), rows)]
            lines.append(Content("").join(parts))
        if len(self.options) > PAGE:
            pages = -(-len(self.options) // PAGE)
            lines.append(content(f"  0 more (page {self.page + 1} of {pages})", "$quiet"))
        return stacked(lines)

    def _option(self, i: int, cells: int) -> Content:
        value, label = self._here[i]
        is_here = self.page * PAGE + i == self.at and self.has_focus
        box = f"[{signs().tick if value in self.marked else ' '}] " if self.several else ""
        pointer = signs().pointer if is_here else " "
        text = padded(f"{pointer} {i + 1}  {box}{label}", cells)
        return content(text, "bold" if is_here or value in self.marked else "")

    def on_key(self, event: events.Key) -> None:
        """Take the digits."""
        if event.character is None or not event.character.isascii() or not event.character.isdigit():
            return
        event.stop()
        event.prevent_default()
        digit = int(event.character)
        if digit == 0:
            self.at = (self.page + 1) * PAGE if (self.page + 1) * PAGE < len(self.options) else 0
            self._fit()
        elif digit <= len(self._here):
            self._choose(self.page * PAGE + digit - 1)
        self.refresh()

    def on_click(self, event: events.Click) -> None:
        """Pick what was clicked."""
        columns = self._columns()
        rows = -(-len(self._here) // columns)
        column = min(event.x // max(self.size.width // columns, 1), columns - 1)
        i = column * rows + event.y
        if event.y < rows and i < len(self._here):
            self._choose(self.page * PAGE + i)
            self.refresh()

    def _choose(self, index: int) -> None:
        self.at = index
        if self.several:
            self.action_mark()
        else:
            self.post_message(self.Picked(self, (self.options[index][0],)))

    def begin_afresh(self) -> None:
        """Nothing is typed in a list: what was refused is simply picked again."""

    def action_move(self, by: int) -> None:
        """Move the pointer."""
        self.at = (self.at + by) % len(self.options)
        self.has_pointed = True
        self._fit()
        self.refresh()

    def action_mark(self) -> None:
        """Tick or untick an answer; one that excludes the others unticks them."""
        if not self.several:
            return
        value = self.options[self.at][0]
        if value in self.marked:
            self.marked.discard(value)
        elif value in ALONE:
            self.marked = {value}
        else:
            self.marked = (self.marked - ALONE) | {value}
        self.refresh()

    def action_take(self) -> None:
        """Take what is picked."""
        if self.several:
            values = tuple(value for value, _ in self.options if value in self.marked)
        else:
            values = (self.options[self.at][0],) if self.has_pointed else ()
        self.post_message(self.Picked(self, values) if values else self.Nothing(self))
