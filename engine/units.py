"""Units as people write them: one canonical name each, exact factors, offsets right for temperatures.

The units of the trade are in a table of exact factors; any other is left to Pint, which is imported only
then (it takes about half a second).
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from engine.errors import LaybyError, shown

if TYPE_CHECKING:
    from collections.abc import Iterator


class UnitError(LaybyError, ValueError):
    """A unit that is not known, or one that cannot be turned into the other; `str()` is one line."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of the table: value in the kind's base unit = value x factor + offset."""

    symbol: str
    kind: str
    """What it measures, in words with the article: "a pressure"."""
    factor: float
    offset: float
    pint: str
    """How Pint writes it, so that units outside the table can be compared with it."""
    aliases: tuple[str, ...]


_INCH = 0.0254
_POUND = 0.45359237
_GRAVITY = 9.80665
_MERCURY = 13595.1 * _GRAVITY
_WATER = 1000.0 * _GRAVITY
_PSI = _POUND * _GRAVITY / _INCH**2
_FAHRENHEIT = 5.0 / 9.0

# One row a unit: symbol, factor, how Pint writes it, other ways people write it (blanks never matter).
# Sources of the factors: SI definitions; the international inch and pound (exact by definition);
# conventional mercury 13595.1 kg/m3 and standard gravity 9.80665 m/s2, from memory of ISO 31 and NIST SP 811.
_TABLE: dict[str, tuple[tuple[str, float, str, str], ...]] = {
    "a voltage": (
        ("V", 1.0, "volt", "volt volts v"), ("mV", 1e-3, "millivolt", "millivolt millivolts"),
        ("kV", 1e3, "kilovolt", "kilovolt"), ("μV", 1e-6, "microvolt", "uV"),
    ),
    "a current": (
        ("A", 1.0, "ampere", "amp amps ampere amperes"), ("mA", 1e-3, "milliampere", "milliamp milliamps"),
        ("μA", 1e-6, "microampere", "uA"),
    ),
    "a resistance": (
        ("Ω", 1.0, "ohm", "ohm ohms R"), ("kΩ", 1e3, "kiloohm", "kohm kohms kilohm kilohms k-ohm"),
        ("MΩ", 1e6, "megaohm", "Mohm megohm megohms"), ("mΩ", 1e-3, "milliohm", "mohm milliohm milliohms"),
    ),
    "a power": (("W", 1.0, "watt", "watt watts"), ("kW", 1e3, "kilowatt", "kilowatt")),
    "a pressure": (
        ("kPa", 1e3, "kilopascal", "kilopascal kPag kPa(gauge)"), ("Pa", 1.0, "pascal", "pascal"),
        ("hPa", 1e2, "hectopascal", ""), ("MPa", 1e6, "megapascal", ""), ("bar", 1e5, "bar", "bars"),
        ("mbar", 1e2, "millibar", "millibar millibars mb"), ("psi", _PSI, "psi", "psig lbf/in2 lb/in2 lbs"),
        ("inHg", _INCH * _MERCURY, "inch_Hg", "inch-Hg inchHg in.Hg inches-Hg inchesHg \"Hg"),
        ("mmHg", 1e-3 * _MERCURY, "mmHg", "mm-Hg"),
        ("inH2O", _INCH * _WATER, "cmH2O*inch/centimeter", "inchH2O"),
        ("mmH2O", 1e-3 * _WATER, "cmH2O*millimeter/centimeter", ""), ("atm", 101325.0, "atm", "atmosphere"),
        ("kPa abs", 1e3, "kilopascal", "kPa(abs) kPaa"),
    ),
    "a temperature": (
        ("°C", 1.0, "degC", "degC C celsius deg-C"),
        ("°F", _FAHRENHEIT, "degF", "degF F fahrenheit deg-F"),
        ("K", 1.0, "kelvin", "kelvin kelvins degK"),
    ),
    "a mass flow": (
        ("g/s", 1e-3, "gram/second", "gps g/sec"), ("kg/h", 1 / 3600, "kilogram/hour", "kg/hr"),
        ("kg/s", 1.0, "kilogram/second", ""), ("lb/min", _POUND / 60, "pound/minute", "lbs/min"),
        ("lb/h", _POUND / 3600, "pound/hour", "lb/hr lbs/h lbs/hr"), ("g/min", 1e-3 / 60, "gram/minute", ""),
        ("mg/s", 1e-6, "milligram/second", ""),
    ),
    "a volume": (
        ("L", 1e-3, "liter", "l litre litres liter liters dm3"), ("m³", 1.0, "meter**3", ""),
        ("mL", 1e-6, "milliliter", "ml cc ccm cm3 cm^3 millilitre millilitres"),
    ),
    "a volume flow": (
        ("L/h", 1e-3 / 3600, "liter/hour", "l/h l/hr"), ("L/min", 1e-3 / 60, "liter/minute", "l/min lpm"),
        ("mL/min", 1e-6 / 60, "milliliter/minute", "ml/min cc/min ccm/min cm3/min cm^3/min"),
    ),
    "a time": (
        ("s", 1.0, "second", "sec secs second seconds"),
        ("ms", 1e-3, "millisecond", "msec millisecond milliseconds"),
        ("min", 60.0, "minute", "mins minute minutes"), ("h", 3600.0, "hour", "hr hrs hour hours"),
        ("μs", 1e-6, "microsecond", "us"), ("d", 86400.0, "day", "day days"),
    ),
    "a speed of rotation": (
        ("rpm", 1.0, "revolution/minute", "1/min rev/min revs/min r/min min-1 min^-1 /min"),
    ),
    "a frequency": (("1/s", 1.0, "1/second", "/s s-1 s^-1"), ("Hz", 1.0, "hertz", "hertz")),
    "a share": (
        ("%", 1.0, "percent", "percent pct %vol vol% vol.% %v/v %(vol) Vol.-%"),
        ("% pts", 1.0, "percent", "%-pts"),
        ("ppm", 1e-4, "ppm", "ppmvol vppm ppmv"),
    ),
    "a length": (
        ("m", 1.0, "meter", "metre metres meter meters"), ("km", 1e3, "kilometer", "kilometre kilometres"),
        ("mm", 1e-3, "millimeter", "millimetre millimetres"), ("cm", 1e-2, "centimeter", "centimetre"),
        ("ft", 12 * _INCH, "foot", "foot feet '"), ("in", _INCH, "inch", "inch inches \""),
        ("mi", 5280 * 12 * _INCH, "mile", "mile miles"),
    ),
    "a speed": (
        ("km/h", 1 / 3.6, "kilometer/hour", "kmh km/hr kph"), ("m/s", 1.0, "meter/second", ""),
        ("mph", 5280 * 12 * _INCH / 3600, "mile/hour", "mi/h"),
    ),
    "a mass": (
        ("g", 1e-3, "gram", "gram grams"), ("mg", 1e-6, "milligram", "milligram"),
        ("kg", 1.0, "kilogram", "kilo"),
        ("lb", _POUND, "pound", "pound pounds"),
    ),
    "an angle": (("°", 1.0, "degree", "deg degree degrees °crank °BTDC degBTDC"),),
    "a bare number": (("", 1.0, "dimensionless", ""),),
}  # fmt: skip

