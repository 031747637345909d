"""Weights of faults from what was measured.

A suspect's weight is its prior times, for every piece of evidence, the sum over the rules of
P(rule) x weight(rule). It is worked out anew from the priors each time, never updated in place, so that the
order in which things were found cannot matter. The share of each is its weight among all, and a suspect
*outside these trees* always keeps a share.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from engine.catalogue import Catalogue, FaultTable
from engine.situation import sides_meet

LEAST_FACTOR, MOST_FACTOR = 0.02, 50.0
"""One piece of evidence never moves a suspect further than this."""
NOTICED = 0.02
"""A factor nearer to one than this is not worth a word."""
SIDE_DECIDED = 0.8
"""Share of a fault's weight on one side from which that side is named."""


Factors: TypeAlias = Mapping[str, tuple[float, ...]]
"""Fault -> factor on each of its sides, in their order."""


@dataclass(frozen=True, slots=True)
class Weighing:
    """What one possible verdict says of faults: with probability *p*, on *side*, these factors."""

    p: float
    side: str | None
    factors: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Evidence:
    """One piece of evidence: all that the same readings said last."""

    title: str
    verdict: str
    rests_on: frozenset[str]
    """Base readings; evidence over the same readings is one piece."""
    weighings: tuple[Weighing, ...]
    strongest: bool = False
    """The weighings are several signs of one thing: the strongest that speaks of a suspect counts, once."""
    step: str = ""
    """Which step of which tree said so, for which sensor; a later verdict of the same step replaces this."""
    _factors: dict[int, Factors] = field(init=False, default_factory=dict, compare=False, repr=False)

    @property
    def named(self) -> frozenset[str]:
        """The faults it speaks of; no other is moved."""
        return frozenset(fault for weighing in self.weighings for fault in weighing.factors)

    def factor(self, fault: str, side: str | None) -> float:
        """Return what this piece multiplies a suspect by, kept within 0.02 and 50."""
        if self.strongest:
            said = [w.factors.get(fault, 1.0) for w in self.weighings if sides_meet(w.side, side)]
            return min(max([*said, 1.0]), MOST_FACTOR)
        named = sum(weighing.p for weighing in self.weighings)
        total = 1.0 - min(named, 1.0)
        for weighing in self.weighings:
            here = sides_meet(weighing.side, side)
            total += weighing.p * (weighing.factors.get(fault, 1.0) if here else 1.0)
        return min(max(total, LEAST_FACTOR), MOST_FACTOR)

    def factors(self, table: FaultTable, banks: int) -> Factors:
        """Return the factor of every fault it speaks of on each of its sides, worked out once."""
        if banks not in self._factors:
            sides = table.sides(banks)
            self._factors[banks] = {
                name: tuple(self.factor(name, side) for side in sides[name])
                for name in self.named & sides.keys()
            }
        return self._factors[banks]


@dataclass(frozen=True, slots=True)
class Move:
    """How one piece of evidence moved a suspect."""

    title: str
    verdict: str
    factor: float

    @property
    def words(self) -> str:
        """The move in words."""
        if self.factor >= 1.0:
            return f"up {self.factor:.2g} times: {self.verdict}"
        return f"down to {100 * self.factor:.0f} %: {self.verdict}"


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault not yet ruled out; *fault* is None for what lies outside these trees."""

    fault: str | None
    label: str
    side: str | None
    """None when the fault has no side, or while none is likely enough."""
    p: float
    """Share of the weight of all suspects."""
    moves: tuple[Move, ...]
    """What moved it, strongest first."""


def add_evidence(pieces: Sequence[Evidence], new: Evidence) -> tuple[Evidence, ...]:
    """Return the pieces with *new* added; readings judged twice count once.

    A later verdict of the same step replaces the earlier one. Of two steps over the same readings the later
    counts, and where one rests on part of the other's readings, the one that rests on more.
    """
    kept = tuple(old for old in pieces if not new.step or old.step != new.step)
    if not new.weighings:
        return kept
    if new.rests_on and any(new.rests_on < old.rests_on for old in kept):
        return kept
    return (*(old for old in kept if not old.rests_on or not old.rests_on <= new.rests_on), new)


def codes_evidence(catalogue: Catalogue, codes: Sequence[str]) -> tuple[Evidence, ...]:
    """Return what stored and pending codes say: one piece, in which a suspect's strongest code counts."""
    weighings = []
    for code in codes:
        entry = catalogue.codes.find(code)
        if entry is None:
            continue
        for group in entry.groups:
            weighings.append(Weighing(1.0, entry.side, dict(catalogue.codes.groups[group].weigh)))
    if not weighings:
        return ()
    rests_on = frozenset({"dtc_stored", "dtc_pending"})
    return (Evidence("Trouble codes", ", ".join(codes), rests_on, tuple(weighings), strongest=True),)


def rank(
    catalogue: Catalogue,
    pieces: Sequence[Evidence],
    banks: int,
    prior_factors: Mapping[str, float] | None = None,
    *,
    most: int | None = None,
) -> tuple[Suspect, ...]:
    """Return the suspects, heaviest first; the one outside these trees among them.

    Args:
        catalogue: gives faults and priors.
        pieces: the evidence so far.
        banks: banks of this car; a fault's prior is shared among its possible sides.
        prior_factors: multipliers of priors: local experience with cars like this one.
        most: how many are wanted; None for all.
    """
    table = catalogue.faults
    weights = _weights(table, pieces, banks, prior_factors or {})
    sums = {name: sum(by_side) for name, by_side in weights.items()}
    inside = sum(sums.values())
    outside = max(table.outside_prior, inside * table.outside_share / (1.0 - table.outside_share))
    total = inside + outside
    shares = sorted([(-(outside / total), "~"), *((-(w / total), name) for name, w in sums.items())])
    return tuple(
        Suspect(None, table.outside_label, None, -share, ())
        if name == "~"
        else _suspect(catalogue, name, weights[name], pieces, banks, -share)
        for share, name in shares[:most]
    )


def _weights(
    table: FaultTable, pieces: Sequence[Evidence], banks: int, prior_factors: Mapping[str, float]
) -> dict[str, Sequence[float]]:
    """Return the weight of every fault on each of its sides, worked out from the priors."""
    weights: dict[str, Sequence[float]] = dict(table.priors(banks))
    for name, times in prior_factors.items():
        if name in weights:
            count = len(weights[name])
            weights[name] = [table.faults[name].prior * times / count] * count
    for piece in pieces:
        for name, factors in piece.factors(table, banks).items():
            weights[name] = [weight * factor for weight, factor in zip(weights[name], factors, strict=True)]
    return weights


def _suspect(
    catalogue: Catalogue,
    fault: str,
    by_side: Sequence[float],
    pieces: Sequence[Evidence],
    banks: int,
    p: float,
) -> Suspect:
    table = catalogue.faults
    best = by_side.index(max(by_side))
    weight = sum(by_side)
    decided = len(by_side) == 1 or (weight > 0 and by_side[best] / weight >= SIDE_DECIDED)
    moves = []
    for piece in pieces:
        factors = piece.factors(table, banks).get(fault)
        if factors is not None and abs(factors[best] - 1.0) > NOTICED:
            moves.append(Move(piece.title, piece.verdict, factors[best]))
    moves.sort(key=lambda move: -abs(_log(move.factor)))
    side = table.sides(banks)[fault][best] if decided else None
    return Suspect(fault, table.faults[fault].label, side, p, tuple(moves))


def _log(factor: float) -> float:
    return factor - 1.0 if factor >= 1.0 else 1.0 - 1.0 / factor
