"""A doubtful verdict: what could settle it, or go on; and a repair offered on the way."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from engine.asking import Doubt, RepairOffer
from tui.keys import Key, bindings
from tui.screens.base import JobScreen
from tui.session import JobSession
from tui.text import content, joined, stacked, sure_words
from tui.widgets.choices import ChoiceList


class DoubtScreen(JobScreen):
    """The readings lie too close to a limit to tell."""

    KEYS: ClassVar[tuple[Key, ...]] = (Key("enter", "take", "take", "Take the answer the pointer shows"),)
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(KEYS)]

    def __init__(self, session: JobSession, doubt: Doubt) -> None:
        super().__init__(session)
        self.doubt = doubt
        self.here_words = doubt.step.title

    def compose_body(self) -> ComposeResult:
        """Lay out what is doubtful and what could be done."""
        yield Static(
            content(f"{self.doubt.step.title}: too close to tell", "bold"), id="step-title", markup=False
        )
        yield Static(stacked(self._lines()), classes="reading", markup=False)
        yield ChoiceList(self._options(), start=("again",) if self.doubt.settle else ("on",))

    def _lines(self) -> list[Content]:
        doubt = self.doubt
        judgement = doubt.judgement
        verdict = judgement.rule.verdict if judgement.rule is not None else "could not be decided"
        lines = [
            joined([("Likeliest: ", "bold"), verdict, f" ({sure_words(judgement.sure, doubtful=True)})"])
        ]
        others = [s for s in judgement.shares if s is not judgement.taken and s.p >= 0.01]
        for share in others:
            words = share.rule.verdict if share.rule is not None else "could not be decided"
            lines.append(content(f"Possible as well: {words} ({100 * share.p:.0f} %)"))
        if doubt.better_instrument:
            names = ", ".join(reading.label for reading in doubt.better_instrument[:3])
            lines.append(content(f"The instrument itself is too coarse here for: {names}"))
            lines.append(
                content("A finer instrument would settle it; repeating with the same one would not.")
            )
        lines.append(content("Going on: a doubtful verdict rules nothing out and proves nothing."))
        lines.append(content(""))
        return lines

    def _options(self) -> list[tuple[str, str]]:
        options = []
        doubt = self.doubt
        if doubt.settle:
            first = doubt.settle[0].label
            options.append(("again", f"measure again, could settle it: {first}"))
            if len(doubt.settle) > 1:
                options.append(("all", f"measure all of it again ({len(doubt.settle)} readings)"))
        if doubt.better_instrument:
            options.append(
                ("better", f"measure again with a finer instrument: {doubt.better_instrument[0].label}")
            )
        options.append(("on", "go on with the doubt"))
        return options

    def focus_first(self) -> None:
        """Point at the answers."""
        self.query_one(ChoiceList).focus()

    def action_take(self) -> None:
        """Take the answer the pointer shows."""
        self.query_one(ChoiceList).action_take()

    @on(ChoiceList.Picked)
    def _picked(self, event: ChoiceList.Picked) -> None:
        event.stop()
        walk, doubt = self.job_session.walk, self.doubt
        names = {
            "again": [reading.id for reading in doubt.settle[:1]],
            "all": [reading.id for reading in doubt.settle],
            "better": [reading.id for reading in doubt.better_instrument[:1]],
        }.get(event.values[0])
        command = walk.go_on if names is None else lambda: walk.again(names)
        if self.app.attempt(command):
            self.app.desk.go_on(self.job_session)

    def action_why(self) -> None:
        """Say why the step stands here."""
        self.app.show_text(self.doubt.step.title, [content("Why here", "bold"), content(self.doubt.step.why)])

    def action_how(self) -> None:
        """Say how it is done."""
        self.app.show_text(self.doubt.step.title, [content(self.doubt.step.how or self.doubt.step.do)])


class RepairScreen(JobScreen):
    """A repair advised on the way: done, or not now."""

    KEYS: ClassVar[tuple[Key, ...]] = (Key("enter", "take", "take", "Take the answer the pointer shows"),)
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(KEYS)]

    def __init__(self, session: JobSession, offer: RepairOffer) -> None:
        super().__init__(session)
        self.offer = offer
        self.here_words = "a repair on the way"

    def compose_body(self) -> ComposeResult:
        """Lay out the advice and the two answers."""
        session = self.job_session
        names = [session.catalogue.label(name) for name in self.offer.forget]
        known = [n for n in self.offer.forget if session.walk.state.live_takes(n)]
        again = ", ".join(session.catalogue.label(name) for name in known[:6])
        yield Static(content("Repair this first", "bold"), id="step-title", markup=False)
        yield Static(content(self.offer.say), classes="reading", markup=False)
        if again:
            more = f" and {len(known) - 6} more" if len(known) > 6 else ""
            yield Static(
                content(f"When it is done, these are void and asked again: {again}{more}."),
                classes="reading",
                markup=False,
            )
        elif names:
            yield Static(content("Nothing measured so far depends on it."), classes="reading", markup=False)
        yield ChoiceList([("done", "it is done"), ("later", "not now, go on without")], start=("done",))

    def focus_first(self) -> None:
        """Point at the answers."""
        self.query_one(ChoiceList).focus()

    def action_take(self) -> None:
        """Take the answer the pointer shows."""
        self.query_one(ChoiceList).action_take()

    @on(ChoiceList.Picked)
    def _picked(self, event: ChoiceList.Picked) -> None:
        event.stop()
        walk = self.job_session.walk
        done = event.values[0] == "done"
        if self.app.attempt(lambda: walk.repair_done(self.offer.say) if done else walk.decline_repair()):
            self.app.desk.go_on(self.job_session)
