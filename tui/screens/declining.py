"""What cannot be done at a step: one reading or the whole step, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.screens.dialogs import PickPage, WritePage
from tui.widgets.entries import EntryTable, Slot
from tui.widgets.question import QuestionLine

if TYPE_CHECKING:
    from tui.screens.step import StepScreen

CANNOT_REASONS = (
    ("no access", "cannot be reached here"),
    ("no instrument", "no instrument for it on this van"),
    ("not safe", "not safe here"),
    ("no time", "takes too long here"),
    ("not shown", "the reader or the car does not show it"),
    ("", "another reason, to be written"),
)
LASTING = frozenset({"no instrument", "not shown"})
"""Reasons that hold for the same readings at every later step."""


class Declining:
    """What a step screen does for its key x."""

    def __init__(self, screen: StepScreen) -> None:
        self.screen = screen

    def ask(self) -> None:
        """Ask what cannot be done, then why."""
        slot = self.screen.query_one(EntryTable).at_hand()
        options = [("step", "the whole step")]
        if slot is not None and slot.status != "done":
            options.insert(0, ("reading", f"this reading: {slot.reading.label}"))

        def reason(what: str | None) -> None:
            if what is not None:
                page = PickPage("Why not?", CANNOT_REASONS)
                self.screen.app.push_screen(page, lambda why: self._because(what, why, slot))

        self.screen.app.push_screen(PickPage("What cannot be done here?", options), reason)

    def _because(self, what: str, why: str | None, slot: Slot | None) -> None:
        if why == "":
            page = WritePage("Why can it not be done?", hint="a few words; Enter alone gives no reason")
            self.screen.app.push_screen(page, lambda text: self.write(what, text, slot))
        else:
            self.write(what, why, slot)

    def write(self, what: str, why: str | None, slot: Slot | None) -> None:
        """Put on disk that a reading, or the whole step, cannot be done; nothing when it was called off."""
        screen = self.screen
        if why is None:
            return
        if what == "step":
            if screen.attempt(lambda: self._decline_step(why)):
                screen.app.desk.go_on(screen.job_session)
            return
        if slot is not None and screen.attempt(lambda: screen.job_session.walk.cannot(slot.reading.id, why)):
            screen.query_one(EntryTable).settle(slot, "cannot", f"cannot: {why}" if why else "cannot")
            screen.query_one(QuestionLine).say(f"{slot.reading.label}: cannot be had here")
            screen.go_on_from(slot)

    def _decline_step(self, why: str) -> None:
        """Record it; what no instrument here can show is not asked again at the next step either."""
        walk = self.screen.job_session.walk
        if why in LASTING:
            answered = {slot.reading.id for slot in self.screen.query_one(EntryTable).slots if slot.take}
            for line in self.screen.ask.lines:
                if line.reading.id not in answered and line.stale is None:
                    walk.cannot(line.reading.id, why)
        walk.cannot(None, why)
