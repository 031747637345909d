"""What is wrong with a practice car, and what a fault changes besides the engine's physical state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from engine.car.chance import Chance
from engine.car.parameters import (
    AirPath,
    Bank,
    Catalyst,
    Cooling,
    Cylinder,
    Electrics,
    Engine,
    FuelPath,
    Zirconia,
)
from engine.measured import Answer

_Part = TypeVar("_Part", AirPath, FuelPath, Cooling, Electrics, Bank, Catalyst, Zirconia, Cylinder)
SENSORS = ("b1s1", "b2s1", "b1s2", "b2s2")


@dataclass(frozen=True, slots=True)
class HiddenFault:
    """A fault a car has."""

    fault: str
    side: str | None = None
    """Bank or sensor; None for a fault that has none, or that takes all sensors at once."""
    cylinder: int | None = None
    direction: str | None = None
    severity: float = 1.0
    """0.25 barely noticeable to 1 gross."""


@dataclass(slots=True)
class Draft:
    """A car while its faults are put in: its engine, what can be seen on it, what happened to it."""

    engine: Engine
    facts: Mapping[str, Answer]
    chance: Chance
    looks: dict[str, Answer] = field(default_factory=dict)
    """Answers of readings that no number stands behind: sights, smells, what a swapped part did."""
    codes: list[str] = field(default_factory=list)
    """Codes of circuits the control unit watches electrically."""
    events: list[str] = field(default_factory=list)

    def air(self, **changes: Any) -> None:
        """Change the air path."""
        self.engine = replace(self.engine, air=_changed(self.engine.air, changes))

    def fuel(self, **changes: Any) -> None:
        """Change the fuel path."""
        self.engine = replace(self.engine, fuel=_changed(self.engine.fuel, changes))

    def cooling(self, **changes: Any) -> None:
        """Change the cooling."""
        self.engine = replace(self.engine, cooling=_changed(self.engine.cooling, changes))

    def electrics(self, **changes: Any) -> None:
        """Change supplies and grounds."""
        self.engine = replace(self.engine, electrics=_changed(self.engine.electrics, changes))

    def bank(self, side: str | None, **changes: Any) -> None:
        """Change a bank."""
        at = bank_index(side)
        banks = tuple(
            _changed(bank, changes) if index == at else bank for index, bank in enumerate(self.engine.banks)
        )
        self.engine = replace(self.engine, banks=banks)

    def catalyst(self, side: str | None, **changes: Any) -> None:
        """Change the catalyst of a bank."""
        self.bank(side, catalyst=_changed(self.engine.banks[bank_index(side)].catalyst, changes))

    def sensor(self, side: str, **changes: Any) -> None:
        """Change an oxygen sensor."""
        name = "upstream" if side.endswith("s1") else "downstream"
        self.bank(side, **{name: _changed(sensor_at(self.engine, side), changes)})

    def cylinder(self, number: int, **changes: Any) -> None:
        """Change a cylinder, counted from 1."""
        cylinders = tuple(
            _changed(cylinder, changes) if place == number else cylinder
            for place, cylinder in enumerate(self.engine.cylinders, start=1)
        )
        self.engine = replace(self.engine, cylinders=cylinders)

    def look(self, reading: str, word: str) -> None:
        """Add what is seen to a reading of several choices; a sound answer gives way."""
        seen = self.looks.get(reading, ())
        self.looks[reading] = tuple(sorted({*(seen if isinstance(seen, tuple) else ()), word}))


def _changed(part: _Part, changes: Mapping[str, Any]) -> _Part:
    return replace(part, **changes)


def bank_index(side: str | None) -> int:
    """Return the index of the bank a side lies on; of no side, the first."""
    return 1 if side is not None and side.startswith("b2") else 0


def sensor_at(engine: Engine, place: str) -> Zirconia:
    """Return the sensor at b1s1, b2s1, b1s2 or b2s2."""
    bank = engine.banks[bank_index(place)]
    return bank.upstream if place.endswith("s1") else bank.downstream


def places(engine: Engine) -> tuple[str, ...]:
    """Return the places of the oxygen sensors this engine has."""
    return tuple(place for place in SENSORS if bank_index(place) < len(engine.banks))
