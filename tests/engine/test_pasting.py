"""Blocks pasted from a code reader: what is understood, asked, refused, and left alone."""

from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.entry import Question, Refusal, Understood
from engine.library import load_library
from engine.pasting import Pasted, read_block
from engine.pasting.names import signal_of, understand_name

CATALOGUE = load_library().catalogue
EVERYTHING = tuple(CATALOGUE.readings)
ONE_BANK = {"veh_banks": 1.0}


def paste(text: str, state: str = "idle", **changes) -> Pasted:
    return read_block(
        text, CATALOGUE, changes.pop("wanted", EVERYTHING), state, **{"facts": ONE_BANK, **changes}
    )


def answers(pasted: Pasted) -> dict[str, object]:
    return {m.reading: m.outcome.answer for m in pasted.matches if isinstance(m.outcome, Understood)}


def log(rows: int, rate: float, heading: str, row) -> str:
    return heading + "\n" + "\n".join(row(at / rate, at) for at in range(rows))


# ------------------------------------------------------------------------------- names of the trade


@pytest.mark.parametrize(
    ("name", "quantities", "bank", "sensor"),
    [
        ("STFT B1", ("stft",), 1, None),
        ("SHRTFT1", ("stft",), 1, None),
        ("Short term fuel trim - Bank 2", ("stft",), 2, None),
        ("LONGFT2", ("ltft",), 2, None),
        ("Long-term trim, bank 1", ("ltft",), 1, None),
        ("ECT", ("ect",), None, None),
        ("Engine coolant temperature", ("ect",), None, None),
        ("Intake air temperature", ("iat",), None, None),
        ("Intake manifold absolute pressure", ("map",), None, None),
        ("MAF air flow rate", ("maf",), None, None),
        ("LOAD_PCT", ("load",), None, None),
        ("Calculated load value", ("load",), None, None),
        ("Engine speed", ("rpm",), None, None),
        ("O2 B1S1", ("o2",), 1, 1),
        ("O2S12", ("o2",), 1, 2),
        ("Oxygen sensor voltage, bank 2 sensor 1", ("o2",), 2, 1),
        ("Lambda sensor 1 bank 1", ("o2",), 1, 1),
        ("FUELSYS2", ("loop",), 2, None),
        ("Commanded throttle actuator", ("throttle_cmd",), None, None),
        ("EVAP_PCT", ("purge",), None, None),
        ("fuel trim bank 1", ("stft", "ltft"), 1, None),
    ],
)
def test_names_of_the_trade_and_of_the_standard(name, quantities, bank, sensor):
    named = understand_name(name)

    assert named is not None
    assert (named.quantities, named.bank, named.sensor) == (quantities, bank, sensor)


@pytest.mark.parametrize(
    "name",
    ["Absolute load", "Commanded equivalence ratio", "Commanded lambda", "Barometric pressure", "O2 B1S3",
     "STFT bank 3", "AFR", "Timing advance", "", "???"],
)  # fmt: skip
def test_names_that_mean_nothing_asked_here(name):
    assert understand_name(name) is None


def test_every_reading_of_live_data_has_a_signal_the_names_can_reach():
    reachable = {signal_of(name).quantity for name in EVERYTHING if signal_of(name)}

    assert {"stft", "ltft", "o2", "rpm", "ect", "iat", "maf", "map", "load", "loop", "lambda"} <= reachable


# --------------------------------------------------------------------------------- names with values


def test_one_name_a_line_in_every_usual_way():
    pasted = paste(
        "ECT: 88 °C\nIAT = 31 C\nSTFT B1;%;-7,5\nLTFT Bank 1;-10,2\nMAF 3,45 g/s\nRPM\t752\nEngine load  28 %"
    )

    assert answers(pasted) == {
        "ect_idle": 88.0, "iat_idle": 31.0, "stft_b1_idle": -7.5, "ltft_b1_idle": -10.2, "maf_idle": 3.45,
        "rpm_idle": 752.0, "load_calc_idle": 28.0,
    }  # fmt: skip
    assert [match.line for match in pasted.matches] == [1, 2, 3, 4, 5, 6, 7]
    assert not pasted.unmatched


def test_the_labels_of_the_catalogue_are_names_too():
    label = CATALOGUE.readings["batt_v_idle"].label

    assert answers(paste(f"{label}: 14.2 V")) == {"batt_v_idle": 14.2}
    assert answers(paste("batt_v_idle = 14.2")) == {"batt_v_idle": 14.2}


