"""Verdicts by named limits, the drawing, what is kept with a job, and what fills which reading."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from engine.job import Job, JobCard
from engine.library import load_library
from engine.report import gather
from engine.report.page import page
from engine.report.writing import as_html, as_markdown
from engine.traces.drawing import draw
from engine.traces.filling import fill_of, sensor_asked
from engine.traces.keeping import MOST_KEPT, kept, unpacked
from engine.traces.metrics import TraceError, crossings_at, measure
from engine.traces.verdicts import judge_lines, limits_as_data, pattern_of

LIMITS = load_library().catalogue.limits
TIMES = np.arange(1200) / 100


def square(low: float, high: float, frequency: float = 0.7, edge: float = 12.0) -> np.ndarray:
    middle, half = (low + high) / 2, (high - low) / 2
    return middle + half * np.tanh(edge * np.sin(2 * np.pi * frequency * TIMES + 0.2))


@pytest.mark.parametrize(
    ("volts", "pattern", "grade"),
    [
        (square(0.1, 0.82), "switches", "ok"),
        (square(0.1, 0.82, 0.15), "slow", "fail"),
        (square(0.22, 0.72, 0.6, 1.0), "slow", "fail"),
        (np.full(1200, 0.06), "stays low", "fail"),
        (np.full(1200, 0.86), "stays high", "fail"),
        (np.full(1200, 0.46), "rests in the middle", "fail"),
        (np.full(1200, 1.4), "above anything the cell can make", "fail"),
        (np.full(1200, -0.3), "wrong sign", "fail"),
        (square(0.3, 0.95), "lifted floor", "watch"),
    ],
)
def test_each_pattern_is_known(volts: np.ndarray, pattern: str, grade: str) -> None:
    found = pattern_of(measure(TIMES, volts), LIMITS)
    assert (found.name, found.grade) == (pattern, grade)
    assert bool(found.separate) == (grade != "ok")


def test_a_short_recording_is_not_judged() -> None:
    found = pattern_of(measure(TIMES[:500], square(0.1, 0.8)[:500]), LIMITS)
    assert found.grade == "inconclusive"


def test_every_verdict_names_limits_with_value_unit_and_source() -> None:
    lines = {line.name: line for line in judge_lines(measure(TIMES, square(0.2, 0.72, 0.3)), LIMITS)}
    assert lines["amplitude"].grade == "watch"
    assert lines["crossings"].grade == "watch"
    assert lines["lr_ms"].grade == "ok"
    for line in lines.values():
        assert line.limits
        assert all(
            limit["source"] and limit["value"] is not None for limit in limits_as_data(line.limits, LIMITS)
        )


def test_the_rear_sensor_is_not_called_slow() -> None:
    found = pattern_of(measure(TIMES, np.full(1200, 0.66)), LIMITS, downstream=True)
    assert found.grade == "ok"


@pytest.mark.parametrize("ascii_only", [True, False])
@pytest.mark.parametrize("cells", [40, 76, 110])
def test_the_drawing_fits_and_marks_threshold_and_transitions(cells: int, ascii_only: bool) -> None:
    volts = square(0.1, 0.8)
    turns = crossings_at(TIMES, volts)
    lines = draw(TIMES, volts, turns, cells=cells, ascii_only=ascii_only)
    assert max(len(line) for line in lines) <= cells
    assert any(line.strip().startswith("0.45") for line in lines)
    text = "\n".join(lines)
    up, down = ("^", "v") if ascii_only else ("▲", "▼")
    assert lines[-3].count(up) + lines[-3].count(down) == len(turns)
    assert text.isascii() == ascii_only


def test_a_million_samples_are_drawn_and_kept_small() -> None:
    times = np.arange(1_000_000) / 1e4
    volts = 0.45 + 0.4 * np.sin(9 * times)
    assert len(draw(times, volts, (), cells=76)) == 13
    data = kept(times, volts, measure(times, volts), file="a.csv", column="v", sensor="b1s1")
    assert not data["whole"]
    assert len(json.dumps(data)) < 80_000
    back_times, back = unpacked(data)
    assert back_times.size <= MOST_KEPT
    assert (back.min(), back.max()) == pytest.approx((0.05, 0.85), abs=0.001)


def test_a_short_recording_is_kept_whole() -> None:
    volts = square(0.1, 0.8)
    data = kept(TIMES, volts, measure(TIMES, volts), file="a.csv", column="v", sensor="b1s1")
    back_times, back = unpacked(data)
    assert back_times == pytest.approx(TIMES)
    assert back == pytest.approx(volts, abs=0.00051)
    with pytest.raises(TraceError, match="damaged"):
        unpacked({**data, "packed": "AAAA"})


def test_readings_are_filled_or_the_reason_is_told() -> None:
    good = measure(TIMES, square(0.1, 0.8))
    slow = measure(TIMES[::20], square(0.1, 0.8)[::20])
    assert sensor_asked("o2_b2s1_cross_2500") == "b2s1"
    assert sensor_asked("forced_rich_b1s2_v") == "b1s2"
    assert sensor_asked("stft_b1_idle") is None
    crossings = fill_of("o2_b1s1_cross_2500", good)
    assert crossings is not None
    assert float(crossings.typed) == pytest.approx(14, abs=1)
    timed = fill_of("o2_b1s1_lr_ms_2500", slow)
    assert timed is not None
    assert not timed.typed
    assert "at least 100" in timed.why
    assert fill_of("forced_lean_b1s1_v", good) == fill_of("forced_lean_b1s1_v", good)
    forced = fill_of("forced_rich_b1s1_v", good)
    assert forced is not None
    assert forced.typed == "0.800 V"


def test_a_recording_stays_with_the_job_and_its_report_draws_it(tmp_path: Path) -> None:
    volts = square(0.1, 0.8)
    data = kept(TIMES, volts, measure(TIMES, volts), file="<b>.csv", column="[x]", sensor="b1s1")
    with Job.begin(tmp_path, load_library(), JobCard("van", "rich"), clock=lambda: 1e9) as job:
        before = job.walk.state.values()
        job.walk.keep_trace(data)
        assert job.walk.state.values() == before
        path = job.journal.path
    with Job.open(path, clock=lambda: 1e9, write=False) as job:
        gathered = gather(job.card, job.walk)
    (recorded,) = gathered["recordings"]
    assert any("crossings in 10 s" in number for number in recorded["numbers"])
    html, text = as_html(page(gathered)), as_markdown(page(gathered))
    assert "<svg" in html
    assert "<polyline" in html
    assert "<b>.csv" not in html
    assert "0.45 ┤" in text
    assert "▲" in text
