"""What is on the van, and which of it a reading is taken with."""

from __future__ import annotations

from collections.abc import Iterable

from engine.catalogue import Catalogue, Reading
from engine.measured import accuracy_of

ALWAYS_THERE = frozenset({"EY", "DOC"})
"""Eyes and papers: no instrument."""


class Kit:
    """The instruments on a van; None stands for a van nobody has described, on which everything is.

    The tools of a reading are ways to take it, the first the usual one. One of them has to show the quantity;
    one without a scale of its own (metered propane, smoke) brings the state about and is always needed. Where
    an instrument is named before the eyes, eyes alone do not do.
    """

    def __init__(self, catalogue: Catalogue, tools: Iterable[str] | None) -> None:
        self.catalogue = catalogue
        self.tools = None if tools is None else frozenset(tools) | ALWAYS_THERE
        self._used: dict[str, tuple[str, ...]] = {}

    def used_for(self, reading: Reading) -> tuple[str, ...]:
        """Return the instruments a reading is taken with: the one that shows it, then what else it needs."""
        if reading.id not in self._used:
            self._used[reading.id] = self._choose(reading)
        return self._used[reading.id]

    def has(self, tool: str) -> bool:
        """Tell whether an instrument is on the van."""
        return self.tools is None or tool in self.tools

    def missing(self, reading: Reading) -> tuple[str, ...]:
        """Return the instruments a reading needs that are not on the van."""
        return tuple(tool for tool in self.used_for(reading) if not self.has(tool))

    def _choose(self, reading: Reading) -> tuple[str, ...]:
        if not reading.tools:
            return ()
        shows = [tool for tool in reading.tools if self._shows(tool, reading)] or list(reading.tools[:1])
        best = next((tool for tool in shows if self.has(tool)), shows[0])
        return (best, *(t for t in reading.tools if t != best and self._shows_nothing(t)))

    def _shows_nothing(self, tool: str) -> bool:
        """Tell whether a tool has no scale of its own: it brings a state about, and another tool shows it."""
        instrument = self.catalogue.instruments.get(tool)
        return instrument is not None and not instrument.accuracy and tool not in ALWAYS_THERE

    def _shows(self, tool: str, reading: Reading) -> bool:
        if self._shows_nothing(tool) or (tool in ALWAYS_THERE and reading.tools[0] not in ALWAYS_THERE):
            return False
        instrument = self.catalogue.instruments.get(tool)
        return (
            reading.kind != "num"
            or tool in ALWAYS_THERE
            or (instrument is not None and accuracy_of(instrument, reading) is not None)
        )
