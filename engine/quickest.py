"""The quickest ways through the graph of the trees: to each conclusion, and to the proof of a fault.

Cheapest first, with instruments and engine states paid once along a way. One way is kept for each place (and,
for a proof, for each set of findings made so far), so a dearer beginning that would pay off later can be
missed: what is found is a way that can be walked, its minutes at most a little above the least.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from engine.catalogue import Fault
from engine.passages import Passage, Passages
from engine.tree import Conclusion, Strength

LACKING = 1e6
"""Weight of one instrument that is not on the van against minutes, so that the fewest are needed first."""
MOST_BEGINNINGS = 8
"""Beginnings kept a place, the cheapest; all are weighed only where these lead nowhere."""
MOST_LABELS = 60_000
"""Beginnings weighed in one search; far above what the shipped trees need."""


@dataclass(frozen=True, slots=True)
class StepOnWay:
    """One step of a way, with what it costs there."""

    tree: str
    step: str
    title: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Way:
    """A way to a conclusion."""

    minutes: float
    steps: tuple[StepOnWay, ...]
    """Those that cost minutes or need an instrument; pure judgements are left out."""
    missing: tuple[str, ...]
    """Instruments it needs that are not on the van."""
    conclusion: tuple[str, str]
    """Tree and conclusion."""

    @property
    def price(self) -> tuple[int, float]:
        """What ways are compared by: missing instruments, then minutes."""
        return len(self.missing), self.minutes


class _Label(NamedTuple):
    """A way as far as one place; a plain tuple, for tens of thousands are made."""

    cost: float
    paid: int
    place: int
    """-1 at the end."""
    before: _Label | None
    by: Passage | None
    """The passage taken from the place before."""
    made: int
    """Findings, as bits."""


class _Goal:
    """What the proof of one fault wants, as bits: the findings, that one decided, that a repair was made."""

    def __init__(
        self,
        graph: Passages,
        fault: Fault,
        always: Sequence[str],
        makes: Sequence[int],
        proves: Sequence[bool],
    ) -> None:
        self._graph, self._fault, self._makes, self._proves_there = graph, fault.id, makes, proves
        self._deciding, self._needed = 0, 0
        for name in fault.proven_by:
            self._deciding |= graph.finding_bits[name]
        for name in (*fault.exclude_first, *always):
            self._needed |= graph.finding_bits[name]
        self._decided = 1 << len(graph.finding_bits)
        self._mended = self._decided << 1 if fault.decided_by_repair else 0
        self.wanted = self._needed | self._decided | self._mended
        self._onward: dict[int, tuple[tuple[Passage, int, int], ...]] = {}

    def bits_of(self, findings: int) -> int:
        """Return what findings are of the wanted bits."""
        return findings & self._needed | (self._decided if findings & self._deciding else 0)

    def onward(self, place: int) -> tuple[tuple[Passage, int, int], ...]:
        """Return the passages that may lead to the proof: what each makes, and what can be made after it.

        Of passages that lead, cost and make the same only the first is kept.
        """
        if place not in self._onward:
            found: dict[tuple[int | None, int, int], tuple[Passage, int, int]] = {}
            for passage in self._graph.places[place].passages:
                makes = self.bits_of(passage.findings) | (self._mended if passage.repaired else 0)
                if passage.to is None:
                    leads, ahead = _proves(passage, self._fault), 0
                else:
                    leads = self._proves_there[passage.to]
                    ahead = self.bits_of(self._makes[passage.to]) | self._mended
                if leads:
                    found.setdefault((passage.to, id(passage.charges), makes), (passage, makes, ahead))
            self._onward[place] = tuple(found.values())
        return self._onward[place]


class Quickest:
    """The quickest ways through one graph.

    Args:
        graph: places and passages.
        found: findings made already.
    """

    def __init__(self, graph: Passages, found: Sequence[str]) -> None:
        self.graph = graph
        made = 0
        for name in found:
            made |= graph.finding_bits.get(name, 0)
        self._first = _Label(0.0, 0, graph.start, None, None, made)
        ends = [p.end[1] for place in graph.places for p in place.passages if p.end is not None]
        provable = {end.faults[0] for end in ends if end.faults and end.strength is Strength.PROVEN}
        self.provable = tuple(sorted(provable))
        """Faults that some conclusion of these trees calls proven."""
        self._makes, self._proves = self._what_lies_ahead()

    # ---------------------------------------------------------------------------------------- to any end

    def to_each(self) -> dict[str, Way]:
        """Return the quickest way to a conclusion of each fault, however firm."""
        best: dict[str, _Label] = {}
        done: set[int] = set()
        heap = [(0.0, 0, self._first)]
        pushed = 0
        while heap:
            _, _, label = heapq.heappop(heap)
            if label.place in done:
                continue
            done.add(label.place)
            for passage in self.graph.places[label.place].passages:
                if passage.to is not None and passage.to in done:
                    continue
                onward = _take(label, passage, label.made)
                if passage.to is not None:
                    pushed += 1
                    heapq.heappush(heap, (onward.cost, pushed, onward))
                elif passage.end is not None and _names_a_fault(passage.end[1]):
                    fault = passage.end[1].faults[0]
                    if fault not in best or onward.cost < best[fault].cost:
                        best[fault] = onward
        return {fault: self._way(label) for fault, label in best.items()}

    # ----------------------------------------------------------------------------------------- to a proof

    def to_proof(self, fault: Fault, always: Sequence[str]) -> Way | None:
        """Return the quickest way that makes every finding the proof of a fault needs, or None.

        Args:
            fault: gives the findings that decide, and those that must be excluded first.
            always: findings that every proof needs.
        """
        goal = _Goal(self.graph, fault, always, self._makes, self._may_prove(fault.id))
        quick, dropped = self._search(goal, MOST_BEGINNINGS)
        if quick is None and dropped:
            quick, _ = self._search(goal, MOST_LABELS)
        return quick

    def _may_prove(self, fault: str) -> list[bool]:
        """Tell for each place whether the fault can be proven from there."""
        here = 1 << self.provable.index(fault)
        return [bool(proves & here) for proves in self._proves]

    def _search(self, goal: _Goal, most: int) -> tuple[Way | None, bool]:
        """Return the quickest way on which everything the goal wants is made.

        Cheapest first; a beginning that has made no more than a cheaper one at the same place is dropped, and
        beyond *most* a place every further one, which is told.
        """
        wanted = goal.wanted
        done: list[list[int]] = [[] for _ in self.graph.places]
        heap = [(0.0, 0, self._first._replace(made=goal.bits_of(self._first.made)))]
        pushed, dropped = 0, False
        while heap and pushed < MOST_LABELS:
            _, _, label = heapq.heappop(heap)
            if label.place < 0:
                return self._way(label), dropped
            if _is_covered(label.made, done[label.place]):
                continue
            if len(done[label.place]) >= most:
                dropped = True
                continue
            done[label.place].append(label.made)
            for passage, makes, ahead in goal.onward(label.place):
                made = label.made | makes
                if wanted & ~(made | ahead):
                    continue
                if passage.to is not None and _is_covered(made, done[passage.to]):
                    continue
                pushed += 1
                onward = _take(label, passage, made)
                heapq.heappush(heap, (onward.cost, pushed, onward))
        return None, dropped

    def _what_lies_ahead(self) -> tuple[list[int], list[int]]:
        """Return, for each place, the findings that can be made from there and the faults proven there."""
        places = self.graph.places
        makes, proves = [0] * len(places), [0] * len(places)
        bit = {fault: 1 << at for at, fault in enumerate(self.provable)}
        changed = True
        while changed:
            changed = False
            for at in range(len(places) - 1, -1, -1):
                made, proven = makes[at], proves[at]
                for passage in places[at].passages:
                    made |= passage.findings
                    if passage.to is not None:
                        made |= makes[passage.to]
                        proven |= proves[passage.to]
                    elif passage.end is not None and _is_proven(passage.end[1]):
                        proven |= bit[passage.end[1].faults[0]]
                if (made, proven) != (makes[at], proves[at]):
                    makes[at], proves[at], changed = made, proven, True
        return makes, proves

    # --------------------------------------------------------------------------------------- written out

    def _way(self, last: _Label) -> Way:
        """Return a way written out from its last label."""
        steps: list[StepOnWay] = []
        missing: set[str] = set()
        minutes = 0.0
        label = last
        while label.before is not None and label.by is not None:
            due = [charge for charge in label.by.charges if charge.bits & ~label.before.paid]
            lacking = {charge.missing for charge in due if charge.missing is not None}
            spent = sum(charge.minutes for charge in due)
            if spent or lacking:
                place = self.graph.places[label.before.place]
                steps.append(StepOnWay(place.tree, place.step.id, place.step.title, spent))
            minutes += spent
            missing |= lacking
            label = label.before
        end = last.by.end if last.by is not None else None
        assert end is not None
        return Way(minutes, tuple(reversed(steps)), tuple(sorted(missing)), (end[0], end[1].id))


def _take(label: _Label, passage: Passage, made: int) -> _Label:
    """Return the way one passage further."""
    cost, paid = label.cost, label.paid
    for charge in passage.charges:
        if charge.bits & ~paid:
            cost += charge.minutes if charge.missing is None else charge.minutes + LACKING
            paid |= charge.bits
    return _Label(cost, paid, -1 if passage.to is None else passage.to, label, passage, made)


def _is_covered(made: int, others: Sequence[int]) -> bool:
    """Tell whether one of *others* holds all that was made."""
    for other in others:  # noqa: SIM110 -- asked for every beginning, and a generator takes twice as long
        if not made & ~other:
            return True
    return False


def _names_a_fault(conclusion: Conclusion) -> bool:
    return bool(conclusion.faults) and conclusion.strength is not Strength.NOT_FOUND_HERE


def _is_proven(conclusion: Conclusion) -> bool:
    return bool(conclusion.faults) and conclusion.strength is Strength.PROVEN


def _proves(passage: Passage, fault: str) -> bool:
    return passage.end is not None and _is_proven(passage.end[1]) and passage.end[1].faults[0] == fault
