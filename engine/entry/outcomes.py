"""What comes of something typed: understood, asked about, or refused."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from engine.measured import Answer


@dataclass(frozen=True, slots=True)
class Understood:
    """An answer as it will count."""

    answer: Answer
    """A number in the catalogue's unit, a choice, or several choices or codes (sorted)."""
    unit: str
    """The catalogue's unit, in which a number counts; empty for choices and codes."""
    echo: str
    """The answer for people: ``250 kPa (2.5 bar)``, the label of a choice."""
    flagged: bool = False
    """Unlikely; taken all the same when the person says so."""


@dataclass(frozen=True, slots=True)
class Question:
    """Something that must be asked before it counts; picking a candidate answers it."""

    text: str
    candidates: tuple[Understood, ...]
    """The plainest way to read what was typed first."""
    about: Literal["meaning", "likelihood"] = "meaning"
    """Whether it can be read in several ways, or is plain and unlikely."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Something that cannot count; the line says why and what to write instead."""

    text: str


Outcome: TypeAlias = Understood | Question | Refusal
