"""Jobs driven part of the way with the demonstration car's answers, by the engine alone."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from pathlib import Path

from engine.asking import Ask, Doubt, RepairOffer
from engine.demo import demos
from engine.entry import Question, Understood, understand
from engine.job import Job, JobCard
from engine.library import load_library

Clock = Callable[[], float]


def half_done(
    data: Path,
    until: str = "",
    *,
    answers: Mapping[str, str] | None = None,
    learner: bool = False,
    demo: bool = True,
    clock: Clock = time.time,
    car: str = "",
    complaint: str = "runs rich",
) -> Path:
    """Drive a job until the step of this title asks, or to its end, and close it.

    Args:
        data: the data folder.
        until: title of the step to stop at.
        answers: readings whose answers differ from the demonstration car's; an empty text means *cannot*.
        learner: a learner's job.
        demo: the car's answers are shown on the screen.
        clock: the job's clock.
        car: words for the car; the demonstration's own when empty.
        complaint: words of the customer.
    """
    car_shown = demos()[0]
    card = JobCard(car=car or car_shown.car, complaint=complaint, learner=learner, demo=demo)
    other = answers or {}
    with Job.begin(data / "jobs", load_library(), card, clock=clock) as job:
        for _ in range(80):
            stop = job.advance()
            match stop:
                case Ask(step=step) if step.title == until:
                    break
                case Ask() as ask:
                    for item in ask.must_undo:
                        job.walk.undo_left(item)
                    for line in ask.lines:
                        typed = other.get(line.reading.id, car_shown.typed(line.reading.id))
                        answer(job, line.reading.id, typed)
                case Doubt():
                    if until == "doubt":
                        break
                    job.walk.go_on()
                case RepairOffer():
                    if until == "repair":
                        break
                    job.walk.repair_done()
                case _:
                    break
        return job.journal.path


def answer(job: Job, name: str, typed: str) -> None:
    """Take one reading as it is typed; an empty text means that it cannot be measured."""
    reading = job.walk.library.catalogue.readings[name]
    if not typed:
        job.walk.cannot(name, "not at hand")
        return
    heard = understand(typed, reading)
    if isinstance(heard, Question):
        heard = heard.candidates[0]
    assert isinstance(heard, Understood), f"{name}: {heard}"
    job.walk.take(name, heard.answer, typed=typed, flagged=heard.flagged)
