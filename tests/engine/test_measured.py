from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.catalogue import Accuracy, Instrument, Source
from engine.measured import Answer, How, Take, accuracy_of, combine, disagreement
from tests.engine.made import choice_reading, reading

SOURCE = Source("common-practice", "made for a test")


def accuracy(*patterns: str, unit: str | None = None, **given: float) -> Accuracy:
    numbers = {"percent": 0.0, "plus_minus": 0.0, "resolution": 0.0, "scatter": 0.0, **given}
    return Accuracy(patterns, unit, source=SOURCE, **numbers)


GAUGE = Instrument(
    "FG", "gauge", 10.0, (accuracy(unit="kPa", percent=1.0, plus_minus=3.0, resolution=6.0, scatter=4.0),)
)
METER = Instrument(
    "MM", "meter", 1.0, (accuracy("fuel*", plus_minus=30.0), accuracy(unit="kPa", scatter=1.0))
)
KIT = {"FG": GAUGE, "MM": METER}
PRESSURE = reading("fuelp_idle", unit="kPa", tools=("FG",))


def takes(
    *answers: Answer, instrument: str | None = "FG", epoch: int = 0, how: How = "measured", first: int = 0
) -> list[Take]:
    return [
        Take(first + i, "fuelp_idle", answer, str(answer), instrument, 0.0, epoch, how)
        for i, answer in enumerate(answers)
    ]


# ------------------------------------------------------------------------------------------- accuracy


def test_the_first_entry_that_fits_by_id_or_unit_wins() -> None:
    by_id, by_unit, later = accuracy("map_*"), accuracy(unit="kPa"), accuracy(unit="kPa", percent=5.0)
    meter = Instrument("X", "x", 1.0, (by_id, by_unit, later))

    assert accuracy_of(meter, reading("map_idle", unit="kPa")) is by_id
    assert accuracy_of(meter, reading("fuelp_idle", unit="kPa")) is by_unit
    assert accuracy_of(meter, reading("heater", unit="Ω")) is None
    assert accuracy_of(meter, reading("MAP_idle", unit="Ω")) is None


# ---------------------------------------------------------------------------------------------- takes


@pytest.mark.parametrize(
    ("how", "answer", "n"),
    [("mean", 300.0, 3), ("highest", 310.0, 1), ("lowest", 294.0, 1), ("latest", 294.0, 1)],
)
def test_takes_combine_as_the_catalogue_says(how: str, answer: float, n: int) -> None:
    value = combine(replace(PRESSURE, takes=how), takes(310.0, 296.0, 294.0), KIT)  # type: ignore[arg-type]

    limit = 0.01 * answer + 3.0
    scatter = math.sqrt((10.0**2 + 4.0**2 + 6.0**2) / 2.0) if n > 1 else 4.0
    assert value.answer == pytest.approx(answer)
    assert value.shared == pytest.approx(limit / math.sqrt(3.0))
    assert value.own == pytest.approx(math.sqrt(36.0 / 12.0 + scatter**2 / n))
    assert value.uncertainty == pytest.approx(math.hypot(value.shared, value.own))
    assert value.takes == (0, 1, 2)
    assert value.instrument == "FG"


def test_agreeing_takes_average_the_scatter_and_nothing_else() -> None:
    once, often = combine(PRESSURE, takes(300.0), KIT), combine(PRESSURE, takes(*[300.0] * 16), KIT)

    assert once.own == pytest.approx(math.sqrt(3.0 + 16.0))
    assert often.own == pytest.approx(math.sqrt(3.0 + 1.0))
    assert often.shared == once.shared > 0.0


@pytest.mark.parametrize(
    "earlier",
    [
        takes(100.0, epoch=0),
        takes(100.0, epoch=1, instrument="MM"),
        takes(100.0, epoch=1, instrument=None),
        takes(100.0, epoch=1, how="estimated"),
        takes("unknown", epoch=1),
    ],
)
def test_takes_of_another_epoch_instrument_or_manner_never_mix(earlier: list[Take]) -> None:
    value = combine(PRESSURE, [*earlier, *takes(300.0, 302.0, epoch=1, first=7)], KIT)

    assert value.answer == pytest.approx(301.0)
    assert value.takes == (7, 8)


def test_takes_on_both_sides_of_another_instrument_belong_together() -> None:
    mixed = [*takes(300.0), *takes(200.0, instrument="MM", first=1), *takes(304.0, first=2)]

    value = combine(PRESSURE, mixed, KIT)

    assert (value.answer, value.takes) == (302.0, (0, 2))


