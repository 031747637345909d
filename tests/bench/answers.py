"""The usual answer to a reading, to get a walk going."""

from __future__ import annotations

from engine.catalogue import Reading
from engine.measured import Answer


def usual_answer(reading: Reading) -> Answer:
    """Return a healthy answer: the middle of the usual range, the usual choice, no codes."""
    if reading.kind == "num":
        low, high = reading.usual
        return (low + high) / 2 if low is not None and high is not None else (low or high or 0.0)
    if reading.kind == "codes":
        return ()
    usual = reading.usual_choices[0] if reading.usual_choices else reading.choices[0].value
    return (usual,) if reading.kind == "many" else usual
