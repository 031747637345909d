"""Walks one car with everything on the van, and again with a meter and a code reader only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Literal

from engine.answers_file import Answers, read_answers
from engine.headless import walk_headless
from tests.jobs.walks import Walked, library

Kit = Literal["full", "meter-and-reader"]
JOBS = Path(__file__).parents[1]
METER_AND_READER = frozenset({"CR", "MM", "EY", "DOC"})
ON_THE_VAN = ("kit_tools=[CR, MM]",)
NOTHING = "no_fault_found"
"""Main fault of a car with nothing wrong; at an open end no suspect need lead."""


@dataclass(frozen=True, slots=True)
class Must:
    """What a car must come to: its fault and side, and the strength with each kit.

    ``open`` is an honest open end with the fault among the first three suspects.
    """

    fault: str
    side: str | None
    full: str
    meter_and_reader: str

    def strength(self, kit: Kit) -> str:
        """Return the strength with this kit."""
        return self.full if kit == "full" else self.meter_and_reader


@cache
def walked(folder: str, tree: str, car: str, kit: Kit) -> Walked:
    """Walk a tree with one car's readings, as far as the kit can take them."""
    source = (JOBS / folder / "cars" / f"{car}.yaml").read_bytes()
    more = () if kit == "full" else ON_THE_VAN
    answers = read_answers(source, f"{car}.yaml", library().catalogue, more)
    assert answers.problems == (), [str(problem) for problem in answers.problems]
    if kit != "full":
        answers = _with_meter_and_reader(answers)
    return Walked(*walk_headless(library(), tree, answers))


def _with_meter_and_reader(answers: Answers) -> Answers:
    """Leave out what takes another instrument, and the maker's figures."""
    readings = library().catalogue.readings
    kept = {
        name: takes
        for name, takes in answers.answers.items()
        if not name.startswith("spec_")
        and (not readings[name].tools or METER_AND_READER & set(readings[name].tools))
    }
    return replace(answers, answers=kept)


def files(folder: str) -> frozenset[str]:
    """Return the names of all cars of a folder."""
    return frozenset(path.stem for path in (JOBS / folder / "cars").glob("*.yaml"))


def assert_meets(done: Walked, must: Must, kit: Kit) -> None:
    """Fail unless a walk came to what it must."""
    strength = must.strength(kit)
    assert done.strength == strength, (done.strength, done.fault, done.leading)
    if strength == "open":
        assert must.fault in (*done.leading, NOTHING)
        assert len(done.outcome["open_end"]["say"]) > 40
        return
    assert (done.fault, done.side) == (must.fault, must.side)
    if strength == "probable":
        assert done.outcome["conclusion"]["missing"]


def table(rows: Mapping[str, tuple[str, str | None, str, str]]) -> dict[str, Must]:
    """Return the table of what every car must come to."""
    return {car: Must(*row) for car, row in rows.items()}
