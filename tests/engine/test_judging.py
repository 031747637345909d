"""Which exit, and how sure."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine import probabilities
from engine.judging import judge, readings_used
from engine.margins import margins
from engine.measured import Value
from engine.tree import AllOf, AnyOf, ChoiceIs, Grade, Next
from tests.engine.made import (
    above,
    below,
    catalogue,
    choice_reading,
    limit,
    reading,
    rule,
    situation,
    step,
    worked,
)

MADE = catalogue(
    (
        reading("x"), reading("y"), reading("short"), reading("long"),
        choice_reading("looked", "ok", "bad", not_looked=("not_done",)),
    ),
    (limit("low", -10.0), limit("high", 10.0)),
    (worked("total", "total_trim", short="short", long="long"), worked("gap", "difference", a="x", b="y")),
)  # fmt: skip
BANDS = step(
    rule("rich", below("x", "low"), "a"),
    rule("lean", above("x", "high"), "b"),
    rule("between", None, "c", covers_rest=True),
)


def shares(judgement):
    return {share.rule.id if share.rule else None: share.p for share in judgement.shares}


@given(x=st.floats(-40, 40), u=st.floats(0.05, 20))
def test_one_reading_against_limits_is_the_closed_form(x, u):
    """JCGM 106:2012, conformance probability of a normal between limits; by Python's own erfc."""
    got = shares(judge(BANDS, situation(MADE, {"x": (x, u)})))

    def cdf(edge: float) -> float:
        return 0.5 * math.erfc((x - edge) / u / math.sqrt(2))

    expected = {"rich": cdf(-10.0), "between": cdf(10.0) - cdf(-10.0), "lean": 1 - cdf(10.0)}
    for name, p in expected.items():
        assert got.get(name, 0.0) == pytest.approx(p, abs=1e-5)


@settings(max_examples=40, deadline=None)
@given(x=st.floats(-25, 25), u=st.floats(0.5, 8))
def test_closed_and_sampled_form_agree(x, u):
    """The same question put so that it must be sampled: x - y with y known."""
    sampled = step(
        rule("rich", below("gap", "low"), "a"),
        rule("lean", above("gap", "high"), "b"),
        rule("between", None, "c", covers_rest=True),
    )
    closed = shares(judge(BANDS, situation(MADE, {"x": (x, u)})))
    got = shares(judge(sampled, situation(MADE, {"x": (x, u), "y": 0.0})))

    for name in ("rich", "lean", "between"):
        # 2 % at worst: where the first 128 points agree the rest are not drawn
        assert got.get(name, 0.0) == pytest.approx(closed.get(name, 0.0), abs=0.02)


def test_two_readings_agree_with_brute_force():
    """JCGM 101:2008: against 200,000 pseudo-random draws of both readings."""
    both = step(
        rule("both", AllOf((below("x", "low"), above("y", "high"))), "a"),
        rule("either", AnyOf((below("x", "low"), above("y", "high"))), "b"),
        rule("none", None, "c", covers_rest=True),
    )
    got = shares(judge(both, situation(MADE, {"x": (-9.0, 2.0), "y": (11.0, 3.0)})))
    draw = random.Random(7)
    counts = {"both": 0, "either": 0, "none": 0}
    for _ in range(200_000):
        x, y = draw.gauss(-9, 2) < -10, draw.gauss(11, 3) > 10
        counts["both" if x and y else "either" if x or y else "none"] += 1

    for name, count in counts.items():
        assert got[name] == pytest.approx(count / 200_000, abs=0.006)


def test_the_error_of_one_instrument_is_common_and_cancels_in_a_difference():
    one = step(rule("apart", above("gap", 1.0), "a"), rule("same", None, "b", covers_rest=True))
    shared = {
        "x": Value("x", 2.0, "MM", shared=5.0, own=0.1),
        "y": Value("y", 0.5, "MM", shared=5.0, own=0.1),
    }
    apart = {**shared, "y": Value("y", 0.5, "OS", shared=5.0, own=0.1)}

    assert judge(one, situation(MADE, shared)).sure > 0.99
    assert judge(one, situation(MADE, apart)).sure < 0.6


def test_the_most_probable_exit_is_taken_and_ties_go_to_the_earlier_rule():
    tie = step(rule("first", below("x", 0.0), "a"), rule("second", None, "b", covers_rest=True))

    assert judge(tie, situation(MADE, {"x": (0.0, 1.0)})).rule.id == "first"
    assert judge(tie, situation(MADE, {"x": (0.5, 1.0)})).rule.id == "second"


