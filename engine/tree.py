"""The model of a fault tree: steps, rules, conditions, exits, conclusions.

Everything here is frozen data. A tree holds each step already written out for one *binding* (which bank
or sensor the placeholders stand for), so that what is checked is what is walked. Nothing here reads files
or judges.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal, TypeAlias

from engine.catalogue import Drive


class Grade(StrEnum):
    """What a verdict says of the readings."""

    OK = "ok"
    WATCH = "watch"
    LIKELY = "likely"
    FAIL = "fail"
    INCONCLUSIVE = "inconclusive"


class Strength(StrEnum):
    """How firmly a conclusion stands."""

    PROVEN = "proven"
    PROBABLE = "probable"
    NOT_FOUND_HERE = "not-found-here"


# ---------------------------------------------------------------- conditions

Comparison: TypeAlias = Literal["below", "above", "at_least", "at_most"]
ChoiceTest: TypeAlias = Literal["is", "is_not", "one_of", "has", "has_any", "has_none", "has_other_than"]


@dataclass(frozen=True, slots=True)
class Compare:
    """A number against a limit: ``below`` <, ``above`` >, ``at_least`` >=, ``at_most`` <=."""

    quantity: str
    """Id of a reading or worked value."""
    how: Comparison
    limit: str | float
    """Name of a limit, or a bare number in the quantity's unit."""


@dataclass(frozen=True, slots=True)
class ChoiceIs:
    """A choice, several choices or codes against words.

    ``is``: for a single choice, equal to the one value; for several choices, exactly this set.
    ``has_other_than``: at least one answer outside the words. Codes may be written exactly, as a range
    (``P0300-P0312``) or as ``group:NAME`` of the codes catalogue.
    """

    quantity: str
    how: ChoiceTest
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """Every one of these findings was made, on the side named when there is one."""

    findings: tuple[str, ...]
    side: str | None = None


@dataclass(frozen=True, slots=True)
class AllOf:
    """Three-valued *and*; with no parts it is true."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """Three-valued *or*; with no parts it is false."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Not:
    """Three-valued *not*."""

    part: Condition


@dataclass(frozen=True, slots=True)
class Settled:
    """A part whose truth is already known; made while judging, never written in a tree."""

    truth: bool | None


Condition: TypeAlias = Compare | ChoiceIs | Found | AllOf | AnyOf | Not | Settled

# --------------------------------------------------------------------- exits

RETURNED = "returned"
"""Conclusion name that stands for the one a procedure brought back."""


@dataclass(frozen=True, slots=True)
class Next:
    """Go to another step of this tree."""

    step: str


@dataclass(frozen=True, slots=True)
class Conclude:
    """End with a conclusion of this tree, or with ``returned``."""

    conclusion: str
    side: str | None = None


@dataclass(frozen=True, slots=True)
class Continue:
    """Go on in another tree at one of its declared entries."""

    tree: str
    at: str | None = None


@dataclass(frozen=True, slots=True)
class Call:
    """Walk a procedure, then take the exit that its outcome maps to (``otherwise`` for the rest)."""

    procedure: str
    arguments: tuple[tuple[str, str], ...]
    then: tuple[tuple[str, Exit], ...]

    def exit_for(self, outcome: str) -> Exit | None:
        """Return the exit for *outcome*, else the one for ``otherwise``, else None."""
        table = dict(self.then)
        return table.get(outcome, table.get("otherwise"))


@dataclass(frozen=True, slots=True)
class Return:
    """End a procedure with one of its outcomes; may carry a conclusion that the caller can take."""

    outcome: str
    conclusion: str | None = None


@dataclass(frozen=True, slots=True)
class Repair:
    """Do this, forget these readings (ids or groups) and ask them again.

    *times* is how often the exit is offered before the walk goes on to *next* without it.
    """

    say: str
    forget: tuple[str, ...]
    next: str
    times: int = 1


@dataclass(frozen=True, slots=True)
class Refer:
    """An honest open end: these trees do not hold what comes now."""

    say: str
    tree: str | None = None
    """Name of the tree that would go on, when it is known but not here."""


Exit: TypeAlias = Next | Conclude | Continue | Call | Return | Repair | Refer

