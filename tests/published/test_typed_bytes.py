"""Readings typed as raw bytes, against the scaling of SAE J1979 / ISO 15031-5.

Source: published tables of the conversions: 04 A·100/255; 05 and 0F A - 40; 06 to 09 (A - 128)·100/128; 0B A;
0C (256·A + B)/4; 10 (256·A + B)/100; 14 A/200; 34 (256·A + B)·2/65536. The values are worked by hand.
"""

from __future__ import annotations

import pytest

from engine.entry import understand
from engine.entry.outcomes import Question, Refusal, Understood
from engine.formulas.obd import PARAMETERS
from tests.jobs.walks import library

READINGS = library().catalogue.readings


@pytest.mark.parametrize(
    ("name", "typed", "value"),
    [
        ("ect_idle", "0x7B", 83),
        ("ect_idle", "raw 7b", 83),
        ("iat_idle", "raw 48", 32),
        ("rpm_idle", "0x0BB8", 750),
        ("rpm_idle", "0x0B B8", 750),
        ("rpm_idle", "raw 41 0C 0B B8", 750),
        ("stft_b1_idle", "0x80", 0),
        ("stft_b2_idle", "raw 7A", -4.6875),
        ("ltft_b1_2500", "0x8C", 9.375),
        ("map_idle", "0x21", 33),
        ("maf_idle", "raw 01 A4", 4.2),
        ("load_calc_idle", "0x38", 21.96078431372549),
        ("o2_b1s1_max_2500", "raw A4 FF", 0.82),
        ("lam_b1_2500", "raw 80 00 80 00", 1.0),
    ],
)
def test_typed_bytes_are_decoded_and_shown_with_their_bytes(name: str, typed: str, value: float) -> None:
    outcome = understand(typed, READINGS[name])
    assert isinstance(outcome, Understood)
    assert outcome.answer == pytest.approx(value)
    assert "bytes" in outcome.echo


def test_an_unlikely_value_is_asked_about_with_its_bytes() -> None:
    outcome = understand("raw 20", READINGS["ect_idle"])
    assert isinstance(outcome, Question)
    assert all("bytes 20" in one.echo for one in outcome.candidates)


@pytest.mark.parametrize("typed", ["83", "7", "12,5", "80 °C"])
def test_a_number_is_never_taken_for_bytes(typed: str) -> None:
    outcome = understand(typed, READINGS["ect_idle"])
    text = outcome.text if isinstance(outcome, Question | Refusal) else outcome.echo
    assert "bytes" not in text


@pytest.mark.parametrize(
    ("name", "typed"),
    [("ect_idle", "0x"), ("ect_idle", "raw"),
     ("ect_idle", "0xZZ"), ("ect_idle", "0x7B80"), ("rpm_idle", "0x0B"),
     ("batt_v_idle", "0x7B"), ("ect_ir", "raw 7B")],
)  # fmt: skip
def test_bytes_that_hold_nothing_here_are_refused_in_one_line(name: str, typed: str) -> None:
    outcome = understand(typed, READINGS[name])
    assert isinstance(outcome, Refusal)
    assert "\n" not in outcome.text


def test_every_parameter_of_the_catalogue_is_known_with_its_value() -> None:
    marked = [reading for reading in READINGS.values() if reading.parameter is not None]
    assert len(marked) > 40
    for reading in marked:
        assert reading.parameter is not None
        pid, name = reading.parameter
        result = next(one for one in PARAMETERS[int(pid, 16)].results if one.name == name)
        assert result.unit == reading.unit
        assert "CR" in reading.tools
