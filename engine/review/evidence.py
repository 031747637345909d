"""Whether what is called proven can be proven, and never without what must be excluded first.

Two halves. The tables: every fault that condemns a sensor demands heater, wiring, ground, leak and misfire
to be cleared first and an independent witness, so that no path can carry the word without them (the walk
calls a conclusion probable while one of them is missing). The paths: a search over steps with the findings
made so far, procedures walked where they are called, shows for every conclusion marked proven that some path
establishes all it needs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from engine.catalogue import Catalogue, Fault
from engine.errors import Problem
from engine.library import Library
from engine.review.ways import Ways, conclusion_named, leaves, problem_at
from engine.tree import Call, Conclusion, Continue, Exit, Next, Repair, Return, Strength

CLEARED_FIRST: Mapping[str, tuple[str, ...]] = {
    "heater": ("heater-good",),
    "wiring": ("wiring-good",),
    "sensor ground": ("sensor-ground-good",),
    "exhaust leak": ("no-exhaust-leak",),
    "misfire": ("no-misfire",),
}
"""What is cleared before a sensor is condemned -> findings that clear it; common practice."""

MOST_STATES = 30_000
"""Pairs of step and findings looked at for one conclusion."""

_Findings = frozenset[str]


def condemns_a_sensor(fault: Fault) -> bool:
    """Tell whether a fault says that the sensing element itself is bad."""
    return fault.id.startswith(("o2_up_", "o2_down_"))


def review_tables(catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    """Return fault and message for every sensor fault that could be called proven too lightly."""
    for fault in catalogue.faults.faults.values():
        if not condemns_a_sensor(fault):
            continue
        demanded = {*fault.exclude_first, *catalogue.faults.proven_needs}
        for what, findings in CLEARED_FIRST.items():
            if not demanded & set(findings):
                yield (
                    fault.id,
                    f"condemns a sensor without clearing {what}: exclude_first needs {findings[0]}",
                )
        if not fault.proven_by:
            yield fault.id, "condemns a sensor without an independent witness: proven_by is empty"


def needed_for(conclusion: Conclusion, catalogue: Catalogue) -> tuple[_Findings, _Findings]:
    """Return the findings that must all be made, and those of which one must, to call it proven."""
    fault = catalogue.faults.faults.get(conclusion.faults[0]) if conclusion.faults else None
    every = {*catalogue.faults.proven_needs, *(fault.exclude_first if fault else ())}
    return frozenset(every), frozenset(fault.proven_by if fault else ())


def review_proofs(graphs: Mapping[str, Ways], library: Library) -> Iterator[Problem]:
    """Return the conclusions marked proven that no path can prove."""
    made_by = {name: _made_in(ways) for name, ways in graphs.items()}
    made = frozenset().union(*made_by.values())
    before = _made_before(graphs, made_by)
    for name, ways in graphs.items():
        for conclusion in next(iter(ways.tree.conclusions.values()), {}).values():
            if conclusion.strength is not Strength.PROVEN or not conclusion.faults:
                continue
            every, any_of = needed_for(conclusion, library.catalogue)
            place = f"conclusions.{conclusion.id}"
            lacking = _never_made(every, any_of, made)
            if lacking:
                message = f"cannot be proven: no step of any tree makes the finding {lacking}"
                yield problem_at(conclusion.origin, place, message)
                continue
            search = _Search(graphs, every | any_of)
            missing = search.missing(name, conclusion.id, every, any_of, before[name])
            if missing:
                message = f"cannot be proven: no path to it makes {', '.join(sorted(missing))}"
                yield problem_at(conclusion.origin, place, message)


def _never_made(every: _Findings, any_of: _Findings, made: _Findings) -> str:
    lacking = sorted(every - made)
    if lacking:
        return " and ".join(lacking)
    return " or ".join(sorted(any_of)) if any_of and not any_of & made else ""


def _made_in(ways: Ways) -> _Findings:
    return frozenset(
        finding for step in ways.steps.values() for rule in step.rules for finding in rule.findings
    )


def _made_before(graphs: Mapping[str, Ways], made_by: Mapping[str, _Findings]) -> dict[str, _Findings]:
    """Return what may have been found before a tree is entered: all that the trees leading to it make."""
    leads = {name: _leads_to(ways) for name, ways in graphs.items()}
    before = {}
    for name in graphs:
        sources: set[str] = set()
        frontier = {name}
        while frontier:
            frontier = {one for one, targets in leads.items() if targets & frontier} - sources
            sources |= frontier
        if not sources and graphs[name].tree.kind == "procedure":  # not called yet: anything may come before
            before[name] = frozenset().union(*made_by.values())
            continue
        own = frozenset({name}) if graphs[name].tree.kind == "symptom" else frozenset()
        called = {other for source in sources for other in leads[source] if other != name}
        before[name] = frozenset().union(
            *(made_by[one] for one in (sources | called) - own if one in made_by)
        )
    return before


def _leads_to(ways: Ways) -> frozenset[str]:
    """Return the trees and procedures a tree leads to."""
    targets: set[str] = set()
    for way in ways.all():
        if isinstance(way.exit, Continue):
            targets.add(way.exit.tree)
        if way.called is not None:
            targets.add(way.called)
    return frozenset(targets)


@dataclass(slots=True)
class _Search:
    """Walks trees with the findings made so far, as far as one conclusion needs them."""

    graphs: Mapping[str, Ways]
    needed: _Findings
    looked_at: int = 0
    _runs: dict[tuple[str, _Findings], dict[str, set[_Findings]]] = field(default_factory=dict)

    def missing(
        self, tree: str, conclusion: str, every: _Findings, any_of: _Findings, before: _Findings
    ) -> _Findings:
        """Return the least that is missing at a conclusion over all paths; empty when a path has it all."""
        best: _Findings | None = None
        for ended, findings in self._walk(tree, before & self.needed):
            if conclusion_named(ended) != conclusion:
                continue
            lacking = every - findings
            if any_of and not any_of & findings:
                lacking |= {min(any_of)}
            if best is None or len(lacking) < len(best):
                best = lacking
        return best or frozenset()

    def _walk(self, tree: str, before: _Findings) -> Iterator[tuple[Exit, _Findings]]:
        """Return every end of a tree with the findings made on some way to it."""
        ways = self.graphs[tree]
        seen: set[tuple[str, _Findings]] = set()
        todo = [(root, before) for root in ways.roots if root in ways.steps]
        while todo:
            step, findings = todo.pop()
            if (step, findings) in seen or self.looked_at > MOST_STATES:
                continue
            seen.add((step, findings))
            self.looked_at += 1
            for ended, after in self._ways_of(ways, step, findings):
                if isinstance(ended, Next | Repair):
                    target = ended.step if isinstance(ended, Next) else ended.next
                    if target in ways.steps:
                        todo.append((target, after))
                else:
                    yield ended, after

    def _ways_of(self, ways: Ways, name: str, findings: _Findings) -> Iterator[tuple[Exit, _Findings]]:
        step = ways.steps[name]
        for rule in step.rules:
            yield from self._follow(rule.exit, findings | (self.needed & frozenset(rule.findings)))
        if step.cannot is not None:
            yield from self._follow(step.cannot.exit, findings)
        if step.skip is not None:
            yield Next(step.skip), findings

    def _follow(self, way: Exit, findings: _Findings) -> Iterator[tuple[Exit, _Findings]]:
        if not isinstance(way, Call):
            yield way, findings
            return
        outcomes = self._run(way.procedure, findings)
        for outcome, gained in outcomes.items():
            then = way.exit_for(outcome)
            for after in gained:
                if then is not None:
                    yield from self._follow(then, after)
        if not outcomes:
            for leaf, _ in leaves(way):
                yield leaf, findings

    def _run(self, procedure: str, findings: _Findings) -> Mapping[str, set[_Findings]]:
        """Return the outcomes of a procedure with the findings after it."""
        key = (procedure, findings)
        if procedure in self.graphs and key not in self._runs:
            outcomes: dict[str, set[_Findings]] = {}
            self._runs[key] = outcomes
            for ended, after in self._walk(procedure, findings):
                if isinstance(ended, Return):
                    outcomes.setdefault(ended.outcome, set()).add(after)
        return self._runs.get(key, {})
