"""Takes of a reading and the value they combine to, with its uncertainty."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from engine.catalogue import Accuracy, Instrument, Reading

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


GUESS = 3.0
"""An estimated or told value counts with this many times the uncertainty of its instrument: nobody read a
scale, so the figure is a few of its steps wide. Choice of this program, no publication."""
GUESS_SHARE = 0.1
"""A guess is never held closer than ± this share of itself, rectangular; facts of the car excepted, which are
remembered right or wrong rather than roughly. Choice of this program, no publication."""

_GUESSED = ("estimated", "told")


def accuracy_of(instrument: Instrument, reading: Reading) -> Accuracy | None:
    """Return how well an instrument shows a reading: its first entry that fits by id or by unit, or None."""
    return instrument.accuracy_for(reading)


def combine(reading: Reading, takes: Sequence[Take], instruments: Mapping[str, Instrument]) -> Value:
    """Return the value that the takes of a reading combine to, as the catalogue says.

    Only takes like the last one count: of its epoch, by its instrument, measured or guessed as it was.
    Choices and codes: the last take.

    Args:
        reading: what was taken.
        takes: oldest first, at least one.
        instruments: by id; a take without an instrument counts as taken with the reading's first tool.

    Returns:
        the value with u² = accuracy² + resolution²/12 + scatter²/n. The limits ±a of the instrument count as
        rectangular, a/√3, and are never shrunk by averaging; n is the number of takes for a mean, else 1. The
        scatter is the instrument's own, or that of the takes where it is larger.

    Raises:
        ValueError: there are no takes.

    Source: JCGM 100:2008, 4.2.3, 4.3.7, F.2.2.1 and 5.1.2 (from memory).
    """
    if not takes:
        raise ValueError(f"{reading.id} has no takes to combine")
    last = takes[-1]
    tool = last.instrument or (reading.tools[0] if reading.tools else None)
    if not isinstance(last.answer, float):
        looked = _was_looked_at(reading, last.answer)
        return Value(reading.id, last.answer, tool, takes=(last.number,), not_looked=not looked)
    counted = [take for take in takes if _goes_with(take, last)]
    numbers = [take.answer for take in counted if isinstance(take.answer, float)]
    answer, n = _combined(reading, numbers)
    instrument = instruments.get(tool) if tool is not None else None
    accuracy = accuracy_of(instrument, reading) if instrument is not None else None
    shared, own = _uncertainty(accuracy, answer, numbers, n)
    if last.how in _GUESSED:
        shared, own = 0.0, _guessed(reading, answer, math.hypot(shared, own))
    return Value(reading.id, answer, tool, shared, own, tuple(take.number for take in counted))


def disagreement(takes: Sequence[Take]) -> tuple[Answer, Answer] | None:
    """Return the earlier and the last answer where two takes of a choice differ in one epoch, or None.

    Numbers are never reported: they combine. Which of the two holds is asked; until then the last counts.
    """
    if not takes or isinstance(takes[-1].answer, float):
        return None
    last = takes[-1]
    for take in reversed(takes[:-1]):
        if take.epoch == last.epoch and take.answer != last.answer:
            return take.answer, last.answer
    return None


def _goes_with(take: Take, last: Take) -> bool:
    """Tell whether a take may be mixed with the last one."""
    return (
        isinstance(take.answer, float)
        and take.epoch == last.epoch
        and take.instrument == last.instrument
        and (take.how in _GUESSED) == (last.how in _GUESSED)
    )


def _combined(reading: Reading, numbers: Sequence[float]) -> tuple[float, int]:
    """Return the combined number and how many takes its scatter is averaged over."""
    match reading.takes:
        case "mean":
            return statistics.fmean(numbers), len(numbers)
        case "highest":
            return max(numbers), 1
        case "lowest":
            return min(numbers), 1
        case "latest":
            return numbers[-1], 1


def _uncertainty(
    accuracy: Accuracy | None, answer: float, numbers: Sequence[float], n: int
) -> tuple[float, float]:
    """Return the standard uncertainties from the accuracy, and from resolution and scatter."""
    seen = statistics.stdev(numbers) if n > 1 else 0.0
    if accuracy is None:
        return 0.0, seen / math.sqrt(n)
    limit = accuracy.percent / 100.0 * abs(answer) + accuracy.plus_minus
    scatter = max(accuracy.scatter, seen)
    own = math.hypot(accuracy.resolution / math.sqrt(12.0), scatter / math.sqrt(n))
    return limit / math.sqrt(3.0), own


def _guessed(reading: Reading, answer: float, by_instrument: float) -> float:
    """Return the standard uncertainty of a number that nobody read from a scale."""
    least = 0.0 if reading.keeps == "ever" else GUESS_SHARE * abs(answer) / math.sqrt(3.0)
    return max(GUESS * by_instrument, least)


def _was_looked_at(reading: Reading, answer: Answer) -> bool:
    """Tell whether a choice says anything; an answer of nothing but *not looked* choices does not."""
    words = (answer,) if isinstance(answer, str) else answer if isinstance(answer, tuple) else ()
    chosen = [choice for word in words if (choice := reading.choice(word)) is not None]
    return not chosen or not all(choice.not_looked for choice in chosen)
