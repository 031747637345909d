"""Texts that quote values, and numbers as people read them."""

from __future__ import annotations

import re

from engine.catalogue import Catalogue
from engine.measured import Answer
from engine.situation import Point

_QUOTE = re.compile(r"\{([a-z0-9_]+)\}")

_DECIMALS = {
    "V": 2, "mV": 0, "kPa": 0, "kPa abs": 0, "%": 1, "°C": 0, "g/s": 2, "Ω": 1, "kΩ": 0, "A": 2,
    "ms": 1, "rpm": 0, "L": 1, "min": 0, "s": 1, "mm": 1, "": 2, "km": 0, "% pts": 1, "mA": 2, "ppm": 0,
    "kV": 1, "°": 1, "mL": 0, "km/h": 0,
}  # fmt: skip


def number_words(value: float, unit: str) -> str:
    """Return a number with the digits its unit deserves, and the unit: ``-18.0 %``, ``0.45 V``.

    An open circuit, stored as 1e6, is named.
    """
    if value >= 1e6 and unit in ("Ω", "kΩ"):
        return "open circuit"
    decimals = _DECIMALS.get(unit, 2)
    text = f"{value:.{decimals}f}"
    if unit == "" and float(text) == int(float(text)):
        text = f"{int(float(text))}"
    if unit in ("%", "% pts") and value > 0:
        text = f"+{text}" if unit == "% pts" else text
    return f"{text} {unit}".rstrip()


def answer_words(catalogue: Catalogue, quantity: str, answer: Answer) -> str:
    """Return an answer as people read it: with unit, or the labels of the choices."""
    if isinstance(answer, float):
        text = number_words(answer, catalogue.unit(quantity))
        return f"+{text}" if is_trim(quantity) and answer > 0 else text
    reading = catalogue.readings.get(quantity)

    def label(value: str) -> str:
        choice = reading.choice(value) if reading is not None else None
        return choice.label if choice is not None else value

    if isinstance(answer, str):
        return label(answer)
    return ", ".join(label(value) for value in answer) if answer else "none"


def is_trim(quantity: str) -> bool:
    """Tell whether a quantity is a trim, whose sign is always written."""
    return quantity.startswith(("stft", "ltft", "tt_", "ff_stft", "ff_ltft", "pinch_"))


def fill(text: str, point: Point) -> str:
    """Return *text* with every ``{quantity}`` replaced by its value, or by "not known"."""

    def value(match: re.Match[str]) -> str:
        answer = point.answer(match.group(1))
        if answer is None:
            return "not known"
        return answer_words(point.situation.catalogue, match.group(1), answer)

    return _QUOTE.sub(value, text)


def quoted(text: str) -> tuple[str, ...]:
    """Return the quantities a text quotes."""
    return tuple(_QUOTE.findall(text))


def side_words(catalogue: Catalogue, side: str | None) -> str:
    """Return a side in words, or an empty text."""
    return catalogue.words.get(side, side) if side else ""