def test_exits_are_judged_and_not_rules():
    """Two verdicts that lead the same way are no reason for doubt."""
    same_way = step(rule("one", below("x", 0.0), "a"), rule("two", None, "a", covers_rest=True))
    judgement = judge(same_way, situation(MADE, {"x": (0.0, 1.0)}))

    assert judgement.sure == pytest.approx(1.0)
    assert not judgement.doubtful


def test_doubt_begins_under_the_confidence_asked():
    near = situation(MADE, {"x": (-11.0, 1.0)})

    assert judge(BANDS, near).doubtful
    assert not judge(BANDS, near, confidence=0.8).doubtful
    assert not judge(BANDS, situation(MADE, {"x": (-13.0, 1.0)})).doubtful


def test_unknown_goes_to_cannot_unless_every_open_rule_leads_the_same_way():
    parts = step(
        rule("bad", ChoiceIs("looked", "is", ("bad",)), "a"),
        rule("low", below("x", 0.0), "a"),
        rule("rest", None, "b", covers_rest=True),
    )
    assert judge(parts, situation(MADE, {})).rule is None
    assert judge(parts, situation(MADE, {})).exit == Next("elsewhere")
    assert judge(parts, situation(MADE, {"x": -1.0})).exit == Next("a")
    assert judge(parts, situation(MADE, {"x": 1.0})).exit == Next("elsewhere")
    assert judge(parts, situation(MADE, {"x": 1.0, "looked": "ok"})).exit == Next("b")


def test_behind_an_unknown_rule_something_wrong_is_said_but_nothing_is_cleared():
    same_way = step(
        rule("bad", ChoiceIs("looked", "is", ("bad",)), "on", grade=Grade.FAIL),
        rule("low", below("x", 0.0), "on", grade=Grade.LIKELY),
        rule("fine", above("x", 0.0), "on", grade=Grade.OK),
    )

    wrong = judge(same_way, situation(MADE, {"x": -1.0}))
    fine = judge(same_way, situation(MADE, {"x": 1.0}))
    looked = judge(same_way, situation(MADE, {"x": 1.0, "looked": "ok"}))
    assert (wrong.rule.id, wrong.exit, wrong.open) == ("low", Next("on"), True)
    assert (fine.rule, fine.exit, fine.open) == (None, Next("on"), True)
    assert (looked.rule.id, looked.open) == ("fine", False)


def test_what_a_limit_rests_on_counts_among_the_readings_used():
    table = limit("cold", 8.0, table_of="y", table=((0.0, 8.0), (10.0, 9.0)))
    made = catalogue((reading("x"), reading("y")), (table,))
    one = step(rule("low", below("x", "cold"), "a"))

    assert readings_used(one, situation(made, {"x": 8.5, "y": 5.0})) == ("x", "y")


def test_not_looked_is_never_caught_by_otherwise():
    look = step(
        rule("bad", ChoiceIs("looked", "is", ("bad",)), "a"), rule("rest", None, "b", covers_rest=True)
    )
    judgement = judge(look, situation(MADE, {"looked": "not_done"}))

    assert judgement.exit == Next("elsewhere")
    assert judgement.open


def test_where_harm_is_possible_the_cautious_exit_is_taken():
    hot = step(
        rule("overheating", above("x", "high"), "stop", harm=True),
        rule("fine", None, "on", covers_rest=True),
    )
    near = judge(hot, situation(MADE, {"x": (9.0, 1.0)}))
    far = judge(hot, situation(MADE, {"x": (7.0, 1.0)}))

    assert near.exit == Next("stop")
    assert near.for_safety
    assert far.exit == Next("on")


def test_margins_name_the_limit_that_would_turn_the_verdict():
    here = situation(MADE, {"short": -8.6, "long": -9.4})
    trims = step(
        rule("rich", below("total", "low"), "a"),
        rule("lean", above("total", "high"), "b"),
        rule("between", None, "c", covers_rest=True),
    )
    nearest, other = margins(trims, here, judge(trims, here))

    assert (nearest.limit, nearest.turns_to) == ("low", "between")
    assert nearest.distance == pytest.approx(-8.0)
    assert other.limit == "high"
    assert other.turns_to is None


def test_the_point_set_is_the_same_every_time_and_standard_normal():
    points = probabilities.normal_points(3)

    assert points is probabilities.normal_points(3)
    for axis in range(3):
        column = [point[axis] for point in points]
        assert sum(column) == pytest.approx(0.0, abs=1e-9)
        assert sum(v * v for v in column) / len(column) == pytest.approx(1.0, abs=0.05)
