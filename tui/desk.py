"""The open job and its screens: begins, opens, goes on, closes, and carries out what any of its screens asks.

Imported when the first job is opened, so that the start page is painted without it.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

from textual.screen import Screen

from engine.asking import Ask, Doubt, RepairOffer
from engine.catalogue import Drive
from engine.concluding import drive_words
from engine.demo import Demo, demo_of, demos
from engine.errors import LaybyError
from engine.job import Job, JobCard
from engine.walking import Stop
from tui.corrections import Corrections
from tui.screens.countdown import CountdownPage
from tui.screens.dialogs import PickPage, WritePage
from tui.screens.doubt import DoubtScreen, RepairScreen
from tui.screens.end import DRIVE_WORDS, EndScreen
from tui.screens.follow import FollowScreen
from tui.screens.gas import GasPage
from tui.screens.predict import PredictScreen
from tui.screens.report import ReportPage
from tui.screens.step import StepScreen
from tui.screens.verdict import VerdictScreen
from tui.session import PAUSE, JobSession
from tui.text import content, joined
from tui.widgets.local import local_weights
from tui.widgets.suspects import behind, name_of, rank_word

if TYPE_CHECKING:
    from tui.app import LaybyApp
    from tui.screens.card import NewJob


class Desk:
    """One job at a time."""

    def __init__(self, app: LaybyApp) -> None:
        self.app = app
        self.session: JobSession | None = None
        self.corrections = Corrections(self)

    # ------------------------------------------------------------- opening and closing

    def begin(self, new: NewJob) -> str:
        """Begin a job and show its first question; return what went wrong, or nothing."""
        app = self.app
        try:
            library = app.library()
            app.folders.prepare()
            job = Job.begin(
                app.folders.jobs,
                library,
                new.card,
                clock=time.time,
                tree=app.first_tree,
                confidence=app.settings.confidence,
            )
        except LaybyError as error:
            return first_line(error)
        session = self._take_over(job)
        problem = session.take_facts(new.facts)
        self.go_on(session)
        if problem:
            app.say(problem)
        return ""

    def begin_demo(self) -> str:
        """Begin the demonstration job; return what went wrong, or nothing."""
        from tui.screens.card import NewJob

        try:
            demo = demos()[0]
        except LaybyError as error:
            return first_line(error)
        card = JobCard(car=demo.car, complaint=demo.complaint, demo=True)
        return self.begin(NewJob(card, ()))

    def open(self, path: Path) -> str:
        """Open a job where it was left; return what went wrong, or nothing."""
        try:
            job = Job.open(path, clock=time.time)
        except LaybyError as error:
            return first_line(error)
        session = self._take_over(job)
        if job.read_only:
            self._show(FollowScreen(session))
            return ""
        for notice in job.notices:
            self.app.say(notice)
        away = session.seconds_away(time.time())
        session.mark_seen()
        self.go_on(session)
        if away > PAUSE and not isinstance(self.app.screen, EndScreen):
            self._offer_epoch(session, away)
        return ""

    def _offer_epoch(self, session: JobSession, away: float) -> None:
        minutes = away / 60.0
        told = f"{minutes:.0f} minutes" if minutes < 120 else f"{minutes / 60:.0f} hours"
        note = "A new look at the place and for leaks is due after a pause or a move of the car."
        page = PickPage(
            f"You were away for {told}. Is the pause over?",
            (("yes", "yes: ask the safety looks again"), ("no", "no: somebody stayed with the car")),
            note=note,
        )

        def decided(answer: str | None) -> None:
            if answer == "yes" and self.app.attempt(lambda: session.walk.new_epoch("pause")):
                self.go_on(session)

        self.app.push_screen(page, decided)

    def _take_over(self, job: Job) -> JobSession:
        self.close_quietly()
        demo: Demo | None = demo_of(str(job.card.get("car", ""))) if job.card.get("demo") else None
        self.session = JobSession(job, self.app.settings, demo=demo)
        return self.session

    def close_quietly(self) -> None:
        """Let go of the job's file."""
        if self.session is not None:
            self.session.job.close()
            self.session = None

    def close_job(self) -> None:
        """Close the job and go back to the start page."""
        self.close_quietly()
        self.app.show_start()

    # ------------------------------------------------------------- going on

    def go_on(self, session: JobSession) -> None:
        """Go on as far as what is known allows, and show what came of it."""
        try:
            turn = session.advance()
        except LaybyError as error:
            self.app.say(str(error))
            return
        if turn.judged:
            self._show(VerdictScreen(session, turn))
        else:
            self.show_stop(session, turn.stop)

    def show_stop(self, session: JobSession, stop: Stop) -> None:
        """Show what the walk waits for."""
        self._show(self._screen_for(session, stop))

    def _screen_for(self, session: JobSession, stop: Stop) -> Screen[None]:
        match stop:
            case Ask() as ask:
                if (
                    session.is_learner
                    and ask.step.predict is not None
                    and not session.has_predicted(ask.step)
                ):
                    return PredictScreen(session, ask)
                return StepScreen(session, ask)
            case Doubt() as doubt:
                return DoubtScreen(session, doubt)
            case RepairOffer() as offer:
                return RepairScreen(session, offer)
            case _:
                return EndScreen(session)

    def _show(self, screen: Screen[None]) -> None:
        self.app.show_base(screen)

    # ------------------------------------------------------------- looking

    def show_why(self, session: JobSession) -> None:
        """Say why the walk stands where it stands."""
        step = session.walk.step()
        self.app.show_text(step.title, [content("Why here", "bold"), content(step.why)])

    def show_how(self, session: JobSession) -> None:
        """Say how the step at hand is done."""
        step = session.walk.step()
        self.app.show_text(step.title, [content("How", "bold"), content(step.how or step.do)])

    def show_suspects(self, session: JobSession) -> None:
        """Show all suspects with their moves in words."""
        lines, weights = [], local_weights(session)
        for place, suspect in enumerate(session.suspects()):
            if place >= 12 and suspect.fault is not None and not suspect.moves:
                continue
            lines.append(
                joined(
                    [
                        (f"{rank_word(place)}: {name_of(session, suspect)}", "bold"),
                        f"   {100 * suspect.p:.0f} %",
                    ]
                )
            )
            if suspect.fault in weights:
                lines.append(content(f"    {weights[suspect.fault]}"))
            for move in suspect.moves[:4]:
                by = behind(session, move)
                lines.append(content(f"    {move.words} ({move.title}{f': {by}' if by else ''})"))
            if place >= 30:
                break
        lines.append(
            content("A suspect starts by experience; each piece of evidence moves it, none rules it out.")
        )
        self.app.show_text("Suspects", lines)

    def show_drive(self, session: JobSession) -> None:
        """Say what is worked out about driving; a person decides."""
        worst, reasons = session.walk.drive()
        because = "; ".join(reasons) if reasons else "nothing measured so far raises it"
        note = f"{drive_words(worst)} Because: {because}. A person decides, not this program."
        options = [*DRIVE_WORDS]
        options.append(("", "decide later"))

        def decided(value: str | None) -> None:
            if not value:
                return
            page = WritePage(
                "Who decides that?",
                value=self.app.settings.who,
                note="The name goes into the report.",
                problem_of=lambda text: "" if text.strip() else "write a name",
            )
            self.app.push_screen(page, lambda who: confirm(value, who))

        def confirm(value: str, who: str | None) -> None:
            if who and self.app.attempt(lambda: session.walk.confirm_drive(who.strip(), Drive(value))):
                self.app.say(f"Kept: {dict(DRIVE_WORDS)[value]}, decided by {who.strip()}")
                self.refresh_end(session)

        self.app.push_screen(PickPage("May the car be driven?", options, note=note), decided)

    def refresh_end(self, session: JobSession) -> None:
        """Draw the conclusion anew when it is on the screen."""
        if isinstance(self.app.screen, EndScreen):
            self._show(EndScreen(session))

    def show_undo_list(self, session: JobSession, *, road: bool = False) -> None:
        """Tick off what was left clamped, plugged, unplugged or fitted."""
        left = session.walk.state.left
        if not left:
            self.app.say("Nothing is left clamped, plugged, unplugged or fitted.")
            return
        catalogue = session.catalogue
        options = []
        for item, title in left.items():
            kept = catalogue.left.get(item)
            label, undone = (kept.label, kept.undone) if kept is not None else (item.replace("-", " "), "")
            options.append((item, f"{label} (since: {title}); undone when: {undone}"))
        options.append(("", "not yet"))
        heading = "Undo these before the road" if road else "Undo list: which is undone now?"

        def ticked(item: str | None) -> None:
            if item and self.app.attempt(lambda: session.walk.undo_left(item)):
                if session.walk.state.left:
                    self.show_undo_list(session, road=road)
                else:
                    self.app.say("All undone.")
                    self.go_on(session) if road else self.refresh_end(session)

        self.app.push_screen(PickPage(heading, options), ticked)

    def show_report(self, session: JobSession) -> None:
        """Show the report."""
        self.app.push_screen(ReportPage(session))

    def show_gas(self, session: JobSession) -> None:
        """Show the gas page; where a step asks gases they may be typed there."""
        screen = self.app.screen
        step = screen if isinstance(screen, StepScreen) and not screen.cautions_due else None

        def back(taken: int | None) -> None:
            if step is not None and taken:
                step.ways.after_matches(taken)

        self.app.push_screen(GasPage(session, step), back)

    def count_down(self, seconds: float, words: str) -> None:
        """Count down in large figures."""
        self.app.push_screen(CountdownPage(seconds, words))

    def write_note(self, session: JobSession) -> None:
        """Write a remark into the job."""

        def keep(text: str | None) -> None:
            if text and text.strip() and self.app.attempt(lambda: session.walk.note(text.strip())):
                self.app.say("Note kept.")

        self.app.push_screen(WritePage("Note", note="It goes into the report, with the time."), keep)


def first_line(error: LaybyError) -> str:
    """Return the first of an error's lines, and how many more there are."""
    first, *more = str(error).splitlines() or [""]
    return f"{first} (and {len(more)} more: layby check lists them)" if more else first
