"""Local experience from the step at hand: pin a note, change a limit, weigh a fault; for new jobs.

A chain of small pages collects what, for which cars, why and who; the engine writes it into the shop's own
files or says what is wrong. The open job keeps the files it was begun with.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from textual.content import Content

from engine.errors import LaybyError
from engine.shop_editing import Cars, Edited, pin_note, set_limit, set_weight
from engine.situation import Point, comparisons
from engine.suspects import LEAST_FACTOR, MOST_FACTOR
from engine.tree import Step
from engine.units import convert
from engine.wording import number_words
from tui.screens.dialogs import PickPage, WritePage
from tui.session import JobSession
from tui.text import content
from tui.widgets.suspects import name_of

if TYPE_CHECKING:
    from tui.app import LaybyApp

NEW_JOBS = "It holds for jobs begun from now on; this job keeps the files it was begun with."
_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*(\S.*)?")
_GROUPED = re.compile(r"[+-]?\d{1,3},\d{3}")


@dataclass(frozen=True, slots=True)
class Draft:
    """What is said so far of a line of the shop's own."""

    reason: str = ""
    by: str = ""
    cars: Cars | None = None


Write = Callable[[Path, Draft, str], Edited]
"""Writes a line: the shop's folder, what is said of it, the day."""


class ShopPages:
    """The pages over one screen of a job."""

    def __init__(self, app: LaybyApp, session: JobSession, tree: str, step: Step | None) -> None:
        """Take the place; *step* is None where there is none, as at the proof of a repair."""
        self.app = app
        self.session = session
        self.tree = tree
        self.step = step

    def show(self) -> None:
        """Ask what is to be put into the shop's files."""
        options = [("weight", "weigh a fault: more or less likely on this shop's experience")]
        if self.step is not None:
            options = [
                ("note", f"pin a note to this step: {self.step.title}"),
                ("limit", "change a limit of this step, for some cars or for all"),
                *options,
            ]
        asks = {"note": self._note, "limit": self._limit, "weight": self._weight}
        page = PickPage("This shop's own experience", options, note=NEW_JOBS)
        self._then(page, lambda chosen: asks[chosen]())

    def _then(self, page: PickPage | WritePage, go_on: Callable[[str], None]) -> None:
        """Show a page and go on with its answer; Esc ends the chain and nothing is written."""

        def answered(answer: str | None) -> None:
            if answer is None:
                self.app.say("Nothing was written.")
            else:
                go_on(answer)

        self.app.push_screen(page, answered)

    # ------------------------------------------------------------- what

    def _note(self) -> None:
        step = self.step
        assert step is not None

        def write(text: str) -> Write:
            return lambda folder, draft, day: pin_note(
                folder, self.tree, step.id, text.strip(), by=draft.by, on=day, reason=draft.reason
            )

        page = WritePage(
            "The note", note=f"Shown on the step “{step.title}”.", problem_of=_wanted("write the note")
        )
        self._then(page, lambda text: self._who(Draft(), write(text)))

    def _limit(self) -> None:
        assert self.step is not None
        point = Point(self.session.walk.state.situation())
        limits = self.session.catalogue.limits
        options = []
        for name in limits_at(self.step):
            used = point.limit(name)
            now = (
                f"{number_words(used.value, limits[name].unit)}, {used.source_words}"
                if used
                else "by the car"
            )
            options.append((name, f"{limits[name].label}: {now}"))
        if not options:
            self.app.say("No limit by name decides at this step.")
            return
        self._then(PickPage("Which limit?", options), self._figure)

    def _figure(self, name: str) -> None:
        limit = self.session.catalogue.limits[name]
        used = Point(self.session.walk.state.situation()).limit(name)
        shown = number_words(used.value, limit.unit) if used is not None else "by the car"
        unit = limit.unit or "a bare number"

        def chosen(typed: str) -> None:
            value, own = figure_of(typed, limit.unit)
            self._cars(
                Draft(),
                lambda folder, draft, day: set_limit(
                    folder, name, value, own, cars=draft.cars, by=draft.by, on=day, reason=draft.reason
                ),
            )

        page = WritePage(
            f"{limit.label}: which figure?",
            note=f"Now {shown}. A bare number is in {unit}.",
            problem_of=lambda typed: figure_problem(typed, limit.unit),
        )
        self._then(page, chosen)

    def _weight(self) -> None:
        suspects = [s for s in self.session.suspects() if s.fault is not None]
        options = [(str(s.fault), name_of(self.session, replace(s, side=None))) for s in suspects]
        self._then(PickPage("Which fault?", options), self._times)

    def _times(self, fault: str) -> None:
        label = self.session.catalogue.faults.faults[fault].label

        def chosen(typed: str) -> None:
            times = figure_of(typed, "")[0]
            self._cars(
                Draft(),
                lambda folder, draft, day: set_weight(
                    folder, fault, times, cars=draft.cars, by=draft.by, on=day, reason=draft.reason
                ),
            )

        page = WritePage(
            f"{label}: how many times as likely?",
            note="Against the shipped weight: 2 is twice as likely, 0.5 half as likely.",
            problem_of=times_problem,
        )
        self._then(page, chosen)

    # ------------------------------------------------------------- for which cars, why, who

    def _cars(self, draft: Draft, write: Write) -> None:
        """Ask for the cars, one fact after the other."""
        facts = self.car_facts()
        taken = dict(draft.cars or {})
        options = [(name, words) for name, words in facts.items() if name not in taken]
        if taken:
            options.insert(0, ("", f"that is all: {' and '.join(facts[name] for name in taken)}"))
            title = "Only cars that are also …"
        else:
            options.insert(0, ("", "every car"))
            title = "For which cars? Like this one in what?"

        def chosen(name: str) -> None:
            if not name:
                self._why(draft, write)
                return
            answer = self.session.walk.state.values()[name].answer
            self._cars(replace(draft, cars={**taken, name: {"is": str(answer)}}), write)

        note = "" if facts else "No choice about this car is known yet, so it is for every car."
        self._then(PickPage(title, options, note=note), chosen)

    def car_facts(self) -> Mapping[str, str]:
        """Return what is known of this car as words, by the reading: choices that are an answer."""
        catalogue, facts = self.session.catalogue, {}
        for name, value in self.session.walk.state.values().items():
            reading = catalogue.readings.get(name)
            if reading is None or not name.startswith("veh_") or not isinstance(value.answer, str):
                continue
            choice = reading.choice(value.answer)
            if choice is not None and not choice.not_looked:
                facts[name] = f"{reading.label}: {choice.label}"
        return facts

    def _why(self, draft: Draft, write: Write) -> None:
        page = WritePage(
            "Why?",
            note="The reason stands beside every verdict that uses it.",
            problem_of=_wanted("write why"),
        )
        self._then(page, lambda text: self._who(replace(draft, reason=text.strip()), write))

    def _who(self, draft: Draft, write: Write) -> None:
        page = WritePage(
            "Who stands for it?",
            value=self.app.settings.who,
            note="An empty line is kept as unagreed.",
        )
        self._then(page, lambda who: self._write(replace(draft, by=who.strip()), write))

    # ------------------------------------------------------------- written

    def _write(self, draft: Draft, write: Write) -> None:
        """Check all trees with the new line and write it, beside the screen; then show what came of it."""
        folder, day = self.app.own_shop, datetime.now(UTC).astimezone().date().isoformat()

        def work() -> None:
            try:
                edited = write(folder, draft, day)
            except LaybyError as error:
                self.app.call_from_thread(self.app.say, str(error))
                return
            self.app.call_from_thread(self._written, edited)

        self.app.say("Checking all trees with it …")
        self.app.run_worker(work, thread=True, exit_on_error=False, group="shop")

    def _written(self, edited: Edited) -> None:
        if edited.done:
            self.app.forget_library()
        self.app.show_text("Written" if edited.done else "Not written", written_lines(edited))


