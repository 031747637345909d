"""Other ways to enter at a step than typing into its fields: a pasted block, taps, a maker's figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.widgets import Input, Static

from engine.asking import Line
from engine.catalogue import Reading
from engine.errors import LaybyError
from engine.pasting import Match, read_block
from engine.tapping import Crossings
from tui.hearing import Heard
from tui.screens.dialogs import PickPage
from tui.screens.figures import Figure, FigurePage, figures_missing
from tui.screens.paste import MatchesPage, PastePage, states_of
from tui.screens.tap import TapPage
from tui.text import content
from tui.widgets.entries import EntryTable, Field, Slot
from tui.widgets.question import QuestionLine

if TYPE_CHECKING:
    from tui.screens.step import StepScreen

RATE = "kit_reader_rate"
"""How many values a second the reader shows."""


def is_crossings(reading: Reading) -> bool:
    """Tell whether a reading is a count of crossings of the sensor's threshold."""
    return reading.id.startswith("o2_") and "_cross_" in reading.id


class Ways:
    """What a step screen does for its keys p, k and f."""

    def __init__(self, screen: StepScreen) -> None:
        self.screen = screen
        self.session = screen.job_session

    @property
    def _table(self) -> EntryTable:
        return self.screen.query_one(EntryTable)

    def say(self, words: str) -> None:
        """Say something under the fields."""
        self.screen.query_one(QuestionLine).say(words)

    # ------------------------------------------------------------- a pasted block

    def paste(self) -> None:
        """Ask in which engine state a block was recorded, then for the block."""
        lines = self._open_lines()
        states = states_of([line.reading.state for line in lines])
        if not lines:
            self.say("Nothing is open here that a block could fill.")
        elif len(states) > 1:
            words = self.session.catalogue.words
            options = [(state, words.get(state, state)) for state in states]
            page = PickPage("In which engine state was it recorded?", options)
            self.screen.app.push_screen(page, lambda state: self._ask_block(state) if state else None)
        else:
            self._ask_block(states[0] if states else "any")

    def _open_lines(self) -> list[Line]:
        closed = self.closed()
        return [line for line in self.screen.ask.lines if line.reading.id not in closed]

    def open_slots(self) -> list[Slot]:
        """Return the fields on this screen that wait for an answer."""
        return [slot for slot in self._table.slots if slot.status == "open"]

    def closed(self) -> frozenset[str]:
        """Return the readings on this screen that are answered or cannot be had."""
        return frozenset(slot.reading.id for slot in self._table.slots if slot.status != "open")

    def _ask_block(self, state: str) -> None:
        note = "Paste what the code reader exports, or write the path of its log. You confirm each value."
        page = PastePage("Paste a block or name a log file", note)
        self.screen.app.push_screen(page, lambda text: self._show_matches(text, state) if text else None)

    def _show_matches(self, text: str, state: str) -> None:
        session = self.session
        readings = [line.reading for line in self._open_lines()]
        units = {reading.id: session.settings.unit(reading.unit) for reading in readings}
        pasted = read_block(
            text, session.catalogue, [r.id for r in readings], state, facts=session.facts(), units=units
        )
        page = MatchesPage(text, pasted, session.catalogue.label, self.take_match)
        self.screen.app.push_screen(page, self.after_matches)

    def take_match(self, match: Match, heard: Heard) -> str:
        """Put a match on disk and into its field; return what went wrong, or nothing."""
        slot = next((s for s in self._table.slots if s.reading.id == match.reading), None)
        if slot is None:
            reading = self.session.catalogue.readings[match.reading]
            try:
                self.session.take(reading, heard, match.typed)
            except LaybyError as error:
                return self.session.told(error)
            return ""
        if not self.screen.record(slot, heard, match.typed):
            return "not taken: Esc, and see under the fields"
        self.fill_in(slot, match.typed)
        return ""

    @staticmethod
    def fill_in(slot: Slot, typed: str) -> None:
        """Show in a field what was taken for it elsewhere."""
        slot.typed = typed
        if isinstance(slot.control, Field):
            with slot.control.prevent(Input.Changed):
                slot.control.value = typed

    def after_matches(self, taken: int | None) -> None:
        """Go to the next open field, or on in the walk."""
        following = self._table.next_open()
        if taken and following is None:
            self.screen.app.desk.go_on(self.session)
        else:
            self._table.point_at(following)

    # ------------------------------------------------------------- crossings

    def tap(self) -> None:
        """Count crossings; ask once how many values a second the display shows."""
        slots = [slot for slot in self._table.slots if is_crossings(slot.reading)]
        at = self._table.at_hand()
        slot = at if at in slots else next((s for s in slots if s.status == "open"), None)
        if slot is None:
            self.say("No crossings are counted here.")
            return
        known = self.session.walk.state.values().get(RATE)
        if known is not None or RATE not in self.session.catalogue.readings:
            self._count(slot)
            return
        reading = self.session.catalogue.readings[RATE]
        page = FigurePage(
            reading,
            reading.unit,
            lambda typed: self.session.hear(reading, typed),
            note="How many values a second does the display show? Count them for ten seconds, part by ten.",
            asks_source=False,
        )
        self.screen.app.push_screen(page, lambda figure: self._rate_told(slot, reading, figure))

    def _rate_told(self, slot: Slot, reading: Reading, figure: Figure | None) -> None:
        if figure is not None:
            self._tell(reading, figure)
        self._count(slot)

    def _tell(self, reading: Reading, figure: Figure) -> bool:
        heard = figure.heard
        assert heard.answer is not None
        answer, walk = heard.answer, self.session.walk
        return self.screen.attempt(
            lambda: walk.take(reading.id, answer, typed=figure.typed, how="told", flagged=heard.flagged)
        )

    def _count(self, slot: Slot) -> None:
        known = self.session.walk.state.values().get(RATE)
        rate = known.number if known is not None and isinstance(known.answer, float) else None
        page = TapPage(slot.reading.label, rate)
        self.screen.app.push_screen(page, lambda result: self._counted(slot, result))

    def _counted(self, slot: Slot, result: Crossings | None) -> None:
        if result is None:
            self._table.point_at(slot)
        elif not result.usable:
            self.screen.declining.write("reading", result.why, slot)
        else:
            typed = f"{result.count:.4g}"
            self.fill_in(slot, typed)
            slot.typed = ""
            self.screen.hear_in(slot, self.session.hear(slot.reading, typed), typed)

    # ------------------------------------------------------------- maker's figures

    def figures(self) -> tuple[Reading, ...]:
        """Return the maker's figures that limits of this step rest on and nobody has told."""
        asked = {line.reading.id for line in self.screen.ask.lines}
        missing = figures_missing(self.screen.ask.step, self.session.walk.state.situation())
        return tuple(reading for reading in missing if reading.id not in asked)

    def figure_words(self) -> str:
        """Return a line about the figures that are not to hand, or nothing."""
        missing = self.figures()
        if not missing:
            return ""
        labels = "; ".join(reading.label.removeprefix("maker's ") for reading in missing)
        return f"maker's figure: not to hand ({labels}). Esc, then f: type it."

    def figure_line(self) -> Static:
        """Return the line about figures that are not to hand; it takes no room when there are none."""
        words = self.figure_words()
        line = Static(content(words), id="maker", classes="reading", markup=False)
        line.display = bool(words)
        return line

    def show_figure_line(self) -> None:
        """Say anew which figures are not to hand."""
        words = self.figure_words()
        line = self.screen.query_one("#maker", Static)
        line.update(content(words))
        line.display = bool(words)

    def figure(self) -> None:
        """Ask which figure is typed, or whether none is to hand."""
        missing = self.figures()
        if not missing:
            self.say("No limit of this step waits for a maker's figure.")
            return
        options = [(reading.id, f"type it: {reading.label}") for reading in missing]
        options.append(("", "not to hand"))
        note = (
            "While it is not to hand the general figure is used, with a margin in which nothing is decided."
        )
        page = PickPage("The maker's figure", options, note=note)
        self.screen.app.push_screen(page, self._figure_picked)

    def _figure_picked(self, name: str | None) -> None:
        if name is None:
            return
        if not name:
            if self.screen.attempt(self._none_to_hand):
                self.say("Kept: the maker's figure is not to hand.")
            return
        reading = self.session.catalogue.readings[name]
        page = FigurePage(
            reading,
            self.session.settings.unit(reading.unit),
            lambda typed: self.session.hear(reading, typed),
        )
        self.screen.app.push_screen(page, lambda figure: self._figure_told(reading, figure))

    def _none_to_hand(self) -> None:
        walk = self.session.walk
        for reading in self.figures():
            if reading.id not in walk.state.cannot_readings:
                walk.cannot(reading.id, "not to hand")

    def _figure_told(self, reading: Reading, figure: Figure | None) -> None:
        if figure is None or not self._tell(reading, figure):
            return
        told = f"{reading.label}: {figure.heard.echo}"
        if figure.source:
            words = f"{told}; source: {figure.source}"
            if not self.screen.attempt(lambda: self.session.walk.note(words)):
                return
        self.screen.show_limits()
        self.say(f"{told}, on disk")
        self._table.point_at(self._table.next_open())
