"""Demonstration cars: invented call-outs whose answers are at hand, to try the program without a car."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files as resources
from typing import Any

from engine.catalogue import Reading
from engine.errors import DefinitionError, LaybyError
from engine.yaml_text import Document, read_yaml

FOLDER = "demo"
_IN_ORDER = ("ok", "none", "no", "good", "clean", "dry", "firm", "free", "petrol", "unknown", "not_done")
"""Answers that say that nothing is wrong, the plainest first."""


@dataclass(frozen=True, slots=True)
class Demo:
    """One invented car with its call-out."""

    name: str
    """Its id, which is its file's name."""
    car: str
    """Unique; the job's card keeps it, so that the car is found again."""
    complaint: str
    answers: Mapping[str, str]
    """Reading -> what a person would type."""
    after_repair: Mapping[str, str]
    """The same once the fault is repaired; what is absent stays as it was."""

    def typed(self, reading: Reading, *, after_repair: bool = False) -> str:
        """Return what the car shows for a reading, as a person would type it; empty when it holds nothing.

        What its file does not say is as it usually is on a car in order.
        """
        if after_repair and reading.id in self.after_repair:
            return self.after_repair[reading.id]
        return self.answers.get(reading.id) or usual(reading)


def usual(reading: Reading) -> str:
    """Return the usual answer of a car in order; empty for maker's figures, which are not to hand."""
    if reading.kind == "codes":
        return "none"
    if reading.kind == "num":
        low, high = reading.usual
        if low is None or high is None or reading.id.startswith("spec_"):
            return ""
        return f"{(low + high) / 2:.3g}"
    values = [choice.value for choice in reading.choices]
    likely = (str(reading.assumed), *reading.usual_choices, *_IN_ORDER)
    return next((value for value in likely if value in values), "")


@cache
def demos() -> tuple[Demo, ...]:
    """Return the shipped demonstration cars, in the order of their files.

    Raises:
        DefinitionError: a file cannot be used.
        LaybyError: none is there.
    """
    folder = resources("trees").joinpath(FOLDER)
    entries = sorted(folder.iterdir(), key=lambda entry: entry.name) if folder.is_dir() else []
    found = tuple(
        _demo(read_yaml(entry.read_bytes(), f"trees/{FOLDER}/{entry.name}"))
        for entry in entries
        if entry.name.endswith(".yaml")
    )
    if not found:
        raise LaybyError("no demonstration car is here: trees/demo holds none")
    return found


def demo_of(car: str) -> Demo | None:
    """Return the demonstration car that a job's card names, if it is still shipped."""
    return next((demo for demo in demos() if demo.car == car), None)


def _demo(document: Document) -> Demo:
    data: Any = document.data
    wanted = {"format", "demo", "car", "complaint", "readings", "after_repair"}
    problems = list(document.problems)
    if not isinstance(data, dict) or set(data) != wanted:
        problems.append(
            document.problem((), f"a demonstration car holds exactly {', '.join(sorted(wanted))}")
        )
        raise DefinitionError(problems)
    if problems:
        raise DefinitionError(problems)
    return Demo(
        name=str(data["demo"]),
        car=str(data["car"]),
        complaint=str(data["complaint"]),
        answers=_typed(data["readings"]),
        after_repair=_typed(data["after_repair"]),
    )


def _typed(readings: Mapping[str, Any]) -> dict[str, str]:
    """Return answers as a person would type them; an empty list is "none"."""
    typed = {}
    for name, value in readings.items():
        if isinstance(value, list):
            typed[name] = ", ".join(str(entry) for entry in value) or "none"
        else:
            typed[name] = f"{value:g}" if isinstance(value, float) else str(value)
    return typed
