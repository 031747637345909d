"""What can be decided with a kit and some minutes, and what each instrument that is not on the van costs.

An estimate, and a hopeful one: each reading is taken to come out the way that leads there, at the first try
and surely enough; nothing is doubtful, nothing is seized, no repair takes time. What a step asks is measured
where the kit can do it; instruments and engine states are paid for once. A path found is a way the walk can
go; that it will go so is not said.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from engine.catalogue import Catalogue, Fault
from engine.entry.numbers import NO_FACTS
from engine.errors import LaybyError, did_you_mean, shown
from engine.kit import ALWAYS_THERE
from engine.library import Library
from engine.measured import Answer
from engine.passages import COLD_ENGINE, Passages
from engine.quickest import Quickest, StepOnWay, Way
from engine.tree import Binding

__all__ = [
    "ESTIMATE", "Decidable", "Fallen", "Missing", "NotDecidable", "Reach", "StepOnWay", "Way",
    "cost_of_missing", "reach",
]  # fmt: skip

ESTIMATE = (
    "An estimate: the least minutes, if every reading comes out the way that leads there, at the first try. "
    "Repairs are not counted."
)
Firm: TypeAlias = Literal["proven", "probable"]


@dataclass(frozen=True, slots=True)
class Decidable:
    """A fault that can be concluded with this kit in this time."""

    fault: str
    label: str
    strength: Firm
    way: Way
    for_proven: str
    """What is in the way of *proven*, in words; empty when it is proven."""


@dataclass(frozen=True, slots=True)
class NotDecidable:
    """A fault of these trees that cannot be concluded with this kit in this time."""

    fault: str
    label: str
    missing: tuple[str, ...]
    """Instruments that are not on the van."""
    minutes_short: float
    """Minutes above those there are; 0 when time is not what is missing."""
    words: str


@dataclass(frozen=True, slots=True)
class Reach:
    """What can be decided with a kit and some minutes."""

    decidable: tuple[Decidable, ...]
    """Quickest first."""
    not_decidable: tuple[NotDecidable, ...]
    """The nearest first."""
    estimate: str = ESTIMATE


@dataclass(frozen=True, slots=True)
class Fallen:
    """A conclusion that is weaker, or lost, without an instrument."""

    fault: str
    label: str
    becomes: Literal["probable", "lost"]
    also_needs: tuple[str, ...]
    """Other instruments that are not on the van and are needed as well."""


@dataclass(frozen=True, slots=True)
class Missing:
    """An instrument that is not on the van, and what it costs to be without it."""

    instrument: str
    label: str
    fallen: tuple[Fallen, ...]


def reach(
    library: Library,
    tree_id: str,
    kit: Sequence[str],
    minutes: float,
    facts: Mapping[str, Answer] = NO_FACTS,
    *,
    found: Sequence[str] = (),
    side: str | None = None,
) -> Reach:
    """Return which faults can be proven or made probable from the start of a tree.

    Args:
        library: trees and catalogues.
        tree_id: where the job begins.
        kit: instruments on the van (``CR``, ``MM`` …); eyes and papers always count.
        minutes: how long there is.
        facts: what is known of the car; it is not asked and costs nothing.
        found: findings made already, such as ``complaint-carried``.
        side: bank or sensor, when the tree is a procedure.

    Raises:
        LaybyError: there is no such tree, instrument or side.
    """
    ways = _ways(library, tree_id, kit, facts, found, side)
    decidable, rest = [], []
    for fault, (probable, proven) in ways.items():
        named = library.catalogue.faults.faults[fault]
        if proven is not None and _within(proven, minutes):
            decidable.append(Decidable(fault, named.label, "proven", proven, ""))
        elif _within(probable, minutes):
            why = _for_proven(library.catalogue, named, proven, minutes)
            decidable.append(Decidable(fault, named.label, "probable", probable, why))
        else:
            rest.append(_not_decidable(library.catalogue, named, probable, minutes))
    return Reach(
        tuple(sorted(decidable, key=lambda d: (d.way.minutes, d.fault))),
        tuple(sorted(rest, key=lambda n: (len(n.missing), n.minutes_short, n.fault))),
    )


def cost_of_missing(
    library: Library,
    kit: Sequence[str],
    facts: Mapping[str, Answer] = NO_FACTS,
    *,
    found: Sequence[str] = ("complaint-carried",),
) -> tuple[Missing, ...]:
    """Return, for each instrument not on the van, which conclusions fall to probable or are lost.

    However long it takes, over all symptom trees. A conclusion that needs several missing instruments stands
    with each of them. The instrument with the most lost comes first.
    """
    best: dict[str, tuple[Way | None, Way | None]] = {}
    for name in sorted(library.trees):
        if library.trees[name].kind == "symptom":
            for fault, pair in _ways(library, name, kit, facts, found, None).items():
                old = best.get(fault, (None, None))
                best[fault] = (_nearer(old[0], pair[0]), _nearer(old[1], pair[1]))
    fallen: dict[str, list[Fallen]] = {
        tool: [] for tool in library.catalogue.instruments if tool not in {*kit, *ALWAYS_THERE}
    }
    for fault, (probable, proven) in sorted(best.items()):
        label = library.catalogue.faults.faults[fault].label
        lost = probable is not None and bool(probable.missing)
        way = probable if lost else proven
        needed = way.missing if way is not None else ()
        for tool in needed:
            if tool in fallen:
                others = tuple(other for other in needed if other != tool)
                fallen[tool].append(Fallen(fault, label, "lost" if lost else "probable", others))
    named = library.catalogue.instruments
    entries = [Missing(tool, named[tool].label, tuple(faults)) for tool, faults in fallen.items()]
    return tuple(
        sorted(entries, key=lambda m: (-sum(f.becomes == "lost" for f in m.fallen), -len(m.fallen), m.label))
    )


# ------------------------------------------------------------------------------------------------ inside


def _ways(
    library: Library,
    tree_id: str,
    kit: Sequence[str],
    facts: Mapping[str, Answer],
    found: Sequence[str],
    side: str | None,
) -> dict[str, tuple[Way, Way | None]]:
    """Return, for each fault that is concluded, the quickest way to any conclusion and to a proven one."""
    _check(library, tree_id, kit, side)
    search = Quickest(Passages(library, tree_id, kit, facts, side), found)
    table = library.catalogue.faults
    ways: dict[str, tuple[Way, Way | None]] = {}
    for fault, way in search.to_each().items():
        provable = fault in search.provable
        proof = search.to_proof(table.faults[fault], table.proven_needs) if provable else None
        ways[fault] = (min(way, proof, key=_price) if proof is not None else way, proof)
    return ways


def _check(library: Library, tree_id: str, kit: Sequence[str], side: str | None) -> None:
    """Raise LaybyError for a tree, instrument or side that does not exist."""
    tree, known = library.tree(tree_id), library.catalogue.instruments
    for tool in kit:
        if tool not in known:
            raise LaybyError(
                f"no instrument {shown(tool)}{did_you_mean(tool, known)}: there are {', '.join(known)}"
            )
    if side is not None and Binding.of(side) not in tree.steps:
        raise LaybyError(f"{shown(side)} is no bank or sensor of {tree_id}: write b1, b2, b1s1 or b2s1")


def _price(way: Way) -> tuple[int, float]:
    return way.price


def _nearer(one: Way | None, other: Way | None) -> Way | None:
    ways = [way for way in (one, other) if way is not None]
    return min(ways, key=_price, default=None)


def _within(way: Way, minutes: float) -> bool:
    return not way.missing and way.minutes <= minutes


def _for_proven(catalogue: Catalogue, fault: Fault, proof: Way | None, minutes: float) -> str:
    """Return what keeps a fault from *proven* here, in words."""
    if proof is not None:
        return f"proven would need {_wanting(catalogue, proof, minutes)}"
    if fault.decided_by_repair:
        return "proven only when the same reading was taken again after the repair"
    return "these trees make it probable and no more"


def _not_decidable(catalogue: Catalogue, fault: Fault, way: Way, minutes: float) -> NotDecidable:
    short = max(way.minutes - minutes, 0.0)
    return NotDecidable(fault.id, fault.label, way.missing, short, _wanting(catalogue, way, minutes))


def _wanting(catalogue: Catalogue, way: Way, minutes: float) -> str:
    """Return what a way needs above what there is: instruments, minutes."""
    parts = [_named(catalogue, tool) for tool in way.missing]
    if way.minutes > minutes:
        parts.append(f"about {way.minutes:.0f} minutes instead of {minutes:.0f}")
    return " and ".join(parts)


def _named(catalogue: Catalogue, tool: str) -> str:
    if tool == COLD_ENGINE:
        return "a cold engine (next visit)"
    instrument = catalogue.instruments.get(tool)
    return instrument.label if instrument is not None else tool
