"""The ways through the trees as a graph: what each exit needs to be measured, costs, and finds.

A place is a step of a tree together with where its procedure was called from. A passage leads from a place
by one rule, by *cannot* or past a step that does not apply. Which verdict will come is not known here: every
rule that could be true on this car is a passage, with the readings that must be known for it to be the first
match.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from engine.catalogue import Catalogue, Reading
from engine.kit import Kit
from engine.library import Library
from engine.measured import Answer, Value
from engine.minutes import WARM_STATES
from engine.situation import CODES_OF_EITHER_KIND, Point, Situation
from engine.tree import (
    RETURNED,
    AllOf,
    AnyOf,
    Binding,
    Call,
    ChoiceIs,
    Compare,
    Conclude,
    Conclusion,
    Condition,
    Continue,
    Exit,
    Found,
    Next,
    Not,
    Repair,
    Return,
    Settled,
    Step,
)
from engine.walk_state import ROAD_STATES

COLD_ENGINE = "cold engine"
"""Stands among the instruments for an engine that is cold, when it was found warm."""
MOST_PLACES = 5000
Needs: TypeAlias = frozenset[str]
"""Readings that must be known."""


@dataclass(frozen=True, slots=True)
class Charge:
    """Minutes that are paid once: an instrument's set-up, an engine state, or a row of readings."""

    bits: int
    """Paid already when all of these are."""
    minutes: float
    missing: str | None = None
    """The instrument that is not on the van; its use is a count of its own, not minutes."""


@dataclass(frozen=True, slots=True)
class Passage:
    """One way on from a place."""

    to: int | None
    """Place it leads to; None at an end."""
    end: tuple[str, Conclusion] | None
    """Tree and conclusion, where it ends in one."""
    charges: tuple[Charge, ...]
    findings: int
    """Findings it makes, as bits."""
    repaired: bool


@dataclass(slots=True)
class Place:
    """A step, and where its procedure was called from."""

    tree: str
    step: Step
    passages: list[Passage] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Frame:
    """A call that has not returned: who called, and with which exits."""

    tree: str
    binding: Binding
    call: Call
    above: int | None


class CarKit(Kit):
    """What can be measured on one car: with the instruments on the van, and on an engine already warm."""

    def __init__(self, catalogue: Catalogue, kit: Iterable[str], facts: Mapping[str, Answer]) -> None:
        super().__init__(catalogue, kit)
        self.facts = facts
        self._is_warm = facts.get("engine_temp_state") in ("warm", "hot")

    def used_for(self, reading: Reading) -> tuple[str, ...]:
        """Return the instruments a reading is taken with; a cold engine too where it needs one."""
        used = super().used_for(reading)
        return (*used, COLD_ENGINE) if used and self._is_warm and reading.state == "cold" else used


