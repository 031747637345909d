"""The entry lines of a step: numbers in fields, as a grid where one quantity is read in several states."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Input, Static

from engine.asking import Line
from engine.catalogue import Choice, Reading
from tui.text import content, signs
from tui.widgets.choices import ChoiceList
from tui.widgets.limits import short_label
from tui.widgets.rows import several_numbers

FOOT = "foot"
"""Key of the note that stands under a grid."""
MOST_LINES = 6
"""Entry lines on one screen."""


def _numbered_first(choice: Choice) -> tuple[int, int]:
    """Sort answers that are numbers (cylinders) to the front, so that key 2 is cylinder 2; others stay."""
    return (0, int(choice.value)) if choice.value.isascii() and choice.value.isdigit() else (1, 0)


class Field(Input):
    """A field for one number or for codes; plain text, understood by the engine."""

    def __init__(self, reading: Reading, hint: str) -> None:
        super().__init__(placeholder=hint, compact=True, select_on_focus=False, max_length=200)
        self.reading = reading

    def begin_afresh(self) -> None:
        """Mark what was typed, so that the next key replaces it: it was refused or doubted."""
        self.select_all()

    def on_paste(self, event: events.Paste) -> None:
        """Take pasted lines and columns as numbers parted by semicolons; a field is one line long."""
        lines = [line.strip() for line in event.text.splitlines() if line.strip()]
        if len(lines) > 1 or "\t" in event.text:
            event.stop()
            event.prevent_default()
            self.insert_text_at_cursor("; ".join(lines).replace("\t", "; "))


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


def column_of(reading: Reading) -> str:
    """Return what is read, wherever and in whichever state: the same for short trims of both banks."""
    parts = [part for part in reading.id.split("_") if part not in (reading.place, reading.state)]
    return "_".join(parts)


def row_of(reading: Reading) -> str:
    """Return where and in which state it is read."""
    return f"{reading.state} {reading.place or ''}".strip()


def column_words(reading: Reading, words: Mapping[str, str]) -> str:
    """Return the words of a column: the label without place and state."""
    return short_label(reading.label, (words.get(reading.state, ""), words.get(reading.place or "", "")))


def row_words(reading: Reading, words: Mapping[str, str], *, with_place: bool) -> str:
    """Return the words of a row."""
    state = words.get(reading.state, reading.state)
    place = words.get(reading.place or "", "")
    return f"{state}, {place}" if place and with_place else state


def grid_of(lines: Sequence[Line]) -> tuple[list[str], list[str]]:
    """Return columns and rows of a grid."""
    columns = list(dict.fromkeys(column_of(line.reading) for line in lines))
    return columns, list(dict.fromkeys(row_of(line.reading) for line in lines))


def is_grid(lines: Sequence[Line]) -> bool:
    """Tell whether lines are read best as a grid: several quantities over the same places and states."""
    if any(line.reading.kind != "num" for line in lines):
        return False
    columns, rows = grid_of(lines)
    units = {line.reading.unit for line in lines}
    return (
        2 <= len(columns) <= 3
        and len(rows) >= 2
        and len(columns) * len(rows) == len(lines)
        and len(units) == 1
    )


def first_page(lines: Sequence[Line]) -> tuple[Line, ...]:
    """Return the lines that go on one screen; the rest is asked afterwards."""
    if is_grid(lines):
        _, rows = grid_of(lines)
        kept = set(rows[:MOST_LINES])
        return tuple(line for line in lines if row_of(line.reading) in kept)
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
        words: Mapping[str, str],
    ) -> None:
        """Take what to draw.

        Args:
            lines: at most a page of them.
            hints: reading -> what stands in its empty field.
            units: reading -> unit of a bare number.
            notes: reading (or, in a grid, the words of a row) -> what stands beside the field.
            starts: reading -> answers a choice list points at from the start.
            words: of places and states.
        """
        super().__init__(id="entries")
        self.hints, self.units, self.notes, self.starts = hints, units, notes, starts
        self.words = words
        self.grid = is_grid(lines)
        self.slots = [self._slot(line) for line in self._ordered(lines)]

    def _ordered(self, lines: Sequence[Line]) -> list[Line]:
        if not self.grid:
            return list(lines)
        columns, rows = grid_of(lines)

        def place(line: Line) -> tuple[int, int]:
            return rows.index(row_of(line.reading)), columns.index(column_of(line.reading))

        return sorted(lines, key=place)

    def _slot(self, line: Line) -> Slot:
        reading = line.reading
        if reading.kind in ("one", "many"):
            options = [(c.value, c.label) for c in sorted(reading.choices, key=_numbered_first)]
            several = reading.kind == "many"
            return Slot(line, ChoiceList(options, several=several, start=self.starts.get(reading.id, ())))
        return Slot(line, Field(reading, self.hints.get(reading.id, "")))

    # ------------------------------------------------------------- drawing

    def compose(self) -> ComposeResult:
        """Lay out grid or list."""
        yield from self._grid() if self.grid else self._list()

    def _grid(self) -> ComposeResult:
        columns, rows = grid_of([slot.line for slot in self.slots])
        has_places = len({slot.reading.place for slot in self.slots}) > 1
        placed = " -placed" if has_places else ""
        with Horizontal(classes="grid-row"):
            yield Static("", classes="grid-label" + placed)
            for slot in self.slots[: len(columns)]:
                what = column_words(slot.reading, self.words)
                yield Static(content(what, "$quiet"), classes="grid-head", markup=False)
            yield Static("", classes="note")
        for where in rows:
            inside = [slot for slot in self.slots if row_of(slot.reading) == where]
            label = row_words(inside[0].reading, self.words, with_place=has_places)
            with Horizontal(classes="grid-row"):
                yield Static(content(label), classes="grid-label" + placed, markup=False)
                for slot in inside:
                    yield from _boxed(slot, "grid-field")
                unit = self.units.get(self.slots[0].reading.id, "")
                yield Static(content(unit), classes="unit", markup=False)
                yield Static(content(self.notes.get(where, "")), classes="note row-note", markup=False)
        if self.notes.get(FOOT):
            yield Static(content(self.notes[FOOT], "$quiet"), markup=False)

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

    def fill(self, slot: Slot, typed: str) -> list[tuple[Slot, str]]:
        """Return which field of the grid each number typed in one field goes to, from that field on."""
        pieces = several_numbers(typed) if self.grid else ()
        from_here = self.slots[self.slots.index(slot) :]
        return list(zip(from_here, pieces, strict=False)) if len(pieces) <= len(from_here) else []

    def too_many(self, slot: Slot, typed: str) -> str:
        """Say that the grid has fewer fields from here on than numbers were typed; nothing when it has."""
        number = len(several_numbers(typed)) if self.grid else 0
        room = len(self.slots) - self.slots.index(slot)
        if number <= room:
            return ""
        fields = "field is" if room == 1 else "fields are"
        return f"! Nothing taken: {number} numbers, but {room} {fields} left from here on. Write {room}."

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

    def note_open(self, notes: Mapping[str, str]) -> None:
        """Show other notes beside the lines that are still open."""
        for slot in self.slots:
            if self.grid or slot.status != "open":
                continue
            entry = next((node for node in slot.control.ancestors if node.has_class("entry")), None)
            if entry is not None:
                entry.query(".note").first(Static).update(content(notes.get(slot.reading.id, "")))

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