_OFFSETS = {"°C": 273.15, "°F": 459.67 * _FAHRENHEIT}


def _units() -> Iterator[Unit]:
    for kind, rows in _TABLE.items():
        for symbol, factor, pint, aliases in rows:
            yield Unit(symbol, kind, factor, _OFFSETS.get(symbol, 0.0), pint, tuple(aliases.split()))


UNITS: dict[str, Unit] = {unit.symbol: unit for unit in _units()}
"""Every unit of the table by its canonical name."""


def _spelling(text: str) -> str:
    """Return *text* without blanks and with one character for each sign that has look-alikes."""
    for like, sign in (("º", "°"), ("˚", "°"), ("″", '"'), ("′", "'"), ("·", "*"), ("−", "-")):
        text = text.replace(like, sign)
    return re.sub(r"\s+", "", unicodedata.normalize("NFKC", text))


_EXACT: dict[str, str] = {}
_ANY_CASE: dict[str, set[str]] = {}
for _unit in UNITS.values():
    for _name in (_unit.symbol, *_unit.aliases):
        _EXACT.setdefault(_spelling(_name), _unit.symbol)
        _ANY_CASE.setdefault(_spelling(_name).lower(), set()).add(_unit.symbol)


@lru_cache(maxsize=512)
def parse_unit(text: str) -> str:
    """Return the canonical name of a unit written in any usual way (``ohm`` -> ``Ω``, ``degC`` -> ``°C``).

    Upper and lower case matter only where they tell two units apart (mΩ and MΩ). An empty text is the
    bare number. A unit outside the table that Pint knows is returned as written, without blanks.

    Raises:
        UnitError: the unit is not known; the line names the nearest one.
    """
    spelling = _spelling(text)
    if spelling in _EXACT:
        return _EXACT[spelling]
    near = _ANY_CASE.get(spelling.lower(), set())
    if len(near) == 1:
        return next(iter(near))
    if near:
        raise UnitError(f"unit {shown(text)} can mean {' or '.join(sorted(near))}: write one of them")
    if _pint_unit(spelling) is not None:
        return spelling
    matches = difflib.get_close_matches(spelling[:20].lower(), sorted(_ANY_CASE), n=1, cutoff=0.5)
    hint = f" (did you mean '{min(_ANY_CASE[matches[0]])}'?)" if matches else ""
    raise UnitError(f"unit {shown(text)} is not known{hint}")


