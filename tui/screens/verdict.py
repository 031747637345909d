"""The verdict of the step just done, or of several that needed no question; then onward."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from engine.errors import LaybyError
from engine.tree import Step
from tui.hearing import Heard
from tui.keys import Key, bindings
from tui.screens.base import JobScreen
from tui.screens.correcting import EntryPage
from tui.screens.dialogs import PickPage
from tui.session import JobSession, Turn
from tui.text import content, joined, stacked, sure_words
from tui.widgets.chart import chart_lines
from tui.widgets.local import local_lines
from tui.widgets.path import GRADE_WORDS, mark, readings_words
from tui.widgets.rules import move_lines, rule_lines
from tui.widgets.verdicts import (
    FACTS,
    head_lines,
    missing_lines,
    moved_lines,
    number_lines,
    turn_lines,
    uses_trims,
)

MOST_BEATEN = 3
"""Beaten rules on the verdict itself; the page behind w has all."""


class VerdictScreen(JobScreen):
    """What the last readings meant."""

    KEYS: ClassVar[tuple[Key, ...]] = (
        Key("enter", "go on", "go_on", "Go on to what comes next"),
        Key(
            "r", "repeat", "repeat", "Take these readings once more; takes are averaged as the catalogue says"
        ),
        Key("t", "try a value", "try_value", "Try another value without touching the job"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(KEYS)]

    def __init__(self, session: JobSession, turn: Turn) -> None:
        super().__init__(session)
        self.turn = turn
        self.event = turn.judged[0]
        """What was just measured; the rest was judged from what is known already."""
        self.here_words = next_words(turn)
        self.shows_suspects = not uses_trims(self.event) and len(turn.judged) < 4
        self._drawn_for: tuple[int, bool] | None = None
        """Cells and layout for which the verdict was laid out last."""

    def compose_body(self) -> ComposeResult:
        """Lay out the verdict in full, then what followed from it without a question."""
        yield Static("", id="verdict", markup=False)

    def refresh_keys(self) -> None:
        """Lay the verdict out for the width there is, then say which keys work."""
        if not self.has_frame():
            return
        cells = self.body_cells()
        layout = (cells, self.is_wide)
        if cells > 0 and layout != self._drawn_for:
            self._drawn_for = layout
            self.query_one("#verdict", Static).update(stacked(self._lines(cells)))
            self.call_after_refresh(super().refresh_keys)
        super().refresh_keys()

    @property
    def is_wide(self) -> bool:
        """Tell whether suspects and drawing have a column of their own."""
        return self.has_class("-wide")

    def _lines(self, cells: int) -> list[Content]:
        session, event = self.job_session, self.event
        path = session.walk.state.path
        before = path[: path.index(event)] if event in path else path[:-1]
        lines = head_lines(event)
        numbers = number_lines(session, event, cells=cells)
        if numbers:
            lines += [content(""), *numbers]
        lines += missing_lines(session, event)
        if event["kind"] == "judged":
            lines += local_lines(session, session.step_of(event))
        lines += self._drawing(cells) or [content("")]
        lines += turn_lines(event)
        if not self.shows_suspects and not self.is_wide and not session.is_learner:
            lines += moved_lines(session, event, before)
        left = [item for item in event["leaves"] if item not in event["undoes"]]
        if left:
            labels = (session.catalogue.left[item].label for item in left if item in session.catalogue.left)
            lines.append(joined([("Left behind: ", "bold"), f"{', '.join(labels)} (u lists it)"]))
        lines += self._learner_lines(cells)
        lines += self._followed()
        lines.append(joined([("Next: ", "bold"), next_words(self.turn)]))
        return lines

    def _drawing(self, cells: int) -> list[Content]:
        """Draw the trims where the step read them and no column of its own shows them."""
        if self.is_wide or not uses_trims(self.event):
            return []
        return chart_lines(self.job_session.trim_points(), cells)

    def _followed(self) -> list[Content]:
        """List the steps that were judged after this one from what is known already."""
        followed = self.turn.judged[1:]
        if not followed:
            return []
        lines = [content("From what is known already:", "bold")]
        for event in followed:
            grade = GRADE_WORDS.get(event["grade"], "")
            lines.append(
                joined([f"{mark(event)} {event['title']}: ", (event["verdict"], "bold"), f" ({grade})"])
            )
        return lines

    def _learner_lines(self, cells: int) -> list[Content]:
        session, event = self.job_session, self.event
        if not session.is_learner:
            return []
        path = session.walk.state.path
        before = path[: path.index(event)] if event in path else path[:-1]
        lines = move_lines(session, event, before, cells)
        lines += rule_lines(session, event, cells, most=MOST_BEATEN)
        said = session.prediction_for(event)
        if said is not None:
            answer, right = said
            words = "right" if right else f"not so: {session.step_of(event).predict.right}"  # type: ignore[union-attr]
            given = session.walk.state.predictions
            score = f"; score {sum(given)} of {len(given)}"
            lines.insert(0, joined([("You said: ", "bold"), f"{answer}, {words}{score}"]))
        return lines

    def action_go_on(self) -> None:
        """Go on."""
        self.app.desk.show_stop(self.job_session, self.turn.stop)

    def action_why(self) -> None:
        """Show the rule that fired and those it beat."""
        event = self.event
        lines = [
            content(event["verdict"], "bold"),
            content(sure_words(event["verdict_sure"], doubtful=event["doubtful"])),
        ]
        lines += [content(""), *rule_lines(self.job_session, event), content("")]
        if event["kind"] == "judged":
            lines += [content("Why this step", "bold"), content(self.job_session.step_of(event).why)]
        lines += [
            content(""),
            content("Rests on", "bold"),
            content(readings_words(self.job_session, event, 20)),
        ]
        lines += [content(f"{limit['label']}: {limit['source']}") for limit in event["limits"].values()]
        self.app.show_text("Why this verdict", lines)

    def action_how(self) -> None:
        """Say how the readings were taken."""
        if self.event["kind"] == "judged":
            step = self.job_session.step_of(self.event)
            self.app.show_text(step.title, [content(step.how or step.do)])

    def action_repeat(self) -> None:
        """Ask the readings of this step once more."""
        session, event = self.job_session, self.event
        if event["kind"] != "judged":
            self.app.say("The proof is repeated by saying once more that it is repaired.")
            return
        step = session.step_of(event)
        names = [name for name in (*step.readings, *step.optional) if name in event["readings"]]
        fresh = [n for n in names if session.catalogue.readings[n].keeps not in ("ever", "saved")]
        if not fresh:
            self.app.say("Nothing here can be measured again; b corrects what was typed.")
            return
        path = session.walk.state.path
        since = path.index(event)
        if self.app.attempt(lambda: session.walk.again(fresh, since=since)):
            self.app.desk.go_on(session)

    def action_try_value(self) -> None:
        """Pick a reading and try another value of it."""
        session, event = self.job_session, self.event
        numbers = [
            (name, f"{session.catalogue.label(name)}, now {session.words(name, entry['value'])}")
            for name, entry in event["readings"].items()
            if isinstance(entry["value"], float)
            and name in session.catalogue.readings
            and not name.startswith(FACTS)
        ]
        if not numbers or event["kind"] != "judged":
            self.app.say("No number was measured here.")
        elif len(numbers) == 1:
            self._ask_value(numbers[0][0])
        else:
            self.app.push_screen(PickPage("Try another value of which reading?", numbers), self._ask_value)

    def _ask_value(self, name: str | None) -> None:
        if name is None:
            return
        reading = self.job_session.catalogue.readings[name]
        note = "Only tried: the job is not touched."
        page = EntryPage(self.job_session, reading, f"Try: {reading.label}", note=note)
        self.app.push_screen(page, lambda given: self._show_tried(name, given))

    def _show_tried(self, name: str, given: tuple[Heard, str] | None) -> None:
        if given is None or not isinstance(given[0].answer, float):
            return
        session = self.job_session
        try:
            judgement = session.try_value(self.event, name, given[0].answer)
        except (LaybyError, KeyError) as error:
            self.app.say(f"That cannot be tried here: {error}")
            return
        verdict = judgement.rule.verdict if judgement.rule is not None else "could not be decided"
        now = self.event["verdict"]
        lines = [
            content(f"{session.catalogue.label(name)} {session.words(name, given[0].answer)} would give:"),
            content(verdict, "bold"),
            content(sure_words(judgement.sure, doubtful=judgement.doubtful)),
            content(""),
            content("The verdict stays the same." if verdict == now else f"Now it is: {now}"),
            content("Nothing was written into the job."),
        ]
        self.app.show_text("Tried", lines)

    def shop_place(self) -> tuple[str, Step | None]:
        """Local experience is about the step that was judged."""
        event = self.event
        return event["tree"], self.job_session.step_of(event) if event["kind"] == "judged" else None

    def help_title(self) -> str:
        """Return the heading of the help page."""
        return "Keys after a verdict"


def next_words(turn: Turn) -> str:
    """Return what comes next, in a few words."""
    from engine.asking import Ask, Doubt, RepairOffer

    match turn.stop:
        case Ask(step=step):
            return step.title
        case Doubt(step=step):
            return f"{step.title}: the verdict is doubtful"
        case RepairOffer(say=say):
            return f"repair: {say}"
        case _:
            return "the conclusion" if getattr(turn.stop, "concluded", False) else "the end of these trees"
