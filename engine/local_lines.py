"""The lines of a shop's own files as people read them: what changes, for which cars, who, when, why.

The later line wins: of two lines about the same thing the one read last holds for every car it is for.
Files are read in the order of their names.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from engine.catalogue import Source
from engine.parts import Part
from engine.tree import Condition, Note, Origin
from engine.yaml_text import Data

UNSIGNED = "unagreed"
"""Word for a line nobody has put a name to."""
DIGEST_LENGTH = 8
"""Hexadecimal digits that tell one wording of a step from another."""
_DAYS_OF_WEEKS, _DAYS_OF_MONTHS, _DAYS_OF_YEARS = 14, 60, 730


class LineKind(StrEnum):
    """What a line of a shop's file does."""

    LIMIT = "limit"
    MAKER = "maker's figure"
    WEIGHT = "weight"
    NOTE = "note"
    CAUTION = "caution"
    MOVE = "moved step"
    STEP = "added step"
    CONCLUSION = "added conclusion"
    ADDED = "added"


_FIGURES = (LineKind.LIMIT, LineKind.MAKER)


@dataclass(frozen=True, slots=True)
class LocalLine:
    """One line of a shop's file."""

    kind: LineKind
    subject: str
    """What it is about: a limit, a maker's figure, a fault, a step or ``step/rule``."""
    change: str
    """What it changes: ``10.0 % -> 14.0 %``."""
    names: tuple[str, ...]
    """The limits whose figure it sets; the subject for all others."""
    cars: Condition | None
    """The cars it holds for; None for every car."""
    cars_words: str
    by: str | None
    on: str | None
    reason: str | None
    until: str | None
    """The last day it holds."""
    origin: Origin
    at: str | None = None
    """Step or ``step/rule`` of a weight that changes there."""
    times: float = 1.0
    """Factor of a weight."""
    ended: bool = False
    """Its last day has passed: it is not used."""
    overruled_by: Origin | None = None
    """The later line that stands in its place for every car it was for."""

    @property
    def in_force(self) -> bool:
        """Tell whether any car can feel it."""
        return not self.ended and self.overruled_by is None

    @property
    def place(self) -> str:
        """File and line."""
        return f"{self.origin.file}:{self.origin.line}"

    @property
    def signed(self) -> str:
        """Who and when: ``A. Lead, 2026-05-31``, or ``unagreed``."""
        return ", ".join(word for word in (self.by or UNSIGNED, self.on) if word)

    @property
    def source(self) -> Source:
        """Where a figure of this line comes from, as verdicts show it."""
        said = f"{self.signed}: {self.reason}" if self.reason else self.signed
        return Source("shop", f"maker's figure, {said}" if self.kind is LineKind.MAKER else said)


@dataclass(slots=True)
class Lines:
    """The shop's lines in the order they are laid over, the winner of each known."""

    found: list[LocalLine] = field(default_factory=list)

    def add(self, line: LocalLine) -> None:
        """Keep a line; what it stands in place of is marked so."""
        if not line.ended:
            for index, earlier in enumerate(self.found):
                if earlier.in_force and _overrules(line, earlier):
                    self.found[index] = replace(earlier, overruled_by=line.origin)
        self.found.append(line)


def _overrules(later: LocalLine, earlier: LocalLine) -> bool:
    """Tell whether the later line stands in for the earlier one, whatever the car."""
    if later.cars is not None and later.cars != earlier.cars:
        return False
    if later.kind in _FIGURES and earlier.kind in _FIGURES:
        return set(earlier.names) <= set(later.names)
    if later.kind is not LineKind.WEIGHT or earlier.kind is not later.kind:
        return False
    if later.subject != earlier.subject or (later.at is None) != (earlier.at is None):
        return False
    return later.at is None or earlier.at == later.at or str(earlier.at).startswith(f"{later.at}/")


def age_words(on: str | None, today: date) -> str:
    """Return how old a line of the day *on* is, in words."""
    try:
        days = (today - date.fromisoformat(on or "")).days
    except ValueError:
        return "age not known"
    if days < 0:
        return "dated in the future"
    if days < 2:
        return ("today", "yesterday")[days]
    if days < _DAYS_OF_WEEKS:
        return f"{days} days old"
    if days < _DAYS_OF_MONTHS:
        return f"{days // 7} weeks old"
    if days < _DAYS_OF_YEARS:
        return f"{round(days / 30.44)} months old"
    return f"{days // 365} years old"


def note_words(note: Note, today: date) -> str:
    """Return where a note comes from and how old it is: ``this shop, A. Lead, 3 weeks old``."""
    return f"this shop, {note.by or UNSIGNED}, {age_words(note.on, today)}"


def cars_words(part: Part) -> str:
    """Return the cars a line is for in words, empty for every car: ``veh_fuel is lpg``."""
    cars = part.get("cars").data
    return " and ".join(_test_words(cars)) if isinstance(cars, dict) else ""


def _test_words(cars: dict[str, Data]) -> Iterator[str]:
    for fact, test in cars.items():
        yield f"{fact} {' '.join(map(str, _flat(test)))}"


def _flat(test: Data) -> Iterator[object]:
    if isinstance(test, dict):
        for key, value in test.items():
            yield str(key).replace("_", " ")
            yield from _flat(value)
    elif isinstance(test, list):
        yield " or ".join(" ".join(_test_words(one)) if isinstance(one, dict) else str(one) for one in test)
    else:
        yield test


def step_digest(step: Data) -> str:
    """Return a short digest of what a step says, whatever its layout and comments."""
    plain = json.dumps(step, sort_keys=True, ensure_ascii=True)
    return hashlib.sha256(plain.encode()).hexdigest()[:DIGEST_LENGTH]
