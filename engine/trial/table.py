"""The table of a trial: shares and their intervals, faults by conclusion, minutes, steps never reached."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from engine.library import Library
from engine.trial.lazy import CarResult
from engine.trial.scoring import Score

Z95 = 1.959963984540054
"""Standard normal quantile of a two-sided 95 % interval."""
HEALTHY = "no fault"


@dataclass(frozen=True, slots=True)
class Share:
    """A share of the cars, with its 95 % interval."""

    count: int
    of: int

    @property
    def share(self) -> float:
        """The share itself; 0 of none."""
        return self.count / self.of if self.of else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval of the share."""
        return wilson(self.count, self.of)

    def data(self) -> dict[str, Any]:
        """Return the share as plain data."""
        low, high = self.interval
        return {"cars": self.count, "share": self.share, "low": low, "high": high}


def wilson(count: int, of: int, z: float = Z95) -> tuple[float, float]:
    """Return the score interval of a share.

    Args:
        count: how often it was so.
        of: among how many.
        z: standard normal quantile.

    Source: E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of
        the American Statistical Association 22, 1927, 209-212; from memory.
    """
    if of <= 0:
        return 0.0, 1.0
    p, square = count / of, z * z
    middle = (p + square / (2 * of)) / (1 + square / of)
    half = z / (1 + square / of) * math.sqrt(p * (1 - p) / of + square / (4 * of * of))
    return (0.0 if count == 0 else middle - half), (1.0 if count == of else middle + half)


def table_of(library: Library, results: Sequence[CarResult]) -> dict[str, Any]:
    """Return the table as plain data, the same for the same results.

    Args:
        library: the trees that were walked.
        results: one a car.
    """
    scores = Counter(result.score for result in results)
    proven = [r for r in results if r.strength == "proven"]
    return {
        "cars": len(results),
        "scores": {one.value: Share(scores[one], len(results)).data() for one in Score},
        "right_and_proven": sum(r.score is Score.RIGHT for r in proven),
        "known_faults": _known_faults(library, results).data(),
        "confusion": confusion(results),
        "by_fault": _by_fault(results),
        "minutes": _minutes(results),
        "readings": math.fsum(r.readings for r in results) / max(len(results), 1),
        "condemned_without_proof": _condemned(library, results),
        "repairs": _repairs(results),
        "steps_never_reached": never_reached(library, results),
        "faults_no_tree_names": nameless(library),
    }


def hidden_name(result: CarResult) -> str:
    """Return the row of the confusion table that a car belongs to."""
    return " + ".join(sorted(fault for fault, _ in result.hidden)) or HEALTHY


def confusion(results: Sequence[CarResult]) -> dict[str, dict[str, int]]:
    """Return how often each hidden fault ended how, the most frequent faults first."""
    rows: dict[str, Counter[str]] = {}
    for result in results:
        rows.setdefault(hidden_name(result), Counter())[result.ended] += 1
    order = sorted(rows, key=lambda name: (-rows[name].total(), name))
    return {name: dict(sorted(rows[name].items(), key=lambda item: (-item[1], item[0]))) for name in order}


def _by_fault(results: Sequence[CarResult]) -> dict[str, dict[str, int]]:
    rows: dict[str, Counter[Score]] = {}
    for result in results:
        rows.setdefault(hidden_name(result), Counter())[result.score] += 1
    return {name: {one.value: rows[name][one] for one in Score if rows[name][one]} for name in sorted(rows)}


def _known_faults(library: Library, results: Sequence[CarResult]) -> Share:
    """Return the share right among cars with one fault that some tree has a conclusion for."""
    named = _named(library)
    known = [r for r in results if len(r.hidden) == 1 and r.hidden[0][0] in named]
    return Share(sum(r.score is Score.RIGHT for r in known), len(known))


def _minutes(results: Sequence[CarResult]) -> dict[str, float]:
    spent = sorted(result.minutes for result in results)
    if not spent:
        return {"mean": 0.0, "ninetieth": 0.0, "most": 0.0}
    at = min(math.ceil(0.9 * len(spent)), len(spent)) - 1
    return {"mean": math.fsum(spent) / len(spent), "ninetieth": spent[at], "most": spent[-1]}


def _condemned(library: Library, results: Sequence[CarResult]) -> dict[str, int]:
    """Return how many parts were named without proof, and how many of them were not the cause."""
    faults = library.catalogue.faults.faults
    named = [
        r
        for r in results
        if r.strength == "probable" and r.conclusion and faults[r.conclusion[0]].parts != "none"
    ]
    innocent = sum(r.conclusion[0] not in {fault for fault, _ in r.hidden} for r in named)
    return {"parts": len(named), "not_the_cause": innocent}


def _repairs(results: Sequence[CarResult]) -> dict[str, int]:
    made = Counter(result.proof for result in results if result.proof is not None)
    return {"made": made.total(), **{name: made[name] for name in ("fixed", "failed", "unproven")}}


def never_reached(library: Library, results: Sequence[CarResult]) -> dict[str, list[str]]:
    """Return, by tree, the steps that no car came to."""
    visited = {(step.tree, step.step) for result in results for step in result.path}
    found = {}
    for name in sorted(library.trees):
        steps = dict.fromkeys(step for by_id in library.trees[name].steps.values() for step in by_id)
        if missed := [step for step in steps if (name, step) not in visited]:
            found[name] = missed
    return found


def nameless(library: Library) -> list[str]:
    """Return the faults that no tree has a conclusion for."""
    return sorted(library.catalogue.faults.faults.keys() - _named(library))


def _named(library: Library) -> set[str]:
    return {
        fault
        for tree in library.trees.values()
        for conclusions in tree.conclusions.values()
        for conclusion in conclusions.values()
        for fault in conclusion.faults
    }
