"""Source: Pint (reference library) with its own registry of units."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.units import UNITS, UnitError, convert, parse_unit, same_kind


@lru_cache(maxsize=1)
def _registry() -> Any:
    return pint.UnitRegistry()


def _by_pint(value: float, unit: str, to: str) -> float:
    units = [_registry().parse_units(UNITS[one].pint) for one in (unit, to)]
    return float(_registry().Quantity(value, units[0]).to(units[1]).magnitude)


PAIRS = [
    (a.symbol, b.symbol)
    for a in UNITS.values()
    for b in UNITS.values()
    if a.kind == b.kind and a.symbol and a.kind not in ("a frequency", "an angle")
]


@pytest.mark.parametrize(("unit", "to"), PAIRS)
def test_every_pair_of_the_table(unit: str, to: str) -> None:
    for value in (-12.5, 0.0, 1.0, 36.0, 1726.0):
        assert convert(value, unit, to) == pytest.approx(_by_pint(value, unit, to), rel=1e-6, abs=1e-8)


@given(value=st.floats(-1e6, 1e6), pair=st.sampled_from(PAIRS))
def test_there_and_back(value: float, pair: tuple[str, str]) -> None:
    assert convert(convert(value, *pair), *pair[::-1]) == pytest.approx(value, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("psi", "psi"), ("PSI", "psi"), ("bar", "bar"), ("mbar", "mbar"), ("inHg", "inHg"),
        ("in Hg", "inHg"), ("mmHg", "mmHg"), ("kPa", "kPa"), ("kpa", "kPa"), ("hPa", "hPa"), ("Pa", "Pa"),
        ("kPa abs", "kPa abs"), ("degC", "°C"), ("deg C", "°C"), ("°C", "°C"), ("ºC", "°C"), ("℃", "°C"),
        ("degF", "°F"), ("°F", "°F"), ("K", "K"), ("V", "V"), ("mV", "mV"), ("A", "A"), ("mA", "mA"),
        ("ohm", "Ω"), ("Ohms", "Ω"), ("kohm", "kΩ"), ("\u2126", "Ω"), ("k\u2126", "kΩ"), ("g/s", "g/s"),
        ("kg/h", "kg/h"), ("lb/min", "lb/min"), ("L", "L"), ("l", "L"), ("cc", "mL"), ("ms", "ms"),
        ("s", "s"), ("min", "min"), ("rpm", "rpm"), ("1/min", "rpm"), ("%", "%"), ("% vol", "%"),
        ("ppm", "ppm"), ("m", "m"), ("ft", "ft"), ("mm", "mm"), ("in", "in"), ("", ""),
    ],
)  # fmt: skip
def test_units_as_people_write_them(written: str, unit: str) -> None:
    assert parse_unit(written) == unit
    assert parse_unit(parse_unit(written)) == unit


def test_a_unit_outside_the_table_is_left_to_pint() -> None:
    assert convert(1.0, "furlong", "m") == pytest.approx(201.168, rel=1e-5)
    assert convert(100.0, "kPa", "dyne/cm^2") == pytest.approx(1e6)
    assert same_kind("furlong", "mm")
    assert not same_kind("furlong", "kPa")


@pytest.mark.parametrize(
    ("unit", "to", "line"),
    [
        ("V", "kPa", "V is not a pressure: write it in kPa"),
        ("kPa", "", "a bare number is wanted, without kPa"),
        ("furlong", "kPa", "furlong is not a pressure: write it in kPa"),
        ("kPaz", "kPa", "unit 'kPaz' is not known (did you mean 'kPa'?)"),
        ("MOHM", "Ω", "unit 'MOHM' can mean MΩ or mΩ: write one of them"),
    ],
)
def test_what_does_not_go_together_is_one_line(unit: str, to: str, line: str) -> None:
    with pytest.raises(UnitError) as refusal:
        convert(1.0, unit, to)
    assert str(refusal.value) == line


@pytest.mark.parametrize("text", ["9**9**9", "__import__('os')", "x" * 200, "\x1b[31m", "m^999999", "m; m"])
def test_hostile_units_are_only_refused(text: str) -> None:
    with pytest.raises(UnitError) as refusal:
        parse_unit(text)
    assert str(refusal.value).isprintable()
    assert len(str(refusal.value)) < 120
