"""The model of the catalogues: readings, worked values, faults, limits, codes, instruments, cautions.

Everything here is frozen data with look-ups; ``engine.catalogue_loading`` builds it from the files of
``trees/catalogue``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Literal, TypeAlias

from engine.codes import Code as Code
from engine.codes import CodeGroup as CodeGroup
from engine.codes import Codes as Codes
from engine.instruments import Accuracy as Accuracy
from engine.instruments import Instrument as Instrument

if TYPE_CHECKING:
    from engine.tree import Condition

Kind: TypeAlias = Literal["num", "one", "many", "codes", "trace"]
Takes: TypeAlias = Literal["mean", "highest", "lowest", "latest"]
Keeps: TypeAlias = Literal["ever", "saved", "job", "day", "half-hour", "never"]
Range: TypeAlias = tuple[float | None, float | None]
"""Lowest and highest, None where open."""


class Drive(StrEnum):
    """May the car be driven; ordered from least to most cautious by ``DRIVE_ORDER``."""

    MAY_DRIVE = "may-drive"
    WITH_CARE = "with-care"
    DO_NOT_DRIVE = "do-not-drive"


DRIVE_ORDER: tuple[Drive, ...] = (Drive.MAY_DRIVE, Drive.WITH_CARE, Drive.DO_NOT_DRIVE)

_PLACE = re.compile(r"(?:^|_)(b[12])(s[123])?(?=_|$)")


def place_of(reading_id: str) -> str | None:
    """Return the bank or sensor a reading belongs to (``b1``, ``b2s1`` …), or None."""
    match = _PLACE.search(reading_id)
    return match.group(1) + (match.group(2) or "") if match else None


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer of a choice reading."""

    value: str
    label: str
    not_looked: bool = False
    """The answer counts as no answer: it never clears a suspect."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One measured or observed quantity of the catalogue."""

    id: str
    label: str
    kind: Kind
    unit: str
    """Catalogue unit; empty for a bare number, a choice or codes."""
    reject: Range
    """Outside it the value is physically or electrically impossible, or outside the data item's scaling."""
    reject_by_tool: Mapping[str, Range]
    reject_if: tuple[tuple[Condition, Range], ...]
    usual: Range
    """Outside it the person is asked once; never a verdict."""
    usual_choices: tuple[str, ...]
    choices: tuple[Choice, ...]
    tools: tuple[str, ...]
    minutes: float
    """Minutes of one take, charged once a row when the row's readings are taken together."""
    row: str
    """Readings of one row are taken together and shown as one grid."""
    state: str
    """Engine state it is taken in: off koeo crank cold cool idle 2500 snap load wot overrun road
    reload any."""
    takes: Takes
    keeps: Keeps
    lost_by_repair: bool
    assumed: str | float | None
    """The answer taken without a screen when the file does not give one."""
    has: Mapping[str, tuple[str, ...]]
    """Car facts it needs: reading id -> answers with which the car has it; an unanswered fact counts
    as having it."""
    parameter: tuple[str, str] | None = None
    """Parameter of the live data and the value in it, when it may be typed as raw bytes."""

    @property
    def place(self) -> str | None:
        """The bank or sensor it belongs to."""
        return place_of(self.id)

    def choice(self, value: str) -> Choice | None:
        """Return the choice with this value."""
        return next((choice for choice in self.choices if choice.value == value), None)


@dataclass(frozen=True, slots=True)
class Source:
    """Where a number comes from."""

    kind: Literal["published", "common-practice", "from-memory", "maker", "shop", "derived"]
    of: str
    seen: bool = False

    @property
    def words(self) -> str:
        """How a screen or report names it."""
        match self.kind:
            case "published":
                return self.of if self.seen else f"from memory of {self.of}"
            case "from-memory":
                return f"from memory of {self.of}" if self.of else "from memory"
            case "common-practice":
                return "rule of thumb"
            case "maker":
                return f"maker's figure ({self.of})" if self.of else "maker's figure"
            case "shop":
                return f"this shop ({self.of})" if self.of else "this shop"
            case "derived":
                return f"worked out from {self.of}" if self.of else "worked out"


