"""Takes of a reading and the value they combine to, with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

Answer: TypeAlias = float | str | tuple[str, ...]
"""A number in the catalogue's unit, a choice, or several choices or codes (sorted)."""

How: TypeAlias = Literal["measured", "estimated", "told", "assumed", "from-file"]


@dataclass(frozen=True, slots=True)
class Take:
    """One time of measuring a reading."""

    number: int
    """Unique in the job; a correction names it."""
    reading: str
    answer: Answer
    typed: str
    """What the person typed, made inert."""
    instrument: str | None
    at: float
    """Seconds since the epoch, of the clock that was handed in."""
    epoch: int = 0
    how: How = "measured"
    flagged: bool = False
    """Unlikely, and taken all the same."""


@dataclass(frozen=True, slots=True)
class Value:
    """What a judgement uses of a reading: the combined takes."""

    reading: str
    answer: Answer
    instrument: str | None = None
    shared: float = 0.0
    """Standard uncertainty from the instrument's accuracy; one error common to all readings of that
    instrument in that unit."""
    own: float = 0.0
    """Standard uncertainty of this reading alone: resolution and scatter."""
    takes: tuple[int, ...] = ()
    not_looked: bool = False
    """The answer means that nobody looked: known, yet no evidence."""

    @property
    def number(self) -> float:
        """The numeric answer; only for readings of kind ``num``."""
        if not isinstance(self.answer, float):
            raise TypeError(f"{self.reading} is not a number")
        return self.answer

    @property
    def uncertainty(self) -> float:
        """Combined standard uncertainty, in the reading's unit."""
        return math.hypot(self.shared, self.own)
