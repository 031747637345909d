"""What a step asks for now: which readings, which of them stale, what must be seen to first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.catalogue import Caution, Reading
from engine.judging import Judgement, judge, near_limits
from engine.measured import Take
from engine.situation import Point, Situation, quantities
from engine.tree import Binding, Step
from engine.walk_state import ROAD_STATES, RUNNING_STATES, WalkState


@dataclass(frozen=True, slots=True)
class Line:
    """One reading that is asked for."""

    reading: Reading
    optional: bool
    stale: Take | None
    """The last take when it is too old: one key keeps it."""
    again: bool
    """Another take of something known was asked for."""


@dataclass(frozen=True, slots=True)
class Ask:
    """The walk waits for readings."""

    tree: str
    binding: Binding
    step: Step
    lines: tuple[Line, ...]
    cautions: tuple[Caution, ...]
    """To be acknowledged first: not yet seen in this epoch with the engine like this."""
    must_undo: tuple[str, ...]
    """Items left clamped, plugged, unplugged or fitted that bar a road step."""
    proof: bool = False
    """These are the readings that prove a repair."""

    @property
    def rows(self) -> tuple[tuple[Line, ...], ...]:
        """The lines grouped by rows of readings that are taken together."""
        groups: dict[str, list[Line]] = {}
        for line in self.lines:
            groups.setdefault(line.reading.row, []).append(line)
        return tuple(tuple(group) for group in groups.values())


@dataclass(frozen=True, slots=True)
class Doubt:
    """The verdict is doubtful: settle it with another take, or go on."""

    tree: str
    binding: Binding
    step: Step
    judgement: Judgement
    settle: tuple[Reading, ...]
    """Readings whose repetition could settle it, the most telling first."""
    better_instrument: tuple[Reading, ...]
    """Readings whose instrument itself is too coarse here."""


@dataclass(frozen=True, slots=True)
class RepairOffer:
    """A repair within the tree is advised: done, or not now."""

    tree: str
    step: Step
    say: str
    forget: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ended:
    """The walk has come to its end: concluded, an honest open end, or a procedure's outcome."""

    concluded: bool


def lines_of(
    state: WalkState, step: Step, situation: Situation, now: float | None, confidence: float
) -> tuple[Line, ...]:
    """Return the readings a step still needs; optional ones only once the rest is in and the exit is open."""
    needed = [line for name in step.readings if (line := _line(state, situation, name, False, now))]
    if needed:
        return tuple(needed)
    again = [
        line
        for name in step.optional
        if state.wanted.get(name, 0) and (line := _line(state, situation, name, True, now))
    ]
    if again:
        return tuple(again)
    if not any(_is_unanswered(state, situation, name) for name in step.optional):
        return ()
    judgement = judge(step, situation, confidence)
    if not judgement.open and not judgement.doubtful:
        return ()
    deciding = _undecided_readings(step, situation)
    lines = (_line(state, situation, name, True, now) for name in step.optional if name in deciding)
    return tuple(line for line in lines if line is not None)


def is_on_van(situation: Situation, reading: Reading) -> bool:
    """Tell whether all that this reading needs is on the van; while nobody has said, everything is."""
    return not situation.kit.missing(reading)


def _is_unanswered(state: WalkState, situation: Situation, name: str) -> bool:
    return (
        situation.has(name)
        and name not in state.cannot_readings
        and not state.live_takes(name)
        and is_on_van(situation, state.catalogue.readings[name])
    )


def _line(
    state: WalkState, situation: Situation, name: str, optional: bool, now: float | None
) -> Line | None:
    if not situation.has(name) or name in state.cannot_readings:
        return None
    reading = state.catalogue.readings[name]
    takes = state.live_takes(name)
    if not takes:
        return Line(reading, optional, None, False) if is_on_van(situation, reading) else None
    if len(takes) < state.wanted.get(name, 0):
        return Line(reading, optional, None, True)
    if not optional and state.is_stale(reading, now):
        return Line(reading, optional, takes[-1], False)
    return None


def _undecided_readings(step: Step, situation: Situation) -> frozenset[str]:
    """Return the base readings of every rule up to the first true one that are unknown or in doubt."""
    point = situation.as_read
    names: set[str] = set()
    for rule in step.rules:
        truth = point.truth(rule.when) if rule.when is not None else None
        if truth is False:
            continue
        for quantity in quantities(rule.when):
            names |= situation.catalogue.base_readings(quantity)
        if truth:
            break
    return frozenset(names)


def cautions_due(state: WalkState, step: Step, situation: Situation) -> tuple[Caution, ...]:
    """Return the step's cautions that apply to this car and were not yet acknowledged as things stand."""
    running = is_running(state, step)
    point = situation.as_read
    due = []
    for name in step.cautions:
        caution = state.catalogue.cautions[name]
        if not _concerns(caution, point):
            continue
        if (name, state.epoch, running) not in state.acknowledged:
            due.append(caution)
    return tuple(due)


def cautions_shown(state: WalkState, step: Step, situation: Situation) -> tuple[Caution, ...]:
    """Return every caution of the step that applies to this car."""
    point = situation.as_read
    found = (state.catalogue.cautions[name] for name in step.cautions)
    return tuple(caution for caution in found if _concerns(caution, point))


def _concerns(caution: Caution, point: Point) -> bool:
    """Tell whether a caution concerns this car, as far as is known."""
    if caution.only_if is None:
        return True
    truth = point.truth(caution.only_if)
    return not caution.only_when_known if truth is None else truth


def is_running(state: WalkState, step: Step) -> bool:
    """Tell whether the step is done with the engine running."""
    return any(_state_of(state, name) in RUNNING_STATES for name in (*step.readings, *step.optional))


def is_road_step(state: WalkState, lines: Sequence[Line]) -> bool:
    """Tell whether what is asked is taken on the road."""
    return any(line.reading.state in ROAD_STATES for line in lines)


def _state_of(state: WalkState, name: str) -> str:
    return state.catalogue.readings[name].state if name in state.catalogue.readings else "off"


def doubt(tree: str, binding: Binding, step: Step, situation: Situation, judgement: Judgement) -> Doubt:
    """Return what could settle a doubtful verdict."""
    uncertain = sorted(near_limits(step, situation), key=lambda v: -v.uncertainty)
    readings = situation.catalogue.readings
    by_repeating = tuple(readings[v.reading] for v in uncertain if v.own >= v.shared)
    too_coarse = tuple(readings[v.reading] for v in uncertain if v.own < v.shared)
    return Doubt(tree, binding, step, judgement, by_repeating, too_coarse)