@dataclass(frozen=True, slots=True)
class Recipe:
    """One way to compute a worked value."""

    formula: str
    arguments: tuple[tuple[str, Argument], ...]
    result: str | None
    """Name of the formula's result to take; None when it has only one."""


@dataclass(frozen=True, slots=True)
class Argument:
    """What a recipe feeds a formula: a quantity's value, with a fallback, or a constant."""

    quantity: str | None
    constant: float | str | None = None
    """The value itself, or the fallback when the quantity is not known."""


@dataclass(frozen=True, slots=True)
class Worked:
    """A number (or choice) computed from readings by a named formula."""

    id: str
    label: str
    unit: str
    recipes: tuple[Recipe, ...]
    """Tried in order; the first whose arguments are known is used."""
    has: Mapping[str, tuple[str, ...]]

    @property
    def place(self) -> str | None:
        """The bank or sensor it belongs to."""
        return place_of(self.id)


@dataclass(frozen=True, slots=True)
class MakerFigure:
    """A maker's figure that replaces a general limit: reading x times + plus."""

    reading: str
    times: float = 1.0
    plus: float = 0.0


@dataclass(frozen=True, slots=True)
class Limit:
    """A named threshold with its unit and where it comes from."""

    id: str
    label: str
    unit: str
    value: float | None
    cases: tuple[tuple[Condition, float], ...]
    """By facts about the car, first true one wins over *value*."""
    relative: MakerFigure | None
    """The limit is another quantity x times + plus."""
    table_of: str | None
    table: tuple[tuple[float, float], ...]
    """Linear between the points over the quantity *table_of*, held at the ends."""
    maker: MakerFigure | None
    """The maker's figure wins when it is to hand."""
    widen: float
    """Signed: added when a maker's figure exists but is not to hand; between the two values nothing
    is decided."""
    source: Source


@dataclass(frozen=True, slots=True)
class Fault:
    """A cause from the faults catalogue."""

    id: str
    label: str
    system: str
    side: Literal["none", "bank", "upstream", "downstream", "any-sensor"]
    prior: float
    repair: str
    minutes: float | None
    parts: Literal["none", "small", "medium", "large", "very-large"]
    proof: str
    if_left: str
    drive: Drive
    directions: tuple[str, ...]
    proven_by: tuple[str, ...]
    """Any of these findings, at 99 %."""
    exclude_first: tuple[str, ...]
    """All of these findings."""
    decided_by_repair: bool
    """Stays probable until the reading was taken again after cleaning, sealing or replacing."""
    only_if: Condition | None = None
    """Cars that can have it; on others it is no suspect. An unknown fact counts as being one."""

    def sides(self, banks: int) -> tuple[str | None, ...]:
        """Return the sides this fault can have on a car with *banks* banks."""
        every = [f"b{bank}" for bank in range(1, banks + 1)]
        match self.side:
            case "none":
                return (None,)
            case "bank":
                return tuple(every)
            case "upstream":
                return tuple(f"{bank}s1" for bank in every)
            case "downstream":
                return tuple(f"{bank}s2" for bank in every)
            case "any-sensor":
                return tuple(f"{bank}s{sensor}" for sensor in (1, 2) for bank in every)


@dataclass(frozen=True, slots=True)
class FaultTable:
    """All faults, with what holds for every one."""

    faults: Mapping[str, Fault]
    outside_label: str
    outside_prior: float
    outside_share: float
    """The least share the suspect outside these trees keeps."""
    proven_needs: tuple[str, ...]
    """Findings every proven conclusion needs."""
    _sides: dict[int, dict[str, tuple[str | None, ...]]] = field(
        init=False, default_factory=dict, compare=False, repr=False
    )

    _priors: dict[int, dict[str, tuple[float, ...]]] = field(
        init=False, default_factory=dict, compare=False, repr=False
    )
    _conditional: list[tuple[Fault, ...]] = field(init=False, default_factory=list, compare=False, repr=False)

    @property
    def conditional(self) -> tuple[Fault, ...]:
        """The faults that not every car can have."""
        if not self._conditional:
            self._conditional.append(tuple(f for f in self.faults.values() if f.only_if is not None))
        return self._conditional[0]

    def priors(self, banks: int) -> Mapping[str, tuple[float, ...]]:
        """Return the prior of each fault on each of its sides: shared evenly among them."""
        if banks not in self._priors:
            count = {name: len(sides) for name, sides in self.sides(banks).items()}
            self._priors[banks] = {f.id: (f.prior / count[f.id],) * count[f.id] for f in self.faults.values()}
        return self._priors[banks]

    def sides(self, banks: int) -> Mapping[str, tuple[str | None, ...]]:
        """Return the sides each fault can have on a car with *banks* banks."""
        if banks not in self._sides:
            self._sides[banks] = {fault.id: fault.sides(banks) for fault in self.faults.values()}
        return self._sides[banks]


