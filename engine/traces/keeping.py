"""A recording as it is kept with a job: small, whole where it can be, its envelope where it is long."""

from __future__ import annotations

import base64
import binascii
import zlib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from engine.inert import inert
from engine.traces.metrics import SensorMetrics, TraceError

if TYPE_CHECKING:
    from engine.traces.metrics import Floats, Numbers

MOST_KEPT = 10_000
"""Samples; of a longer recording lowest and highest of each slice are kept."""
_MOST_PACKED = 40 * MOST_KEPT
"""Bytes after unpacking."""


def kept(
    seconds: Numbers, volts: Numbers, metrics: SensorMetrics, *, file: str, column: str, sensor: str | None
) -> dict[str, Any]:
    """Return a recording as plain data for a job's journal: at most about 60 kB.

    Args:
        seconds: times, s.
        volts: V; NaN is left out.
        metrics: what was measured of the whole recording.
        file: name of the file it came from, without its folder.
        column: heading of its column.
        sensor: which sensor it was taken as.
    """
    import numpy as np

    times, values = np.asarray(seconds, dtype=float), np.asarray(volts, dtype=float)
    good = np.isfinite(times) & np.isfinite(values)
    times, values = times[good], values[good]
    whole = times.size <= MOST_KEPT
    if not whole:
        times, values = _envelope(times, values)
    micros = np.round((times - times[0]) * 1e6).astype("<i8")
    steps = np.diff(micros, prepend=micros[:1]).astype("<i4")
    millivolts = np.clip(np.round(values * 1e3), -32_000, 32_000).astype("<i2")
    packed = zlib.compress(steps.tobytes() + np.diff(millivolts, prepend=0).astype("<i2").tobytes(), 9)
    return {
        "file": inert(file, limit=120),
        "column": inert(column, limit=120),
        "sensor": sensor,
        "whole": bool(whole),
        "samples": metrics.samples,
        "seconds": round(metrics.seconds, 6),
        "rate": round(metrics.rate, 4),
        "hysteresis": metrics.hysteresis,
        "numbers": {
            "min": metrics.low,
            "max": metrics.high,
            "mean": metrics.mean,
            "crossings": metrics.crossings_per_10s if not metrics.crossings_why else None,
            "lr_ms": _ms(metrics.lean_to_rich, metrics),
            "rl_ms": _ms(metrics.rich_to_lean, metrics),
            "rich_share": metrics.rich_share,
        },
        "notices": list(metrics.notices),
        "packed": base64.b64encode(packed).decode("ascii"),
    }


def unpacked(data: Mapping[str, Any]) -> tuple[Floats, Floats]:
    """Return times (s, from 0) and volts (V) of a kept recording.

    Raises:
        TraceError: it is damaged.
    """
    import numpy as np

    try:
        opened = zlib.decompressobj()
        raw = opened.decompress(base64.b64decode(str(data["packed"]), validate=True), _MOST_PACKED)
    except (KeyError, binascii.Error, ValueError, zlib.error) as error:
        raise TraceError("the recording kept with this job is damaged") from error
    count, rest = divmod(len(raw), 6)
    if rest or count < 2 or opened.unconsumed_tail:
        raise TraceError("the recording kept with this job is damaged")
    steps = np.frombuffer(raw[: 4 * count], dtype="<i4").astype(np.int64)
    changes = np.frombuffer(raw[4 * count :], dtype="<i2")
    return np.cumsum(steps) / 1e6, np.cumsum(changes, dtype=np.int16) / 1e3


def _ms(seconds: float | None, metrics: SensorMetrics) -> float | None:
    return None if seconds is None or metrics.edges_why else 1000.0 * seconds


def _envelope(times: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Return lowest and highest sample of each of equal slices, at their own times."""
    import numpy as np

    edges = np.linspace(0, times.size, MOST_KEPT // 2 + 1).astype(int)
    places = set()
    for begin, end in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        part = values[begin:end]
        places |= {begin + int(part.argmin()), begin + int(part.argmax())}
    chosen = np.array(sorted(places))
    return times[chosen], values[chosen]
