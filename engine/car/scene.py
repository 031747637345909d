"""A car as its readings are taken from: settled states, traces and sights, each worked out once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from engine.car.chance import Chance
from engine.car.hidden import Draft, HiddenFault, bank_index, sensor_at
from engine.car.parameters import Engine
from engine.car.settled import BankState, Settled
from engine.car.settling import settle
from engine.car.traces import oxygen_trace
from engine.measured import Answer
from engine.traces.metrics import SensorMetrics, measure

SCOPE_RATE = 200.0
"""Samples per s of a recorded trace."""


class Scene:
    """One car with its faults in it. Quantities are true; instruments come later."""

    def __init__(
        self, facts: Mapping[str, Answer], draft: Draft, faults: tuple[HiddenFault, ...], chance: Chance
    ) -> None:
        self.facts = facts
        self.engine: Engine = draft.engine
        self.looks: Mapping[str, Answer] = draft.looks
        self.events: tuple[str, ...] = tuple(dict.fromkeys(draft.events))
        self.circuit_codes: tuple[str, ...] = tuple(draft.codes)
        self.faults = faults
        self.chance = chance
        self.codes: object = None
        """Kept here by ``engine.car.stored_codes``."""
        self.complaint: tuple[str, ...] = ("other", "random")
        self._states: dict[str, Settled] = {}
        self._signals: dict[tuple[str, str], SensorMetrics] = {}
        self._changed: dict[str, float] = {}

    def at(self, state: str) -> Settled:
        """Return a settled state."""
        found = self._states.get(state)
        if found is None:
            found = self._states[state] = settle(self.engine, state)
        return found

    def bank(self, place: str, state: str) -> BankState | None:
        """Return a bank in a state; None when the engine has it not."""
        index = bank_index(place)
        return self.at(state).banks[index] if index < len(self.engine.banks) else None

    def has(self, place: str) -> bool:
        """Tell whether the engine has this bank or sensor."""
        return bank_index(place) < len(self.engine.banks)

    def switching(self, place: str) -> bool:
        """Tell whether the sensor at a place is a switching one."""
        return self.has(place) and sensor_at(self.engine, place).kind == "switching"

    def wide(self, place: str) -> bool:
        """Tell whether the sensor at a place is a wide-band one."""
        return self.has(place) and sensor_at(self.engine, place).kind == "wide"

    def signal(self, place: str, state: str) -> SensorMetrics:
        """Return the numbers of ten seconds of a sensor's signal."""
        key = (place, state)
        if key not in self._signals:
            phase = self.chance.share(f"phase-{place}-{state}")
            trace = oxygen_trace(self.engine, self.at(state), place, rate=SCOPE_RATE, phase=phase)
            self._signals[key] = measure(*trace)
        return self._signals[key]

    def trim_change(self, test: str, changed: Engine) -> float:
        """Return by how many points the total trim at idle moves when the engine is changed, as a test does.

        Of two banks the one that moves further counts.

        Args:
            test: its name, under which the answer is kept.
            changed: the engine while the test is made.
        """
        if test not in self._changed:
            self._changed[test] = 0.0 if changed == self.engine else self.trim_change_at("idle", changed)
        return self._changed[test]

    def trim_change_at(self, state: str, changed: Engine) -> float:
        """Return the move of the total trim in a state, points."""
        before, after = self.at(state), settle(changed, state)
        moved = [new.total - old.total for new, old in zip(after.banks, before.banks, strict=True)]
        return max(moved, key=abs)

    def with_air(self, **changes: Any) -> Engine:
        """Return the engine with its air path changed for a test."""
        return replace(self.engine, air=replace(self.engine.air, **changes))

    def with_fuel(self, **changes: Any) -> Engine:
        """Return the engine with its fuel path changed for a test."""
        return replace(self.engine, fuel=replace(self.engine.fuel, **changes))

    def without_leaks(self, *kept: str) -> Engine:
        """Return the engine with every intake leak sealed but those at the places kept."""
        return self.with_air(leaks=tuple(leak for leak in self.engine.air.leaks if leak[0] in kept))

    def severity(self, *faults: str) -> float:
        """Return the greatest severity among these faults, 0 when the car has none of them."""
        return max((one.severity for one in self.faults if one.fault in faults), default=0.0)

    def look(self, reading: str, sound: Answer) -> Answer:
        """Return what is seen, the sound answer unless a fault left another."""
        return self.looks.get(reading, sound)

    def rate(self, state: str) -> tuple[float, int]:
        """Return the share of missed cycles of the worst cylinder, %, and its number."""
        missed = self.at(state).misfires
        worst = max(range(len(missed)), key=missed.__getitem__)
        return 100.0 * missed[worst], worst + 1
