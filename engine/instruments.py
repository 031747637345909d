"""Instruments on the van, and how well each shows a kind of reading."""

from __future__ import annotations

from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.catalogue import Reading, Source


@dataclass(frozen=True, slots=True)
class Accuracy:
    """How well an instrument shows a kind of reading: +/-(percent of value + plus_minus)."""

    patterns: tuple[str, ...]
    """Reading ids, ``*`` allowed; empty when *unit* decides."""
    unit: str | None
    percent: float
    plus_minus: float
    resolution: float
    scatter: float
    """One standard deviation between takes of a steady quantity, in the reading's unit."""
    source: Source

    def fits(self, reading: Reading) -> bool:
        """Tell whether it is for this reading, by id or, where no ids are named, by unit."""
        if self.patterns:
            return any(fnmatchcase(reading.id, pattern) for pattern in self.patterns)
        return self.unit == reading.unit


@dataclass(frozen=True, slots=True)
class Instrument:
    """A kind of instrument on the van."""

    id: str
    label: str
    setup: float
    """Minutes, charged once a job."""
    accuracy: tuple[Accuracy, ...]
    _fitting: dict[str, Accuracy | None] = field(init=False, default_factory=dict, compare=False, repr=False)

    def accuracy_for(self, reading: Reading) -> Accuracy | None:
        """Return how well it shows a reading: its first entry that fits by id or by unit, or None."""
        if reading.id not in self._fitting:
            fits = (entry for entry in self.accuracy if entry.fits(reading))
            self._fitting[reading.id] = next(fits, None)
        return self._fitting[reading.id]
