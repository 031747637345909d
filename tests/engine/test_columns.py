"""All points at once against one point after the other: no verdict, number or event may differ."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest

from engine import judging, probabilities, walking
from engine.answers_file import read_answers
from engine.headless import walk_headless
from engine.library import load_library
from engine.probabilities import AGREED
from engine.situation import Point
from engine.suspects import LEAST_FACTOR, MOST_FACTOR

LIBRARY = load_library()
CARS = sorted((Path(__file__).parents[1] / "jobs").rglob("*.yaml"))
CHOSEN = CARS[:: max(len(CARS) // 30, 1)]


def point_by_point(step, situation, values, first_match):
    """The plain way: every rule at every point, in the order of the points."""
    shifts = probabilities._shifts(situation, values, 2 * probabilities.PAIRS)
    outcomes = []
    for i in range(2 * probabilities.PAIRS):
        point = Point(situation, {name: moved[i] for name, moved in shifts.items()})
        outcomes.append(first_match(step, point))
        if len(outcomes) == AGREED and all(outcome == outcomes[0] for outcome in outcomes):
            break
    return [(outcome, 1.0 / len(outcomes)) for outcome in outcomes]


def walked(answers):
    walk, outcome = walk_headless(LIBRARY, "triage", answers)
    return json.dumps(outcome), [json.dumps(event) for event in walk.events]


@pytest.mark.parametrize("path", CHOSEN, ids=lambda path: path.stem)
def test_a_car_walks_the_same_with_every_point_worked_out_by_itself(path, monkeypatch):
    answers = read_answers(path.read_bytes(), path.name, LIBRARY.catalogue)
    quick = walked(answers)
    monkeypatch.setattr(judging, "sampled", point_by_point)

    assert walked(answers) == quick


def test_some_of_these_cars_are_sampled(monkeypatch):
    counted = []

    def counting(*arguments):
        counted.append(1)
        return point_by_point(*arguments)

    monkeypatch.setattr(judging, "sampled", counting)
    for path in CHOSEN[:8]:
        walked(read_answers(path.read_bytes(), path.name, LIBRARY.catalogue))

    assert counted


def test_the_kept_weights_are_the_product_over_all_evidence():
    """Each share worked out by the definition: prior x product of factors, over the sum of all."""
    path = CHOSEN[0]
    walk, _ = walk_headless(LIBRARY, "triage", read_answers(path.read_bytes(), path.name, LIBRARY.catalogue))
    table = LIBRARY.catalogue.faults
    pieces = (*walking.codes_evidence(LIBRARY.catalogue, walk.state.codes()), *walk.state.evidence)
    banks = walk.state.situation().banks
    ranked = {s.fault: s.p for s in walk.suspects() if s.fault is not None}
    weights = {}
    for fault in table.faults.values():
        sides = fault.sides(banks)
        weights[fault.id] = 0.0
        for side in sides:
            weight = fault.prior / len(sides)
            for piece in pieces:
                factor = piece.factor(fault.id, side)
                assert LEAST_FACTOR <= factor <= MOST_FACTOR
                weight *= factor
            weights[fault.id] += weight
    possible = [name for name in ranked if ranked[name] > 0.0]

    assert pieces
    for one, other in pairwise(possible):
        assert ranked[one] / ranked[other] == pytest.approx(weights[one] / weights[other], rel=1e-9)
