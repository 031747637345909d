"""Numbers as people type them at the roadside, with or without a unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from engine.catalogue import Reading
from engine.entry.bounds import impossible, is_usual, reject_bounds, slip
from engine.entry.outcomes import Outcome, Question, Refusal, Understood
from engine.errors import shown
from engine.measured import Answer
from engine.units import UnitError, convert, parse_unit, same_kind
from engine.wording import is_trim

OPEN_CIRCUIT = 1e6
"""What an open circuit counts as, in the reading's own unit."""
NO_FACTS: Mapping[str, Answer] = MappingProxyType({})
LARGEST = 1e12
"""No quantity of a car comes near it."""

_LIKE = str.maketrans({"−": "-", "–": "-", "—": "-", "‐": "-", "‑": "-", "﹣": "-", "－": "-",
                       "＋": "+", "，": ",", "．": ".", "٫": ".", "’": "'"})  # fmt: skip
_OVER_RANGE = re.compile(
    r"(?:[o0]\.?l\.?|open(?: circuit)?|infinite|infinity|inf|∞|over ?load|over ?range)"
    r"(?:\s*[km]?-?(?:[ΩΩ]|ohms?))?",
    re.IGNORECASE,
)
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)\s*(?P<digits>(?:[0-9]|[.,](?=[0-9]))(?:[0-9.,]|[' ](?=[0-9]))*)"
    r"(?P<power>\s*[eE][+-]?[0-9]+(?![A-Za-z/]))?\s*(?P<unit>.*)"
)
_PER = re.compile(r"(?<=[0-9])\s+(1/(?:s|min))$")
_PLAIN = re.compile(r"[0-9]+|[0-9]*[.,][0-9]+|[0-9]+[.,]")
_EITHER_WAY = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_POINT_OR_GROUP = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}")
_GROUPED = re.compile(
    r"[1-9][0-9]{0,2}(?:(?:([ '])[0-9]{3}(?:\1[0-9]{3})*)(?:[.,][0-9]+)?"
    r"|(?:,[0-9]{3}){2,}|(?:\.[0-9]{3}){2,}|(?:,[0-9]{3})+\.[0-9]+|(?:\.[0-9]{3})+,[0-9]+)"
)
_CURRENT_KIND = re.compile(r"(?P<unit>m?[VA])\s*(?:DC|AC|=|~)", re.IGNORECASE)
_NOTHING_MEASURED = frozenset(
    {"?", "-", "--", "---", "x", "na", "n/a", "unknown", "cannot", "no", "none", "not measured"}
)
_RESISTANCES = frozenset({"Ω", "kΩ", "MΩ"})
_GAUGES = frozenset({"FG", "VG", "BG", "CG"})
"""Instruments that read against the outside air."""


@dataclass(frozen=True, slots=True)
class _Typed:
    """One way to read what was typed."""

    number: float
    unit: str
    """Canonical name of the unit it is in."""
    has_point: bool

    def words(self) -> str:
        """The number and its unit, as typed."""
        return f"{plain(self.number)} {self.unit}".rstrip()


def understand_number(
    text: str, reading: Reading, unit: str | None, tool: str | None, facts: Mapping[str, Answer]
) -> Outcome:
    """Return what comes of a text typed for a reading of kind ``num``."""
    found = _read(text, reading, unit)
    if isinstance(found, Refusal):
        return found
    outcomes = [_weigh(typed, reading, tool, facts) for typed in found]
    possible = tuple(flat for outcome in outcomes if (flat := _as_candidate(outcome)) is not None)
    if len(found) == 1 or ("," not in text and (isinstance(outcomes[0], Understood) or len(possible) < 2)):
        return outcomes[
            0
        ]  # a point is the decimal sign, unless the number is unlikely so and possible otherwise
    words = " or ".join(typed.words() for typed in found)
    if not possible:
        reasons = "; ".join(outcome.text for outcome in outcomes if isinstance(outcome, Refusal))
        return Refusal(f"{shown(text)} can mean {words}, and neither can be: {reasons}")
    if len(possible) > 1:
        return Question(f"{shown(text)} can mean {words}: which?", possible)
    unlikely = f" and is unlikely ({_usual(reading)})" if possible[0].flagged else ""
    return Question(
        f"{shown(text)} can mean {words}: only {possible[0].echo} can be{unlikely}; is that it?", possible
    )


def weigh_number(
    number: float, reading: Reading, tool: str | None = None, facts: Mapping[str, Answer] = NO_FACTS
) -> Outcome:
    """Return what comes of a finite number that is in the catalogue's unit already."""
    typed = _Typed(number, parse_unit(reading.unit), has_point=number != int(number))
    return _weigh(typed, reading, tool, facts)


def plain(number: float) -> str:
    """Return a number written out, without exponent and without needless zeros."""
    text = f"{number:.10f}" if abs(number) < 1.0 else f"{number:.6f}"
    return text.rstrip("0").rstrip(".") or "0"


def rounded(number: float) -> str:
    """Return a number written out with four digits, or as many as stand before the point."""
    if abs(number) >= 1000.0:
        return f"{number:.0f}"
    return plain(float(f"{number:.4g}"))


# ----------------------------------------------------------------------------------- from text to number


def _read(text: str, reading: Reading, unit: str | None) -> tuple[_Typed, ...] | Refusal:
    """Return every way to read the text: one, or two where the point may be a comma."""
    text = _plain_signs(text)
    home = _home_unit(reading, unit)
    if _OVER_RANGE.fullmatch(text) and not (text[0] == "0" and home in ("L", "mL")):
        return _over_range(text, reading)
    one_per = _PER.search(text)
    number_text, per = (text[: one_per.start()], one_per[1]) if one_per else (text, "")
    match = _NUMBER.fullmatch(number_text)
    if match is None:
        return Refusal(_not_a_number(text, home))
    unit_text = (match["unit"].strip() + per).strip()
    if match["power"] is not None:
        return Refusal(_written_out(match, text))
    if re.match(r"[-/:x~…]|\.\.|to\b", unit_text) and re.search(r"[0-9]", unit_text):
        return Refusal(
            f"{shown(text)} holds more than one number: write one, and repeat the reading for the other"
        )
    canonical = _unit_of(unit_text, reading, home)
    if isinstance(canonical, Refusal):
        return canonical
    numbers = _values(match["digits"])
    if not numbers:
        return Refusal(
            f"{shown(text)} groups its digits in no usual way: write the number plainly, as 1234.5"
        )
    if max(numbers) > LARGEST:
        return Refusal(f"{shown(text)} is too large for anything on a car: write what the instrument shows")
    factor = -1.0 if match["sign"] == "-" else 1.0
    has_point = "." in match["digits"] or "," in match["digits"]
    return tuple(_Typed(factor * number + 0.0, canonical, has_point) for number in numbers)


def _plain_signs(text: str) -> str:
    """Return *text* with the signs and digits that have look-alikes written in one way."""
    text = "".join(str(int(sign)) if sign.isdecimal() else " " if sign.isspace() else sign for sign in text)
    return text.translate(_LIKE).strip()


def _home_unit(reading: Reading, unit: str | None) -> str:
    """Return the unit of a bare number: the instrument's, where it measures the same kind of thing."""
    home = parse_unit(reading.unit)
    if unit is None:
        return home
    try:
        return parse_unit(unit) if same_kind(unit, home) else home
    except UnitError:
        return home


def _unit_of(text: str, reading: Reading, home: str) -> str | Refusal:
    """Return the canonical name of a typed unit, or why it does not fit."""
    if text in ("", "°") and (not text or home.startswith("°")):
        return home
    if not home and text.casefold() in ("λ", "lambda"):
        return home
    if home in _RESISTANCES and text in ("k", "K", "M"):
        text += "Ω"
    if (current := _CURRENT_KIND.fullmatch(text)) is not None:
        text = current["unit"]
    try:
        canonical = parse_unit(text)
        convert(1.0, canonical, home)
    except UnitError as error:
        return Refusal(str(error))
    if canonical == "kPa abs" and reading.tools[:1] and reading.tools[0] in _GAUGES:
        return Refusal(
            f"{reading.label} is read against the outside air: take the outside pressure off first, "
            "about 101 kPa at sea level"
        )
    return canonical


def _values(digits: str) -> tuple[float, ...]:
    """Return what a run of digits and signs can mean: nothing, one number, or two."""
    if _EITHER_WAY.fullmatch(digits) or _POINT_OR_GROUP.fullmatch(digits):
        return float(digits.replace(",", ".")), float(re.sub(r"[.,]", "", digits))
    if _PLAIN.fullmatch(digits):
        return (float(digits.replace(",", ".")),)
    grouped = _GROUPED.fullmatch(digits)
    if grouped is None:
        return ()
    last = max(digits.rfind("."), digits.rfind(","))
    if last < 0 or digits.count(digits[last]) > 1:
        return (float(re.sub(r"[^0-9]", "", digits)),)
    return (float(re.sub(r"[^0-9]", "", digits[:last]) + "." + digits[last + 1 :]),)


def _over_range(text: str, reading: Reading) -> tuple[_Typed] | Refusal:
    if reading.unit in _RESISTANCES:
        return (_Typed(OPEN_CIRCUIT, reading.unit, has_point=False),)
    return Refusal(
        f"{shown(text)}: the instrument is over its range: choose a higher one or check the leads, read again"
    )


def _not_a_number(text: str, home: str) -> str:
    if text.casefold() in _NOTHING_MEASURED:
        return f"{shown(text)} is no reading: mark what cannot be measured as such, or leave it out"
    if text[:1] in "<>~≈≤≥±":
        return f"{shown(text)} is no single number: write what the instrument shows, without {text[:1]}"
    example = f"12.6 {home}".rstrip()
    return f"{shown(text)} is not a number: write it like {example}"


def _written_out(match: re.Match[str], text: str) -> str:
    """Return the refusal of a number with an exponent, with the number written out where that is short."""
    power = int(match["power"].strip()[1:])
    values = _values(match["digits"])
    line = f"{shown(text)}: powers of ten are not taken"
    if len(values) == 1 and abs(power) <= 9 and values[0] < LARGEST:
        number = float(f"{values[0]:.12g}e{power}")
        minus = "-" if match["sign"] == "-" else ""
        return f"{line}; write {minus}{plain(number)} {match['unit'].strip()}".rstrip()
    return f"{line}; write the number out"


# ---------------------------------------------------------------------------------- from number to outcome


def _weigh(typed: _Typed, reading: Reading, tool: str | None, facts: Mapping[str, Answer]) -> Outcome:
    """Return what comes of one number: understood, asked about when unlikely, refused when impossible."""
    value = convert(typed.number, typed.unit, reading.unit)
    echo = _echo(typed, value, reading)
    bounds, _ = reject_bounds(reading, tool, facts)
    why = impossible(value, reading, tool, facts)
    if why is None and value == OPEN_CIRCUIT and reading.unit in _RESISTANCES:
        return Understood(value, reading.unit, "open circuit (OL)")
    if why is None and is_usual(value, reading):
        return Understood(value, reading.unit, echo)
    meant = slip(typed.number, typed.unit, reading, bounds, has_point=typed.has_point)
    hint, other = _meant(meant, typed, reading)
    if why is not None:
        return Refusal(f"{_as_it_counts(typed, value, reading)} cannot be: {why}{hint}")
    text = f"{echo}? Unlikely ({_usual(reading)}): check unit, range, probe and state{hint}"
    return Question(text, (Understood(value, reading.unit, echo, flagged=True), *other), "likelihood")


def _meant(
    meant: tuple[float, str, str] | None, typed: _Typed, reading: Reading
) -> tuple[str, tuple[Understood, ...]]:
    """Return the words and the candidate for a likely slip."""
    if meant is None:
        return "", ()
    number, unit, slipped = meant
    perhaps = _Typed(number, unit, typed.has_point)
    value = convert(number, unit, reading.unit)
    candidate = Understood(value, reading.unit, _echo(perhaps, value, reading), not is_usual(value, reading))
    if slipped:
        return f"; {slipped} it would be {perhaps.words()}", (candidate,)
    would = f" would be {rounded(value)} {reading.unit}" if unit != reading.unit else " would be usual"
    return f"; {perhaps.words()}{would}", (candidate,)


def _as_candidate(outcome: Outcome) -> Understood | None:
    """Return the number itself from an outcome, flagged when it is unlikely; None when it was refused."""
    match outcome:
        case Understood():
            return outcome
        case Question(candidates=candidates):
            return candidates[0]
        case Refusal():
            return None


def _echo(typed: _Typed, value: float, reading: Reading) -> str:
    sign = "+" if value > 0.0 and is_trim(reading.id) else ""
    if typed.unit == parse_unit(reading.unit):
        return f"{sign}{plain(value)} {reading.unit}".rstrip()
    return f"{sign}{rounded(value)} {reading.unit} ({typed.words()})"


def _as_it_counts(typed: _Typed, value: float, reading: Reading) -> str:
    """Return the number as the beginning of a sentence: ``36 bar is 3600 kPa and``."""
    if typed.unit == parse_unit(reading.unit):
        return typed.words()
    return f"{typed.words()} is {rounded(value)} {reading.unit} and"


def _usual(reading: Reading) -> str:
    low, high = reading.usual
    unit = reading.unit
    if low is None and high is not None:
        return f"usual at most {plain(high)} {unit}".rstrip()
    if high is None and low is not None:
        return f"usual at least {plain(low)} {unit}".rstrip()
    return f"usual {plain(low or 0.0)} to {plain(high or 0.0)} {unit}".rstrip()
