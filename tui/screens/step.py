"""The step: what to do now, its cautions, and the entry lines."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import Input, Static

from engine.asking import Ask, cautions_shown, is_running
from engine.errors import LaybyError
from tui.hearing import Heard
from tui.keys import Key, bindings
from tui.screens.base import JobScreen
from tui.screens.declining import Declining
from tui.screens.trace import TraceWay, asks_recording
from tui.screens.ways import Ways, is_crossings
from tui.session import JobSession
from tui.text import COLUMN, content, first_sentences, joined, stacked
from tui.widgets.cautions import CautionBlock
from tui.widgets.choices import ChoiceList
from tui.widgets.entries import EntryTable, Field, Slot, first_page
from tui.widgets.notes import StepNotes, how_lines
from tui.widgets.question import QuestionLine
from tui.widgets.wait import WaitLine

TALL = 36
"""Rows from which on a learner's step has room for the whole reason; below it, for its first sentences."""


class StepScreen(JobScreen):
    """One step of the walk, waiting for its readings."""

    KEYS: ClassVar[tuple[Key, ...]] = (
        Key("enter", "next", "next", "Take what was typed; a shown value is kept"),
        Key("x", "cannot", "cannot", "This reading, or the whole step, cannot be done"),
        Key("c", "count down", "count", "Run the countdown of this step", in_line=False),
        Key("k", "tap", "tap", "Count crossings with the space bar, or from recorded volts"),
        Key("t", "trace", "trace", "Read a recorded sensor signal from a file: drawn, measured, filled in"),
        Key("f", "figure", "figure", "Type the maker's figure, or say that it is not to hand"),
        Key("p", "paste", "paste", "Paste a block of the code reader, or read a log file"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(KEYS)]

    def __init__(self, session: JobSession, ask: Ask) -> None:
        super().__init__(session)
        self.ask = ask
        self.here_words = ask.step.title
        self.page_lines = first_page(ask.lines)
        self.notes = StepNotes(session, ask, self.page_lines)
        self.ways = Ways(self)
        self.trace_way = TraceWay(self)
        self.declining = Declining(self)
        self.wait = WaitLine(ask.step.wait or 0.0, [line.reading for line in self.page_lines])
        self._waiting: list[tuple[Slot, str]] = []
        """Numbers typed at once that are still to be heard, each with its field."""

    # ------------------------------------------------------------- drawing

    def compose_body(self) -> ComposeResult:
        """Lay out cautions, text and entry lines."""
        session, ask = self.job_session, self.ask
        state = session.walk.state
        shown = cautions_shown(state, ask.step, state.situation())
        yield CautionBlock(shown, due=bool(ask.cautions))
        yield Static(content(ask.step.title, "bold"), id="step-title", markup=False)
        yield Static(content(ask.step.do), id="do", classes="reading", markup=False)
        for note in ask.step.notes:
            by = f"{note.by}: " if note.by else ""
            yield Static(content(f"Note of this shop: {by}{note.text}"), classes="reading", markup=False)
        if session.is_learner:
            why = (
                ask.step.why
                if self.app.size.height >= TALL
                else first_sentences(ask.step.why, 2 * COLUMN - 8)
            )
            yield Static(joined([("Why: ", "bold"), why]), id="why-here", markup=False)
        if ask.step.wait:
            words = f"Wait {ask.step.wait:g} s: c counts it down in large figures. {self.wait.meanwhile()}"
            yield Static(content(words), classes="reading", markup=False)
        yield self.ways.figure_line()
        notes, places = self.notes, session.catalogue.words
        yield EntryTable(self.page_lines, notes.hints(), notes.units(), notes.notes(), notes.starts(), places)

    def compose_foot(self) -> ComposeResult:
        """Keep in sight what was understood, refused or asked."""
        demo = "Demonstration: Enter takes what the invented car shows; or type your own."
        yield self.wait
        yield QuestionLine(demo if self.job_session.demo is not None else "", id="said")

    # ------------------------------------------------------------- focus

    def focus_first(self) -> None:
        """Cautions first, then what is to be undone, then the first field."""
        if self.ask.cautions:
            self.query_one("#cautions").focus()
        else:
            self._to_fields()

    def _to_fields(self) -> None:
        if self.ask.must_undo and self.job_session.walk.state.left:
            self.app.desk.show_undo_list(self.job_session, road=True)
            return
        table = self.query_one(EntryTable)
        table.point_at(table.next_open())

    def on_key(self, event: events.Key) -> None:
        """Bring a digit typed anywhere back into the field."""
        character = event.character or ""
        if isinstance(self.focused, Field | ChoiceList) or character not in "0123456789-+.," or not character:
            return
        slot = self.query_one(EntryTable).at_hand()
        if slot is None or self.query_one(CautionBlock).is_due:
            return
        event.stop()
        self.query_one(EntryTable).point_at(slot)
        if isinstance(slot.control, Field):
            slot.control.replace(character, *sorted(slot.control.selection))

    @on(CautionBlock.Read)
    def _cautions_read(self, event: CautionBlock.Read) -> None:
        event.stop()
        walk = self.job_session.walk
        names = [caution.id for caution in self.ask.cautions]
        if self.attempt(lambda: walk.acknowledge(names, running=is_running(walk.state, self.ask.step))):
            self.query_one(CautionBlock).settle()
            self._to_fields()

    @property
    def cautions_due(self) -> bool:
        """Tell whether cautions of this step are still to be read."""
        return self.query_one(CautionBlock).is_due

    def action_next(self) -> None:
        """Go to the field that is open."""
        if self.query_one(CautionBlock).is_due:
            self.query_one(CautionBlock).action_read()
        else:
            self._to_fields()

    # ------------------------------------------------------------- entries

    @on(Input.Changed)
    def _changed(self, event: Input.Changed) -> None:
        slot = self.query_one(EntryTable).slot_of(event.input)
        said = self.query_one(QuestionLine)
        if slot is None or said.asked is not None:
            return
        if event.value.strip() and event.value != slot.typed:
            pairs = self.query_one(EntryTable).fill(slot, event.value)
            echo = "; ".join(self.job_session.hear(s.reading, typed).echo or "?" for s, typed in pairs)
            echo = echo if pairs else self.job_session.hear(slot.reading, event.value).echo
            said.say(f"= {echo}   Enter takes it" if echo else "")

    @on(Input.Submitted)
    def _submitted(self, event: Input.Submitted) -> None:
        event.stop()
        slot = self.query_one(EntryTable).slot_of(event.input)
        if slot is None:
            return
        typed = event.value.strip()
        self._waiting = []
        table = self.query_one(EntryTable)
        if too_many := table.too_many(slot, typed):
            self.query_one(QuestionLine).say(too_many)
        elif pairs := table.fill(slot, typed):
            self._waiting = pairs
            self._hear_next()
        elif slot.status == "done" and typed in ("", slot.typed):
            self.go_on_from(slot)
        elif not typed and slot.line.stale is not None and slot.status == "open":
            self._keep(slot)
        elif not typed and self.notes.demo_text(slot.reading):
            demo = self.notes.demo_text(slot.reading)
            event.input.value = demo
            heard = self.job_session.hear(slot.reading, demo)
            self.hear_in(slot, heard.decided(0) if heard.candidates else heard, demo)
        elif typed:
            self.hear_in(slot, self.job_session.hear(slot.reading, typed), typed)
        else:
            self.query_one(QuestionLine).say("Nothing typed. Esc, then x: this cannot be read here.")

    # ------------------------------------------------------------- several numbers at once

    def _hear_next(self) -> None:
        """Hear the next of several numbers on its own; a question or a refusal halts the rest."""
        slot, typed = self._waiting.pop(0)
        assert isinstance(slot.control, Field)
        with slot.control.prevent(Input.Changed):
            slot.control.value = typed
        if slot.status == "done" and typed == slot.typed:
            self.go_on_from(slot)
            return
        heard = self.job_session.hear(slot.reading, typed)
        self.query_one(EntryTable).point_at(slot)
        self.hear_in(slot, heard, typed)

    def _drop_waiting(self) -> str:
        """Forget the numbers not yet heard; return words that say so."""
        number, self._waiting = len(self._waiting), []
        return f" The {number} after it: not taken either." if number else ""

    @on(ChoiceList.Picked)
    def _picked(self, event: ChoiceList.Picked) -> None:
        event.stop()
        slot = self.query_one(EntryTable).slot_of(event.sender_list)
        if slot is None:
            return
        stale = slot.line.stale
        kept = (stale.answer if isinstance(stale.answer, tuple) else (str(stale.answer),)) if stale else ()
        if stale is not None and slot.status == "open" and tuple(sorted(kept)) == tuple(sorted(event.values)):
            self._keep(slot)
            return
        heard = self.job_session.hear_choice(slot.reading, event.values)
        self.hear_in(slot, heard, ", ".join(event.values))

    @on(ChoiceList.Nothing)
    def _nothing(self, event: ChoiceList.Nothing) -> None:
        event.stop()
        self.query_one(QuestionLine).say("Press the digit of an answer; x when it cannot be seen here.")

    @on(QuestionLine.Answered)
    def _answered(self, event: QuestionLine.Answered) -> None:
        event.stop()
        table = self.query_one(EntryTable)
        slot = self._asked_slot or table.next_open()
        self._asked_slot = None
        if slot is None:
            return
        if event.heard is None:
            table.point_at(slot)
            slot.control.begin_afresh()
            self.query_one(QuestionLine).say(f"Type it again.{self._drop_waiting()}")
        else:
            self._take(slot, event.heard, event.typed)

    _asked_slot: Slot | None = None

    def hear_in(self, slot: Slot, heard: Heard, typed: str) -> None:
        """Take what was understood, ask what is open, or say why it is refused."""
        said = self.query_one(QuestionLine)
        if heard.candidates:
            self._asked_slot = slot
            said.ask(heard, typed)
        elif heard.answer is None:
            rest = self._drop_waiting()
            said.say(f"! Not taken: {heard.refusal}{'.' if rest else ''}{rest}")
            slot.control.begin_afresh()
        else:
            self._take(slot, heard, typed)

    def _take(self, slot: Slot, heard: Heard, typed: str) -> None:
        if self.record(slot, heard, typed):
            self.go_on_from(slot)
        else:
            self._waiting = []

    def record(self, slot: Slot, heard: Heard, typed: str) -> bool:
        """Put an answer on disk and show it; tell whether that went well."""
        session = self.job_session
        if slot.take is not None:
            take = session.walk.state.find_take(slot.take)
            assert take is not None
            done = self.attempt(lambda: session.correct(take, heard, typed))
        else:
            done = self.attempt(lambda: setattr(slot, "take", session.take(slot.reading, heard, typed)))
        if not done:
            return False
        slot.typed = slot.control.value.strip() if isinstance(slot.control, Field) else typed
        words = session.words(slot.reading.id, heard.answer)
        table = self.query_one(EntryTable)
        table.settle(slot, "done", words)
        table.note_row(self.notes.row_notes())
        self.query_one(QuestionLine).say(f"{slot.reading.label}: {words}, on disk")
        self.refresh_frame()
        return True

    def _keep(self, slot: Slot) -> None:
        session = self.job_session
        if self.attempt(lambda: session.walk.keep(slot.reading.id)):
            assert slot.line.stale is not None
            words = session.words(slot.reading.id, slot.line.stale.answer)
            self.query_one(EntryTable).settle(slot, "done", f"{words}, kept")
            self.go_on_from(slot)

    def go_on_from(self, slot: Slot) -> None:
        """Hear what still waits, go to the next open line, or on in the walk."""
        if self._waiting:
            self._hear_next()
            return
        table = self.query_one(EntryTable)
        following = table.next_open(slot)
        if following is not None:
            table.point_at(following)
        else:
            self.app.desk.go_on(self.job_session)

    def attempt(self, command: Callable[[], object]) -> bool:
        """Do something that goes to disk; say in one line why it could not."""
        try:
            command()
        except LaybyError as error:
            self.query_one(QuestionLine).say(f"! {self.job_session.told(error)}")
            return False
        return True

    # ------------------------------------------------------------- commands

    def action_cannot(self) -> None:
        """Ask what cannot be done, and why."""
        self.declining.ask()

    def action_back(self) -> None:
        """Go back to the last entry on this screen, else correct the last of the job."""
        table = self.query_one(EntryTable)
        done = [slot for slot in table.slots if slot.status == "cannot" or slot.take is not None]
        at = table.at_hand()
        before = [slot for slot in done if at is None or table.slots.index(slot) < table.slots.index(at)]
        if before or done:
            table.point_at((before or done)[-1])
            self.query_one(QuestionLine).say(
                "Type it again, then Enter; the entry before is kept in the job."
            )
        else:
            self.app.desk.corrections.correct_last(self.job_session)

    def action_count(self) -> None:
        """Start the countdown, or show the one that runs, in large figures; the step stays usable."""
        if self.ask.step.wait:
            meanwhile = self.wait.meanwhile()
            words = f"{meanwhile} Enter goes back to the step; it counts on there.".strip()
            self.app.desk.count_down(self.wait.start(), words)

    def action_paste(self) -> None:
        """Paste a block of the code reader, or name a log."""
        self.ways.paste()

    def action_tap(self) -> None:
        """Count crossings with the space bar."""
        self.ways.tap()

    def action_trace(self) -> None:
        """Read a recorded signal from a file."""
        self.trace_way.ask()

    def action_figure(self) -> None:
        """Type a maker's figure, or say that it is not to hand."""
        self.ways.figure()

    def show_limits(self) -> None:
        """Show the limits as they stand now, a maker's figure having been told."""
        self.ways.show_figure_line()
        table = self.query_one(EntryTable)
        table.note_row(self.notes.row_notes())
        table.note_open(self.notes.notes())
        self.refresh_frame()

    def action_why(self) -> None:
        """Say why this step stands here."""
        step = self.ask.step
        self.app.show_text(step.title, [stacked([content("Why here", "bold"), content(step.why)])])

    def action_how(self) -> None:
        """Say where, and with which instrument."""
        self.app.show_text(self.ask.step.title, how_lines(self.job_session, self.ask))

    def line_keys(self) -> Sequence[Key]:
        """Leave the countdown out where there is none; while a question stands, only its answers."""
        if isinstance(self.focused, QuestionLine):
            return self.focused.answer_keys()
        useless = set() if self.ask.step.wait else {"count"}
        if not any(is_crossings(line.reading) for line in self.page_lines):
            useless.add("tap")
        if not any(asks_recording(line.reading) for line in self.page_lines):
            useless.add("trace")
        if not self.ways.figures():
            useless.add("figure")
        keys = [key for key in super().line_keys() if key.action not in useless]
        return sorted(keys, key=lambda key: (key.key == "question_mark", key.action == "paste"))