def written_lines(edited: Edited) -> list[Content]:
    """Return file, line and text of what was written, or each thing that is wrong with it."""
    problems = [content(str(problem)) for problem in edited.problems]
    if not edited.done:
        return [*problems, content(""), content("The shop's files are as they were.")]
    lines = [content(f"{edited.path}:{edited.line}", "bold")]
    lines += [content(text) for text in _entry(edited)]
    lines += [content(""), *problems, content(NEW_JOBS)]
    return [*lines, content("layby shop lists all lines; layby trial shows what they change.")]


def _entry(edited: Edited) -> Sequence[str]:
    """Return the lines of the new entry as they stand in the file."""
    try:
        written = edited.path.read_text(encoding="utf-8").splitlines()[edited.line - 1 :]
    except OSError:
        return ()
    end = next((i for i, text in enumerate(written) if i > 0 and not text.startswith("    ")), len(written))
    return written[:end]


def limits_at(step: Step) -> tuple[str, ...]:
    """Return the limits by name that the rules of a step compare with, in order."""
    found = (compare.limit for rule in step.rules for compare in comparisons(rule.when))
    return tuple(dict.fromkeys(limit for limit in found if isinstance(limit, str)))


def figure_of(typed: str, unit: str) -> tuple[float, str | None]:
    """Return a typed figure and its unit, None for the limit's own.

    Raises:
        LaybyError: it is no number, or in a unit of something else.
    """
    match = _NUMBER.fullmatch(typed.strip())
    if match is None:
        raise LaybyError(
            f"found “{typed.strip()}”: write a number, with its unit if it is not in {unit or 'it'}"
        )
    if _GROUPED.fullmatch(match[1]):
        raise LaybyError(f"{match[1]} can be read in two ways: write it without the comma")
    value, own = float(match[1].replace(",", ".")), match[2]
    if own is not None:
        convert(value, own, unit)
    return value, own


def figure_problem(typed: str, unit: str) -> str:
    """Return what is wrong with a typed figure, or nothing."""
    try:
        figure_of(typed, unit)
    except LaybyError as error:
        return str(error)
    return ""


def times_problem(typed: str) -> str:
    """Return what is wrong with a typed weight, or nothing."""
    problem = figure_problem(typed, "")
    if problem:
        return problem
    least, most = f"{LEAST_FACTOR:g}", f"{MOST_FACTOR:g}"
    return (
        ""
        if LEAST_FACTOR <= figure_of(typed, "")[0] <= MOST_FACTOR
        else f"a weight lies between {least} and {most}"
    )


def _wanted(words: str) -> Callable[[str], str]:
    return lambda text: "" if text.strip() else words