@dataclass(frozen=True, slots=True)
class Finding:
    """A fact established on the way that later rules may ask for."""

    id: str
    label: str
    side: Literal["none", "bank", "sensor"]
    drive: Drive | None
    """Set for a stop finding."""
    ends_with_repair: bool


@dataclass(frozen=True, slots=True)
class Left:
    """Something a step leaves clamped, plugged, unplugged or fitted."""

    id: str
    label: str
    undone: str
    """The reading or look that shows it undone."""


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning shown before a step."""

    id: str
    line: str
    """One line of at most 76 characters, the dangerous verb first."""
    say: str
    only_if: Condition | None
    """Shown only for such cars."""
    only_when_known: bool = False
    """Shown once the car is known to be one, and not before."""


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All catalogues together."""

    readings: Mapping[str, Reading]
    reading_groups: Mapping[str, tuple[str, ...]]
    worked: Mapping[str, Worked]
    faults: FaultTable
    findings: Mapping[str, Finding]
    left: Mapping[str, Left]
    limits: Mapping[str, Limit]
    codes: Codes
    instruments: Mapping[str, Instrument]
    state_minutes: Mapping[str, float]
    cautions: Mapping[str, Caution]
    words: Mapping[str, str]
    """Places and states in words: ``b1s1`` -> "bank 1 sensor 1"."""
    _facts: list[frozenset[str]] = field(init=False, default_factory=list, compare=False, repr=False)
    _bases: dict[str, frozenset[str]] = field(init=False, default_factory=dict, compare=False, repr=False)
    resting: dict[int, tuple[Condition, frozenset[str]]] = field(
        init=False, default_factory=dict, compare=False, repr=False
    )
    """What ``engine.resting`` worked out, by the identity of the condition, held so that it stays."""

    @property
    def facts(self) -> frozenset[str]:
        """The facts that decide which quantities a car has at all."""
        if not self._facts:
            needed = [reading.has for reading in self.readings.values()]
            needed += [worked.has for worked in self.worked.values()]
            self._facts.append(frozenset({"veh_banks"}.union(*needed)))
        return self._facts[0]

    def label(self, quantity: str) -> str:
        """Return the label of a reading or worked value."""
        found = self.readings.get(quantity) or self.worked.get(quantity)
        return found.label if found else quantity

    def unit(self, quantity: str) -> str:
        """Return the unit of a reading or worked value."""
        found = self.readings.get(quantity) or self.worked.get(quantity)
        return found.unit if found else ""

    def base_readings(self, quantity: str) -> frozenset[str]:
        """Return the readings a quantity rests on: itself, or all a worked value's recipes may use."""
        if quantity not in self._bases:
            self._bases[quantity] = self._base_readings(quantity)
        return self._bases[quantity]

    def _base_readings(self, quantity: str) -> frozenset[str]:
        if quantity == "dtc_any":
            return frozenset({"dtc_stored", "dtc_pending"})
        worked = self.worked.get(quantity)
        if worked is None:
            return frozenset({quantity})
        inner = {arg.quantity for recipe in worked.recipes for _, arg in recipe.arguments if arg.quantity}
        own = frozenset({quantity}) & self.readings.keys()  # a rate may be read, or worked out from counts
        return own.union(*(self.base_readings(name) for name in inner))
