"""Orders of tests, and which test separates what is left."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.ordering import TELLING, best_order, expected_cost, separating_steps
from engine.suspects import Suspect
from engine.tree import Binding
from engine.walking import Walk
from tests.engine.small_trees import small_library

CAUSES = st.lists(st.tuples(st.integers(1, 40), st.integers(1, 90)), min_size=1, max_size=5)


def suspect(fault: str | None, p: float = 0.3, side: str | None = None) -> Suspect:
    return Suspect(fault, fault or "other", side, p, ())


def walk_with(**facts) -> Walk:
    walk = Walk(small_library())
    walk.start("small-rich")
    for name, answer in facts.items():
        walk.take(name, answer)
    return walk


def separating(walk: Walk, *faults: str | None, most: int = 3):
    return separating_steps(
        walk.library.trees,
        walk.state.situation(),
        [suspect(f) for f in faults],
        walk.state.visits,
        most,
    )


def test_cheap_before_dear_when_equally_likely_and_likely_before_rare_when_equally_dear():
    half = {"fuse": 0.5, "pump": 0.5}

    assert best_order(half, {"fuse": 2.0, "pump": 90.0}) == ("fuse", "pump")
    assert best_order({"fuse": 0.1, "hose": 0.6}, {"fuse": 5.0, "hose": 5.0}) == ("hose", "fuse")
    assert expected_cost(("fuse", "pump"), half, {"fuse": 2.0, "pump": 90.0}) == pytest.approx(2 + 0.5 * 90)
    assert expected_cost(("pump", "fuse"), half, {"fuse": 2.0, "pump": 90.0}) == pytest.approx(90 + 0.5 * 2)


def test_free_looks_come_first_and_ties_go_by_name():
    p = {"b": 0.2, "a": 0.2, "look": 0.01}

    assert best_order(p, {"b": 4.0, "a": 4.0, "look": 0.0}) == ("look", "a", "b")


@given(CAUSES)
def test_the_expected_cost_is_the_mean_of_what_was_spent_when_the_cause_is_found(causes):
    # With probabilities that add up to one, it is the probability-weighted sum of completion times, the
    # objective of weighted completion time in scheduling (Smith, Naval Research Logistics 3, 1956, 59-66;
    # pages from memory).
    total = sum(weight for weight, _ in causes)
    p = {str(i): weight / total for i, (weight, _) in enumerate(causes)}
    cost = {str(i): float(c) for i, (_, c) in enumerate(causes)}
    spent = itertools.accumulate(cost[name] for name in p)
    mean = sum(p[name] * upto for name, upto in zip(p, spent, strict=True))

    assert expected_cost(tuple(p), p, cost) == pytest.approx(mean)


@given(CAUSES)
def test_no_order_of_all_is_cheaper_than_the_best_order(causes):
    # Brute force over every order.
    total = sum(weight for weight, _ in causes) * 1.25
    p = {str(i): weight / total for i, (weight, _) in enumerate(causes)}
    cost = {str(i): float(c) for i, (_, c) in enumerate(causes)}
    least = min(expected_cost(order, p, cost) for order in itertools.permutations(p))

    assert expected_cost(best_order(p, cost), p, cost) == pytest.approx(least)


def test_the_step_that_tells_two_suspects_apart_is_named_with_its_tools_and_minutes():
    walk = walk_with(veh_banks=1.0)
    found = separating(walk, "purge_stuck_open", "injector_leaking")

    assert found[0].title in ("Pinch the purge hose", "Flow with the command at zero")
    assert all(step.telling >= TELLING for step in found)
    assert all(step.minutes > 0 for step in found)
    per_minute = [step.telling / max(step.minutes, 1.0) for step in found]
    assert per_minute == sorted(per_minute, reverse=True)
    assert re.fullmatch(r"[a-z].+, about [\d.]+ min", found[0].words)


def test_a_step_done_is_not_named_again_and_most_is_kept():
    walk = walk_with(veh_banks=1.0)
    every = separating(walk, "purge_stuck_open", "injector_leaking", most=9)
    assert len(every) >= 2
    assert separating(walk, "purge_stuck_open", "injector_leaking", most=1) == every[:1]

    for title in ("purge", "flow"):
        walk.state.visits[("small-rich", title, Binding())] += 1
    left = separating(walk, "purge_stuck_open", "injector_leaking", most=9)
    assert {"Pinch the purge hose", "Flow with the command at zero"}.isdisjoint(s.title for s in left)


def test_one_fault_on_two_sides_is_compared_with_the_next_fault():
    walk = walk_with(veh_banks=2.0)
    sides = [suspect("injector_leaking", 0.4, "b1"), suspect("injector_leaking", 0.3, "b2")]
    found = separating_steps(
        walk.library.trees,
        walk.state.situation(),
        [*sides, suspect("purge_stuck_open", 0.2)],
        walk.state.visits,
    )

    assert found == separating(walk, "injector_leaking", "purge_stuck_open")
    assert found


@pytest.mark.parametrize("faults", [(), ("purge_stuck_open",), ("purge_stuck_open", None)])
def test_fewer_than_two_named_suspects_need_no_telling_apart(faults):
    assert separating(walk_with(veh_banks=1.0), *faults) == ()
