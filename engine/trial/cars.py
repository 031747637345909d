"""Where the cars of a trial come from: drawn practice cars, or a file of cars made apart from the model."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from engine.answers_file import FileAnswer, read_answers
from engine.car.drawing import draw_car
from engine.car.observing import Observer
from engine.catalogue import Catalogue
from engine.errors import LaybyError, shown
from engine.inert import inert
from engine.measured import Answer

NO_FAULT = "no_fault_found"


class Taker(Protocol):
    """One car, seen through its instruments."""

    def take(self, reading: str, number: int = 0) -> Answer | None:
        """Return what the reading shows, in the catalogue's unit; None when it cannot be measured."""

    def repaired(self, faults: Iterable[str]) -> Taker:
        """Return the car after these faults have been put right."""


@dataclass(frozen=True, slots=True)
class Hidden:
    """A fault the car has."""

    fault: str
    side: str | None = None
    direction: str | None = None
    severity: float | None = None
    """0.25 barely noticeable to 1 gross; None when nobody said."""


@dataclass(frozen=True, slots=True)
class TrialCar:
    """A car of the trial: what is wrong with it, what is known of it, and how it is read."""

    name: str
    hidden: tuple[Hidden, ...]
    """Empty for a healthy car."""
    facts: Mapping[str, Answer]
    """What the papers and the van say (``veh_``, ``kit_``, ``spec_``)."""
    taker: Taker


class CarSource(Protocol):
    """Gives the cars of a trial by number; the same number is the same car in any process."""

    def car(self, catalogue: Catalogue, number: int) -> TrialCar:
        """Return car *number*, counted from 0."""


# -------------------------------------------------------------------------------------- drawn cars


@dataclass(frozen=True, slots=True)
class DrawnCars:
    """Practice cars drawn by the weights of the faults."""

    seed: int
    faults: tuple[str, ...] | None = None
    """Only these; None for all."""
    many: int = 1
    kit: tuple[str, ...] | None = None

    def car(self, catalogue: Catalogue, number: int) -> TrialCar:
        """Return car *number* of this seed."""
        drawn = draw_car(catalogue, self.seed, number, faults=self.faults, many=self.many, kit=self.kit)
        hidden = tuple(
            Hidden(f.fault, f.side, f.direction, f.severity) for f in drawn.faults if f.fault != NO_FAULT
        )
        return TrialCar(f"{self.seed}/{number}", hidden, dict(drawn.facts), Observer(catalogue, drawn))


# -------------------------------------------------------------------------------------- cars of a file


@dataclass(frozen=True, slots=True)
class FileCar:
    """A car whose readings are written down; what is not there cannot be measured."""

    readings: Mapping[str, tuple[FileAnswer, ...]]
    after_repair: Mapping[str, tuple[FileAnswer, ...]]
    faults: frozenset[str]

    def take(self, reading: str, number: int = 0) -> Answer | None:
        """Return the take of that number, or the last there is."""
        takes = self.readings.get(reading, ())
        return takes[min(number, len(takes) - 1)].answer if takes else None

    def repaired(self, faults: Iterable[str]) -> FileCar:
        """Return the car after the repair as it was written down; a wrong repair changes nothing."""
        return FileCar(self.after_repair, {}, frozenset()) if self.faults <= set(faults) else self


@dataclass(frozen=True, slots=True)
class CarsOfFile:
    """Cars of a file, one JSON object a line: fault, side, direction, readings, after_repair, name."""

    file: str
    lines: tuple[str, ...]

    def car(self, catalogue: Catalogue, number: int) -> TrialCar:
        """Return the car of line *number*, counted from 0 over the lines that are not empty.

        Raises:
            LaybyError: the line is no car; says what to write instead.
        """
        where = f"{inert(self.file)}: car {number + 1}"
        data = _object(where, self.lines[number])
        entries = {**_map(where, data, "readings"), "after_repair": _map(where, data, "after_repair")}
        answers = read_answers(json.dumps(entries).encode(), where, catalogue)
        if answers.problems:
            raise LaybyError(f"{where}: {answers.problems[0].message}")
        hidden = _hidden(where, data, catalogue)
        faults = frozenset(one.fault for one in hidden)
        return TrialCar(
            inert(str(data.get("name", number + 1)), limit=80),
            hidden,
            {name: takes[-1].answer for name, takes in answers.answers.items() if name.startswith(FACTS)},
            FileCar(answers.answers, answers.after_repair, faults),
        )


FACTS = ("veh_", "kit_", "spec_")


def cars_of_file(path: Path) -> CarsOfFile:
    """Read a file of cars.

    Raises:
        LaybyError: the file cannot be read or holds no car.
    """
    try:
        text = path.read_text("utf-8")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise LaybyError(f"{inert(str(path))}: cannot be read: {reason}") from error
    lines = tuple(line for line in text.splitlines() if line.strip())
    if not lines:
        raise LaybyError(f"{inert(str(path))}: holds no car: write one JSON object a line")
    return CarsOfFile(str(path), lines)


def _object(where: str, line: str) -> dict[str, Any]:
    try:
        data = json.loads(line)
    except ValueError as error:
        raise LaybyError(f"{where}: {inert(str(error))}: write one JSON object a line") from error
    if not isinstance(data, dict):
        raise LaybyError(f"{where}: {shown(data)}: write a JSON object")
    return data


def _map(where: str, data: Mapping[str, Any], key: str) -> dict[str, Any]:
    found = data.get(key, {})
    if not isinstance(found, dict):
        raise LaybyError(f"{where}: {key}: {shown(found)}: write a map, reading id: value")
    return found


def _hidden(where: str, data: Mapping[str, Any], catalogue: Catalogue) -> tuple[Hidden, ...]:
    listed: Sequence[Any] = data["faults"] if isinstance(data.get("faults"), list) else [data]
    hidden = []
    for one in listed:
        fault = one.get("fault") if isinstance(one, dict) else one
        if fault is None or fault == NO_FAULT:
            continue
        if fault not in catalogue.faults.faults:
            raise LaybyError(f"{where}: no fault {shown(fault)}: `layby faults` lists them")
        more = one if isinstance(one, dict) else {}
        hidden.append(Hidden(fault, more.get("side"), more.get("direction"), more.get("severity")))
    return tuple(hidden)