def test_units_of_the_block_are_converted():
    assert answers(paste("MAP: 10.9 inHg"))["map_idle"] == pytest.approx(36.9, abs=0.05)
    assert answers(paste("ECT,190,°F"))["ect_idle"] == pytest.approx(87.8, abs=0.05)


def test_a_unit_of_another_kind_is_refused():
    (match,) = paste("ECT: 88 kPa").matches

    assert isinstance(match.outcome, Refusal)


def test_a_list_of_names_values_and_units():
    pasted = paste("Parameter,Value,Unit\nSHRTFT1,-7.8,%\nLONGFT1,-9.4,%\nMAP,36,kPa\nRPM,760,rpm")

    assert answers(pasted) == {
        "stft_b1_idle": -7.8,
        "ltft_b1_idle": -9.4,
        "map_idle": 36.0,
        "rpm_idle": 760.0,
    }


def test_a_name_without_its_bank_is_asked_for_each_bank():
    pasted = paste("STFT: 3 %", facts={"veh_banks": 2.0})

    assert {m.reading: m.rivals for m in pasted.matches} == {
        "stft_b1_idle": ("stft_b2_idle",), "stft_b2_idle": ("stft_b1_idle",),
    }  # fmt: skip
    assert all(isinstance(match.outcome, Question) for match in pasted.matches)
    assert answers(paste("STFT: 3 %")) == {"stft_b1_idle": 3.0}


def test_a_trim_of_no_kind_is_asked():
    assert {type(m.outcome) for m in paste("Fuel trim bank 1: 3 %").matches} == {Question}


def test_a_number_that_can_be_read_in_two_ways_is_asked():
    (match,) = paste("MAP: 1,200").matches

    assert isinstance(match.outcome, Question)


def test_the_same_number_is_plain_where_the_block_shows_its_decimal_comma():
    pasted = paste("LAMBDA: 1,005\nSTFT B1: -7,5")

    assert answers(pasted)["lam_b1_idle"] == 1.005
    assert any("comma" in notice for notice in pasted.notices)


def test_the_equivalence_ratio_is_asked_because_some_show_its_inverse():
    (match,) = paste("Equivalence ratio B1S1: 0.98").matches

    assert "1/lambda" in match.outcome.text


def test_one_reading_told_twice_is_asked():
    pasted = paste("STFT B1: 3 %\nSHRTFT1: 5 %")

    assert len(pasted.matches) == 2
    assert all(isinstance(match.outcome, Question) for match in pasted.matches)


def test_only_what_is_wanted_in_this_engine_state_is_filled():
    assert not paste("ECT: 88 °C", wanted=("stft_b1_idle",)).matches
    assert not paste("ECT: 88 °C", state="2500").matches
    assert "not asked" in paste("ECT: 88 °C", state="2500").unmatched[0].why


def test_a_place_is_no_value():
    assert not paste("STFT bank 1").matches


@pytest.mark.parametrize(
    ("words", "answer"),
    [("CL", "closed"), ("OL-Drive", "open_load"), ("OL", "open_cold"), ("CL-Fault", "closed_fault"),
     ("closed loop", "closed")],
)  # fmt: skip
def test_the_fuel_loop_in_the_words_of_the_standard(words, answer):
    assert answers(paste(f"Fuel system status: {words}"))["loop_b1_idle"] == answer


def test_an_open_loop_warns_that_trims_say_nothing():
    assert any("trims say nothing" in notice for notice in paste("FUELSYS1: OL\nSTFT B1: 0 %").notices)


def test_an_engine_speed_of_another_state_warns():
    assert any("780 rpm" in notice for notice in paste("RPM: 780\nSTFT B1: 1 %", "2500").notices)


def test_a_sentence_of_the_standard_and_a_place_in_brackets():
    words = "Oxygen sensor output voltage (bank 1, sensor 1): 0.55 Volts\nFuel system 1 status: "
    told = answers(paste(f"{words}Closed loop - using oxygen sensor feedback"))

    assert told == {"o2_b1s1_mean_idle": 0.55, "loop_b1_idle": "closed"}
    cold = "Open loop - has not yet satisfied conditions to go closed loop"
    assert answers(paste(words + cold))["loop_b1_idle"] == "open_cold"


