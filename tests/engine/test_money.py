"""What testing first saved, against every case counted out."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.library import load_library
from engine.money import PART_HOURS, _in_cases, for_nothing, repair_hours, saving, untested
from engine.suspects import Suspect, rank
from tests.engine import made

CATALOGUE = load_library().catalogue


def small(**changes):
    faults = (
        made.fault("sensor", 50, minutes=30.0, parts="medium"),
        made.fault("hose", 30, minutes=15.0, parts="small"),
        made.fault("pump", 10, minutes=120.0, parts="large"),
        made.fault("unit", 5, minutes=None, parts="very-large"),
        made.fault("nothing", 5, minutes=10.0, parts="none"),
    )
    return made.catalogue(faults=faults, **changes)


def suspects(**shares):
    named = [Suspect(name, name, None, p, ()) for name, p in shares.items()]
    return (*named, Suspect(None, "something else", None, 1.0 - sum(shares.values()), ()))


def test_parts_are_fitted_in_order_of_popularity_until_somebody_gives_up():
    cost = untested(small(), suspects(hose=0.2, sensor=0.4, pump=0.1, unit=0.1, nothing=0.1))

    assert [fitting.fault for fitting in cost.fittings] == ["sensor", "hose", "pump"]
    assert cost.hours == pytest.approx(0.6 * 1.5 + 0.4 * 0.5 + 0.3 * 5.5)
    assert cost.first_for_nothing == pytest.approx(0.6)
    assert cost.cured == pytest.approx(0.7)
    assert cost.hours_least < cost.hours < cost.hours_most


def test_what_is_no_part_or_not_the_roadsides_work_is_never_fitted():
    cost = untested(small(), suspects(unit=0.5, nothing=0.4))

    assert cost.fittings == ()
    assert cost.hours == cost.first_for_nothing == 0.0
    with pytest.raises(ValueError, match="at least one"):
        untested(small(), suspects(hose=1.0), most=0)


@given(st.lists(st.tuples(st.floats(0.01, 1.0), st.floats(0.0, 10.0)), min_size=1, max_size=6))
def test_expected_cost_is_the_mean_over_every_cause_counted_out(raw):
    whole = sum(weight for weight, _ in raw) * 1.25
    fittings = [(weight / whole, cost) for weight, cost in raw]
    outside = 1.0 - sum(p for p, _ in fittings)
    by_cause = sum(
        p * sum(cost for _, cost in fittings[:at]) for at, (p, _) in enumerate(fittings)
    ) + outside * sum(cost for _, cost in fittings)

    assert for_nothing(fittings) == pytest.approx(by_cause, abs=1e-9)


def test_the_bands_join_without_gaps_and_rise():
    bands = list(PART_HOURS.values())[1:]

    assert all(one[2] == other[0] for one, other in itertools.pairwise(bands))
    assert all(low <= taken <= high for low, taken, high in PART_HOURS.values())


def test_saving_compares_tests_with_parts_for_nothing_and_leaves_the_right_repair_out():
    before = suspects(sensor=0.25, hose=0.2, pump=0.1)
    saved = saving(small(), before, 40.0, "hose", hourly_rate=60.0)

    assert saved.untested.hours == pytest.approx(0.75 * 1.5 + 0.55 * 0.5 + 0.45 * 5.5)
    assert saved.hours == pytest.approx(saved.untested.hours - 40 / 60)
    assert saved.money == pytest.approx(60 * saved.hours)
    assert saved.repair_hours == pytest.approx(0.5)
    assert saved.total_tested == pytest.approx(40 / 60 + 0.5)
    assert saved.fitted_before == 1


def test_words_for_the_shop_hold_minutes_hours_and_the_share_of_the_cases():
    words = saving(small(), suspects(sensor=0.25, hose=0.2, pump=0.15), 40.0, "hose").shop_words

    assert "about 40 minutes" in words
    assert "3.6 hours' worth on average" in words
    assert "for nothing in 3 of 4 cases" in words
    assert "the cause in 3 of 5 cases" in words


@pytest.mark.parametrize("concluded", ["sensor", "hose", "unit", None])
@pytest.mark.parametrize("share", [0.9, 0.5, 0.2])
def test_words_for_the_customer_hold_no_number_at_all(concluded, share):
    words = saving(
        small(), suspects(sensor=share, hose=0.05), 40.0, concluded, hourly_rate=60.0
    ).customer_words

    assert not any(sign.isdigit() or sign in "%€$£" for sign in words)
    assert "measure" in words
    assert ("confirmed" in words) == (concluded == "sensor")


def test_the_customer_reads_the_rank_of_what_was_found():
    before = suspects(sensor=0.4, hose=0.2, pump=0.1)

    assert "came second" in saving(small(), before, 40.0, "hose").customer_words
    assert "came third" in saving(small(), before, 40.0, "pump").customer_words
    assert "came" not in saving(small(), before, 40.0, "unit").customer_words


def test_an_open_end_and_no_suspect_part_are_said():
    nothing = saving(small(), suspects(nothing=0.5), 12.0, None)

    assert "no part that could have been fitted" in nothing.shop_words
    assert nothing.repair_hours is None
    assert nothing.total_tested is None
    assert nothing.money is None
    assert nothing.hours == pytest.approx(-0.2)


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "in hardly any case"), (0.1, "in 1 of 10 cases"), (0.24, "in 1 of 4 cases"),
     (0.5, "in 1 of 2 cases"),
     (0.76, "in 3 of 4 cases"), (0.9, "in 9 of 10 cases"), (0.99, "in nearly every case")],
)  # fmt: skip
def test_shares_as_cases(share, words):
    assert _in_cases(share) == words


def test_every_shipped_fault_can_be_priced():
    before = rank(CATALOGUE, (), 1)
    cost = untested(CATALOGUE, before)

    assert len(cost.fittings) == 3
    for fault in CATALOGUE.faults.faults.values():
        priced = repair_hours(fault)
        assert (priced is None) == (fault.minutes is None)
        assert priced is None or priced > 0.0
