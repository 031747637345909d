"""Weights of faults from evidence."""

from __future__ import annotations

import itertools

import pytest

from engine.catalogue import Code, CodeGroup, Codes
from engine.suspects import Evidence, Weighing, add_evidence, codes_evidence, rank
from tests.engine.made import catalogue, fault

MADE = catalogue(faults=(fault("pump", 30.0), fault("leak", 10.0, "bank"), fault("sensor", 20.0, "upstream")))


def piece(name: str, *weighings: Weighing) -> Evidence:
    return Evidence(name, name, frozenset({name}), weighings)


def share(suspects, name):
    return next(s.p for s in suspects if s.fault == name)


def test_without_evidence_the_shares_are_the_priors():
    suspects = rank(MADE, (), banks=2)

    assert share(suspects, "pump") == pytest.approx(30 / 70)
    assert share(suspects, "leak") == pytest.approx(10 / 70)
    assert share(suspects, None) == pytest.approx(10 / 70)
    assert sum(s.p for s in suspects) == pytest.approx(1.0)


def test_evidence_multiplies_and_the_order_does_not_matter():
    """By Bayes' rule with independent evidence, worked by hand."""
    one = piece("one", Weighing(1.0, None, {"pump": 4.0, "leak": 0.5}))
    two = piece("two", Weighing(0.5, None, {"leak": 6.0}))
    for order in itertools.permutations((one, two)):
        suspects = rank(MADE, order, banks=1)
        total = 30 * 4 + 10 * 0.5 * 3.5 + 20 + 10
        assert share(suspects, "pump") == pytest.approx(120 / total)
        assert share(suspects, "leak") == pytest.approx(17.5 / total)


def test_no_piece_moves_a_suspect_beyond_the_bounds():
    suspects = rank(MADE, (piece("one", Weighing(1.0, None, {"pump": 0.0})),), banks=1)

    assert share(suspects, "pump") == pytest.approx(30 * 0.02 / (30 * 0.02 + 40))


def test_what_lies_outside_keeps_a_share():
    strong = tuple(piece(str(i), Weighing(1.0, None, {"pump": 50.0})) for i in range(6))

    assert share(rank(MADE, strong, banks=1), None) == pytest.approx(0.02)


def test_a_side_is_named_once_it_is_decided():
    one_bank = piece("one", Weighing(1.0, "b2", {"sensor": 8.0}))

    assert next(s for s in rank(MADE, (), banks=2) if s.fault == "sensor").side is None
    assert next(s for s in rank(MADE, (one_bank,), banks=2) if s.fault == "sensor").side == "b2s1"


def test_evidence_over_the_same_readings_is_one_piece_and_the_latest_counts():
    early = Evidence("early", "e", frozenset({"a", "b"}), (Weighing(1.0, None, {"pump": 9.0}),))
    late = Evidence("late", "l", frozenset({"a", "b", "c"}), (Weighing(1.0, None, {"pump": 2.0}),))
    other = Evidence("other", "o", frozenset({"d"}), (Weighing(1.0, None, {"pump": 3.0}),))
    pieces = add_evidence(add_evidence(add_evidence((), early), other), late)

    assert [p.title for p in pieces] == ["other", "late"]
    assert add_evidence(pieces, Evidence("nothing", "n", frozenset({"d"}), ())) == pieces


def test_a_step_judged_again_replaces_what_it_said_and_another_sensor_does_not():
    def said(step: str, *factors: float) -> Evidence:
        weighings = tuple(Weighing(1.0, None, {"pump": factor}) for factor in factors)
        return Evidence("Forced rich", "v", frozenset({step}), weighings, step=step)

    pieces = add_evidence(add_evidence((), said("b1s1", 9.0)), said("b2s1", 2.0))
    assert len(pieces) == 2
    assert [p.step for p in add_evidence(pieces, said("b1s1"))] == ["b2s1"]


def test_the_piece_that_rests_on_more_counts_in_either_order():
    small = Evidence("small", "s", frozenset({"a"}), (Weighing(1.0, None, {"pump": 9.0}),))
    large = Evidence("large", "l", frozenset({"a", "b"}), (Weighing(1.0, None, {"pump": 2.0}),))

    assert add_evidence(add_evidence((), small), large) == (large,)
    assert add_evidence(add_evidence((), large), small) == (large,)


def test_codes_count_once_by_the_strongest_and_on_their_side():
    codes = Codes(
        (
            Code("P0172", "P0172", "rich b1", ("rich",), "b1"),
            Code("P0175", "P0175", "rich b2", ("rich",), "b2"),
            Code("P0300", "P0300", "misfire", ("misfire",), None),
            Code("P2188", "P2188", "rich at idle b1", ("idle",), "b1"),
        ),
        {
            "rich": CodeGroup("rich", "rich", 4, (("leak", 3.0), ("pump", 2.0))),
            "idle": CodeGroup("idle", "idle", 4, (("leak", 5.0),)),
            "misfire": CodeGroup("misfire", "misfire", 3, (("leak", 2.0),)),
        },
    )
    made = catalogue(faults=tuple(MADE.faults.faults.values()), codes=codes)

    def factor(found: tuple[str, ...], side: str | None, name: str = "leak") -> float:
        total = 1.0
        for evidence in codes_evidence(made, found):
            total *= evidence.factor(name, side)
        return total

    assert factor(("P0172",), "b1") == 3.0
    assert factor(("P0172",), "b2") == 1.0
    assert factor(("P0172", "P2188"), "b1") == 5.0
    assert factor(("P0172", "P0300"), "b1") == 3.0
    assert factor(("P0172", "P0175"), "b2") == 3.0
    assert factor(("P0172", "P0175"), None, "pump") == 2.0
    assert factor(("P1234",), "b1") == 1.0
