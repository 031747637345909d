"""Formulas worked out from typed values."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formulas.registry import FormulaError, formula, names
from engine.units import UnitError, split_number
from engine.working import work


@pytest.mark.parametrize(
    ("line", "result", "value", "unit"),
    [
        ("sensor_voltage lambda=0.95 temp=1112degF", "emf", 926.80, "mV"),
        ("sensor_voltage lambda=0,95 temp=600 degC fuel=petrol", "emf", 926.80, "mV"),
        ("sensor_voltage lambda=0.95 temp=873.15K", "emf", 926.80, "mV"),
        ("leak_flow hole=3mm map=35kPa", "flow", 1.35249, "g/s"),
        ("leak_flow hole=3 map=350mbar baro=29.921inHg temp=68°F", "flow", 1.35249, "g/s"),
        ("leak_from_trims trim1=15.640 air1=2.16188 trim2=4.413 air2=27.582768kg/h", "hole", 1.5, "mm"),
        ("lambda_from_gas co=0.5% co2=14,7 o2=5000ppm hc=100", "lambda", 1.00468, ""),
        ("lambda_from_gas CO=0.5 co2=14.7 o2=0.5 hc=100 fuel=E10", "lambda", 1.00409, ""),
        ("heater_load volts=12600mV ohms=0.006kohm", "current", 2.1, "A"),
        ("joint_resistance drop=350mV current=1.9", "resistance", 0.184211, "Ω"),
        ("barometric_pressure altitude=1000ft", "pressure", 97.7167, "kPa"),
        ("injector_flow flow=200cc/min dp1=3bar dp2=350", "flow", 216.0247, "mL/min"),
        ("injector_flow flow=200 dp1=300 dp2=350", "flow", 216.0247, ""),
        ("difference a=5V b=200mV", "difference", 4.8, "V"),
        ("ratio a=5V b=200mV", "ratio", 25.0, ""),
        ("conformity value=12.6V u=48mV lower=12.5", "probability", 0.981390, ""),
        ("instrument_limit class=1.6 span=7bar", "limit", 0.112, "bar"),
        ("instrument_limit reading=12.60V percent=0.5% counts=2 resolution=10mV", "u", 0.0479201, "V"),
        ("obd_value pid=0C bytes=1A F8", "engine_speed", 1726.0, "rpm"),
        ("total_trim short=-7,5 long=−3", "total", -10.5, "%"),
        ("nernst_emf o2_reference=0.2095 o2_exhaust=8.5442e-12 temp=600", "emf", 450.0, "mV"),
        ("injector_duty pulse=0.0025s rpm=750 1/min", "duty", 1.5625, "%"),
        ("track_agreement v1=2.4 v2=1.32 vref=4.98 design=Offset offset=1", "error", 1.60643, "%"),
    ],
)
def test_typed_values(line: str, result: str, value: float, unit: str) -> None:
    name, *assignments = line.split(" ")
    found, found_unit = work(name, assignments).results[result]
    assert found == pytest.approx(value, rel=2e-5)
    assert found_unit == unit


def test_what_was_understood_is_echoed_with_its_unit() -> None:
    worked = work("leak_flow", ["hole=3mm", "map=5.1psi"])
    assert worked.values == {"hole": (3.0, "mm"), "map": (pytest.approx(35.16326, rel=1e-6), "kPa")}
    assert worked.assumed == {"baro": (101.325, "kPa"), "temp": (20.0, "°C"), "cd": (0.8, "")}


def test_plain_data() -> None:
    worked = work("heater_load", ["volts=12.6", "ohms=6"])
    plain = json.loads(json.dumps(worked.as_json()))
    assert plain == {
        "formula": "heater_load",
        "results": {
            "current": {"value": pytest.approx(2.1), "unit": "A"},
            "power": {"value": pytest.approx(26.46), "unit": "W"},
        },
        "range": formula("heater_load").range,
        "source": formula("heater_load").source,
    }
    assert work("trouble_code", ["bytes=01 71"]).as_json()["results"] == {
        "code": {"value": "P0171", "unit": ""}
    }


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("leak_flow hole=3mm map=5.1V", "leak_flow: map: V is not a pressure: write it in kPa"),
        ("leak_flow hole=3mm map=35kPax", "map: unit 'kPax' is not known (did you mean 'kPa'?)"),
        ("heater_load volts=12.6 ohms=6MOHM", "ohms: unit 'MOHM' can mean MΩ or mΩ"),
        (
            "lambda_from_gas co=0.5 co2=14.7 o2=0.5 hc=1,200",
            "hc: '1,200' can mean 1200 or 1.200: write one of them",
        ),
        ("lambda_from_gas co=0.5 co2=14.7 o2=0.5 hc=1.200,5", "write the number plainly, as 1200.5"),
        ("lambda_from_gas co=0.5 co2=14.7 o2=0.5 hc=1'200", "write the number plainly, as 1200"),
        ("lambda_from_gas co=0.5 co2=14.7 o2=0.5 fule=e10", "no argument 'fule' (did you mean 'fuel'?)"),
        ("lambda_from_gas co=0.5 co2=14.7 o2=0.5 fuel=e11", "write one of petrol, e5"),
        ("total_trim short=1 short=2 long=3", "short is given twice"),
        ("total_trim 5", "write argument=value; it takes short, long"),
        ("total_trim short=1", "long missing"),
        ("total_trim short=nan long=1", "'nan' is not a number"),
        ("total_trim short=1e999 long=1", "short is inf"),
        ("total_trim short= long=1", "'' is not a number"),
        ("total_trim short=abc long=1", "'abc' is not a number"),
        ("total_trim short=٣ long=1", "is not a number"),
        ("difference a=5V b=2kPa", "difference: b: kPa is not a voltage: write it in V"),
        ("difference a=5 b=200mV", "b is in mV, a has no unit"),
        ("conformity value=20degC u=1degF upper=30degC", "use one unit"),
        ("catalyst_ratio down=3 up=24V", "up: a bare number is wanted, without V"),
        ("nothing_known a=1", "no formula 'nothing_known'"),
        ("sensor_voltage lambda=0.95 temp=250", "300 to 900 °C"),
        ("obd_value pid=0C bytes=1A", "1 given, pid 0C has 2"),
    ],
)
def test_what_cannot_be_read_is_one_clear_line(line: str, named: str) -> None:
    name, *assignments = line.split(" ")
    with pytest.raises(FormulaError) as refusal:
        work(name, assignments)
    assert named in str(refusal.value)
    assert "\n" not in str(refusal.value)


@given(name=st.sampled_from(names()), assignments=st.lists(st.text(max_size=12), max_size=4))
def test_any_text_is_worked_or_refused_in_one_printable_line(name: str, assignments: list[str]) -> None:
    try:
        work(name, assignments)
    except FormulaError as error:
        refused = str(error)
    else:
        refused = ""
    assert refused == "" or refused.isprintable()
    assert refused or name == "dilution_limit"


@given(st.floats(-1e9, 1e9).map(lambda value: round(value, 3)))
def test_a_number_survives_typing_with_point_or_comma(value: float) -> None:
    text = f"{value:.4f}"
    assert split_number(text) == (value, "")
    assert split_number(text.replace(".", ",") + " kPa") == (value, "kPa")


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("2.5 bar", 2.5, "bar"), ("36psi", 36, "psi"), ("-7,5", -7.5, ""), ("450 mV", 450, "mV"),
        ("0,450", 0.45, ""), ("5e3V", 5000, "V"), (".5", 0.5, ""), ("+4.25 %", 4.25, "%"),
        ("1234,567", 1234.567, ""), ("750 1/min", 750, "1/min"), ("750rpm", 750, "rpm"),
    ],
)  # fmt: skip
def test_numbers_as_people_type_them(text: str, number: float, unit: str) -> None:
    assert split_number(text) == (number, unit)


@pytest.mark.parametrize(
    "text", ["", " ", "OL", "1,200", "1 200", "1_200", "1.2.3", "--5", "kPa", "∞", "1,2,3"]
)
def test_what_is_no_plain_number_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        split_number(text)
