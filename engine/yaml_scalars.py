"""Unquoted YAML values, read the same way by every reader or not at all.

YAML 1.1 and 1.2 disagree about `12:30`, `0312`, `1_000`, dates and more; whoever wrote the file
meant one thing and a tool may read another, so such a value is refused until it is quoted.
`yes`, `no`, `on`, `off`, `y` and `n` are plain words.

Source: YAML 1.2.2 section 10.3.2 (core schema) and the YAML 1.1 types int, float, timestamp;
recalled, tested against PyYAML (1.1) and ruamel.yaml (1.2).
"""

from __future__ import annotations

import math
import re

from engine.errors import shown

MOST_DIGITS = 18
"""Digits a whole number may have; more than any quantity of a car needs."""

_WORDS: dict[str, bool | None] = {
    "": None, "null": None, "Null": None, "NULL": None,
    "true": True, "True": True, "TRUE": True,
    "false": False, "False": False, "FALSE": False,
}  # fmt: skip
_WHOLE = re.compile(r"[-+]?(0|[1-9][0-9]*)")
_DECIMAL = re.compile(r"([-+]?(0|[1-9][0-9]*)\.[0-9]*|\.[0-9]+)([eE][-+][0-9]+)?")
_NOT_A_NUMBER = re.compile(r"[-+]?\.(inf|nan)", re.IGNORECASE)
_DOUBTFUL = (
    (re.compile(r"[-+]?[0-9][0-9_]*(:[0-5]?[0-9])+(\.[0-9_]*)?"), "a time or a number to base 60"),
    (re.compile(r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}([Tt \t].*)?"), "a date"),
    (re.compile(r"[-+]?0[0-9_]+"), "a number to base 8"),
    (re.compile(r"[-+]?0o[0-7_]+"), "a number to base 8"),
    (re.compile(r"[-+]?0x[0-9a-fA-F_]+"), "a number to base 16"),
    (re.compile(r"[-+]?0b[01_]+"), "a number to base 2"),
    (re.compile(r"[-+]?[0-9][0-9_]*_[0-9_]*(\.[0-9_]*)?"), "a number with its digits grouped"),
    (re.compile(r"[-+]?([0-9][0-9_]*\.?[0-9_]*|\.[0-9_]+)([eE][-+]?[0-9]+)?"), "a number"),
)


def plain_value(text: str) -> tuple[str | int | float | bool | None, str | None]:
    """Return the value of an unquoted scalar and what is wrong with it, if anything is.

    A value that readers disagree about comes back as its text with a message, so that a
    caller can carry on.
    """
    if text in _WORDS:
        return _WORDS[text], None
    if text[0] not in "0123456789+-.~<=":
        return text, None
    if _WHOLE.fullmatch(text):
        if len(text) > MOST_DIGITS:
            return text, f"{shown(text)} has more digits than layby counts; put quotes around it"
        return int(text), None
    if _DECIMAL.fullmatch(text):
        number = float(text)
        if math.isinf(number):
            return text, f"{shown(text)} is too large for a number; put quotes around it"
        return number, None
    return text, _refusal(text)


def _refusal(text: str) -> str | None:
    """Return why an unquoted *text* that looks like a number is not taken, if it is not."""
    if _NOT_A_NUMBER.fullmatch(text):
        return f"{shown(text)} is no measurable number; leave the value out or write a number"
    if text == "~":
        return "'~' is read as nothing by some readers: write null, or put quotes around it: \"~\""
    if text == "=":
        return "'=' has a meaning of its own in YAML: put quotes around it: \"=\""
    for pattern, meaning in _DOUBTFUL:
        if pattern.fullmatch(text):
            return (
                f"{shown(text)} is read as {meaning} by some readers and as text by others: "
                f'put quotes around it: "{text[:40]}"{_as_number(text)}'
            )
    return None


def _as_number(text: str) -> str:
    """Return ` or write 1000` where the number that was meant can be written plainly."""
    try:
        number = float(text)
    except ValueError:
        return ""
    if not math.isfinite(number) or not 1e-4 <= abs(number) < 1e15:
        return ""
    plain = f"{number:.12f}".rstrip("0").rstrip(".")
    return f", or write {plain}" if float(plain) == number else ""
