"""Which readings a recording answers, and with what; and what it cannot answer, with the reason."""

from __future__ import annotations

import re
from dataclasses import dataclass

from engine.tapping import LEAST_SECONDS
from engine.traces.metrics import SensorMetrics

_SWITCHING = re.compile(r"o2_(b[12]s[12])_(min|max|mean|cross|lr_ms|rl_ms|trace)_(?:2500|idle|reload)")
_FORCED = re.compile(r"forced_(rich|lean)_(b[12]s[12])_(v|lr_ms|rl_ms)")


@dataclass(frozen=True, slots=True)
class Fill:
    """What a recording gives for one reading."""

    reading: str
    typed: str
    """The value with its unit, as a person would type it; empty when there is none."""
    why: str
    """Why there is none; empty when there is one."""


def sensor_asked(reading: str) -> str | None:
    """Return the sensor whose recording would answer a reading, or None when none would."""
    switching = _SWITCHING.fullmatch(reading)
    if switching is not None:
        return switching[1]
    forced = _FORCED.fullmatch(reading)
    return forced[2] if forced is not None else None


def fill_of(reading: str, metrics: SensorMetrics, *, file: str = "") -> Fill | None:
    """Return what a recording of its sensor gives for a reading; None when it has nothing to do with it.

    Args:
        reading: id of the reading.
        metrics: of the recording of this reading's sensor.
        file: name of the file; the answer of a reading that asks for the recording itself.
    """
    switching, forced = _SWITCHING.fullmatch(reading), _FORCED.fullmatch(reading)
    if switching is not None:
        return _of_switching(reading, switching[2], metrics, file)
    if forced is not None:
        what = {"rich": "max", "lean": "min"}[forced[1]] if forced[3] == "v" else forced[3]
        return _of(reading, what, metrics)
    return None


def _of_switching(reading: str, what: str, metrics: SensorMetrics, file: str) -> Fill:
    if what == "trace":
        return Fill(reading, file or "recorded", "")
    if what in ("min", "max", "mean") and metrics.seconds < 0.995 * LEAST_SECONDS:
        why = f"recorded for {metrics.seconds:.3g} s: at least {LEAST_SECONDS:g} s are needed"
        return Fill(reading, "", why)
    return _of(reading, what, metrics)


def _of(reading: str, what: str, metrics: SensorMetrics) -> Fill:
    match what:
        case "min":
            return Fill(reading, f"{metrics.low:.3f} V", "")
        case "max":
            return Fill(reading, f"{metrics.high:.3f} V", "")
        case "mean":
            return Fill(reading, f"{metrics.mean:.3f} V", "")
        case "cross":
            if metrics.crossings_why:
                return Fill(reading, "", metrics.crossings_why)
            return Fill(reading, f"{metrics.crossings_per_10s:.3g}", "")
        case _:
            seconds = metrics.lean_to_rich if what == "lr_ms" else metrics.rich_to_lean
            if metrics.edges_why:
                return Fill(reading, "", metrics.edges_why)
            if seconds is None:
                return Fill(reading, "", "it never passes from one of 0.30 and 0.60 V to the other")
            return Fill(reading, f"{max(1000.0 * seconds, 1.0):.0f} ms", "")