def test_one_value_of_what_swings_says_so():
    assert any("one value" in notice for notice in paste("STFT B1: 3 %").notices)
    assert not any("one value" in notice for notice in paste("ECT: 88 °C").notices)


def test_codes():
    pasted = paste("Stored codes: P0172 P0300\nPending DTCs: none", "koeo")

    assert answers(pasted) == {"dtc_stored": ("P0172", "P0300"), "dtc_pending": ()}
    assert {type(m.outcome) for m in paste("Codes: P0133", "koeo").matches} == {Question}


# -------------------------------------------------------------------------------------- tables


def test_a_log_with_times_takes_the_mean_of_its_last_ten_seconds():
    def row(t, at):
        return f"{t:.1f};{-20 if t < 5 else -8 + 0.5 * (at % 3 - 1):.1f};{2500 + at % 5}"

    pasted = paste(log(150, 10, "Time (s);STFT B1 (%);RPM", row).replace(".", ","), "2500")

    assert answers(pasted)["stft_b1_2500"] == pytest.approx(-8.0, abs=0.02)
    assert any("last ten" in notice for notice in pasted.notices)
    assert next(m.samples for m in pasted.matches if m.reading == "stft_b1_2500") == 100


def test_a_column_of_sensor_volts_gives_extremes_mean_and_crossings():
    def row(t, at):
        return f"{t:.2f},{0.15 if at // 5 % 2 else 0.75}"

    pasted = paste(log(120, 10, "time,O2 B1S1 [V]", row), "2500")

    assert answers(pasted) == {
        "o2_b1s1_min_2500": 0.15, "o2_b1s1_max_2500": 0.75, "o2_b1s1_mean_2500": 0.45,
        "o2_b1s1_cross_2500": pytest.approx(20, abs=1),
    }  # fmt: skip


def test_a_slow_or_short_column_is_never_counted():
    slow = paste(log(30, 2, "time,O2 B1S1", lambda t, at: f"{t},{at % 2 * 0.6 + 0.1}"), "2500")
    (crossings,) = (m for m in slow.matches if m.reading == "o2_b1s1_cross_2500")

    assert isinstance(crossings.outcome, Refusal)
    assert "2 values a second" in crossings.outcome.text


def test_one_value_is_no_extreme_of_ten_seconds():
    assert [m.reading for m in paste("O2 B1S1: 0.40 V", "2500").matches] == ["o2_b1s1_mean_2500"]
    assert [m.reading for m in paste("O2 B1S1 min: 0.10 V", "2500").matches] == ["o2_b1s1_min_2500"]


def test_a_row_of_units_below_the_heading_and_a_single_row():
    assert answers(paste("STFT B1;MAP;ECT\n%;inHg;F\n-7.8;10.9;190")) == {
        "stft_b1_idle": -7.8,
        "map_idle": pytest.approx(36.91, abs=0.01),
        "ect_idle": pytest.approx(87.8, abs=0.1),
    }  # fmt: skip


def test_clock_times_and_gaps():
    rows = "\n".join(f"2031-05-01 10:00:{s:02d}\t{'-' if s == 3 else -8}" for s in range(12))
    pasted = paste(f"Timestamp\tSTFT B1\n{rows}")

    assert answers(pasted)["stft_b1_idle"] == -8.0


def test_values_that_are_no_numbers_are_left_out_and_told():
    pasted = paste("time,STFT B1\n0,1\n5,what\n10,3")

    assert answers(pasted)["stft_b1_idle"] == 3.0
    assert any("1 of 2 values" in notice for notice in pasted.notices)


# ---------------------------------------------------------------------------------------- bytes


def test_bytes_are_decoded_as_the_standard_says():
    pasted = paste("41 0C 0B B8\n41 06 78\n410580\n7E8 04 41 10 00 FA 00 00 00\n41 03 02 00")

    assert answers(pasted) == {
        "rpm_idle": 750.0, "stft_b1_idle": -6.25, "ect_idle": 88.0, "maf_idle": 2.5, "loop_b1_idle": "closed",
    }  # fmt: skip


def test_several_parameters_in_one_reply():
    assert answers(paste("41 0C 0B B8 05 80")) == {"rpm_idle": 750.0, "ect_idle": 88.0}


def test_codes_and_freeze_frame_as_bytes():
    pasted = paste("43 02 01 71 01 33\n42 0C 00 0B B8\n42 02 00 01 71", "koeo")

    assert answers(pasted) == {"dtc_stored": ("P0133", "P0171"), "ff_rpm": 750.0, "ff_dtc": ("P0171",)}


