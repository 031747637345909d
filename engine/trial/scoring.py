"""How right the trees were about one car."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import Any

from engine.catalogue import Catalogue
from engine.trial.cars import NO_FAULT, Hidden

FIRST_SUSPECTS = 3
"""An open end is honest when the hidden fault is among this many first suspects."""


class Score(StrEnum):
    """What became of one car, from the best to the worst."""

    RIGHT = "right"
    HEALTHY = "healthy, called healthy"
    NEAR = "right side or system"
    OPEN_IN_FIRST = "open, fault among the first three"
    HEALTHY_OPEN = "healthy, left open"
    REFERRED = "referred"
    OPEN = "open, fault not among the first three"
    NOT_FOUND = "nothing found, although faulty"
    WRONG = "wrong, but only probable"
    CONDEMNED = "healthy, and a part condemned"
    WRONG_PROVEN = "wrong and proven"


def score(catalogue: Catalogue, hidden: Sequence[Hidden], outcome: Mapping[str, Any]) -> Score:
    """Return how right an outcome is.

    Args:
        catalogue: gives the system of a fault.
        hidden: what is wrong with the car; with two faults, naming either is right.
        outcome: of ``walk_headless``.
    """
    found = outcome["conclusion"]
    if found is None:
        return _open(hidden, outcome)
    names = found["faults"]
    if not names or names[0] == NO_FAULT or found["strength"] == "not-found-here":
        return Score.NOT_FOUND if hidden else Score.HEALTHY
    if any(one.fault == names[0] and _fits(one, found) for one in hidden):
        return Score.RIGHT
    if found["strength"] == "proven":
        return Score.WRONG_PROVEN
    if not hidden:
        return Score.CONDEMNED
    return Score.NEAR if any(_near(catalogue, one, found) for one in hidden) else Score.WRONG


def _open(hidden: Sequence[Hidden], outcome: Mapping[str, Any]) -> Score:
    if not hidden:
        return Score.HEALTHY_OPEN
    first = [s["fault"] for s in outcome["suspects"] if s["fault"] is not None][:FIRST_SUSPECTS]
    if any(one.fault in first for one in hidden):
        return Score.OPEN_IN_FIRST
    return Score.REFERRED if (outcome.get("open_end") or {}).get("tree") else Score.OPEN


def _fits(one: Hidden, found: Mapping[str, Any]) -> bool:
    """Tell whether side and direction are right; what the car does not tell cannot be wrong."""
    if one.side is not None and found["side"] != one.side:
        return False
    said = found.get("direction")
    return one.direction is None or said is None or _plain(said) == _plain(one.direction)


def _plain(direction: str) -> str:
    return direction.removeprefix("reads_").removeprefix("reads-")


def _near(catalogue: Catalogue, one: Hidden, found: Mapping[str, Any]) -> bool:
    """Tell whether another of the faults named, its side, or its system is right."""
    if one.fault in found["faults"]:
        return True
    known = catalogue.faults.faults
    same_system = known[one.fault].system == known[found["faults"][0]].system
    meets = one.side is None or found["side"] is None or one.side[:2] == found["side"][:2]
    return same_system and meets
