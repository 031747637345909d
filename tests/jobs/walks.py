"""Walks the readings files of this folder without a screen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from engine.answers_file import read_answers
from engine.headless import walk_headless
from engine.library import Library, load_library
from engine.walking import Walk

CARS = Path(__file__).parent / "cars"


@dataclass(frozen=True, slots=True)
class Walked:
    """A walk to its end: what was recorded, and its outcome."""

    walk: Walk
    outcome: Mapping[str, Any]

    @property
    def fault(self) -> str | None:
        """Main fault of the conclusion, None when there is none."""
        done = self.outcome["conclusion"]
        return done["faults"][0] if done is not None and done["faults"] else None

    @property
    def side(self) -> str | None:
        """Side of the conclusion."""
        done = self.outcome["conclusion"]
        return done["side"] if done is not None else None

    @property
    def strength(self) -> str:
        """Strength of the conclusion, or ``open``."""
        done = self.outcome["conclusion"]
        return str(done["strength"]) if done is not None else "open"

    @property
    def leading(self) -> tuple[str | None, ...]:
        """The first three suspects, heaviest first."""
        return tuple(suspect["fault"] for suspect in self.outcome["suspects"][:3])

    @property
    def steps(self) -> tuple[str, ...]:
        """The steps in the order they were judged."""
        return tuple(entry["step"] for entry in self.outcome["path"])

    @property
    def asked(self) -> frozenset[str]:
        """Every reading the walk asked for."""
        return frozenset(
            name for event in self.walk.events if event["kind"] == "asked" for name in event["readings"]
        )


@cache
def library() -> Library:
    """Return the shipped trees and catalogues."""
    return load_library()


@cache
def walked(car: str, tree: str = "triage", more: tuple[str, ...] = (), less: tuple[str, ...] = ()) -> Walked:
    """Walk a tree with the readings of one car; *more* is what ``--car`` adds, *less* was not measured."""
    lines = (CARS / f"{car}.yaml").read_bytes().splitlines(keepends=True)
    source = b"".join(line for line in lines if line.split(b":")[0].decode() not in less)
    answers = read_answers(source, f"{car}.yaml", library().catalogue, more)
    assert answers.problems == (), [str(problem) for problem in answers.problems]
    return Walked(*walk_headless(library(), tree, answers, side=answers.side))
