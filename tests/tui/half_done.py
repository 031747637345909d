"""Jobs driven part of the way with the demonstration car's answers, by the engine alone."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

from engine.asking import Ask, Doubt, RepairOffer
from engine.demo import demos
from engine.entry import Question, Understood, understand
from engine.job import Job, JobCard
from engine.library import Library, load_library, shipped_files

Clock = Callable[[], float]
SMALL = """\
format: 1
tree: small
kind: symptom
title: A small tree, to see the screen with
complaints: [anything]
start: clamp
steps:
  clamp:
    title: Clamp the hose [/x]
    do: Clamp it, and leave the clamp on. [@click=app.quit]link[/]
    why: "It costs a minute [K12]."
    how: "With a [b]soft clamp[/b]."
    wait: 2 s
    cautions: [C-PINCH]
    leaves: [purge-hose-clamped]
    readings: [pinch_purge_dtrim]
    judge:
      - id: moved
        when: {pinch_purge_dtrim: {at_least: pinch_rich}}
        verdict: It moves [/b]
        grade: fail
        weigh: {purge_stuck_open: 50}
        finding: [purge-pinch-moved]
        exit: road
      - otherwise: true
        verdict: It does not move
        grade: inconclusive
        exit: road
    cannot:
      say: Not clamped.
      exit: road
  road:
    title: On the road
    do: Drive alone, type nothing in motion.
    why: The road shows what the yard does not.
    readings: [complaint_seen]
    judge:
      - id: seen
        when: {complaint_seen: {one_of: [yes, partly]}}
        verdict: Seen on the road
        grade: ok
        finding: [complaint-carried]
        exit: {conclude: valve}
      - otherwise: true
        verdict: Not seen
        grade: inconclusive
        exit: {conclude: valve}
    cannot:
      say: Not driven.
      exit: {conclude: valve}
conclusions:
  valve:
    faults: [purge_stuck_open]
    strength: probable
    because: It moved.
"""
"""A tree that leaves something clamped before a road step, with brackets in every text."""


@cache
def with_small_tree() -> Library:
    """Return the shipped library with the small tree beside the others."""
    return load_library(files={**shipped_files(), "trees/symptoms/small.yaml": SMALL.encode()})


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
    tree: str = "triage",
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
        tree: where to begin; ``small`` is the tree of this module.
    """
    car_shown = demos()[0]
    card = JobCard(car=car or car_shown.car, complaint=complaint, learner=learner, demo=demo)
    other = answers or {}
    with Job.begin(data / "jobs", with_small_tree(), card, clock=clock, tree=tree) as job:
        for _ in range(80):
            stop = job.advance()
            match stop:
                case Ask(step=step) if step.title == until:
                    break
                case Ask() as ask:
                    for item in ask.must_undo:
                        job.walk.undo_left(item)
                    for line in ask.lines:
                        typed = other.get(line.reading.id, car_shown.typed(line.reading))
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
