"""The never-rules over all paths of all trees: no sensor and no catalyst condemned out of turn.

A path is a way through the graph of steps, procedures walked where they are called, on a car with facts;
every rule that could be true is a way. The tables hold what must be on file before the word *proven*, and
the walk takes the word back where something is missing. The graph shows that no way round the gates exists:
with the steps of a gate taken out, no end that condemns is reached any more. The rules are common practice
of the trade.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache

import pytest

from engine.measured import Answer
from engine.passages import Passages, Place
from engine.review.evidence import CLEARED_FIRST, condemns_a_sensor
from engine.tree import Conclusion, Strength
from tests.jobs.walks import library

KIT = ("CR", "MM", "OS", "CL", "GA", "FG", "VG", "BG", "SM", "IR", "CG", "PR", "SB", "EY", "DOC")
NARROW: dict[str, Answer] = {"veh_upstream_type": "narrow", "veh_downstream_type": "narrow"}
TREES = sorted(library().trees)
SYMPTOMS = sorted(name for name, tree in library().trees.items() if tree.kind == "symptom")
INTO_THE_WIRES = re.compile(r"o2_b[12]s[12]_(?:gnd|sub)_v")
DEAD_OR_SLOW = re.compile(r"o2_up_(?:stuck|lazy|contam).*|o2_down_faulty")
GATES: dict[str, re.Pattern[str]] = {
    "misfire": re.compile(r"misfire_rate_idle"),
    "exhaust leak": re.compile(r"visual_exhaust|smoke_exhaust"),
    "heater": re.compile(r"heater_(?:amps|ohms|supply_v)_.*"),
    "sensor ground": re.compile(r"o2_b[12]s[12]_gnd_drop_mv"),
    "independent witness": re.compile(r"forced_(?:rich|lean)_witness"),
}
CATALYST_CLEARED = (
    "no-misfire",
    "mixture-in-order",
    "no-oil-or-coolant-burning",
    "no-exhaust-leak",
    "soot-excluded",
)


@cache
def graph(tree: str, banks: int = 2, kinds: tuple[str, str] = ("narrow", "narrow")) -> Passages:
    """Return all places of a tree on a car with so many banks and sensors of these kinds."""
    facts: dict[str, Answer] = {
        "veh_banks": float(banks),
        "veh_upstream_type": kinds[0],
        "veh_downstream_type": kinds[1],
    }
    sides = library().trees[tree].takes_for
    return Passages(library(), tree, KIT, facts, sides[0] if sides else None)


def ends(passages: Passages, passed: Callable[[Place], bool]) -> Iterator[tuple[str, Conclusion]]:
    """Return the conclusions that are reached from the start without any place that is *passed*."""
    seen: set[int] = set()
    ahead = [passages.start]
    while ahead:
        number = ahead.pop()
        if number in seen or passed(passages.places[number]):
            continue
        seen.add(number)
        for passage in passages.places[number].passages:
            if passage.end is not None:
                yield passage.end
            elif passage.to is not None:
                ahead.append(passage.to)


def asks(place: Place, gate: re.Pattern[str]) -> bool:
    """Tell whether a step takes one of the readings of a gate."""
    return any(gate.fullmatch(name) for name in (*place.step.readings, *place.step.optional))


@pytest.mark.parametrize("gate", GATES)
@pytest.mark.parametrize("banks", [1, 2])
@pytest.mark.parametrize("tree", SYMPTOMS)
def test_no_way_round_a_gate_leads_to_a_sensor_called_proven(tree: str, banks: int, gate: str) -> None:
    found = {
        (where, end.id)
        for where, end in ends(graph(tree, banks), lambda place: asks(place, GATES[gate]))
        if end.strength is Strength.PROVEN and end.faults and DEAD_OR_SLOW.fullmatch(end.faults[0])
    }
    assert not found


@pytest.mark.parametrize("tree", SYMPTOMS)
def test_the_search_does_reach_what_it_must_not_reach_round_the_gates(tree: str) -> None:
    """Without this the tests above would pass on an empty graph."""
    passages = graph(tree)
    assert len(passages.places) > 10
    assert any(True for _ in ends(passages, lambda _: False))


def test_some_tree_reaches_every_kind_of_sensor_conclusion() -> None:
    reached = {
        end.faults[0] for tree in SYMPTOMS for _, end in ends(graph(tree), lambda _: False) if end.faults
    }
    assert {name for name in library().catalogue.faults.faults if name.startswith("o2_")} <= reached


@pytest.mark.parametrize(
    "kinds", [("wide", "wide"), ("unknown", "unknown"), ("wide", "unknown"), ("unknown", "wide")]
)
@pytest.mark.parametrize("banks", [1, 2])
@pytest.mark.parametrize("tree", TREES)
def test_no_path_joins_or_feeds_a_sensor_not_known_to_be_narrow(
    tree: str, banks: int, kinds: tuple[str, str]
) -> None:
    passages = graph(tree, banks, kinds)
    reached = {place.step.id for place in passages.places if asks(place, INTO_THE_WIRES)}
    assert not reached


def test_a_known_narrow_sensor_is_joined_and_fed_somewhere() -> None:
    asked = [p.step.id for p in graph("oxygen-sensor-circuit").places if asks(p, INTO_THE_WIRES)]
    assert {"joined-signal", "fed-signal"} <= set(asked)


@pytest.mark.parametrize(
    "kinds", [("wide", "narrow"), ("unknown", "narrow"), ("narrow", "wide"), ("narrow", "unknown")]
)
def test_of_two_kinds_only_the_narrow_one_is_joined_or_fed(kinds: tuple[str, str]) -> None:
    places = graph("oxygen-sensor-circuit", 2, kinds).places
    asked = {n for p in places for n in p.step.readings if INTO_THE_WIRES.fullmatch(n)}
    spared = "s1" if kinds[0] != "narrow" else "s2"
    assert asked
    assert not {name for name in asked if spared in name}


def test_every_sensor_fault_demands_what_clears_the_others_first() -> None:
    for fault in library().catalogue.faults.faults.values():
        if condemns_a_sensor(fault):
            for findings in CLEARED_FIRST.values():
                assert set(findings) & set(fault.exclude_first), (fault.id, findings)
            assert fault.proven_by, fault.id


def test_a_worn_catalyst_demands_that_what_kills_catalysts_is_excluded() -> None:
    assert set(CATALYST_CLEARED) <= set(library().catalogue.faults.faults["cat_worn"].exclude_first)


@pytest.mark.parametrize("tree", SYMPTOMS)
def test_no_way_that_skips_counting_condemns_a_catalyst(tree: str) -> None:
    counted = re.compile(r"o2_b[12]s2_cross_.*|cat_ratio_.*")
    found = {
        (where, end.id)
        for where, end in ends(graph(tree), lambda place: asks(place, counted))
        if end.faults and end.faults[0] == "cat_worn" and end.strength is Strength.PROVEN
    }
    assert not found
