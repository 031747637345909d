"""What people type, turned into answers: numbers with units, choices, trouble codes.

Nothing typed raises. What was understood is echoed with its unit before it counts; what can be read in two
ways, or is unlikely, is asked once; what cannot be is refused with the bound that it breaks.
"""

from __future__ import annotations

from collections.abc import Mapping

from engine.catalogue import Reading
from engine.entry.numbers import NO_FACTS, OPEN_CIRCUIT, plain, understand_number, weigh_number
from engine.entry.outcomes import Outcome, Question, Refusal, Understood
from engine.entry.raw import decoded, marked_bytes, with_bytes
from engine.entry.words import nothing_found, understand_choice, understand_choices, understand_codes
from engine.inert import inert
from engine.measured import Answer
from engine.units import UnitError, convert, parse_unit
from engine.wording import is_trim, number_words

__all__ = [
    "OPEN_CIRCUIT", "Outcome", "Question", "Refusal", "Understood", "nothing_found", "show", "understand",
    "weigh_number",
]  # fmt: skip

LONGEST = 400
"""Characters of an entry; eighty codes."""
_DECIMALS = {"bar": 2, "psi": 1, "inHg": 1, "mbar": 0, "mmHg": 0, "°F": 0, "kg/h": 1, "lb/min": 2}
"""Digits of units that instruments on a van may be set to; those of the catalogue are in engine.wording."""


def understand(
    text: str,
    reading: Reading,
    *,
    unit: str | None = None,
    tool: str | None = None,
    facts: Mapping[str, Answer] = NO_FACTS,
) -> Outcome:
    """Return what a typed text means as an answer to a reading.

    Args:
        text: anything at all.
        reading: what was asked for.
        unit: the unit set for the instrument on this van; a bare number is in it where it measures the same
            kind of thing, else in the catalogue's.
        tool: the instrument in use, for bounds that depend on it.
        facts: answers about the car, for bounds that depend on them.
    """
    text = inert(text, limit=LONGEST).strip()
    if not text:
        return Refusal("nothing was typed: write what you read, or say that it cannot be measured")
    match reading.kind:
        case "num" if (digits := marked_bytes(text)) is not None:
            value = decoded(digits, reading)
            if isinstance(value, Refusal):
                return value
            return with_bytes(weigh_number(value, reading, tool, facts), digits)
        case "num":
            return understand_number(text, reading, unit, tool, facts)
        case "one":
            return understand_choice(text, reading)
        case "many":
            return understand_choices(text, reading)
        case "codes":
            return understand_codes(text)
        case "trace":
            return Understood(text, "", text)


def show(answer: Answer, reading: Reading, unit: str | None = None) -> str:
    """Return an answer for people: digits as the unit deserves, trims with their sign, choices in words.

    Args:
        answer: as stored, a number in the catalogue's unit.
        reading: what was read.
        unit: the unit to show a number in; the catalogue's when absent or of another kind.
    """
    if isinstance(answer, float):
        return _number(answer, reading, unit)
    words = (answer,) if isinstance(answer, str) else answer
    labels = (choice.label if (choice := reading.choice(word)) else word for word in words)
    return ", ".join(labels) or ("no codes" if reading.kind == "codes" else "none")


def _number(answer: float, reading: Reading, unit: str | None) -> str:
    shown_in, value = reading.unit, answer
    if unit is not None and not (reading.unit in ("Ω", "kΩ", "MΩ") and answer >= OPEN_CIRCUIT):
        try:
            value = convert(answer, reading.unit, unit)
            shown_in = parse_unit(unit)
        except UnitError:
            value = answer
    if shown_in in _DECIMALS:
        return f"{value:.{_DECIMALS[shown_in]}f} {shown_in}"
    if shown_in not in ("", reading.unit):
        return f"{plain(float(f'{value:.4g}'))} {shown_in}"
    sign = "+" if is_trim(reading.id) and value > 0.0 else ""
    return sign + number_words(value, shown_in).removeprefix("+")
