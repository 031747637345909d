"""A trial over all cores: cars in chunks, results in the order of the cars for any number of processes."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from multiprocessing import get_context

from engine.library import Library, load_library
from engine.trial.cars import CarSource
from engine.trial.lazy import CarResult, walk_car

CHUNK = 20
"""Cars handed to a process at a time."""

Files = Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class Plan:
    """What is tried; plain data, so that a process that starts from nothing can be handed it."""

    source: CarSource
    cars: int
    tree: str
    versions: tuple[Files | None, ...] = (None,)
    """Definition files of every version of the trees, None for what ships; the first draws the cars."""


@dataclass(frozen=True, slots=True)
class Trial:
    """The results, one tuple of cars a version."""

    results: tuple[tuple[CarResult, ...], ...]
    seconds: float = field(compare=False)
    """Of the whole run, by the clock."""


_work: tuple[Plan, tuple[Library, ...]] | None = None
"""What this process works on; set once when it starts."""


def run_trial(plan: Plan, jobs: int | None = None, report: Callable[[int, int], None] | None = None) -> Trial:
    """Walk every car of a plan.

    Args:
        plan: the cars and the trees.
        jobs: processes; None for one a core.
        report: called with the number of cars done and of all.
    """
    begun = time.perf_counter()
    chunks = [range(first, min(first + CHUNK, plan.cars)) for first in range(0, plan.cars, CHUNK)]
    wanted = min(jobs or os.cpu_count() or 1, max(len(chunks), 1))
    rows: list[tuple[CarResult, ...]] = []
    if wanted == 1:
        _begin(plan)
        for chunk in chunks:
            rows += _walk_chunk(chunk)
            _tell(report, len(rows), plan.cars)
    else:
        with get_context("spawn").Pool(wanted, _begin, (_sendable(plan),)) as pool:
            for done in pool.imap(_walk_chunk, chunks):
                rows += done
                _tell(report, len(rows), plan.cars)
    results = tuple(tuple(row[at] for row in rows) for at in range(len(plan.versions)))
    return Trial(results, time.perf_counter() - begun)


def _tell(report: Callable[[int, int], None] | None, done: int, of: int) -> None:
    if report is not None:
        report(done, of)


def _sendable(plan: Plan) -> Plan:
    """Return the plan with its files as plain dictionaries, which pass between processes."""
    versions = tuple(None if files is None else dict(files) for files in plan.versions)
    return Plan(plan.source, plan.cars, plan.tree, versions)


def _begin(plan: Plan) -> None:
    global _work
    _work = (plan, tuple(load_library(files=files) for files in plan.versions))


def _walk_chunk(numbers: Sequence[int]) -> list[tuple[CarResult, ...]]:
    assert _work is not None, "a process works on nothing before it was told its plan"
    plan, libraries = _work
    rows = []
    for number in numbers:
        started = time.process_time()
        car = plan.source.car(libraries[0].catalogue, number)
        row = []
        for library in libraries:
            row.append(walk_car(library, plan.tree, car, number, started))
            started = time.process_time()
        rows.append(tuple(row))
    return rows
