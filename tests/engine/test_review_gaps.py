"""Gap analysis against brute force: every combination judged by the engine itself."""

from __future__ import annotations

from itertools import product
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from engine.catalogue import Catalogue, Code, CodeGroup, Codes, MakerFigure
from engine.judging import first_match
from engine.review.gaps import Evaluator, Samples, coverage
from engine.situation import FoundFact, Point
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Condition, Found, Not, Rule, Step
from tests.engine import made

LIMITS = tuple(float(value) for value in range(-4, 5, 2))
CHOICES = ("clean", "dirty", "wet")
GRID = [value / 2 for value in range(-12, 13)]


def catalogue() -> Catalogue:
    return made.catalogue(
        readings=(
            made.reading("x", reject=(-6.0, 6.0)),
            made.reading("y", reject=(-6.0, 6.0)),
            made.choice_reading("look", *CHOICES, not_looked=("not_looked",)),
            made.choice_reading("looks", "hose", "wire", kind="many"),
            made.reading("dtc_stored", kind="codes"),
            made.reading("lean_b2", reject=(-6.0, 6.0)),
        ),
        limits=(made.limit("zero", 0.0), made.limit("above_x", None, relative=MakerFigure("x", 1.0, 1.0))),
        findings=("seen",),
        codes=Codes(
            (Code("P0171", "P0171", "lean", ("lean",), None), Code("P0300", "P0312", "misfire", (), None)),
            {"lean": CodeGroup("lean", "lean", 1, ())},
        ),
    )


CATALOGUE = catalogue()
_compares = st.builds(
    Compare,
    st.sampled_from(["x", "y"]),
    st.sampled_from(["below", "above", "at_least", "at_most"]),
    st.sampled_from([*LIMITS, "zero"]),
)
_looks = st.one_of(
    st.builds(
        ChoiceIs,
        st.just("look"),
        st.sampled_from(["is", "is_not", "one_of"]),
        st.tuples(st.sampled_from(CHOICES)),
    ),
    st.builds(
        ChoiceIs,
        st.just("looks"),
        st.sampled_from(["is", "has", "has_any", "has_none", "has_other_than"]),
        st.sampled_from([("hose",), ("wire",), ("hose", "wire")]),
    ),
)
_conditions: st.SearchStrategy[Condition] = st.recursive(
    st.one_of(_compares, _looks, st.just(Found(("seen",)))),
    lambda inner: st.one_of(
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: AllOf(tuple(parts))),
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: AnyOf(tuple(parts))),
        inner.map(Not),
    ),
    max_leaves=5,
)  # fmt: skip


def step_of(*conditions: Condition | None) -> Step:
    rules = [made.rule(f"r{number}", condition, f"to{number}") for number, condition in enumerate(conditions)]
    return made.step(*rules)


def brute_force(step: Step) -> tuple[set[str], bool]:
    """Return the rules that come first somewhere, and whether none does somewhere."""
    first: set[str] = set()
    gap = False
    sets = [(), ("hose",), ("wire",), ("hose", "wire")]
    for x, y, look, looks, seen in product(GRID, GRID, CHOICES, sets, (False, True)):
        values: dict[str, Any] = {"x": x, "y": y, "look": look, "looks": looks}
        facts = (FoundFact("seen", None, 1.0),) if seen else ()
        rule, _ = first_match(step, Point(made.situation(CATALOGUE, values, found=facts)))
        if rule is None:
            gap = True
        else:
            first.add(rule.id)
    return first, gap


@settings(max_examples=12, deadline=None)
@given(st.lists(_conditions, min_size=1, max_size=4), st.booleans())
def test_first_rules_and_gaps_are_those_of_brute_force(conditions: list[Condition], rest: bool) -> None:
    step = step_of(*conditions, *([None] if rest else []))
    found = coverage(step, CATALOGUE)
    first, gap = brute_force(step)
    assert found.complete
    assert found.first == first
    assert (found.gap is not None) == gap


def test_a_hole_between_two_limits_is_named() -> None:
    step = step_of(Compare("x", "below", -2.0), Compare("x", "above", 2.0))
    gap = coverage(step, CATALOGUE).gap
    assert gap is not None
    assert -2.0 <= float(str(gap["x"])) <= 2.0


def test_limits_that_meet_leave_no_hole_at_the_limit() -> None:
    assert coverage(step_of(Compare("x", "below", 2.0), Compare("x", "at_least", 2.0)), CATALOGUE).gap is None
    open_at_two = coverage(step_of(Compare("x", "below", 2.0), Compare("x", "above", 2.0)), CATALOGUE)
    assert open_at_two.gap == {"x": 2.0}


def test_what_cannot_be_typed_is_no_gap() -> None:
    assert coverage(step_of(Compare("x", "at_most", 6.0)), CATALOGUE).gap is None


def test_an_answer_not_looked_at_is_no_gap() -> None:
    assert coverage(step_of(ChoiceIs("look", "one_of", CHOICES)), CATALOGUE).gap is None


def test_a_rule_behind_a_wider_one_is_shadowed() -> None:
    found = coverage(step_of(Compare("x", "above", 0.0), Compare("x", "above", 2.0), None), CATALOGUE)
    assert found.first == {"r0", "r2"}


def test_a_limit_relative_to_another_reading_moves_with_it() -> None:
    risen, level = Compare("y", "above", "above_x"), Compare("y", "at_most", "above_x")
    assert coverage(step_of(risen, level), CATALOGUE).gap is None
    found = coverage(step_of(AllOf((risen, Compare("x", "above", 0.0))), level), CATALOGUE)
    assert found.gap is not None
    x, y = float(str(found.gap["x"])), float(str(found.gap["y"]))
    assert x <= 0.0
    assert y > x + 1.0


def test_groups_and_runs_of_codes_are_tried() -> None:
    lean = ChoiceIs("dtc_stored", "has_any", ("group:lean",))
    misfire = ChoiceIs("dtc_stored", "has_any", ("P0300-P0312",))
    found = coverage(step_of(lean, misfire), CATALOGUE)
    assert found.first == {"r0", "r1"}
    assert found.gap == {"dtc_stored": ()}


def test_a_bank_the_car_has_not_got_makes_its_condition_false() -> None:
    one_bank = ChoiceIs("veh_banks", "is", ("1",))
    both = AnyOf((Compare("lean_b2", "above", 0.0), Compare("lean_b2", "at_most", 0.0)))
    assert coverage(step_of(both, one_bank), CATALOGUE).gap is None
    found = coverage(step_of(AllOf((one_bank, both)), None), CATALOGUE)
    assert found.first == {"r1"}


def test_samples_stay_within_what_can_be_typed() -> None:
    rules: tuple[Rule, ...] = step_of(Compare("x", "above", 5.9), Compare("x", "below", -5.9)).rules
    values = Samples.of(rules, Evaluator(CATALOGUE)).at("x", {})
    assert all(-6.0 <= float(str(value)) <= 6.0 for value in values)
