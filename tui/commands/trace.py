"""``layby trace``: a recorded sensor signal, its numbers, its verdicts and its drawing."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from engine.catalogue import Limit
from engine.library import load_library
from engine.traces.drawing import draw
from engine.traces.metrics import SensorMetrics, crossings_at, measure
from engine.traces.reading import Channel, Recording, load_recording
from engine.traces.verdicts import judge_lines, limits_as_data, pattern_of
from tui.commands.printing import print_json, shows_everything

OK = 0
_GRADES = {"ok": "good", "watch": "watch", "fail": "FAIL", "inconclusive": "not judged"}
WIDEST = 110
NOTE = (
    "Narrow-band sensors only; warm engine in closed loop, 2500 rpm. A wide-band sensor does not switch.\n"
    "The maker's data come first."
)


def run(arguments: argparse.Namespace) -> int:
    """Read the file, measure every signal in it, and print."""
    recording = load_recording(arguments.file, columns=arguments.column, rate=arguments.rate)
    limits = load_library().catalogue.limits
    found = [(channel, _measured(recording, channel)) for channel in recording.channels]
    if arguments.json:
        print_json(
            {
                "file": str(arguments.file),
                "notices": list(recording.notices),
                "signals": [_as_data(channel, metrics, limits) for channel, metrics in found],
                "catalyst_ratio": _ratio(found),
            }
        )
        return OK
    for notice in recording.notices:
        print(f"mind: {notice}")
    for channel, metrics in found:
        _print(recording, channel, metrics, limits)
    for ratio in _ratio(found):
        print(f"downstream over upstream crossings, bank {ratio['bank']}: {ratio['ratio']:.2f}")
    print(NOTE)
    return OK


def _measured(recording: Recording, channel: Channel) -> SensorMetrics:
    return measure(recording.seconds, channel.volts)


def _is_downstream(channel: Channel) -> bool:
    return channel.sensor is not None and channel.sensor.endswith("s2")


def _as_data(channel: Channel, metrics: SensorMetrics, limits: Mapping[str, Limit]) -> dict[str, Any]:
    pattern = pattern_of(metrics, limits, downstream=_is_downstream(channel))
    verdicts = [
        {
            "name": line.name,
            "label": line.label,
            "value": line.value,
            "unit": line.unit,
            "grade": line.grade,
            "words": line.words,
            "limits": limits_as_data(line.limits, limits),
        }
        for line in judge_lines(metrics, limits, downstream=_is_downstream(channel))
    ]
    return {
        "name": channel.name,
        "sensor": channel.sensor,
        "metrics": {**asdict(metrics), "amplitude": metrics.amplitude, "notices": list(metrics.notices)},
        "verdicts": verdicts,
        "pattern": asdict(pattern),
    }


def _ratio(found: list[tuple[Channel, SensorMetrics]]) -> list[dict[str, Any]]:
    """Return downstream over upstream crossings of each bank whose two sensors are in the file."""
    ratios = []
    by_sensor = {channel.sensor: metrics for channel, metrics in found if channel.sensor}
    for bank, up, down in (("1", "b1s1", "b1s2"), ("2", "b2s1", "b2s2"), ("of both", "s1", "s2")):
        if up not in by_sensor or down not in by_sensor or by_sensor[up].crossings_per_10s < 6.0:
            continue
        if by_sensor[up].crossings_why or by_sensor[down].crossings_why:
            continue
        value = by_sensor[down].crossings_per_10s / by_sensor[up].crossings_per_10s
        ratios.append({"bank": bank, "ratio": value})
    return ratios


def _print(
    recording: Recording, channel: Channel, metrics: SensorMetrics, limits: Mapping[str, Limit]
) -> None:
    plain = not shows_everything()
    cells = min(_columns(), WIDEST)
    pattern = pattern_of(metrics, limits, downstream=_is_downstream(channel))
    turns = crossings_at(recording.seconds, channel.volts, hysteresis=metrics.hysteresis)
    length = f"{metrics.samples} samples in {metrics.seconds:.4g} s, {metrics.rate:.4g} a second"
    print(f"\n{channel.name}: {pattern.name} ({_GRADES[pattern.grade]})\n{length}")
    for line in draw(recording.seconds, channel.volts, turns, cells=cells, ascii_only=plain):
        print(line)
    print()
    for verdict in judge_lines(metrics, limits, downstream=_is_downstream(channel)):
        words = f"{_GRADES[verdict.grade]:10}  {verdict.words}".rstrip()
        print(f"{verdict.label:20} {verdict.shown:>10}  {words}")
        for limit in limits_as_data(verdict.limits, limits) if verdict.grade in ("watch", "fail") else ():
            label = limits[limit["limit"]].label
            print(f"{'':32} {label}: {limit['value']:g} {limit['unit']} ({limit['source']})")
    for notice in metrics.notices:
        print(f"mind: {notice}")
    print(pattern.says)
    if pattern.separate:
        print(f"To separate: {pattern.separate}")


def _columns() -> int:
    """Return the width of the terminal; 80 in a pipe."""
    if not sys.stdout.isatty() and "COLUMNS" not in os.environ:
        return 80
    return max(shutil.get_terminal_size((80, 24)).columns, 40)