def test_a_take_without_instrument_counts_as_taken_with_the_first_tool() -> None:
    value = combine(PRESSURE, takes(300.0, instrument=None), KIT)

    assert value.instrument == "FG"
    assert value.shared == pytest.approx(6.0 / math.sqrt(3.0))


def test_an_instrument_without_data_adds_nothing_but_the_scatter_seen() -> None:
    assert combine(PRESSURE, takes(300.0, instrument="DOC"), KIT).uncertainty == 0.0
    assert combine(PRESSURE, takes(300.0, 302.0, instrument="DOC"), KIT).own == pytest.approx(1.0)


@pytest.mark.parametrize("how", ["estimated", "told"])
def test_a_guess_is_at_least_three_times_as_wide_and_none_of_it_is_the_instrument(how: How) -> None:
    read = combine(PRESSURE, takes(300.0), KIT)
    guess = combine(PRESSURE, takes(300.0, how=how), KIT)

    assert guess.shared == 0.0
    assert guess.own == pytest.approx(max(3.0 * read.uncertainty, 30.0 / math.sqrt(3.0)))


def test_a_guess_without_instrument_is_a_tenth_wide_but_a_car_fact_is_not() -> None:
    told = takes(300.0, instrument="DOC", how="told")

    assert combine(PRESSURE, told, KIT).own == pytest.approx(30.0 / math.sqrt(3.0))
    assert combine(replace(PRESSURE, keeps="ever"), told, KIT).own == 0.0


def test_no_takes_are_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="fuelp_idle has no takes"):
        combine(PRESSURE, [], KIT)


LOOK = choice_reading("look", "ok", "wet", not_looked=("not_done",))
LOOKS = choice_reading("look", "ok", "wet", not_looked=("not_done", "unknown"), kind="many")


@pytest.mark.parametrize(
    ("what", "answers", "expected", "not_looked"),
    [
        (LOOK, ("ok", "wet"), "wet", False),
        (LOOK, ("ok", "not_done"), "not_done", True),
        (LOOKS, (("ok",), ("not_done",)), ("not_done",), True),
        (LOOKS, (("not_done", "unknown"),), ("not_done", "unknown"), True),
        (LOOKS, (("not_done", "wet"),), ("not_done", "wet"), False),
        (LOOKS, ((),), (), False),
        (reading("dtc_stored", kind="codes"), (("P0172",), ("P0300",)), ("P0300",), False),
        (reading("dtc_stored", kind="codes"), (("P0172",), ()), (), False),
        (reading("ign_trace", kind="trace"), ("idle.csv",), "idle.csv", False),
    ],
)
def test_of_choices_codes_and_traces_the_last_counts(
    what: object, answers: tuple[Answer, ...], expected: Answer, not_looked: bool
) -> None:
    value = combine(what, takes(*answers), KIT)  # type: ignore[arg-type]

    assert (value.answer, value.not_looked, value.uncertainty) == (expected, not_looked, 0.0)
    assert value.takes == (len(answers) - 1,)


@pytest.mark.parametrize(
    ("given_takes", "expected"),
    [
        ([], None),
        (takes("ok"), None),
        (takes("ok", "ok"), None),
        (takes("ok", "wet"), ("ok", "wet")),
        (takes("ok", "wet", "wet"), ("ok", "wet")),
        ([*takes("ok"), *takes("wet", epoch=1, first=1)], None),
        (takes(("P0172",), ("P0172", "P0300")), (("P0172",), ("P0172", "P0300"))),
        (takes(1.0, 2.0), None),
    ],
)
def test_two_answers_of_one_epoch_that_differ_are_reported(
    given_takes: list[Take], expected: tuple[Answer, Answer] | None
) -> None:
    assert disagreement(given_takes) == expected


finite = st.floats(-1e6, 1e6)


@given(
    numbers=st.lists(finite, min_size=1, max_size=20),
    how=st.sampled_from(["mean", "highest", "lowest", "latest"]),
)
def test_a_combined_value_lies_among_its_takes_and_is_never_surer_than_the_instrument(
    numbers: list[float], how: str
) -> None:
    value = combine(replace(PRESSURE, takes=how), takes(*numbers), KIT)  # type: ignore[arg-type]

    assert min(numbers) - 1e-6 <= value.number <= max(numbers) + 1e-6
    limit = 0.01 * abs(value.number) + 3.0
    assert value.uncertainty >= limit / math.sqrt(3.0)
    assert value.own >= 6.0 / math.sqrt(12.0)
