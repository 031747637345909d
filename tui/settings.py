"""What this van is set to: theme, units, tools, confidence; kept in the data folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from engine.job_files import JobFilesError, read_settings, write_settings

THEMES = ("day", "night")
CONFIDENCES = (0.9, 0.95, 0.99)
UNITS: Mapping[str, tuple[str, ...]] = {
    "kPa": ("kPa", "bar", "psi"),
    "°C": ("°C", "°F"),
    "V": ("V", "mV"),
    "g/s": ("g/s", "kg/h"),
    "km": ("km", "mi"),
}
"""Catalogue unit -> units in which a bare number may be meant on this van, the catalogue's own first."""
QUANTITY_WORDS: Mapping[str, str] = {
    "kPa": "pressure",
    "°C": "temperature",
    "V": "voltage",
    "g/s": "air flow",
    "km": "distance",
}


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of one van."""

    theme: str = "night"
    confidence: float = 0.95
    units: Mapping[str, str] = field(default_factory=dict)
    """Catalogue unit -> unit of a bare number."""
    tools: tuple[str, ...] = ()
    """Choices of the reading about tools; empty when never set."""
    who: str = ""

    def unit(self, catalogue_unit: str) -> str:
        """Return the unit of a bare number for a reading of this catalogue unit."""
        return self.units.get(catalogue_unit, catalogue_unit)

    def with_unit(self, catalogue_unit: str, unit: str) -> Settings:
        """Return these settings with another unit for one quantity."""
        return replace(self, units={**self.units, catalogue_unit: unit})

    def as_data(self) -> dict[str, Any]:
        """Return them as plain data."""
        return {
            "theme": self.theme,
            "confidence": self.confidence,
            "units": dict(self.units),
            "tools": list(self.tools),
            "who": self.who,
        }


def load_settings(path: Path) -> tuple[Settings, str]:
    """Return the settings and a line about what is wrong with them; a bad file counts as none."""
    try:
        data = read_settings(path)
    except JobFilesError as error:
        return Settings(), str(error)
    return _from(data), ""


def save_settings(path: Path, settings: Settings) -> None:
    """Keep the settings.

    Raises:
        JobFilesError: they cannot be written.
    """
    write_settings(path, settings.as_data())


def _from(data: Mapping[str, Any]) -> Settings:
    """Take what is usable of a settings file; anything else keeps its usual value."""
    theme = data.get("theme")
    confidence = data.get("confidence")
    units = data.get("units")
    tools = data.get("tools")
    who = data.get("who")
    return Settings(
        theme=theme if theme in THEMES else "night",
        confidence=confidence if confidence in CONFIDENCES else 0.95,
        units={
            unit: chosen
            for unit, chosen in (units.items() if isinstance(units, dict) else ())
            if chosen in UNITS.get(unit, ())
        },
        tools=tuple(str(tool) for tool in tools) if isinstance(tools, list) else (),
        who=who if isinstance(who, str) else "",
    )
