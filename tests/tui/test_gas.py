"""The gas page: from the command line, from any screen of a job, and typed into a step that asks."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest
from textual.widgets import Input

from engine.job import Job, JobCard
from engine.library import load_library, shipped_files
from tests.tui.conftest import MakeApp, press
from tests.tui.screen_text import screen_text
from tui.app import LaybyApp
from tui.cli import main
from tui.screens.figures import FigurePage
from tui.screens.gas import GasPage
from tui.screens.step import StepScreen

SIZES = pytest.mark.parametrize("size", [(80, 24), (140, 45)])
TREE = """
format: 1
tree: own
kind: symptom
title: Own
complaints: [hesitates]
start: gases
steps:
  gases:
    title: Read the gases
    do: Probe in, read after 30 s.
    why: The gases tell the mixture.
    readings: [gas_co_idle, gas_co2_idle, gas_o2_idle, gas_hc_idle, rpm_idle]
    judge:
      - otherwise: true
        verdict: Read
        grade: inconclusive
        exit: {conclude: valve}
    cannot: {say: Not read., exit: {conclude: valve}}
conclusions:
  valve:
    faults: [purge_stuck_open]
    strength: probable
    because: It was measured.
"""


def begun(data: Path) -> None:
    """Begin a job in the tree above."""
    files = {**shipped_files(), "trees/symptoms/own.yaml": TREE.encode()}
    card = JobCard(car="van", complaint="hesitates")
    with Job.begin(data / "jobs", load_library(files=files), card, clock=time.time, tree="own") as job:
        job.advance()


def flat(app: LaybyApp) -> str:
    """Return what stands on the screen with one blank between words."""
    return " ".join(screen_text(app).split())


@SIZES
async def test_gases_typed_on_the_page_go_into_the_job(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    begun(data)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "escape", "a")
        assert isinstance(app.screen, GasPage)
        assert "CO, CO₂, O₂ and HC are needed together" in flat(app)
        await press(pilot, "t")
        for typed in ("4.7", "12.6", "0.06", "164"):
            assert isinstance(app.screen, FigurePage)
            app.screen.query_one("#figure", Input).value = typed
            await press(pilot, "enter")
            if app.screen.query("QuestionLine") and isinstance(app.screen, FigurePage):
                question = app.screen.query_one("#figure-said")
                if question.has_focus:
                    await press(pilot, "y")
        assert isinstance(app.screen, GasPage)
        assert app.desk.session is not None
        taken = {take.reading: take.answer for take in app.desk.session.walk.state.takes}
        assert taken == {"gas_co_idle": 4.7, "gas_co2_idle": 12.6, "gas_o2_idle": 0.06, "gas_hc_idle": 164.0}
        shown = flat(app)
        if size[1] == 24:
            await press(pilot, "pagedown")
            shown += flat(app)
        assert "rich: More fuel than air" in shown
        assert "cannot say" in shown
        await press(pilot, "c")
        assert "before the catalyst" in flat(app)
        await press(pilot, "escape")
        assert isinstance(app.screen, StepScreen)
        await press(pilot, "8", "0", "0", "enter")
        assert not isinstance(app.screen, StepScreen)
        await press(pilot, "a")
        assert isinstance(app.screen, GasPage)
        assert "type what is asked" not in flat(app)


def test_the_command_says_what_the_gases_tell(capsys: pytest.CaptureFixture[str]) -> None:
    fast = ["--fast", "co=0.5", "co2=14.7", "o2=0.5", "hc=100"]
    assert main(["gas", *fast]) == 0
    out = capsys.readouterr().out
    assert "lambda      1.005 from the gases" in out
    assert "cannot say" in out
    assert main(["gas", *fast, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["states"]["2500"]["lambda_gas"] == pytest.approx(1.00468, abs=1e-5)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "no gases"),
        (["--idle", "co=1"], "missing: co2, o2, hc"),
        (["--idle", "coo=1"], "did you mean 'co'"),
        (["--idle", "co=x"], "write a number"),
        (["--idle", "co=16"], "impossible"),
    ],
)
def test_what_cannot_be_used_is_one_line(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert main(["gas", *arguments]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert said in captured.err
    assert len(captured.err.strip().splitlines()) == 1
