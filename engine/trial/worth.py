"""What the trees' order costs: against the best order of the same tests, and against fitting parts."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.best_order import DiscreteTest, TooMany, best_order_of_tests
from engine.judging import CONFIDENCE, judge
from engine.library import Library
from engine.measured import Take, Value, combine
from engine.money import PARTS_TRIED, part_hours
from engine.situation import Situation
from engine.tree import Step
from engine.trial.cars import CarSource, TrialCar
from engine.trial.lazy import CarResult
from engine.trial.scoring import Score

MOST_FAULTS = 10
"""Faults among which the best order is worked out in full: the most frequent of the trial."""
MOST_STEPS = 24
"""Steps it may choose from: those the cars with these faults came to most often."""


@dataclass(frozen=True, slots=True)
class AgainstBest:
    """The trees' minutes against the best possible order on the same cars and tests."""

    faults: tuple[str, ...]
    cars: int
    tree_minutes: float
    """Mean of the trees on these cars."""
    best_minutes: float | None
    """Least mean until no test tells the faults apart any more; None when there were too many states."""
    first: str | None
    """Step the best order begins with."""
    undivided: int
    """Faults that stay together with another even after every test."""


@dataclass(frozen=True, slots=True)
class AgainstParts:
    """Hours of labour, parts included, spent for nothing: tested first, and fitted by popularity."""

    cars: int
    tested: float
    """Mean a car: minutes of testing, and the parts the trees named that were not the cause."""
    fitted: float
    """Mean a car: parts fitted in the order in which they fail most often that cured nothing."""
    cured: float
    """Share of the cars that the parts fitted cure."""


def against_best(library: Library, source: CarSource, results: Sequence[CarResult]) -> AgainstBest | None:
    """Return the trees against the best order over the most frequent single faults; None below two faults.

    Each fault stands as its first car shows it; the steps judge its readings as the trees do, without the
    findings of other steps. The best order knows that it is one of these faults, and a step that cannot
    decide is a result of its own: the figure is a floor under any order, not one that could be walked.
    """
    single = [r for r in results if len(r.hidden) == 1]
    counts = Counter(r.hidden[0][0] for r in single)
    faults = tuple(sorted(counts, key=lambda name: (-counts[name], name))[:MOST_FAULTS])
    if len(faults) < 2:
        return None
    mine = [r for r in single if r.hidden[0][0] in faults]
    first = {name: next(r.number for r in mine if r.hidden[0][0] == name) for name in faults}
    cars = [source.car(library.catalogue, first[name]) for name in faults]
    visits = Counter((step.tree, step.step) for r in mine for step in set(r.path))
    chosen = sorted(visits, key=lambda key: (-visits[key], key))
    tests, shared = _tests(library, chosen, cars)
    minutes = math.fsum(r.minutes for r in mine) / len(mine)
    try:
        found = best_order_of_tests([counts[name] for name in faults], tests, shared)
    except TooMany:
        return AgainstBest(faults, len(mine), minutes, None, None, 0)
    together = sum(len(group) for group in found.groups if len(group) > 1)
    return AgainstBest(faults, len(mine), minutes, found.cost, found.first, together)


def _tests(
    library: Library, keys: Sequence[tuple[str, str]], cars: Sequence[TrialCar]
) -> tuple[list[DiscreteTest], dict[str, float]]:
    situations = [_Known(library, car) for car in cars]
    tests: list[DiscreteTest] = []
    shared: dict[str, float] = {}
    for tree, name in keys:
        step = next((by_id[name] for by_id in library.tree(tree).steps.values() if name in by_id), None)
        if step is None or not step.readings:
            continue
        says = tuple(known.result(step) for known in situations)
        if len(set(says)) > 1:
            minutes, needs = _cost(library, step)
            shared |= needs
            tests.append(DiscreteTest(f"{tree}/{name}", minutes, says, frozenset(needs)))
        if len(tests) == MOST_STEPS:
            break
    return tests, shared


def _cost(library: Library, step: Step) -> tuple[float, Mapping[str, float]]:
    """Return the minutes of a step's rows, and what it shares with others: set-ups and engine states."""
    catalogue = library.catalogue
    readings = [catalogue.readings[name] for name in step.readings]
    rows = {reading.row: reading.minutes for reading in readings}
    shared = {}
    for reading in readings:
        for tool in reading.tools[:1]:
            instrument = catalogue.instruments.get(tool)
            if instrument is not None and instrument.setup:
                shared[tool] = instrument.setup
        if minutes := catalogue.state_minutes.get(reading.state, 0.0):
            shared[f"state {reading.state}"] = minutes
    return math.fsum(rows.values()), shared


class _Known:
    """One car, measured where a step asks."""

    def __init__(self, library: Library, car: TrialCar) -> None:
        self.library, self.car = library, car
        self.values: dict[str, Value] = {}
        self.asked: set[str] = set()
        for name in car.facts:
            self._measure(name)

    def result(self, step: Step) -> str:
        """Return what a step says of this car."""
        for name in (*step.readings, *step.optional):
            self._measure(name)
        judgement = judge(step, Situation(self.library.catalogue, dict(self.values), ()), CONFIDENCE)
        return judgement.rule.id if judgement.rule is not None and not judgement.doubtful else "undecided"

    def _measure(self, name: str) -> None:
        if name in self.asked:
            return
        self.asked.add(name)
        answer = self.car.facts.get(name, self.car.taker.take(name))
        reading = self.library.catalogue.readings.get(name)
        if answer is not None and reading is not None:
            take = Take(len(self.values), name, answer, "", None, 0.0)
            self.values[name] = combine(reading, [take], self.library.catalogue.instruments)


def against_parts(library: Library, results: Sequence[CarResult], most: int = PARTS_TRIED) -> AgainstParts:
    """Return testing first against replacing the most popular part first, over cars with one fault.

    Args:
        library: priors, minutes and part bands.
        results: one a car.
        most: parts that are fitted before somebody gives up.
    """
    faults = library.catalogue.faults.faults
    single = [r for r in results if len(r.hidden) == 1]
    fittings = [
        fault.id
        for fault in sorted(faults.values(), key=lambda fault: (-fault.prior, fault.id))
        if fault.minutes is not None and fault.parts != "none"
    ][:most]
    hours = {name: (faults[name].minutes or 0.0) / 60.0 + part_hours(faults[name])[1] for name in faults}
    tested, fitted, cured = 0.0, 0.0, 0
    for result in single:
        cause = result.hidden[0][0]
        wrong = (
            result.score in (Score.NEAR, Score.WRONG, Score.WRONG_PROVEN) and result.conclusion[0] != cause
        )
        tested += result.minutes / 60.0 + (hours[result.conclusion[0]] if wrong else 0.0)
        upto = fittings.index(cause) if cause in fittings else len(fittings)
        fitted += math.fsum(hours[name] for name in fittings[:upto])
        cured += cause in fittings
    count = max(len(single), 1)
    return AgainstParts(len(single), tested / count, fitted / count, cured / count)