class Passages:
    """All places that can be reached from the start of a tree, on one car with one kit.

    Args:
        library: trees and catalogues.
        tree: where the job begins.
        kit: instruments on the van.
        facts: what is known of the car; costs nothing.
        side: bank or sensor a procedure is called for.
    """

    def __init__(
        self, library: Library, tree: str, kit: Sequence[str], facts: Mapping[str, Answer], side: str | None
    ) -> None:
        self.library = library
        self.catalogue = library.catalogue
        self.kit = CarKit(self.catalogue, kit, facts)
        values = {name: Value(name, answer) for name, answer in facts.items()}
        self.situation = Situation(self.catalogue, values)
        self._point = Point(self.situation)
        self.places: list[Place] = []
        self.finding_bits = {name: 1 << at for at, name in enumerate(self.catalogue.findings)}
        self._bits: dict[str, int] = {}
        self._frames: list[_Frame] = []
        self._frame_numbers: dict[tuple[object, ...], int] = {}
        self._numbers: dict[tuple[str, str, Binding, int | None], int] = {}
        self._open: list[tuple[int, Binding, int | None]] = []
        self._needs: dict[str, Needs | None] = {}
        self._conditions: dict[tuple[Condition, bool], Needs | None] = {}
        self._charged: dict[Needs, tuple[Charge, ...]] = {}
        self._ways: dict[int, list[tuple[Exit, tuple[Charge, ...], int]]] = {}
        found = library.tree(tree)
        self.start = self._place(tree, found.start, Binding.of(side), None) or 0
        while self._open:
            number, binding, above = self._open.pop()
            self._leave(number, binding, above)

    # ------------------------------------------------------------------------------------------- places

    def _place(self, tree: str, step: str, binding: Binding, above: int | None) -> int | None:
        key = (tree, step, binding, above)
        if key not in self._numbers:
            if len(self.places) >= MOST_PLACES:
                return None
            self._numbers[key] = len(self.places)
            self.places.append(Place(tree, self.library.trees[tree].step(step, binding)))
            self._open.append((self._numbers[key], binding, above))
        return self._numbers[key]

    def _leave(self, number: int, binding: Binding, above: int | None) -> None:
        place = self.places[number]
        for way, charges, findings in self._ways_from(place.step):
            to, end, repaired = self._follow(way, place.tree, binding, above)
            if to is not None or end is not None:
                place.passages.append(Passage(to, end, charges, findings, repaired))

    def _follow(
        self, way: Exit | None, tree: str, binding: Binding, above: int | None
    ) -> tuple[int | None, tuple[str, Conclusion] | None, bool]:
        """Return where an exit leads, the conclusion it ends in, and whether a repair is made on the way."""
        match way:
            case Next(step):
                return self._place(tree, step, binding, above), None, False
            case Repair(next=step):
                return self._place(tree, step, binding, above), None, True
            case Continue(other, at) if (found := self.library.trees.get(other)) is not None:
                return self._place(other, at or found.start, binding, None), None, False
            case Call(procedure, arguments) if (called := self.library.trees.get(procedure)) is not None:
                named = dict(arguments)
                side = named.get("sensor") or named.get("bank")
                inner = Binding.of(side) if side else binding
                frame = self._frame(_Frame(tree, binding, way, above))
                return self._place(procedure, called.start, inner, frame), None, False
            case Conclude(name) if name != RETURNED:
                return None, (tree, self.library.trees[tree].conclusion(name, binding)), False
            case Return(outcome, name):
                return self._come_back(outcome, name, tree, binding, above)
        return None, None, False

    def _come_back(
        self, outcome: str, name: str | None, tree: str, binding: Binding, above: int | None
    ) -> tuple[int | None, tuple[str, Conclusion] | None, bool]:
        carried = (tree, self.library.trees[tree].conclusion(name, binding)) if name is not None else None
        if above is None:
            return None, carried, False
        frame = self._frames[above]
        way = frame.call.exit_for(outcome)
        if isinstance(way, Conclude) and way.conclusion == RETURNED:
            return None, carried, False
        return self._follow(way, frame.tree, frame.binding, frame.above)

    def _frame(self, frame: _Frame) -> int:
        """Return the number of a call; two calls with the same exits from one place are the same."""
        key = (frame.tree, frame.binding, frame.call.procedure, frame.call.then, frame.above)
        if key not in self._frame_numbers:
            self._frame_numbers[key] = len(self._frames)
            self._frames.append(frame)
        return self._frame_numbers[key]

    # ------------------------------------------------------------------------------------- ways of a step

    def _ways_from(self, step: Step) -> list[tuple[Exit, tuple[Charge, ...], int]]:
        if id(step) not in self._ways:
            self._ways[id(step)] = list(self._work_out(step))
        return self._ways[id(step)]

    def _work_out(self, step: Step) -> Iterable[tuple[Exit, tuple[Charge, ...], int]]:
        if step.only_if is not None and step.skip is not None:
            unless = self.needs_for(step.only_if, truth=False)
            if unless is not None:
                yield Next(step.skip), self._charges(unless), 0
            if self.needs_for(step.only_if, truth=True) is None:
                return
        unknown = (name for name in step.readings if self.situation.has(name) and name not in self.kit.facts)
        readings = [self.catalogue.readings[name] for name in unknown]
        asked = frozenset(r.id for r in readings if not self.kit.missing(r))
        before: Needs | None = frozenset()
        for rule in step.rules:
            if before is None:
                break
            holds = frozenset() if rule.when is None else self.needs_for(rule.when, truth=True)
            if holds is not None:
                findings = 0
                for name in rule.findings:
                    findings |= self.finding_bits.get(name, 0)
                yield rule.exit, self._charges(asked | before | holds), findings
            fails = None if rule.when is None else self.needs_for(rule.when, truth=False)
            before = None if fails is None else before | fails
        lacking = any(self.kit.missing(reading) for reading in readings)
        if step.cannot is not None and (lacking or not step.readings):
            yield step.cannot.exit, self._charges(asked), 0

    # -------------------------------------------------------------------------- what must be known

    def needs_for(self, condition: Condition, *, truth: bool) -> Needs | None:
        """Return the readings with which a condition can come out so; None when it never can on this car."""
        key = (condition, truth)
        if key not in self._conditions:
            self._conditions[key] = self._needs_for(condition, truth)
        return self._conditions[key]

    def _needs_for(self, condition: Condition, truth: bool) -> Needs | None:
        match condition:
            case Compare(quantity) | ChoiceIs(quantity):
                known = self._point.truth(condition)
                if known is not None:
                    return frozenset() if known is truth else None
                return self._of_limit(condition, self._of_quantity(quantity))
            case AllOf(parts) | AnyOf(parts):
                each = [self.needs_for(part, truth=truth) for part in parts]
                return self._together(each) if isinstance(condition, AllOf) is truth else self._least(each)
            case Not(part):
                return self.needs_for(part, truth=not truth)
            case Settled(settled):
                return frozenset() if settled is truth else None
            case Found():
                return frozenset()

    def _of_limit(self, condition: Compare | ChoiceIs, needs: Needs | None) -> Needs | None:
        """Return the needs with those of a limit that is relative to another reading."""
        if needs is None or not isinstance(condition, Compare) or not isinstance(condition.limit, str):
            return needs
        relative = self.catalogue.limits[condition.limit].relative
        return needs if relative is None else self._together([needs, self._of_quantity(relative.reading)])

    def _of_quantity(self, quantity: str) -> Needs | None:
        """Return the readings a quantity can be known by; the least, of a worked value's ways."""
        if quantity not in self._needs:
            self._needs[quantity] = None  # a worked value that rests on itself is never known
            self._needs[quantity] = self._worked_out(quantity)
        return self._needs[quantity]

    def _worked_out(self, quantity: str) -> Needs | None:
        if quantity == CODES_OF_EITHER_KIND:
            quantity = "dtc_stored"
        if not self.situation.has(quantity):
            return None
        if self._point.answer(quantity) is not None:
            return frozenset()
        ways: list[Needs | None] = []
        if quantity in self.catalogue.readings:
            ways.append(frozenset({quantity}))
        worked = self.catalogue.worked.get(quantity)
        for recipe in worked.recipes if worked is not None else ():
            inner = [a.quantity for _, a in recipe.arguments if a.quantity and a.constant is None]
            ways.append(self._together([self._of_quantity(name) for name in inner]))
        return self._least(ways)

    def _together(self, each: Sequence[Needs | None]) -> Needs | None:
        total: Needs = frozenset()
        for needs in each:
            if needs is None:
                return None
            total |= needs
        return total

    def _least(self, each: Sequence[Needs | None]) -> Needs | None:
        possible = [needs for needs in each if needs is not None]
        return min(possible, key=self._price, default=None)

    def _price(self, needs: Needs) -> tuple[int, float]:
        readings = [self.catalogue.readings[name] for name in needs]
        lacking = {tool for reading in readings for tool in self.kit.missing(reading)}
        return len(lacking), sum(reading.minutes for reading in readings)

    # ---------------------------------------------------------------------------------- what it costs

    def _charges(self, needs: Needs) -> tuple[Charge, ...]:
        """Return what taking these readings costs, each part with the bits that tell whether it is paid.

        The same readings give the same object, by which passages are compared.
        """
        if needs not in self._charged:
            self._charged[needs] = self._charge(needs)
        return self._charged[needs]

    def _charge(self, needs: Needs) -> tuple[Charge, ...]:
        charges: dict[str, Charge] = {}
        rows: dict[str, tuple[int, float]] = {}
        for name in sorted(needs):
            reading = self.catalogue.readings[name]
            for tool in self.kit.used_for(reading):
                instrument = self.catalogue.instruments.get(tool)
                setup = instrument.setup if instrument is not None else 0.0
                lacking = None if self.kit.has(tool) else tool
                if setup or lacking:
                    charges[f"tool {tool}"] = Charge(self._bit(f"tool {tool}"), setup, lacking)
            for state in self._states(reading):
                minutes = self.catalogue.state_minutes.get(state, 0.0)
                if minutes:
                    charges[f"state {state}"] = Charge(self._bit(f"state {state}"), minutes)
            bits, _ = rows.get(reading.row, (0, 0.0))
            rows[reading.row] = (bits | self._bit(name), reading.minutes)
        return (*charges.values(), *(Charge(bits, minutes) for bits, minutes in rows.values()))

    def _states(self, reading: Reading) -> tuple[str, ...]:
        cold = self.kit.facts.get("engine_temp_state") == "cold"
        warm_up = ("warm-up",) if cold and reading.state in WARM_STATES else ()
        road = reading.state in ROAD_STATES and reading.state != "reload"
        return (*warm_up, "road" if road else reading.state)

    def _bit(self, name: str) -> int:
        return self._bits.setdefault(name, 1 << len(self._bits))
