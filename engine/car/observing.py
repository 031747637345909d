"""One car, seen through its instruments: every reading of the catalogue, the same in whatever order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from engine.car import complaints, engine_readings, looks, signal_readings, stored_codes, supply_readings
from engine.car.chance import Chance
from engine.car.drawing import PracticeCar
from engine.car.faults import put_in
from engine.car.scene import Scene
from engine.car.seeing import Instruments
from engine.catalogue import Catalogue, Reading
from engine.measured import Answer

TAKES: Mapping[str, Callable[[Scene], Answer | None]] = {
    **looks.TAKES,
    **engine_readings.TAKES,
    **supply_readings.TAKES,
    **signal_readings.TAKES,
    **stored_codes.TAKES,
    **complaints.TAKES,
}
"""How every reading is taken, besides the facts of car and van."""
FACTS = ("veh_", "kit_", "spec_")


class Observer:
    """One car, seen through its instruments.

    Args:
        catalogue: readings and instruments.
        car: the car.
        noise: False shows true values, for tests and for explaining.
    """

    def __init__(self, catalogue: Catalogue, car: PracticeCar, noise: bool = True) -> None:
        self.catalogue = catalogue
        self.car = car
        self.noise = noise
        self.chance = Chance(f"{car.seed}:{car.number}")
        draft = put_in(car.sound, car.facts, car.faults, self.chance)
        self.scene = Scene(car.facts, draft, car.faults, self.chance)
        self.scene.complaint = car.complaint
        self.instruments = Instruments(catalogue, car.kit, self.chance)
        self._true: dict[str, Answer | None] = {}

    def take(self, reading: str, number: int = 0) -> Answer | None:
        """Return what a reading shows.

        Args:
            reading: its id.
            number: which take of it; the scatter differs between takes.

        Returns:
            a number in the catalogue's unit, a choice, several choices or codes; None when it cannot be
            measured: no instrument for it on the van, or the car has it not.

        Raises:
            KeyError: the catalogue has no such reading.
        """
        about = self.catalogue.readings[reading]
        if reading.startswith(FACTS):
            return self.car.facts.get(reading)
        if not self.instruments.can(about) or not self._fitted(about):
            return None
        true = self._of_car(reading)
        if isinstance(true, int | float):
            return self.instruments.show(about, float(true), number) if self.noise else float(true)
        return true

    def repaired(self, faults: Iterable[str]) -> Observer:
        """Return the car after these faults have been put right, its trims learnt anew."""
        put_right = set(faults)
        rest = tuple(fault for fault in self.car.faults if fault.fault not in put_right)
        draft = put_in(self.car.sound, self.car.facts, rest, self.chance)
        car = replace(self.car, faults=rest, engine=draft.engine)
        return Observer(self.catalogue, car, self.noise)

    def _of_car(self, reading: str) -> Answer | None:
        if reading not in self._true:
            self._true[reading] = TAKES[reading](self.scene)
        return self._true[reading]

    def _fitted(self, reading: Reading) -> bool:
        """Tell whether the car has what is read."""
        if (reading.place or "").startswith("b2") and not self.scene.engine.two_banks:
            return False
        return all(
            fact not in self.car.facts or self.car.facts[fact] in answers
            for fact, answers in reading.has.items()
        )
