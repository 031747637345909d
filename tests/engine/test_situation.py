"""What conditions say of a car: true, false, unknown, and what the car has not got."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.catalogue import Code, CodeGroup, Codes, MakerFigure
from engine.situation import FoundFact, Point, settle
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Found, Not
from tests.engine.made import above, below, catalogue, choice_reading, limit, reading, situation, worked

HOSE = choice_reading("hose", "ok", "off", "split", not_looked=("not_done",), kind="many")
TIP = choice_reading("tip", "grey", "white", not_looked=("not_removed",))
VOLTS = reading("volts", unit="V")
B2 = reading("volts_b2", unit="V")


@pytest.mark.parametrize(
    ("how", "words", "answer", "expected"),
    [
        ("is", ("ok",), ("ok",), True),
        ("is", ("ok",), ("off", "ok"), False),
        ("has", ("off",), ("off", "split"), True),
        ("has", ("off", "split"), ("off",), False),
        ("has_any", ("off", "split"), ("split",), True),
        ("has_any", ("off",), ("ok",), False),
        ("has_none", ("off", "split"), ("ok",), True),
        ("has_none", ("off",), ("off",), False),
        ("has_other_than", ("ok",), ("ok",), False),
        ("has_other_than", ("ok",), ("off", "ok"), True),
        ("is_not", ("ok",), ("off",), True),
    ],
)
def test_several_choices(how, words, answer, expected):
    made = catalogue((HOSE,))

    assert Point(situation(made, {"hose": answer})).truth(ChoiceIs("hose", how, words)) is expected


@pytest.mark.parametrize(
    ("how", "value", "edge", "expected"),
    [
        ("below", 1.0, 1.0, False),
        ("at_most", 1.0, 1.0, True),
        ("above", 1.0, 1.0, False),
        ("at_least", 1.0, 1.0, True),
        ("below", 0.9, 1.0, True),
        ("above", 1.1, 1.0, True),
    ],
)
def test_the_limit_itself_belongs_to_at_least_and_at_most(how, value, edge, expected):
    assert (
        Point(situation(catalogue((VOLTS,)), {"volts": value})).truth(Compare("volts", how, edge)) is expected
    )


def test_missing_and_not_looked_are_unknown():
    made = catalogue((TIP, VOLTS))

    assert Point(situation(made, {})).truth(above("volts", 1.0)) is None
    assert Point(situation(made, {"tip": "not_removed"})).truth(ChoiceIs("tip", "is", ("grey",))) is None
    assert Point(situation(made, {"tip": "not_removed"})).truth(ChoiceIs("tip", "is_not", ("grey",))) is None


def test_what_the_car_has_not_got_is_false_and_not_unknown():
    made = catalogue((B2, reading("meter", has={"kind": ("maf",)}), choice_reading("kind", "maf", "map")))

    assert Point(situation(made, {"veh_banks": 1.0})).truth(above("volts_b2", 0.0)) is False
    assert Point(situation(made, {"veh_banks": 2.0})).truth(above("volts_b2", 0.0)) is None
    assert Point(situation(made, {"kind": "map", "meter": 3.0})).truth(above("meter", 0.0)) is False
    assert Point(situation(made, {"meter": 3.0})).truth(above("meter", 0.0)) is True


def test_and_or_not_follow_strong_kleene_tables():
    """Kleene's strong three-valued logic; the tables are from memory of any logic textbook."""
    made = catalogue((VOLTS, reading("other")))
    here = Point(situation(made, {"volts": 1.0}))
    atoms = {True: above("volts", 0.0), False: below("volts", 0.0), None: above("other", 0.0)}
    rank = {False: 0, None: 1, True: 2}
    back = {v: k for k, v in rank.items()}

    for one, two in itertools.product(atoms, repeat=2):
        parts = (atoms[one], atoms[two])
        assert here.truth(AllOf(parts)) is back[min(rank[one], rank[two])]
        assert here.truth(AnyOf(parts)) is back[max(rank[one], rank[two])]
    assert [here.truth(Not(atoms[value])) for value in (True, False, None)] == [False, True, None]
    assert here.truth(AllOf(())) is True
    assert here.truth(AnyOf(())) is False


CODES = Codes(
    (
        Code("P0300", "P0312", "misfire", ("misfire",), None),
        Code("P0172", "P0172", "rich", ("rich",), "b1"),
        Code("P0171", "P0179", "mixture", ("mixture",), None),
    ),
    {name: CodeGroup(name, name, 1, ()) for name in ("misfire", "rich", "mixture")},
)


