"""A recorded signal: the command, and the key of a step that reads it from a file."""

from __future__ import annotations

import json
import time
from pathlib import Path

import numpy as np
import pytest

from engine.job import Job, JobCard
from engine.library import load_library, shipped_files
from tests.tui.conftest import MakeApp, press
from tests.tui.screen_text import screen_text
from tui.app import LaybyApp
from tui.cli import main
from tui.screens.dialogs import PickPage
from tui.screens.paste import MatchesPage
from tui.screens.step import StepScreen
from tui.screens.trace import TracePage, recent_files

SIZES = pytest.mark.parametrize("size", [(80, 24), (140, 45)])
TREE = """
format: 1
tree: own
kind: symptom
title: Own
complaints: [hesitates]
start: watch
steps:
  watch:
    title: Watch the sensor
    do: Record its volts.
    why: A slow sensor shows here.
    readings: [o2_b1s1_max_2500, o2_b1s1_cross_2500, o2_b1s1_lr_ms_2500]
    judge:
      - id: slow
        when: {o2_b1s1_cross_2500: {below: o2_cross_slow}}
        verdict: Slow
        grade: fail
        exit: {conclude: valve}
      - otherwise: true
        verdict: Lively, or not read
        grade: inconclusive
        exit: {conclude: valve}
    cannot: {say: Not counted., exit: {conclude: valve}}
conclusions:
  valve:
    faults: [purge_stuck_open]
    strength: probable
    because: It was measured.
"""


def recorded(path: Path, rate: float = 200.0) -> Path:
    """Write twelve seconds of a healthy sensor."""
    times = np.arange(int(12 * rate)) / rate
    volts = 0.46 + 0.36 * np.tanh(6 * np.sin(2 * np.pi * 0.7 * times + 0.3))
    rows = "\n".join(f"{t:.4f};{v:.3f}" for t, v in zip(times, volts, strict=True))
    path.write_text("time (s);volts (V)\n" + rows)
    return path


def begun(data: Path) -> None:
    """Begin a job in the tree above."""
    library = load_library(files={**shipped_files(), "trees/symptoms/own.yaml": TREE.encode()})
    card = JobCard(car="van", complaint="hesitates")
    with Job.begin(data / "jobs", library, card, clock=time.time, tree="own") as job:
        job.advance()


def flat(app: LaybyApp) -> str:
    """Return what stands on the screen with one blank between words."""
    return " ".join(screen_text(app).split())


@SIZES
async def test_a_recording_is_drawn_confirmed_kept_and_fills_the_fields(
    make_app: MakeApp, data: Path, size: tuple[int, int], tmp_path: Path
) -> None:
    recorded(tmp_path / "drive.csv")
    begun(data)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "escape")
        assert "t trace" in flat(app) or size[0] == 80
        await press(pilot, "t")
        assert isinstance(app.screen, PickPage)
        assert "drive.csv" in flat(app)
        await press(pilot, "1")
        page = app.screen
        assert isinstance(page, TracePage)
        shown = screen_text(app)
        assert "0.45 ┤" in shown
        assert "▲" in shown
        assert "▼" in shown
        assert all(len(row) <= size[0] for row in shown.splitlines())
        before = list(app.desk.session.walk.state.takes) if app.desk.session else []
        await press(pilot, "enter")
        assert isinstance(app.screen, MatchesPage)
        assert app.desk.session is not None
        walk = app.desk.session.walk
        assert walk.state.takes == before
        kinds = [event["kind"] for event in walk.events]
        assert kinds.count("trace") == 1
        await press(pilot, "enter", "enter", "enter")
        taken = {take.reading: take.answer for take in walk.state.takes}
        assert taken["o2_b1s1_max_2500"] == pytest.approx(0.82, abs=0.005)
        assert taken["o2_b1s1_cross_2500"] == pytest.approx(16 / 1.2, abs=0.9)
        assert float(str(taken["o2_b1s1_lr_ms_2500"])) < 100
        await press(pilot, "enter")
        assert not isinstance(app.screen, StepScreen | MatchesPage)
        gathered = app.desk.session.gathered()
        assert len(gathered["recordings"]) == 1


@SIZES
async def test_a_bad_file_is_one_line_and_a_slow_one_times_no_edge(
    make_app: MakeApp, data: Path, size: tuple[int, int], tmp_path: Path
) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("time,volts\n0,0.1\n1,x\n2,0.3\n")
    begun(data)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "escape", "t", "1")
        assert isinstance(app.screen, StepScreen)
        assert "bad.csv:3: 'x' is no number" in flat(app).replace(" │", "")
        bad.unlink()
        recorded(tmp_path / "slow.csv", rate=20.0)
        await press(pilot, "escape", "t", "1", "enter")
        assert isinstance(app.screen, MatchesPage)
        assert len(app.screen.left) == 2
        assert "at least 100 are needed" in flat(app)


def test_the_newest_recordings_come_first(tmp_path: Path) -> None:
    for age, name in enumerate(("new.csv", "old.CSV")):
        path = recorded(tmp_path / name)
        stamp = time.time() - 1000 * age
        path.touch()
        import os

        os.utime(path, (stamp, stamp))
    (tmp_path / "note.md").write_text("no")
    found = recent_files((tmp_path, tmp_path / "nothing"))
    assert [path.name for path in found] == ["new.csv", "old.CSV"]


def test_the_command_prints_numbers_verdicts_and_a_drawing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = recorded(tmp_path / "a.csv")
    assert main(["trace", str(path)]) == 0
    out = capsys.readouterr().out
    assert "switches (good)" in out
    assert "0.45" in out
    assert max(len(line) for line in out.splitlines()) <= 110
    assert main(["trace", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    (signal,) = found["signals"]
    assert signal["pattern"]["name"] == "switches"
    assert all(v["limits"] for v in signal["verdicts"])
    assert signal["metrics"]["rate"] == pytest.approx(200)


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"", "empty"), (b"a,b\nx,y\n", "no rows of numbers"), (b"t,v\n0,1\n1,2\n2,x\n", "4: 'x' is no number")],
)
def test_a_bad_file_ends_the_command_with_one_line_and_exit_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes, said: str
) -> None:
    path = tmp_path / "bad.csv"
    path.write_bytes(content)
    assert main(["trace", str(path)]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert said in captured.err
    assert len(captured.err.strip().splitlines()) == 1
