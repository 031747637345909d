"""What an instrument makes of a true value: its limits, its scatter, its last digit."""

from __future__ import annotations

from engine.car.chance import Chance
from engine.catalogue import Accuracy, Catalogue, Reading
from engine.kit import Kit
from engine.measured import accuracy_of

TRUSTED = 0.6
"""Share of its limits that an instrument errs by, at most: most are better than their data sheet."""


class Instruments:
    """The van's instruments: each has one error of its own, the same for all it shows in one unit."""

    def __init__(self, catalogue: Catalogue, tools: tuple[str, ...] | None, chance: Chance) -> None:
        self.catalogue = catalogue
        self.kit = Kit(catalogue, tools)
        self.chance = chance
        self._errors: dict[tuple[str, str], float] = {}
        self._found: dict[str, tuple[str, Accuracy | None]] = {}

    def can(self, reading: Reading) -> bool:
        """Tell whether everything the reading is taken with is on the van."""
        return not self.kit.missing(reading)

    def tool(self, reading: Reading) -> str | None:
        """Return the instrument that shows a reading."""
        used = self.kit.used_for(reading)
        return used[0] if used else None

    def show(self, reading: Reading, true: float, take: int) -> float:
        """Return what is read of a true value.

        Args:
            reading: what is read.
            true: in the catalogue's unit.
            take: number of the take; the scatter differs between takes.
        """
        tool, accuracy = self._accuracy(reading)
        if accuracy is None:
            return self._within(reading, true)
        error = self._error(tool, accuracy.unit or reading.unit)
        shown = true + error * (accuracy.percent / 100.0 * abs(true) + accuracy.plus_minus)
        if accuracy.scatter:
            shown += self.chance.normal(f"{reading.id}-{take}", 0.0, accuracy.scatter)
        if accuracy.resolution:
            shown = round(shown / accuracy.resolution) * accuracy.resolution
        return self._within(reading, shown)

    def _accuracy(self, reading: Reading) -> tuple[str, Accuracy | None]:
        if reading.id not in self._found:
            tool = self.tool(reading)
            instrument = self.catalogue.instruments.get(tool or "")
            found = accuracy_of(instrument, reading) if instrument is not None else None
            self._found[reading.id] = (tool or "", found)
        return self._found[reading.id]

    def _error(self, tool: str, unit: str) -> float:
        if (tool, unit) not in self._errors:
            self._errors[tool, unit] = self.chance.between(f"error-{tool}-{unit}", -TRUSTED, TRUSTED)
        return self._errors[tool, unit]

    @staticmethod
    def _within(reading: Reading, shown: float) -> float:
        """Keep a value inside what the reading can carry: a data item ends there."""
        low, high = reading.reject
        if low is not None and shown < low:
            shown = low
        if high is not None and shown > high:
            shown = high
        return float(round(shown, 6))