def same_kind(unit_a: str, unit_b: str) -> bool:
    """Tell whether two units measure the same kind of quantity, so that one turns into the other."""
    first, second = parse_unit(unit_a), parse_unit(unit_b)
    if first in UNITS and second in UNITS:
        return UNITS[first].kind == UNITS[second].kind
    return bool(_pint_of(first).dimensionality == _pint_of(second).dimensionality)


def kind_of(unit: str) -> str:
    """Return what a unit measures, in words with the article: ``a pressure``."""
    name = parse_unit(unit)
    return UNITS[name].kind if name in UNITS else f"in {name}"


def convert(value: float, unit: str, to: str) -> float:
    """Return *value* in *unit* as a number in the unit *to*; temperatures are points, not differences.

    Raises:
        UnitError: a unit is not known, or the two measure different things.
    """
    source, target = parse_unit(unit), parse_unit(to)
    if source == target:
        return value
    if not same_kind(source, target):
        if not target:
            raise UnitError(f"a bare number is wanted, without {source}")
        raise UnitError(f"{source or 'a number without unit'} is not {kind_of(target)}: write it in {target}")
    if source in UNITS and target in UNITS:
        start, end = UNITS[source], UNITS[target]
        converted = (value * start.factor + start.offset - end.offset) / end.factor
        return _tidy(round(converted, 9) if start.offset or end.offset else converted)
    return _tidy(float(_registry().Quantity(value, _pint_of(source)).to(_pint_of(target)).magnitude))


def _tidy(value: float) -> float:
    """Return *value* without the dust of binary fractions, so that 1652 °F is 900 °C and no more."""
    return float(f"{value:.13g}")


# -------------------------------------------------------------------------------- numbers as people type them

_QUANTITY = re.compile(
    r"\s*(?P<sign>[+-]?)\s*(?P<number>[0-9.,' _]*[0-9.,])(?P<power>[eE][+-]?[0-9]+)?(?P<unit>.*)"
)
_RECIPROCAL = re.compile(r"(?P<before>.*[0-9.,])\s+(?P<unit>1/[^\W\d]+)\s*")
_POINT = re.compile(r"[0-9]+|[0-9]+[.,][0-9]*|[.,][0-9]+")
_GROUPED = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")


def split_number(text: str) -> tuple[float, str]:
    """Return the number and the unit text of something typed: ``2.5 bar``, ``36psi``, ``-7,5``.

    A comma or a point may stand before the decimals; the unit text may be empty and is not looked up.

    Raises:
        UnitError: no number, or digits grouped in a way that can be read in two.
    """
    written = text.replace("−", "-").replace("–", "-")
    reciprocal = _RECIPROCAL.fullmatch(written)  # "750 1/min": the 1 belongs to the unit
    if reciprocal is not None:
        return split_number(reciprocal["before"])[0], reciprocal["unit"]
    match = _QUANTITY.fullmatch(written)
    if match is None:
        raise UnitError(f"{shown(text)} is not a number")
    digits = match["number"]
    if _GROUPED.fullmatch(digits) and not match["power"]:
        whole, part = digits.split(",")
        raise UnitError(f"{shown(text.strip())} can mean {whole}{part} or {whole}.{part}: write one of them")
    if not _POINT.fullmatch(digits):
        plain = re.sub(r"[^0-9.,]", "", digits)
        raise UnitError(
            f"{shown(text.strip())} groups or repeats signs: write the number plainly, as {_plain(plain)}"
        )
    value = float(f"{match['sign']}{digits.replace(',', '.')}{match['power'] or ''}")
    return value, match["unit"].strip()


def _plain(digits: str) -> str:
    """Return the likeliest plain reading of grouped digits: a last sign alone of its kind is the point."""
    last = max(digits.rfind("."), digits.rfind(","))
    if last < 0 or digits.count(digits[last]) > 1:
        return re.sub(r"[.,]", "", digits)
    return f"{re.sub(r'[.,]', '', digits[:last])}.{digits[last + 1 :]}"


# ------------------------------------------------------------------------------------------ all other units

_OTHER = re.compile(r"(?:1/)?[A-Za-zμΩ_]+(?:\^?-?[1-4])?(?:[*/][A-Za-zμΩ_]+(?:\^?-?[1-4])?){0,3}")


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


def _pint_unit(spelling: str) -> Any | None:
    """Return Pint's unit for a spelling outside the table, or None; only short plain spellings reach Pint."""
    if len(spelling) > 30 or not _OTHER.fullmatch(spelling):
        return None
    import pint

    written = re.sub(r"\^?(-?[1-4])(?=$|[*/])", r"**\1", spelling).replace("Ω", "ohm")
    try:
        return _registry().parse_units(written)
    except (pint.PintError, ValueError, KeyError):
        return None


def _pint_of(unit: str) -> Any:
    return _registry().parse_units(UNITS[unit].pint) if unit in UNITS else _pint_unit(unit)
