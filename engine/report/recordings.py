"""The recorded signals kept with a job, as a report shows them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from engine.catalogue import Catalogue
from engine.traces.drawing import as_svg, draw
from engine.traces.keeping import unpacked
from engine.traces.metrics import TraceError, crossings_at
from engine.walk_state import Event
from engine.wording import side_words

_LABELS = (
    ("min", "lowest", "V", 3),
    ("max", "highest", "V", 3),
    ("mean", "mean", "V", 3),
    ("crossings", "crossings in 10 s", "", 1),
    ("lr_ms", "0.30 up to 0.60 V", "ms", 0),
    ("rl_ms", "0.60 down to 0.30 V", "ms", 0),
)


def gather_recordings(events: Sequence[Event], catalogue: Catalogue) -> list[dict[str, Any]]:
    """Return every recording kept with the job: words, numbers, and both drawings."""
    return [_recording(event, catalogue) for event in events if event["kind"] == "trace"]


def _recording(event: Mapping[str, Any], catalogue: Catalogue) -> dict[str, Any]:
    numbers = event["numbers"]
    told = [
        f"{label} {numbers[name]:.{digits}f} {unit}".rstrip()
        for name, label, unit, digits in _LABELS
        if numbers.get(name) is not None
    ]
    shown: list[str] = []
    svg = ""
    try:
        seconds, volts = unpacked(event)
        turns = crossings_at(seconds, volts, hysteresis=event["hysteresis"])
        shown = draw(seconds, volts, turns, cells=90)
        svg = as_svg(seconds, volts, turns)
    except TraceError as error:
        told.append(str(error))
    return {
        "title": side_words(catalogue, event["sensor"]) or event["column"],
        "file": event["file"],
        "column": event["column"],
        "length": f"{event['samples']} samples in {event['seconds']:.4g} s, {event['rate']:.4g} a second",
        "numbers": told,
        "notices": list(event["notices"]),
        "drawing": shown,
        "svg": svg,
    }