def test_sensor_bytes_need_the_cars_own_list_of_places():
    two = {"veh_banks": 2.0}
    alone = paste("41 18 5A 80", facts=two)
    listed = paste("41 13 33\n41 18 5A 80", facts=two)
    four = paste("41 1D 0F\n41 16 5A 80", facts=two)

    assert isinstance(alone.matches[0].outcome, Question)
    assert answers(listed) == {"o2_b2s1_mean_idle": 0.45} == answers(four)


def test_another_control_unit_is_kept_apart():
    pasted = paste("7E9 04 41 0C 1A F8\n7E8 04 41 0C 0B B8")

    assert answers(pasted) == {"rpm_idle": 750.0}
    assert [(one.line, one.why) for one in pasted.unmatched] == [(1, "another control unit answers here")]


def test_bytes_that_fit_nothing_are_listed_with_the_reason():
    assert "not known" in paste("41 FE 01").unmatched[0].why
    assert "no reply" in paste("01 0C 00").unmatched[0].why


# ----------------------------------------------------------------------------- hostile input


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("\x00\x01\x02\x7f" * 50, "no text"),
        ("x" * 1_200_000, "too long"),
        ("STFT B1: 3 %\n" + "y" * 5000, "4000 characters"),
        ("\n".join(["z"] * 25_000), "20000 lines"),
        ("hello and more words\x1b[2J", "control characters"),
        ("", "nothing in this block"),
    ],
)
def test_what_is_no_log_gives_a_notice(text, words):
    assert any(words in notice for notice in paste(text).notices)


def test_what_is_shown_holds_no_escape_sequence():
    pasted = paste("\x1b[31mfoo\x1b[0m: [bold]\nSTFT B1: \x1b]0;t\x07 3 %")

    shown = "".join(u.text + u.why for u in pasted.unmatched) + "".join(
        m.typed + m.name for m in pasted.matches
    )
    assert "\x1b" not in shown


pieces = st.sampled_from(
    ["STFT B1", "RPM", "O2 B1S1", "time", "\t", ";", ",", "\n", ": ", " = ", "-7,5", "0.45 V", "1,200", "%",
     "41 ", "0C ", "0B B8", "4", "\x00", "\"", "10:00:01", "999999999999999999999", "1e9", "²", "−3", "NaN",
     "codes", "P0172", "CL", "bank ", "1", "\u2028", "\ud800"]
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(
    st.lists(pieces, max_size=60).map("".join) | st.text(max_size=400),
    st.sampled_from(["idle", "2500", "koeo"]),
)
def test_any_block_is_read_without_an_exception_and_twice_alike(text, state):
    pasted = paste(text, state, facts={})

    assert pasted == paste(text, state, facts={})
    for match in pasted.matches:
        assert match.reading in CATALOGUE.readings
        assert match.line >= 1
        if isinstance(match.outcome, Question):
            assert match.outcome.candidates


@settings(max_examples=50, deadline=None)
@given(st.binary(max_size=2000))
def test_any_bytes_taken_for_text_are_read_without_an_exception(content):
    paste(content.decode("latin-1"))


@pytest.mark.parametrize(
    "line",
    ["a" * 3999, "a " * 1999, " " * 3000 + "a:", "a," + " " * 3900, "1," * 1999, "(" * 3999, "stored " * 500,
     "a:" * 1999, "41 " * 1300, "T " * 1999, "-" * 3999, "b1s1 " * 700 + "1", "\"" * 3999, "\t" * 3999],
    ids=lambda line: repr(line[:8]),
)  # fmt: skip
def test_lines_made_to_be_slow_are_read_in_good_time(line):
    begun = time.perf_counter()
    paste("\n".join([line] * 100))
    assert time.perf_counter() - begun < 120.0  # a runaway pattern would take for ever


def test_a_large_log_is_read_in_good_time():
    text = log(5000, 10, "time," + ",".join(f"x{i}" for i in range(20)) + ",STFT B1",
               lambda t, at: f"{t:.1f}," + "1.5," * 20 + "-8")  # fmt: skip
    begun = time.perf_counter()
    assert answers(paste(text))["stft_b1_idle"] == -8.0
    assert time.perf_counter() - begun < 120.0  # a runaway pattern would take for ever