@pytest.mark.parametrize(
    ("pattern", "expected"),
    [
        ("P0172", True),
        ("P0300-P0312", False),
        ("group:rich", True),
        ("group:misfire", False),
        ("P0170-P0175", True),
    ],
)
def test_codes_by_name_range_and_group(pattern, expected):
    made = catalogue((reading("dtc_stored", kind="codes"), reading("dtc_pending", kind="codes")), codes=CODES)
    here = Point(situation(made, {"dtc_stored": (), "dtc_pending": ("P0172",)}))

    assert here.truth(ChoiceIs("dtc_any", "has_any", (pattern,))) is expected


def test_pending_codes_alone_never_show_that_a_code_is_absent():
    made = catalogue((reading("dtc_stored", kind="codes"), reading("dtc_pending", kind="codes")), codes=CODES)
    here = Point(situation(made, {"dtc_pending": ("P0172",)}))

    assert here.truth(ChoiceIs("dtc_any", "has_any", ("P0172",))) is True
    assert here.truth(ChoiceIs("dtc_any", "has_any", ("P0300",))) is None
    assert here.truth(ChoiceIs("dtc_any", "has_none", ("P0300",))) is None


def test_the_narrowest_entry_names_a_code_and_ranges_count_in_hexadecimal():
    assert CODES.find("P0172").means == "rich"
    assert CODES.find("P0173").means == "mixture"
    assert CODES.find("C0172") is None
    assert Code("P060A", "P0611", "", (), None).covers("P060F")


def test_a_makers_figure_wins_and_its_absence_leaves_a_band_undecided():
    high = limit("high", 330.0, maker=MakerFigure("spec", times=1.1), widen=33.0)
    made = catalogue((reading("pressure"), reading("spec")), (high,))

    def truth(pressure: float, **more: float) -> bool | None:
        return Point(situation(made, {"pressure": pressure, **more})).truth(above("pressure", "high"))

    assert [truth(320.0), truth(350.0), truth(370.0)] == [False, None, True]
    assert [truth(420.0, spec=400.0), truth(445.0, spec=400.0)] == [False, True]


def test_limits_by_case_by_relation_and_by_table():
    cold = limit("crank", 8.5, table_of="ambient", table=((-18.0, 8.5), (4.0, 9.3), (10.0, 9.4)))
    share = limit("share", None, relative=MakerFigure("key_on", times=0.8))
    by_car = limit("by_car", 1.0, cases=((ChoiceIs("fuel", "is", ("lpg",)), 2.0),))
    made = catalogue(
        (reading("ambient"), reading("key_on"), choice_reading("fuel", "petrol", "lpg")),
        (cold, share, by_car),
    )

    here = Point(situation(made, {"ambient": 7.0, "key_on": 300.0, "fuel": "lpg"}))
    assert here.limit("crank").value == pytest.approx(9.35)
    assert here.limit("share").value == pytest.approx(240.0)
    assert here.limit("by_car").value == 2.0
    assert Point(situation(made, {"ambient": -40.0})).limit("crank").value == 8.5
    assert Point(situation(made, {})).limit("share") is None


def test_worked_values_come_from_the_named_formula_and_fall_back():
    made = catalogue(
        (reading("short"), reading("long"), reading("flow")),
        worked_values=(worked("total", "total_trim", short="short", long="long"),),
    )

    assert Point(situation(made, {"short": -8.6, "long": -9.4})).number("total") == pytest.approx(-18.0)
    assert Point(situation(made, {"short": -8.6})).number("total") is None


@pytest.mark.parametrize(
    ("made_on", "asked_on", "expected"),
    [("b1", "b1s1", True), ("b1s1", "b1", True), ("b2", "b1", False), (None, "b2", True), ("b1", None, True)],
)
def test_findings_meet_by_side(made_on, asked_on, expected):
    here = Point(situation(catalogue(findings=("good",)), {}, found=(FoundFact("good", made_on, 1.0),)))

    assert here.truth(Found(("good",), asked_on)) is expected
    assert here.truth(Found(("good", "absent"), asked_on)) is False


ATOMS = st.sampled_from([above("volts", 0.0), below("volts", 0.0), above("other", 0.0), above("near", 1.0)])
CONDITIONS = st.recursive(
    ATOMS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda parts: AllOf(tuple(parts))),
        st.lists(inner, max_size=3).map(lambda parts: AnyOf(tuple(parts))),
        inner.map(Not),
    ),
    max_leaves=8,
)


@given(condition=CONDITIONS, near=st.sampled_from([0.5, 1.5]))
def test_settling_the_rest_of_a_condition_does_not_change_what_it_says(condition, near):
    """For every value of the one comparison left open, three-valued logic gives the same."""
    made = catalogue((VOLTS, reading("other"), reading("near")))
    known = situation(made, {"volts": 1.0, "near": 1.0})
    reduced = settle(condition, Point(known), [above("near", 1.0)])
    here = Point(known, {"near": near - 1.0})

    assert here.truth(reduced) is here.truth(condition)
