"""Jobs over the small trees, for tests of the file, the report and rejudging."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from engine.asking import Ask, Ended
from engine.job import Job, JobCard
from engine.measured import Answer
from engine.walking import Stop
from tests.engine.small_trees import small_library

CARD = JobCard(car="grey hatchback 1.6", complaint="smokes black", place="lay-by, km 12", who="Sam")

TO_PURGE: tuple[tuple[str, Answer], ...] = (
    ("scene_safe", "safe"),
    ("dtc_stored", ("P0172",)),
    ("complaint_seen", "yes"),
    ("stft_b1_idle", -8.6),
    ("ltft_b1_idle", -9.4),
    ("visual_intake", ("ok",)),
    ("pinch_purge_dtrim", 14.8),
    ("purge_flow_at_0", "flow"),
)
"""Answers in the order the small tree asks for them, to its conclusion."""


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = 1_764_000_000.0

    def __call__(self) -> float:
        return self.now


def begin(folder: Path, *, card: JobCard = CARD, clock: Clock | None = None) -> Job:
    job = Job.begin(folder, small_library(), card, clock=clock or Clock(), tree="small-rich")
    job.walk.take("veh_banks", 1.0)
    return job


def answer(job: Job, answers: Sequence[tuple[str, Answer]]) -> Stop:
    """Answer what is asked, in order; what is not asked any more is left out."""
    stop = job.advance()
    for name, given in answers:
        if isinstance(stop, Ask) and name in {line.reading.id for line in stop.lines}:
            job.walk.take(name, given, typed=str(given))
            stop = job.advance()
    return stop


def concluded(folder: Path, **more) -> Job:
    job = begin(folder, **more)
    assert isinstance(answer(job, TO_PURGE), Ended)
    assert job.walk.state.concluded is not None
    return job
