"""Minutes at the roadside: an instrument's set-up and an engine state once a job, each take of a row."""

from __future__ import annotations

from dataclasses import dataclass

from engine.catalogue import Reading
from engine.walk_state import ROAD_STATES, WalkState

WARM_STATES = frozenset({"idle", "2500", "snap"}) | ROAD_STATES


@dataclass(frozen=True, slots=True)
class Cost:
    """What one more take costs, and what it pays for."""

    minutes: float
    sets_up: tuple[str, ...]
    """Instruments and engine states that need not be paid for again."""


FREE = Cost(0.0, ())
"""What is told (facts on the card or in a file) takes no time at the car."""


def cost_of_take(state: WalkState, reading: Reading, instrument: str | None) -> Cost:
    """Return what one more take of *reading* costs now.

    Readings of one row taken at the same step count once, a second take of one of them again.
    """
    total = 0.0
    sets_up: list[str] = []
    helpers = state.kit.used_for(reading)[1:]
    for tool in (instrument, *helpers):
        kit = state.catalogue.instruments.get(tool) if tool else None
        if kit is not None and kit.setup and kit.id not in state.set_up:
            sets_up.append(kit.id)
            total += kit.setup
    for name in _states_needed(state, reading):
        cost = state.catalogue.state_minutes.get(name, 0.0)
        if cost and name not in state.set_up:
            sets_up.append(name)
            total += cost
    place = len(state.path)
    if (place, reading.row) not in state.rows_taken or (place, reading.id) in state.taken_here:
        total += reading.minutes
    return Cost(total, tuple(sets_up))


def _states_needed(state: WalkState, reading: Reading) -> tuple[str, ...]:
    found_cold = any(take.answer == "cold" for take in state.live_takes("engine_temp_state"))
    warm_up = ("warm-up",) if found_cold and reading.state in WARM_STATES else ()
    here = "road" if reading.state in ROAD_STATES and reading.state != "reload" else reading.state
    return (*warm_up, here)
