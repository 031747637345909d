"""One open job as the screens see it: commands that go to disk first, and words for what it holds.

Nothing here draws; the screens decide nothing that is not decided here or in the engine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from engine.catalogue import Catalogue, Reading
from engine.demo import Demo
from engine.folding import binding_of
from engine.job import Job
from engine.judging import Judgement, judge
from engine.measured import Answer, Take
from engine.report import gather
from engine.suspects import Suspect
from engine.tree import Step
from engine.walk_state import Event
from engine.walking import Changed, Stop, Walk
from engine.wording import answer_words, side_words
from tui.hearing import Heard, hear, hear_choice
from tui.settings import Settings

PAUSE = 30 * 60.0
"""Seconds away from a job after which safety looks are offered anew."""


@dataclass(frozen=True, slots=True)
class Turn:
    """What came of going on: the steps judged on the way, and what the walk waits for now."""

    stop: Stop
    judged: tuple[Event, ...] = ()


class JobSession:
    """An open job with the settings of this van and, in a demonstration, the invented car's answers."""

    def __init__(self, job: Job, settings: Settings, *, demo: Demo | None = None) -> None:
        self.job = job
        self.settings = settings
        self.demo = demo
        self._ranked: tuple[int, tuple[Suspect, ...]] | None = None
        self._points: tuple[int, list[dict[str, Any]]] | None = None
        self._seen: set[int] = set()
        """Judged events whose verdict was shown."""

    # ------------------------------------------------------------- what it is

    @property
    def walk(self) -> Walk:
        """The job's walk."""
        return self.job.walk

    @property
    def catalogue(self) -> Catalogue:
        """The catalogues the job was begun with."""
        return self.walk.library.catalogue

    @property
    def is_learner(self) -> bool:
        """Tell whether a learner does this job."""
        return bool(self.job.card.get("learner", False))

    @property
    def name(self) -> str:
        """The car and the complaint in the person's own words."""
        words = [str(self.job.card.get(key, "")) for key in ("car", "complaint")]
        return " · ".join(word for word in words if word) or "unnamed car"

    @property
    def figures(self) -> str:
        """Minutes, entries, the learner's score, and whether all is on disk."""
        state = self.walk.state
        entries = len(state.takes)
        parts = [f"{state.minutes:.0f} min", f"{entries} {'entry' if entries == 1 else 'entries'}"]
        if self.is_learner and state.predictions:
            parts.insert(0, f"score {sum(state.predictions)} of {len(state.predictions)}")
        parts.append("read only" if self.job.read_only else "saved")
        return " · ".join(parts)

    # ------------------------------------------------------------- going on

    def advance(self) -> Turn:
        """Go on as far as what is known allows."""
        stop = self.job.advance()
        judged = tuple(event for event in self.walk.state.path if id(event) not in self._seen)
        self.mark_seen()
        return Turn(stop, judged)

    def mark_seen(self) -> None:
        """Take every verdict so far as shown."""
        self._seen = {id(event) for event in self.walk.state.path}

    def hear(self, reading: Reading, typed: str) -> Heard:
        """Return what typed text means for a reading, in the unit set on this van."""
        return hear(
            reading,
            typed,
            unit=self.settings.unit(reading.unit),
            tool=self.instrument(reading),
            facts=self.facts(),
        )

    def facts(self) -> dict[str, Answer]:
        """Return everything known, for bounds that depend on it."""
        return {name: value.answer for name, value in self.walk.state.values().items()}

    def hear_choice(self, reading: Reading, values: Sequence[str]) -> Heard:
        """Return what picked answers mean for a reading."""
        return hear_choice(reading, values)

    def take_facts(self, facts: Sequence[tuple[str, str]]) -> str:
        """Put what the card says of the car on disk; return a line about what was not usable."""
        problems = []
        for name, said in facts:
            reading = self.catalogue.readings.get(name)
            if reading is None:
                continue
            heard = self.hear(reading, said) if reading.kind == "num" else self.hear_choice(reading, (said,))
            if heard.candidates:
                heard = heard.decided(0)
            if heard.answer is None:
                problems.append(f"{reading.label}: {heard.refusal}")
                continue
            self.walk.take(name, heard.answer, typed=said, how="told", flagged=heard.flagged)
        if self.settings.tools and "kit_tools" in self.catalogue.readings:
            self.walk.take("kit_tools", tuple(sorted(self.settings.tools)), how="told")
        return "; ".join(problems)

    def instrument(self, reading: Reading) -> str | None:
        """Return the instrument a reading is taken with on this van."""
        on_van = [tool for tool in reading.tools if not self.settings.tools or tool in self.settings.tools]
        return next(iter(on_van or reading.tools), None)

    def take(self, reading: Reading, heard: Heard, typed: str) -> int:
        """Put one take on disk and return its number."""
        assert heard.answer is not None
        return self.walk.take(
            reading.id, heard.answer, typed=typed, instrument=self.instrument(reading), flagged=heard.flagged
        )

    def correct(self, take: Take, heard: Heard, typed: str, *, across_repair: bool = False) -> Changed:
        """Correct a take and walk again from where it was first used."""
        assert heard.answer is not None
        changed = self.walk.correct_and_advance(
            take.number, heard.answer, typed=typed, flagged=heard.flagged, across_repair=across_repair
        )
        self.job.advance()
        return changed

    # ------------------------------------------------------------- looking

    def words(self, quantity: str, value: Any) -> str:
        """Return a value as people read it."""
        answer: Answer = tuple(value) if isinstance(value, list | tuple) else value
        return answer_words(self.catalogue, quantity, float(answer) if isinstance(answer, int) else answer)

    def last_takes(self, most: int = 200) -> tuple[Take, ...]:
        """Return the takes that count, the latest first; car and van facts at the end."""
        facts = ("veh_", "kit_", "spec_")
        live = [t for t in self.walk.state.takes if t in self.walk.state.live_takes(t.reading)]
        live.sort(key=lambda take: (take.reading.startswith(facts), -take.number))
        return tuple(live[:most])

    def cannots_of(self, event: Event) -> list[tuple[int, str, str]]:
        """Return what could not be had at a judged step: number of the input, what, and why."""
        state = self.walk.state
        found = []
        for past in self.walk.events:
            if past["kind"] != "cannot" or (past["tree"], past["step"]) != (event["tree"], event["step"]):
                continue
            name = past["reading"]
            stands = name in state.cannot_readings if name else event["cannot"] is not None
            if stands:
                what = self.catalogue.label(name) if name else "the whole step"
                found.append((int(past["n"]), what, str(past["why"])))
        return found

    def step_of(self, event: Event) -> Step:
        """Return the step a judged event belongs to."""
        return self.walk.library.tree(event["tree"]).step(event["step"], binding_of(event))

    def try_value(self, event: Event, reading: str, answer: float) -> Judgement:
        """Return what the step of *event* would say with another value; the job is not touched."""
        situation = self.walk.state.situation()
        value = replace(situation.values[reading], answer=answer)
        return judge(self.step_of(event), situation.with_values({reading: value}), self.walk.confidence)

    def suspects(self) -> tuple[Suspect, ...]:
        """Return all suspects, the heaviest first; worked out once for each state of the job."""
        if self._ranked is None or self._ranked[0] != len(self.walk.events):
            self._ranked = (len(self.walk.events), self.walk.suspects())
        return self._ranked[1]

    def side(self, side: str | None) -> str:
        """Return a side in words."""
        return side_words(self.catalogue, side)

    def place(self, side: str | None) -> str:
        """Return a suspect's side in words; with one bank there is nothing to tell apart."""
        return "" if self.walk.state.situation().banks == 1 else self.side(side)

    def told(self, error: Exception) -> str:
        """Return an error's line with the job's file by its name alone; its folder is long and known."""
        path = self.job.journal.path
        return str(error).replace(str(path), path.name)

    def trim_points(self) -> list[dict[str, Any]]:
        """Return the total trims read so far with their air flow; worked out once a state of the job."""
        if self._points is None or self._points[0] != len(self.walk.events):
            points: list[dict[str, Any]] = self.gathered()["trim_points"]
            self._points = (len(self.walk.events), points)
        return self._points[1]

    def gathered(self) -> dict[str, Any]:
        """Return everything the report shows."""
        return gather(self.job.card, self.walk)

    def seconds_away(self, now: float) -> float:
        """Return how long ago the last thing was done, as the job itself tells it."""
        times = [float(event["at"]) for event in self.walk.events if isinstance(event.get("at"), int | float)]
        return now - max(times) if times and max(times) > 0.0 else 0.0

    def predict(self, step: Step, answer: str) -> bool:
        """Keep what a learner predicts of a step; return whether it is right."""
        assert step.predict is not None
        right = answer == step.predict.right
        self.walk.predict(answer, right=right)
        return right

    def has_predicted(self, step: Step) -> bool:
        """Tell whether the learner has said what they expect of this step."""
        return any(e["kind"] == "predicted" and e["step"] == step.id for e in self.walk.events)

    def prediction_for(self, event: Event) -> tuple[str, bool] | None:
        """Return what the learner said before this verdict, and whether it was right."""
        if event["kind"] != "judged":
            return None
        said = (
            past
            for past in reversed(self.walk.events)
            if past["kind"] == "predicted" and (past["tree"], past["step"]) == (event["tree"], event["step"])
        )
        found = next(said, None)
        return (found["answer"], found["right"]) if found is not None else None
