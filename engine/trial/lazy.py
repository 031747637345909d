"""One car walked through the trees, measured only where the walk asks, and repaired where that decides."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from engine.answers_file import Answers, FileAnswer
from engine.asking import Ask
from engine.headless import walk_headless
from engine.library import Library
from engine.trial.cars import TrialCar
from engine.trial.scoring import Score, score
from engine.walking import Walk

NOTHING: Mapping[str, tuple[FileAnswer, ...]] = {}


class AskedOfCar(Mapping[str, tuple[FileAnswer, ...]]):
    """Readings of a car that are taken when they are asked for; listed are the facts and what was taken."""

    def __init__(self, car: TrialCar) -> None:
        self.car = car
        self.taken: dict[str, FileAnswer | None] = {
            name: FileAnswer(answer, str(answer)) for name, answer in car.facts.items()
        }

    def _take(self, name: str) -> FileAnswer | None:
        if name not in self.taken:
            answer = self.car.taker.take(name)
            self.taken[name] = None if answer is None else FileAnswer(answer, str(answer))
        return self.taken[name]

    def __contains__(self, name: object) -> bool:
        return isinstance(name, str) and self._take(name) is not None

    def __getitem__(self, name: str) -> tuple[FileAnswer, ...]:
        found = self._take(name)
        if found is None:
            raise KeyError(name)
        return (found,)

    def __iter__(self) -> Iterator[str]:
        return iter([name for name, answer in self.taken.items() if answer is not None])

    def __len__(self) -> int:
        return sum(answer is not None for answer in self.taken.values())


@dataclass(frozen=True, slots=True)
class PathStep:
    """One judged step of a walk."""

    tree: str
    step: str
    verdict: str


@dataclass(frozen=True, slots=True)
class CarResult:
    """What the trees made of one car; plain data that passes between processes."""

    number: int
    name: str
    hidden: tuple[tuple[str, str | None], ...]
    score: Score
    conclusion: tuple[str, ...]
    """Faults named, the main one first; empty for an open end or nothing found."""
    side: str | None
    strength: str | None
    ended: str
    """Main fault, or how it ended otherwise; a column of the confusion table."""
    suspects: tuple[tuple[str | None, str | None, float], ...]
    """The first three: fault, side, share."""
    path: tuple[PathStep, ...]
    minutes: float
    proof: str | None
    """What the readings showed after the repair, where a repair was made."""
    decided_by_repair: bool
    readings: int
    milliseconds: float
    """Processor time of drawing, measuring and walking."""


def walk_car(library: Library, tree: str, car: TrialCar, number: int, started: float) -> CarResult:
    """Walk one car to its end and score it.

    Args:
        library: trees and catalogues.
        tree: where to begin.
        car: with its hidden fault.
        number: of the car, for the result.
        started: processor time when the car began to be drawn, s.
    """
    asked = AskedOfCar(car)
    walk, outcome = walk_headless(library, tree, Answers(asked, NOTHING, (), ()))
    found = outcome["conclusion"]
    faults = tuple(found["faults"]) if found else ()
    main = library.catalogue.faults.faults.get(faults[0]) if faults else None
    by_repair = main is not None and main.decided_by_repair
    proof = _repaired(walk, car, faults) if by_repair else None
    return CarResult(
        number=number,
        name=car.name,
        hidden=tuple((one.fault, one.side) for one in car.hidden),
        score=score(library.catalogue, car.hidden, outcome),
        conclusion=faults,
        side=found["side"] if found else None,
        strength=found["strength"] if found else None,
        ended=_ended(outcome),
        suspects=tuple((s["fault"], s["side"], s["p"]) for s in outcome["suspects"][:3]),
        path=tuple(PathStep(e["tree"], e["step"], e["verdict"]) for e in outcome["path"]),
        minutes=outcome["minutes"],
        proof=proof,
        decided_by_repair=by_repair,
        readings=len(asked),
        milliseconds=1000.0 * (time.process_time() - started),
    )


def _ended(outcome: Mapping[str, Any]) -> str:
    found = outcome["conclusion"]
    if found is None:
        referred = (outcome.get("open_end") or {}).get("tree")
        return f"referred to {referred}" if referred else "open end"
    return str(found["faults"][0]) if found["faults"] else "nothing found here"


def _repaired(walk: Walk, car: TrialCar, faults: tuple[str, ...]) -> str:
    """Repair what was concluded, measure its proof on the car as it is then, and return what that shows."""
    after = car.taker.repaired(faults)
    walk.repaired("in the trial")
    while isinstance(ask := walk.advance(), Ask) and ask.proof:
        for item in ask.must_undo:
            walk.undo_left(item)
        for line in ask.lines:
            answer = after.take(line.reading.id, 1)
            if answer is None:
                walk.cannot(line.reading.id, "not measured after the repair")
            else:
                walk.take(line.reading.id, answer)
    return str(walk.state.proof["result"]) if walk.state.proof is not None else "unproven"
