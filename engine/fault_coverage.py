"""Fault by tree: which symptom trees conclude it, and the shortest way there in minutes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.library import Library
from engine.passages import Passages
from engine.quickest import Quickest
from engine.tree import Strength

AT_THE_START = ("complaint-carried",)
"""Findings taken as made: the fault was seen, as the trees ask before anything is proven."""


@dataclass(frozen=True, slots=True)
class Concluded:
    """The quickest way from the start of one symptom tree to one conclusion of a fault."""

    tree: str
    minutes: float
    ends_in: str
    """Tree or procedure that holds the conclusion."""
    conclusion: str
    strength: Strength
    """What the conclusion asks for; the evidence decides whether it stands."""


@dataclass(frozen=True, slots=True)
class FaultCoverage:
    """One fault and every symptom tree from which it is reached."""

    fault: str
    label: str
    ways: tuple[Concluded, ...]
    """Shortest first; empty when no tree concludes it."""


def fault_coverage(library: Library) -> tuple[FaultCoverage, ...]:
    """Return every fault of the catalogue with the trees that conclude it, every instrument on the van."""
    kit = tuple(library.catalogue.instruments)
    found: dict[str, list[Concluded]] = {}
    for name, tree in sorted(library.trees.items()):
        if tree.kind != "symptom":
            continue
        search = Quickest(Passages(library, name, kit, {}, None), AT_THE_START)
        for fault, way in search.to_each().items():
            ends_in, conclusion = way.conclusion
            found.setdefault(fault, []).append(
                Concluded(name, way.minutes, ends_in, conclusion, _strength(library, ends_in, conclusion))
            )
    faults: Mapping[str, str] = {one.id: one.label for one in library.catalogue.faults.faults.values()}
    return tuple(
        FaultCoverage(
            fault, label, tuple(sorted(found.get(fault, ()), key=lambda way: (way.minutes, way.tree)))
        )
        for fault, label in faults.items()
    )


def _strength(library: Library, tree: str, conclusion: str) -> Strength:
    return next(
        named[conclusion].strength
        for named in library.trees[tree].conclusions.values()
        if conclusion in named
    )