# --------------------------------------------------------------------- steps


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a line of a tree stands."""

    file: str
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Note:
    """A local remark pinned to a step."""

    text: str
    by: str | None
    on: str | None
    origin: Origin


@dataclass(frozen=True, slots=True)
class Rule:
    """One line of a step's ``judge``: a condition, a verdict, an exit."""

    id: str
    when: Condition | None
    """None stands for ``otherwise``: taken only when every rule before it is false."""
    covers_rest: bool
    verdict: str
    grade: Grade
    means: str | None
    side: str | None
    """``b1``, ``b1s1`` …, or ``from_codes``; kept as the side of the job when the rule fires."""
    weigh: tuple[tuple[str, float], ...]
    """Fault id -> factor; a fault not named is not moved."""
    findings: tuple[str, ...]
    also: tuple[str, ...]
    """Faults recorded as second findings."""
    harm: bool
    """Where harm is possible: taken already when it is merely not unlikely."""
    exit: Exit
    origin: Origin


@dataclass(frozen=True, slots=True)
class Predict:
    """A question asked before the verdict shows."""

    ask: str
    choices: tuple[str, ...]
    right: str


@dataclass(frozen=True, slots=True)
class Cannot:
    """The way on when the step cannot be done."""

    say: str
    exit: Exit
    weigh: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, the readings it asks for, and the rules that judge them."""

    id: str
    title: str
    do: str
    how: str | None
    why: str
    predict: Predict | None
    cautions: tuple[str, ...]
    wait: float | None
    """Seconds of a countdown the screen runs."""
    leaves: tuple[str, ...]
    undoes: tuple[str, ...]
    readings: tuple[str, ...]
    optional: tuple[str, ...]
    only_if: Condition | None
    skip: str | None
    rules: tuple[Rule, ...]
    cannot: Cannot | None
    notes: tuple[Note, ...]
    origin: Origin


@dataclass(frozen=True, slots=True)
class Proof:
    """What is measured after the repair, and what it must then show."""

    measure: tuple[str, ...]
    expect: Condition


@dataclass(frozen=True, slots=True)
class Conclusion:
    """A leaf of a tree."""

    id: str
    faults: tuple[str, ...]
    """Main fault first; empty only for ``not-found-here``."""
    strength: Strength
    because: str
    repair: str
    proof: Proof | None
    drive: Drive
    """The least caution; the other findings of the job may raise it."""
    if_left: str
    side: str | None
    direction: str | None
    undoes: tuple[str, ...]
    origin: Origin


@dataclass(frozen=True, slots=True)
class Binding:
    """What the placeholders ``<bank> <other> <sensor> <twin>`` stand for."""

    bank: str = "b1"
    sensor: str = "b1s1"

    @classmethod
    def of(cls, side: str | None) -> Binding:
        """Return the binding of a side: ``b2`` means its upstream sensor too, ``b1s2`` its bank too."""
        if side is None:
            return cls()
        return cls(bank=side[:2], sensor=side if len(side) > 2 else f"{side}s1")

    @property
    def words(self) -> Mapping[str, str]:
        """Placeholder name -> what it stands for."""
        other = "b2" if self.bank == "b1" else "b1"
        return {
            "bank": self.bank,
            "other": other,
            "sensor": self.sensor,
            "twin": other + self.sensor[2:],
        }


@dataclass(frozen=True, slots=True)
class Tree:
    """A fault tree for one symptom, or a procedure other trees call."""

    id: str
    kind: Literal["symptom", "procedure"]
    title: str
    complaints: tuple[str, ...]
    start: str
    entries: tuple[str, ...]
    takes: Literal["bank", "sensor"] | None
    takes_for: tuple[str, ...]
    """The sides a procedure may be called for."""
    outcomes: tuple[str, ...]
    steps: Mapping[Binding, Mapping[str, Step]]
    conclusions: Mapping[Binding, Mapping[str, Conclusion]]
    origin: Origin
    step_ids: tuple[str, ...] = field(default=())

    def step(self, step_id: str, binding: Binding) -> Step:
        """Return a step written out for *binding*."""
        return self.steps[binding][step_id]

    def conclusion(self, conclusion_id: str, binding: Binding) -> Conclusion:
        """Return a conclusion written out for *binding*."""
        return self.conclusions[binding][conclusion_id]


BINDINGS: tuple[Binding, ...] = tuple(
    Binding(bank=f"b{bank}", sensor=f"b{bank}s{sensor}") for sensor in (1, 2) for bank in (1, 2)
)
"""Every binding a step can be written out for."""
