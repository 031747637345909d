"""Faults as changes of physical parameters: what each fault of the catalogue does to a car."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from engine.car.chance import Chance
from engine.car.faults import air, burning, electrical, fuel, sensing
from engine.car.hidden import Draft, HiddenFault
from engine.car.parameters import Engine
from engine.measured import Answer

CHANGES: Mapping[str, Callable[[Draft, HiddenFault], None]] = {
    **sensing.CHANGES,
    **air.CHANGES,
    **fuel.CHANGES,
    **burning.CHANGES,
    **electrical.CHANGES,
}
"""What puts a fault into a car, by the id of the fault."""


def put_in(
    engine: Engine, facts: Mapping[str, Answer], faults: Iterable[HiddenFault], chance: Chance
) -> Draft:
    """Return a sound engine's car with faults in it; two faults compose.

    Args:
        engine: the sound engine.
        facts: of the car.
        faults: what is wrong with it.
        chance: of the car.

    Raises:
        ValueError: there is no such fault.
    """
    draft = Draft(engine, facts, chance)
    for fault in faults:
        change = CHANGES.get(fault.fault)
        if change is None:
            raise ValueError(f"no fault is called {fault.fault!r}: `layby faults` lists them")
        change(draft, fault)
    return draft
