"""What people type at the roadside, as tables: numbers with units."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from engine.catalogue import Reading
from engine.entry import Question, Refusal, Understood, show, understand
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Condition, Found, Not, Settled
from tests.engine.made import choice_reading, reading

PRESSURE = reading("fuelp_koeo", unit="kPa", reject=(0, 1000), usual=(150, 600), tools=("FG",))
BATTERY = reading("batt_v_koeo", unit="V", reject=(0, 18), usual=(12, 15.5), tools=("MM",))
TRIM = reading("stft_b1_idle", unit="%", reject=(-100, 99.3), usual=(-12, 12), tools=("CR",))
HEATER = reading("heater_ohms_b1s1", unit="Ω", reject=(0, 1e6), usual=(2, 15), tools=("MM",))
INSULATION = reading("o2_b1s1_sig_gnd_ohms", unit="kΩ", reject=(0, 1e6), usual=(1000, None), tools=("MM",))
SPEED = reading("rpm_idle", unit="rpm", reject=(0, 16383), usual=(550, 1000), tools=("CR",))
CO2 = reading("gas_co2_idle", unit="%", reject=(0, 20), usual=(14.2, 15.8), tools=("GA",))
COOLANT = reading("ect_idle", unit="°C", reject=(-40, 215), usual=(80, 105), tools=("CR",))
LAMBDA = reading("lam_b1_idle", unit="", reject=(0, 2), usual=(0.97, 1.03), tools=("CR",))
VOLUME = reading("fuel_flow_ml_30s", unit="mL", reject=(0, 5000), tools=("FG",))
SENSOR = reading(
    "o2_b1s1_max_2500", unit="V", reject=(-0.3, 1.275), reject_by_tool={"MM": (-0.3, 15)}, usual=(0.7, 0.95),
    tools=("CR", "MM"),
)  # fmt: skip
MANIFOLD = reading(
    "map_idle", unit="kPa", reject=(0, 255), usual=(25, 95), tools=("CR",),
    reject_if=((ChoiceIs("veh_induction", "one_of", ("turbo", "supercharged")), (0, 400)),),
)  # fmt: skip
ALL = (PRESSURE, BATTERY, TRIM, HEATER, SPEED, CO2, COOLANT, LAMBDA, SENSOR, MANIFOLD)


@pytest.mark.parametrize(
    ("what", "text", "answer", "echo"),
    [
        (PRESSURE, "2.5 bar", 250.0, "250 kPa (2.5 bar)"),
        (PRESSURE, "36psi", 248.2112625541, "248.2 kPa (36 psi)"),
        (PRESSURE, "400", 400.0, "400 kPa"),
        (PRESSURE, "0,4 MPa", 400.0, "400 kPa (0.4 MPa)"),
        (TRIM, "-7,5", -7.5, "-7.5 %"),
        (TRIM, "−7.5 %", -7.5, "-7.5 %"),
        (TRIM, "– 7.5", -7.5, "-7.5 %"),
        (TRIM, ".45", 0.45, "+0.45 %"),
        (TRIM, "+3", 3.0, "+3 %"),
        (TRIM, "5.", 5.0, "+5 %"),
        (TRIM, "-0", 0.0, "0 %"),
        (BATTERY, "12.6v", 12.6, "12.6 V"),
        (BATTERY, "  12.6 \t V ", 12.6, "12.6 V"),
        (BATTERY, "12.6VDC", 12.6, "12.6 V"),
        (BATTERY, "12600mV", 12.6, "12.6 V (12600 mV)"),
        (BATTERY, "12.600", 12.6, "12.6 V"),
        (BATTERY, "１２.６", 12.6, "12.6 V"),
        (SENSOR, "850 mV", 0.85, "0.85 V (850 mV)"),
        (HEATER, "5.2 ohm", 5.2, "5.2 Ω"),
        (HEATER, "0.0052k", 5.2, "5.2 Ω (0.0052 kΩ)"),
        (HEATER, "OL", 1e6, "open circuit (OL)"),
        (HEATER, "o.l.", 1e6, "open circuit (OL)"),
        (HEATER, "0L", 1e6, "open circuit (OL)"),
        (HEATER, "open", 1e6, "open circuit (OL)"),
        (HEATER, "Infinite", 1e6, "open circuit (OL)"),
        (HEATER, "∞", 1e6, "open circuit (OL)"),
        (HEATER, "OL MΩ", 1e6, "open circuit (OL)"),
        (HEATER, "1 MΩ", 1e6, "open circuit (OL)"),
        (INSULATION, "OL", 1e6, "open circuit (OL)"),
        (INSULATION, "5 MΩ", 5000.0, "5000 kΩ (5 MΩ)"),
        (SPEED, "850 1/min", 850.0, "850 rpm"),
        (SPEED, "850 rev/min", 850.0, "850 rpm"),
        (COOLANT, "195 F", 90.555555556, "90.56 °C (195 °F)"),
        (COOLANT, "90°", 90.0, "90 °C"),
        (COOLANT, "90 ºC", 90.0, "90 °C"),
        (LAMBDA, "0.98 λ", 0.98, "0.98"),
        (VOLUME, "1 200", 1200.0, "1200 mL"),
        (VOLUME, "1'200", 1200.0, "1200 mL"),
        (VOLUME, "1\u202f200,5", 1200.5, "1200.5 mL"),
        (VOLUME, "1.200,5", 1200.5, "1200.5 mL"),
        (VOLUME, "1,200.5", 1200.5, "1200.5 mL"),
        (VOLUME, "0L", 0.0, "0 mL (0 L)"),
    ],
)
def test_a_number_is_understood_and_echoed_as_it_will_count(
    what: Reading, text: str, answer: float, echo: str
) -> None:
    found = understand(text, what)

    assert isinstance(found, Understood), found
    assert found.answer == pytest.approx(answer, rel=1e-9)
    assert (found.unit, found.echo, found.flagged) == (what.unit, echo, False)


@pytest.mark.parametrize(
    ("unit", "text", "answer"),
    [("psi", "36", 248.2112625541), ("bar", "2.5", 250.0), ("bar", "250 kPa", 250.0), (None, "250", 250.0)],
)
def test_a_bare_number_is_in_the_unit_of_the_instrument(unit: str | None, text: str, answer: float) -> None:
    found = understand(text, PRESSURE, unit=unit)

    assert isinstance(found, Understood)
    assert found.answer == pytest.approx(answer)


@pytest.mark.parametrize("unit", ["bar", "furlong per week", "°C"])
def test_a_unit_that_does_not_fit_the_reading_is_not_used(unit: str) -> None:
    found = understand("13.2", BATTERY, unit=unit)

    assert isinstance(found, Understood)
    assert found.answer == 13.2


def test_a_degree_sign_alone_is_the_degree_of_the_instrument() -> None:
    found = understand("195°", COOLANT, unit="°F")

    assert isinstance(found, Understood)
    assert found.echo == "90.56 °C (195 °F)"


@pytest.mark.parametrize(
    ("what", "text", "words"),
    [
        (BATTERY, "", "nothing was typed"),
        (BATTERY, " \t ", "nothing was typed"),
        (BATTERY, "abc", "'abc' is not a number: write it like 12.6 V"),
        (BATTERY, "-", "mark what cannot be measured"),
        (BATTERY, "n/a", "mark what cannot be measured"),
        (BATTERY, "<0.1", "without <"),
        (BATTERY, "12-13", "more than one number"),
        (BATTERY, "12/13 V", "more than one number"),
        (BATTERY, "12..6", "write the number plainly"),
        (BATTERY, "1 2", "write the number plainly"),
        (BATTERY, "1,20,0", "write the number plainly"),
        (BATTERY, "OL", "over its range"),
        (BATTERY, "12.6 bananas", "not known"),
        (BATTERY, "12.6 bar", "is not a voltage: write it in V"),
        (LAMBDA, "0.98 V", "a bare number is wanted"),
        (SPEED, "1e3", "powers of ten are not taken; write 1000"),
        (SPEED, "-8.5E2 rpm", "write -850 rpm"),
        (SPEED, "1e999", "write the number out"),
        (SPEED, "9" * 300, "too large"),
        (PRESSURE, "300 kPa abs", "read against the outside air"),
        (TRIM, "200", "200 % cannot be: the data item ends at 99.3 %"),
        (TRIM, "-101", "-101 % cannot be: the data item begins at -100 %"),
        (BATTERY, "25", "25 V cannot be: 18 V is the most possible here"),
        (PRESSURE, "-1", "-1 kPa cannot be: 0 kPa is the least possible here"),
        (PRESSURE, "36 bar", "36 bar is 3600 kPa and cannot be: 1000 kPa is the most possible here"),
        (PRESSURE, "36 bar", "36 psi would be 248.2 kPa"),
        (PRESSURE, "-300", "without the minus it would be 300 kPa"),
        (BATTERY, "126", "with the lost factor of ten it would be 12.6 V"),
        (replace(HEATER, reject=(0, 200)), "OL", "cannot be: 200 Ω is the most"),
        (LAMBDA, "1,200,300", "1200300 cannot be"),
        (replace(SPEED, reject=(0, 0.5)), "1,200", "neither can be"),
    ],
)
def test_what_cannot_count_is_refused_with_the_reason(what: Reading, text: str, words: str) -> None:
    found = understand(text, what)

    assert isinstance(found, Refusal), found
    assert words in found.text


@pytest.mark.parametrize(
    ("what", "text", "words", "echoes"),
    [
        (SPEED, "1,200", "can mean 1.2 rpm or 1200 rpm", ("1.2 rpm", "1200 rpm")),
        (SPEED, "1.200", "can mean 1.2 rpm or 1200 rpm", ("1.2 rpm", "1200 rpm")),
        (BATTERY, "12,600", "only 12.6 V can be", ("12.6 V",)),
        (COOLANT, "1,200", "only 1.2 °C can be and is unlikely (usual", ("1.2 °C",)),
        (PRESSURE, "2.5", "2.5 bar would be 250 kPa", ("2.5 kPa", "250 kPa (2.5 bar)")),
        (PRESSURE, "2.5 kPa", "2.5 kPa? Unlikely (usual 150 to 600 kPa)", ("2.5 kPa", "250 kPa (2.5 bar)")),
        (CO2, "1.48", "lost factor of ten it would be 14.8 %", ("1.48 %", "14.8 %")),
        (COOLANT, "195", "195 °F would be 90.56 °C", ("195 °C", "90.56 °C (195 °F)")),
        (TRIM, "-40", "check unit, range, probe and state", ("-40 %", "-4 %")),
        (INSULATION, "20", "usual at least 1000 kΩ", ("20 kΩ", "20000 kΩ (20 MΩ)")),
        (replace(TRIM, usual=(None, 5)), "47,5", "usual at most 5 %", ("+47.5 %",)),
    ],
)
def test_what_is_doubtful_is_asked_with_its_candidates(
    what: Reading, text: str, words: str, echoes: tuple[str, ...]
) -> None:
    found = understand(text, what)

    assert isinstance(found, Question), found
    assert words in found.text
    assert tuple(candidate.echo for candidate in found.candidates) == echoes


def test_the_unlikely_as_typed_is_flagged_and_the_slip_put_right_is_not() -> None:
    found = understand("2.5", PRESSURE)

    assert isinstance(found, Question)
    assert found.about == "likelihood"
    assert [candidate.flagged for candidate in found.candidates] == [True, False]


@pytest.mark.parametrize(
    ("what", "value", "tool", "facts", "taken"),
    [
        (SENSOR, "12.1", None, {}, False),
        (SENSOR, "12.1", "CR", {}, False),
        (SENSOR, "12.1", "MM", {}, True),
        (SENSOR, "16", "MM", {}, False),
        (MANIFOLD, "300", None, {"veh_induction": "turbo"}, True),
        (MANIFOLD, "300", None, {"veh_induction": "na"}, False),
        (MANIFOLD, "300", None, {}, True),  # not known to be without a blower
        (MANIFOLD, "401", None, {}, False),
    ],
)
def test_what_can_be_depends_on_the_instrument_and_on_the_car(
    what: Reading, value: str, tool: str | None, facts: dict[str, str], taken: bool
) -> None:
    assert isinstance(understand(value, what, tool=tool, facts=facts), Question) is taken


TURBO, DIRECT = ChoiceIs("induction", "is", ("turbo",)), ChoiceIs("system", "is_not", ("port",))


@pytest.mark.parametrize(
    ("condition", "facts", "is_case"),
    [
        (AllOf((TURBO, DIRECT)), {"induction": "turbo", "system": "direct"}, True),
        (AllOf((TURBO, DIRECT)), {"induction": "na"}, False),
        (AnyOf((TURBO, DIRECT)), {"induction": "turbo"}, True),
        (AnyOf((TURBO, DIRECT)), {"induction": "na", "system": "port"}, False),
        (Not(TURBO), {"induction": "na"}, True),
        (Not(TURBO), {"induction": "turbo"}, False),
        (AnyOf((TURBO, Settled(True))), {}, True),
        (AllOf((TURBO, Settled(False))), {}, False),
        (Compare("litres", "above", 2.0), {"litres": 3.0}, True),
        (Compare("litres", "at_most", 2.0), {"litres": 3.0}, False),
        (Compare("litres", "below", 4.0), {"litres": 3.0}, True),
        (Compare("litres", "at_least", 4.0), {"litres": 3.0}, False),
        (ChoiceIs("extra", "is", ("a", "b")), {"extra": ("a", "b")}, True),
        (ChoiceIs("extra", "is", ("a", "b")), {"extra": ("a",)}, False),
        (ChoiceIs("extra", "is_not", ("a",)), {"extra": ("a", "b")}, True),
        (ChoiceIs("extra", "has", ("a",)), {"extra": ("a", "b")}, True),
        (ChoiceIs("extra", "has_any", ("c", "b")), {"extra": ("a", "b")}, True),
        (ChoiceIs("extra", "has_none", ("a",)), {"extra": ("a", "b")}, False),
        (ChoiceIs("extra", "has_other_than", ("a",)), {"extra": ("a",)}, False),
        (ChoiceIs("banks", "one_of", ("2",)), {"banks": 2.0}, True),
    ],
)
def test_bounds_by_conditions_on_the_car(
    condition: Condition, facts: dict[str, float | str | tuple[str, ...]], is_case: bool
) -> None:
    """In the case the bound is 10, else 1."""
    what = reading("x", unit="V", reject=(0, 1), reject_if=((condition, (0, 10)),))

    assert isinstance(understand("5", what, facts=facts), Understood) is is_case
    assert isinstance(understand("11", what, facts=facts), Refusal)


@pytest.mark.parametrize(
    "condition", [Found(("heater-good",)), Compare("litres", "above", "named"), Not(TURBO)]
)
def test_a_condition_that_cannot_be_told_refuses_nothing_it_would_allow(condition: Condition) -> None:
    what = reading("x", unit="V", reject=(0, 1), reject_if=((condition, (None, None)),))

    assert isinstance(understand("5000", what), Understood)


@pytest.mark.parametrize(
    ("what", "answer", "unit", "words"),
    [
        (PRESSURE, 250.0, None, "250 kPa"),
        (PRESSURE, 250.0, "bar", "2.50 bar"),
        (PRESSURE, 250.0, "psi", "36.3 psi"),
        (PRESSURE, 250.0, "MPa", "0.25 MPa"),
        (PRESSURE, 250.0, "V", "250 kPa"),
        (TRIM, 8.25, None, "+8.2 %"),
        (TRIM, -8.0, None, "-8.0 %"),
        (HEATER, 1e6, "kΩ", "open circuit"),
        (COOLANT, 90.0, "°F", "194 °F"),
        (choice_reading("x", "ok", "wet"), "wet", None, "wet"),
        (choice_reading("x", "ok", "wet", kind="many"), ("ok", "wet"), None, "ok, wet"),
        (choice_reading("x", "ok", kind="many"), (), None, "none"),
        (reading("dtc", kind="codes"), ("P0172",), None, "P0172"),
        (reading("dtc", kind="codes"), (), None, "no codes"),
    ],
)
def test_answers_are_shown_with_the_digits_of_their_unit(
    what: Reading, answer: float | str | tuple[str, ...], unit: str | None, words: str
) -> None:
    assert show(answer, what, unit) == words


# ------------------------------------------------------------------------------------- whatever is typed

UNITS = ["", "V", "mV", "bar", "psi", "kPa", "Ω", "kohm", "%", "°F", "C", "rpm", "λ", "1/min", "s^9", "kg*"]
typing = st.one_of(
    st.text(max_size=40),
    st.text(alphabet="0123456789.,' +-−eE/°%ΩkMmVOL\x1b[]\n", max_size=12),
    st.builds("{}{}".format, st.floats(allow_nan=True).map(str), st.sampled_from(UNITS)),
)


@given(text=typing, what=st.sampled_from(ALL), unit=st.sampled_from([None, *UNITS]))
@example("1e308", SPEED, None)
@example("9" * 500, SPEED, "bar")
@example("½", TRIM, None)
@example("٣٫٥", TRIM, None)
@example("\x1b[31m5", TRIM, None)
def test_nothing_typed_raises_and_every_line_is_one_line(text: str, what: Reading, unit: str | None) -> None:
    found = understand(text, what, unit=unit)

    lines = [found.echo] if isinstance(found, Understood) else [found.text]
    if isinstance(found, Question):
        lines += [candidate.echo for candidate in found.candidates]
        assert found.candidates
    for line in lines:
        assert line
        assert line.isprintable()
        assert len(line) < 400


@given(value=st.floats(-400, 400).map(lambda v: round(v, 3)), what=st.sampled_from([TRIM, COOLANT, BATTERY]))
def test_a_number_is_taken_exactly_inside_the_bounds_and_refused_outside(value: float, what: Reading) -> None:
    found = understand(f"{value:.4f}", what)

    low, high = what.reject
    assert low is not None
    assert high is not None
    assert isinstance(found, Refusal) is not (low <= value <= high)
    if isinstance(found, Understood):
        assert found.answer == value
    if isinstance(found, Question):
        assert found.candidates[0].answer == value


@given(value=st.floats(0.02, 9.9).map(lambda v: round(v, 3)))
def test_a_comma_and_a_point_mean_the_same_before_decimals(value: float) -> None:
    with_point = understand(f"{value:.2f} bar", PRESSURE)

    assert understand(f"{value:.2f}".replace(".", ",") + " bar", PRESSURE) == with_point
