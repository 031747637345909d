"""Raw bytes of a live-data parameter, typed instead of its value: ``0x7B`` or ``raw 1A F8``.

The leading ``0x`` or ``raw`` is demanded, so that bytes are never taken for a number, nor a number for bytes.
Which readings are such a parameter stands in the catalogue (``parameter:``). What the bytes mean is echoed
with them, before it counts.

Source: scaling of SAE J1979 / ISO 15031-5 by engine.formulas.obd.
"""

from __future__ import annotations

import re
from dataclasses import replace

from engine.catalogue import Reading
from engine.entry.outcomes import Outcome, Question, Refusal, Understood
from engine.errors import shown

_MARKED = re.compile(r"(?:raw\b[\s:]*(?:0x)?|0x)(?P<bytes>.*)", re.IGNORECASE | re.DOTALL)


def marked_bytes(text: str) -> str | None:
    """Return the bytes of a text that says it holds bytes, None for any other."""
    found = _MARKED.fullmatch(text.strip())
    return found["bytes"].strip() if found is not None else None


def decoded(digits: str, reading: Reading) -> float | Refusal:
    """Return the value that typed bytes hold, in the reading's unit, or why they hold none."""
    from engine.formulas.registry import FormulaError, formula  # only where bytes are typed

    if reading.parameter is None:
        return Refusal(
            f"{reading.label} is no parameter of the live data: write its value, without 0x or raw"
        )
    pid, name = reading.parameter
    try:
        value = formula("obd_value").compute(pid=pid, bytes=digits).get(name)
    except FormulaError as error:
        return Refusal(str(error))
    if not isinstance(value, int | float):
        return Refusal(f"{shown(digits)} says that the car has no such value: write what the reader shows")
    return float(value)


def with_bytes(outcome: Outcome, digits: str) -> Outcome:
    """Return an outcome whose echo names the bytes it came from."""
    words = " ".join(re.findall("..", re.sub(r"[\s,]", "", digits).upper()))
    match outcome:
        case Understood(echo=echo):
            return replace(outcome, echo=f"{echo} (bytes {words})")
        case Question(candidates=candidates):
            named = tuple(replace(one, echo=f"{one.echo} (bytes {words})") for one in candidates)
            return replace(outcome, candidates=named)
    return outcome
