"""Source: SAE J1979 / ISO 15031-5; 04 to 11 and 13 to 1B seen in a public table, the rest from memory."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formulas.obd import PARAMETERS
from engine.formulas.registry import FormulaError, Value, formula


def decode(pid: str, data: str, **more: str) -> dict[str, Value]:
    return dict(formula("obd_value").compute(pid=pid, bytes=data, **more))


@pytest.mark.parametrize(
    ("pid", "data", "expected"),
    [
        ("04", "66", {"load": 40.0}),
        ("05", "7B", {"coolant_temp": 83}),
        ("0F", "28", {"intake_temp": 0}),
        ("06", "9A", {"short_trim_b1": 20.3125}),
        ("06", "80", {"short_trim_b1": 0.0}),
        ("06", "FF", {"short_trim_b1": 99.21875}),
        ("07", "70", {"long_trim_b1": -12.5}),
        ("08", "80", {"short_trim_b2": 0.0}),
        ("09", "00", {"long_trim_b2": -100.0}),
        ("06", "9A70", {"short_trim_b1": 20.3125, "short_trim_b3": -12.5}),
        ("0A", "64", {"fuel_pressure": 300}),
        ("0B", "23", {"manifold_pressure": 35}),
        ("0C", "0BB8", {"engine_speed": 750.0}),
        ("0C", "1AF8", {"engine_speed": 1726.0}),
        ("0C", "1A F8", {"engine_speed": 1726.0}),
        ("0c", "1a f8", {"engine_speed": 1726.0}),
        ("0C", "FFFF", {"engine_speed": 16383.75}),
        ("0D", "3C", {"vehicle_speed": 60}),
        ("0E", "94", {"timing": 10.0}),
        ("0E", "00", {"timing": -64.0}),
        ("10", "00FA", {"air_flow": 2.5}),
        ("10", "FFFF", {"air_flow": 655.35}),
        ("11", "2E", {"throttle": 18.0392}),
        ("14", "5A80", {"voltage": 0.45, "trim": 0.0}),
        ("15", "96FF", {"voltage": 0.75, "trim": "sensor not used for trim"}),
        ("18", "1473", {"voltage": 0.1, "trim": -10.15625}),
        ("1B", "FF80", {"voltage": 1.275, "trim": 0.0}),
        ("1F", "0384", {"run_time": 900}),
        ("21", "0123", {"distance": 291}),
        ("24", "80001B85", {"lambda": 1.0, "voltage": 0.85999}),
        ("25", "7D707333", {"lambda": 0.97998, "voltage": 3.59998}),
        ("34", "80008000", {"lambda": 1.0, "current": 0.0}),
        ("35", "8A3D8240", {"lambda": 1.07999, "current": 2.25}),
        ("3C", "1B58", {"catalyst_temp": 660.0}),
        ("3F", "FFFF", {"catalyst_temp": 6513.5}),
        ("42", "3750", {"module_voltage": 14.16}),
        ("43", "002B", {"absolute_load": 16.8627}),
        ("44", "7F5C", {"lambda": 0.995}),
        ("45", "0C", {"relative_throttle": 4.70588}),
        ("46", "3C", {"ambient_temp": 20}),
        ("33", "65", {"barometric_pressure": 101}),
        ("2E", "40", {"purge": 25.0980}),
        ("2F", "80", {"fuel_level": 50.1961}),
        ("49", "2E", {"pedal_d": 18.0392}),
        ("4A", "17", {"pedal_e": 9.01961}),
        ("4C", "1F", {"commanded_throttle": 12.1569}),
        ("51", "01", {"fuel_type": "petrol"}),
        ("1C", "06", {"requirement": "EOBD"}),
        ("13", "33", {"sensors": "b1s1 b1s2 b2s1 b2s2", "count": 4}),
        ("1D", "0F", {"sensors": "b1s1 b1s2 b2s1 b2s2", "count": 4}),
        ("13", "00", {"sensors": "none", "count": 0}),
        ("00", "BE 1F A8 13", {"supported": "01 03 04 05 06 07 0C 0D 0E 0F 10 11 13 15 1C 1F 20"}),
        ("20", "80 00 00 01", {"supported": "21 40"}),
        ("03", "02 00", {"system_1": "closed loop", "system_2": "not present"}),
        ("03", "01 00", {"system_1": "open loop, not ready", "system_2": "not present"}),
        ("03", "10 02", {"system_1": "closed loop with sensor fault", "system_2": "closed loop"}),
        ("03", "04 08", {"system_1": "open loop, driving condition", "system_2": "open loop, system fault"}),
        ("02", "0171", {"code": "P0171"}),
        ("02", "0000", {"code": "no frame stored"}),
        # whole replies: service 01, and frozen frames (service 02) with their frame number
        ("0C", "41 0C 1A F8", {"engine_speed": 1726.0}),
        ("02", "42 02 00 01 71", {"code": "P0171"}),
        ("0C", "42 0C 00 0B B8", {"engine_speed": 750.0}),
    ],
)
def test_scaling(pid: str, data: str, expected: dict[str, float | str]) -> None:
    assert decode(pid, data) == {
        name: value if isinstance(value, str) else pytest.approx(value, rel=1e-5, abs=1e-9)
        for name, value in expected.items()
    }


def test_monitors_with_a_lamp_and_three_codes() -> None:
    assert decode("01", "83 07 65 04") == {
        "lamp": "on",
        "codes": 3,
        "ignition": "spark",
        "supported": "misfire, fuel system, components, catalyst, evaporative system, oxygen sensor, "
        "oxygen sensor heater",
        "not_complete": "evaporative system",
    }


def test_monitors_after_clearing() -> None:
    found = decode("01", "00 07 E1 21")
    assert (found["lamp"], found["codes"]) == ("off", 0)
    assert str(found["supported"]).endswith(
        "catalyst, oxygen sensor, oxygen sensor heater, EGR or valve timing"
    )
    assert found["not_complete"] == "catalyst, oxygen sensor"


def test_monitors_of_compression_ignition_name_no_petrol_monitor() -> None:
    found = decode("01", "00 0F FF FF")
    assert found["ignition"] == "compression"
    assert found["supported"] == "misfire, fuel system, components"


def test_other_maxima_rescale() -> None:
    assert decode("4F", "00 00 00 00") == dict.fromkeys(
        ("lambda_max", "voltage_max", "current_max", "pressure_max"), "default scaling"
    )
    assert decode("4F", "04 08 80 28") == {
        "lambda_max": 4.0, "voltage_max": 8.0, "current_max": 128.0, "pressure_max": 400.0,
    }  # fmt: skip
    assert decode("0B", "FF", scaling="00 00 00 28") == {"manifold_pressure": pytest.approx(400.0)}
    assert decode("44", "8000", scaling="04 00 00 00") == {"lambda": pytest.approx(2.0)}


@pytest.mark.parametrize(
    ("pid", "data", "named"),
    [
        ("0C", "1A", "1 given, pid 0C has 2"),
        ("0C", "1AF8FF", "3 given, pid 0C has 2"),
        ("05", "7B00", "2 given, pid 05 has 1"),
        ("24", "8000", "2 given, pid 24 has 4"),
        ("06", "80 80 80", "pid 06 has 1 or 2"),
        ("0C", "1AF", "pairs of hexadecimal digits"),
        ("0C", "1AZZ", "pairs of hexadecimal digits"),
        ("0C", "", "pairs of hexadecimal digits"),
        ("XX", "1AF8", "one or two hexadecimal digits"),
        ("99", "1AF8", "not a parameter known here"),
        ("03", "03 00", "no status of fuel system 1"),
        ("0C", "41 0D 1A F8", "4 given, pid 0C has 2"),
    ],
)
def test_wrong_bytes_are_refused(pid: str, data: str, named: str) -> None:
    with pytest.raises(FormulaError) as refusal:
        decode(pid, data)
    assert named in str(refusal.value)
    assert "\n" not in str(refusal.value)


@given(pid=st.sampled_from(sorted(set(PARAMETERS) - {0x03})), data=st.binary(min_size=1, max_size=6))
def test_any_bytes_are_decoded_or_refused_in_one_line(pid: int, data: bytes) -> None:
    parameter = PARAMETERS[pid]
    whole_reply = data[:1] in (b"\x41", b"\x42")
    if len(data) in parameter.sizes:
        assert set(decode(f"{pid:02X}", data.hex(" "))) <= {result.name for result in parameter.results}
    elif not whole_reply:
        with pytest.raises(FormulaError, match=r"^obd_value: bytes: .* given, pid .*$"):
            decode(f"{pid:02X}", data.hex(" "))
