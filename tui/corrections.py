"""The path as a page, and from it the correction of a take or of what could not be had."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.content import Content

from engine.errors import LaybyError
from engine.inputs import BehindRepair
from engine.measured import Take
from engine.walking import Changed
from tui.hearing import Heard
from tui.screens.correcting import EntryPage
from tui.screens.dialogs import PickPage
from tui.session import JobSession
from tui.text import content, joined
from tui.widgets.path import GRADE_WORDS, mark, readings_words

if TYPE_CHECKING:
    from tui.desk import Desk


class Corrections:
    """What a person takes back or types anew."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.app = desk.app

    def show_path(self, session: JobSession) -> None:
        """Show every judged step; picking one shows its takes."""
        path = session.walk.state.path
        if not path:
            self.app.say("No step is judged yet.")
            return
        options = []
        for i, event in enumerate(path):
            grade = GRADE_WORDS.get(event["grade"], "")
            options.append((str(i), f"{mark(event)} {event['title']}: {event['verdict']} ({grade})"))
        options.reverse()
        note = "The latest first. Picking one shows its readings."

        def picked(index: str | None) -> None:
            if index is not None:
                self._show_takes(session, int(index))

        self.app.push_screen(PickPage("The path", options, note=note), picked)

    def _show_takes(self, session: JobSession, index: int) -> None:
        event = session.walk.state.path[index]
        takes = [take for n in event["takes"] if (take := session.walk.state.find_take(n)) is not None]
        cannots = [] if session.job.read_only else session.cannots_of(event)
        if session.job.read_only or not (takes or cannots):
            lines = [content(event["verdict"], "bold"), content(readings_words(session, event, 20))]
            self.app.show_text(event["title"], lines)
            return
        options = [(f"take {take.number}", self._take_words(session, take)) for take in takes]
        for number, what, why in cannots:
            options.append((f"cannot {number}", f"ask it again{f' ({why})' if why else ''}: {what}"))
        note = "Picking one corrects it; Esc leaves all as it is."

        def picked(value: str | None) -> None:
            kind, _, number = (value or "").partition(" ")
            take = session.walk.state.find_take(int(number)) if kind == "take" else None
            if take is not None:
                self.correct(session, take)
            elif kind == "cannot":
                self._ask_again(session, int(number))

        self.app.push_screen(PickPage(f"{event['title']}: {event['verdict']}", options, note=note), picked)

    def _ask_again(self, session: JobSession, number: int) -> None:
        """Take back that something could not be had."""
        try:
            session.walk.withdraw_cannot(number)
        except BehindRepair:
            self.app.say("A repair was made after this; it is asked anew where it is needed.")
            return
        except LaybyError as error:
            self.app.say(session.told(error))
            return
        session.mark_seen()
        self.desk.go_on(session)

    def _take_words(self, session: JobSession, take: Take) -> str:
        how = {"told": ", told", "estimated": ", estimated", "assumed": ", assumed"}.get(take.how, "")
        return f"{session.catalogue.label(take.reading)}: {session.words(take.reading, take.answer)}{how}"

    def correct_last(self, session: JobSession) -> None:
        """Correct the entry made last."""
        takes = session.last_takes(1)
        if takes:
            self.correct(session, takes[0])
        else:
            self.app.say("Nothing has been entered yet.")

    def correct(self, session: JobSession, take: Take) -> None:
        """Ask for the right value of a take."""
        reading = session.catalogue.readings[take.reading]
        note = f"Now {session.words(take.reading, take.answer)}. The old entry stays in the job's file."
        page = EntryPage(session, reading, f"Correct: {reading.label}", note=note)

        def given(entry: tuple[Heard, str] | None) -> None:
            if entry is not None:
                self._correct(session, take, entry, across=False)

        self.app.push_screen(page, given)

    def _correct(self, session: JobSession, take: Take, entry: tuple[Heard, str], *, across: bool) -> None:
        try:
            changed = session.correct(take, entry[0], entry[1], across_repair=across)
        except BehindRepair:
            page = PickPage(
                "A repair was made after this was measured.",
                (("no", "leave it as it was"), ("yes", "correct it all the same, back over the repair")),
            )

            def decided(answer: str | None) -> None:
                if answer == "yes":
                    self._correct(session, take, entry, across=True)

            self.app.push_screen(page, decided)
            return
        except LaybyError as error:
            self.app.say(str(error))
            return
        session.mark_seen()
        self.desk.go_on(session)
        self.app.show_text("What the correction changed", changed_lines(changed))


def changed_lines(changed: Changed) -> list[Content]:
    """Return what a correction changed, step by step."""
    if changed.before == changed.after:
        return [content("No verdict changes.")]
    same = changed.same
    steps = "1 step comes" if same == 1 else f"{same} steps come"
    lines: list[Content] = [content(f"{steps} out as before.")]
    before, after = changed.before[same:], changed.after[same:]
    lines += _listed("Was", before) + _listed("Is now", after)
    if not after:
        lines.append(content("The walk asks on from there."))
    return lines


def _listed(word: str, steps: Sequence[tuple[str, str]]) -> list[Content]:
    return [joined([(f"{word}: ", "bold"), f"{title}: {verdict}"]) for title, verdict in steps]
