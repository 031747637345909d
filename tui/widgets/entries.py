"""The entry lines of a step: numbers in fields, as a grid where one quantity is read in several states."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Input, Static

from engine.asking import Line
from engine.catalogue import Reading
from tui.text import content, signs
from tui.widgets.choices import ChoiceList

MOST_LINES = 6
"""Entry lines on one screen."""


class Field(Input):
    """A field for one number or for codes; plain text, understood by the engine."""

    def __init__(self, reading: Reading, hint: str) -> None:
        super().__init__(placeholder=hint, compact=True, select_on_focus=False, max_length=60)
        self.reading = reading


@dataclass(slots=True)
class Slot:
    """One reading on the screen, with its control and how it stands."""

    line: Line
    control: Field | ChoiceList
    status: Literal["open", "done", "cannot"] = "open"
    take: int | None = None
    typed: str = ""

    @property
    def reading(self) -> Reading:
        """The reading asked for."""
        return self.line.reading


def split_label(label: str) -> tuple[str, str]:
    """Return what is read, and where and in which state: "short-term trim", "bank 1, at idle"."""
    what, _, where = label.partition(", ")
    return what, where


def is_grid(lines: Sequence[Line]) -> bool:
    """Tell whether lines are read best as a grid: several quantities over the same places and states."""
    if any(line.reading.kind != "num" for line in lines):
        return False
    columns, rows = grid_of(lines)
    return 2 <= len(columns) <= 3 and len(rows) >= 2 and len(columns) * len(rows) == len(lines)


def grid_of(lines: Sequence[Line]) -> tuple[list[str], list[str]]:
    """Return the words of the columns and of the rows of a grid."""
    parts = [split_label(line.reading.label) for line in lines]
    return list(dict.fromkeys(what for what, _ in parts)), list(dict.fromkeys(where for _, where in parts))


def first_page(lines: Sequence[Line]) -> tuple[Line, ...]:
    """Return the lines that go on one screen; the rest is asked afterwards."""
    if is_grid(lines):
        _, rows = grid_of(lines)
        kept = set(rows[:MOST_LINES])
        return tuple(line for line in lines if split_label(line.reading.label)[1] in kept)
    return tuple(lines[:MOST_LINES])


class EntryTable(Vertical):
    """All entry lines of a step, and which of them is at hand."""

    def __init__(
        self,
        lines: Sequence[Line],
        hints: Mapping[str, str],
        units: Mapping[str, str],
        notes: Mapping[str, str],
        starts: Mapping[str, tuple[str, ...]],
    ) -> None:
        """Take what to draw.

        Args:
            lines: at most a page of them.
            hints: reading -> what stands in its empty field.
            units: reading -> unit of a bare number.
            notes: reading (or, in a grid, the words of a row) -> what stands beside the field.
            starts: reading -> answers a choice list points at from the start.
        """
        super().__init__(id="entries")
        self.hints, self.units, self.notes, self.starts = hints, units, notes, starts
        self.grid = is_grid(lines)
        self.slots = [self._slot(line) for line in self._ordered(lines)]

    def _ordered(self, lines: Sequence[Line]) -> list[Line]:
        if not self.grid:
            return list(lines)
        columns, rows = grid_of(lines)

        def place(line: Line) -> tuple[int, int]:
            what, where = split_label(line.reading.label)
            return rows.index(where), columns.index(what)

        return sorted(lines, key=place)

    def _slot(self, line: Line) -> Slot:
        reading = line.reading
        if reading.kind in ("one", "many"):
            options = [(choice.value, choice.label) for choice in reading.choices]
            several = reading.kind == "many"
            return Slot(line, ChoiceList(options, several=several, start=self.starts.get(reading.id, ())))
        return Slot(line, Field(reading, self.hints.get(reading.id, "")))

    # ------------------------------------------------------------- drawing

    def compose(self) -> ComposeResult:
        """Lay out grid or list."""
        yield from self._grid() if self.grid else self._list()

    def _grid(self) -> ComposeResult:
        columns, rows = grid_of([slot.line for slot in self.slots])
        with Horizontal(classes="grid-row"):
            yield Static("", classes="grid-label")
            for what in columns:
                yield Static(content(what, "$quiet"), classes="grid-head", markup=False)
            yield Static("", classes="note")
        for where in rows:
            with Horizontal(classes="grid-row"):
                yield Static(content(where), classes="grid-label", markup=False)
                for slot in self.slots:
                    if split_label(slot.reading.label)[1] == where:
                        yield from _boxed(slot, "grid-field")
                unit = self.units.get(self.slots[0].reading.id, "")
                yield Static(content(unit), classes="unit", markup=False)
                yield Static(content(self.notes.get(where, "")), classes="note row-note", markup=False)

    def _list(self) -> ComposeResult:
        for slot in self.slots:
            reading = slot.reading
            with Vertical(classes="entry"):
                with Horizontal(classes="entry-line"):
                    optional = " (if quick)" if slot.line.optional else ""
                    yield Static(content(reading.label + optional), classes="label", markup=False)
                    if isinstance(slot.control, Field):
                        yield from _boxed(slot, "list-field")
                        yield Static(content(self.units.get(reading.id, "")), classes="unit", markup=False)
                    yield Static(content(self.notes.get(reading.id, "")), classes="note", markup=False)
                if isinstance(slot.control, ChoiceList):
                    yield slot.control

    def on_mount(self) -> None:
        """Keep the lists of answers shut until their line is at hand."""
        for slot in self.slots:
            if isinstance(slot.control, ChoiceList):
                slot.control.display = False

    # ------------------------------------------------------------- changing

    def slot_of(self, control: object) -> Slot | None:
        """Return the slot of a control."""
        return next((slot for slot in self.slots if slot.control is control), None)

    def next_open(self, after: Slot | None = None) -> Slot | None:
        """Return the next slot that is still open, going round once."""
        start = self.slots.index(after) + 1 if after is not None else 0
        order = self.slots[start:] + self.slots[:start]
        return next((slot for slot in order if slot.status == "open"), None)

    def at_hand(self) -> Slot | None:
        """Return the slot whose control has the focus, else the first open one, else the last."""
        focused = self.slot_of(self.screen.focused)
        return focused or self.next_open() or (self.slots[-1] if self.slots else None)

    def point_at(self, slot: Slot | None) -> None:
        """Show the choices of the line at hand only, and give it the focus."""
        for other in self.slots:
            if isinstance(other.control, ChoiceList):
                other.control.display = other is slot
            line = other.control.parent
            if line is not None and line.parent is not None:
                line.set_class(other is slot, "-now")
        if slot is not None:
            slot.control.focus(scroll_visible=False)
            holder = slot.control.parent
            if isinstance(holder, Horizontal | Vertical):
                self.call_after_refresh(holder.scroll_visible, animate=False)

    def settle(self, slot: Slot, status: Literal["done", "cannot"], words: str) -> None:
        """Show that a slot is answered, and how."""
        slot.status = status
        sign = signs().tick if status == "done" else "x"
        if self.grid:
            if status == "cannot" and isinstance(slot.control, Field):
                slot.control.value = "cannot"
            slot.control.add_class("-settled")
            return
        entry = slot.control.parent if isinstance(slot.control, ChoiceList) else None
        holder = entry if entry is not None else slot.control.parent
        if holder is not None:
            note = holder.query(".note").first(Static)
            note.update(content(f"{sign} {words}"))
            holder.add_class("-settled")

    def note_row(self, words: Mapping[str, str]) -> None:
        """Show other notes beside the rows of a grid."""
        if not self.grid:
            return
        _, rows = grid_of([slot.line for slot in self.slots])
        for where, note in zip(rows, self.query(".row-note").results(Static), strict=False):
            note.update(content(words.get(where, "")))


def _boxed(slot: Slot, kind: str) -> ComposeResult:
    """Draw a field between brackets, so that it is seen without colour."""
    yield Static("[", classes="bracket", markup=False)
    slot.control.add_class(kind)
    yield slot.control
    yield Static("]", classes="bracket", markup=False)
