"""The conclusion and the open end: all of it is there and named, and a proof can be made later."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from engine.job import Job
from tests.tui.conftest import SIZES, MakeApp, press, type_text
from tests.tui.half_done import half_done
from tests.tui.screen_text import screen_rows, screen_text
from tui.app import LaybyApp
from tui.screens.dialogs import WritePage
from tui.screens.end import EndScreen
from tui.screens.start import StartScreen
from tui.screens.step import StepScreen
from tui.screens.verdict import VerdictScreen


def whole(app: LaybyApp) -> str:
    """Return everything the end says, also what a page hides."""
    return " ".join(str(app.screen.query_one("#end").render()).split())


def repaired_unproven(data: Path) -> Path:
    """Repair the demonstration car's fault and leave its proof unmeasured."""
    path = half_done(data, demo=False)
    with Job.open(path, clock=time.time) as job:
        for item in list(job.walk.state.left):
            job.walk.undo_left(item)
        job.walk.repaired("renewed the valve")
        job.advance()
        job.walk.cannot(None, "the customer had to go")
        job.advance()
    return path


@pytest.mark.parametrize("size", SIZES)
async def test_the_conclusion_says_everything_and_names_its_pages(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, EndScreen)
        said = whole(app)
        for part in (
            "proven", "Not condemned, and why", "Not checked", "If it is left", "Proof of repair",
            "nobody has decided yet", "Tested first", "hours' worth", "Limits rest on",
        ):  # fmt: skip
            assert part in said, part
        cleared = said[said.index("Not condemned") :]
        assert "Rich at idle, fading (Trims at idle and at 2500 rpm)" in cleared
        if size == (80, 24):
            assert "PgDn page 2 of 2" in screen_rows(app)[-1]
            assert "Below: not condemned" in screen_text(app)
            assert "Drive" in screen_text(app)
            assert "Repair" in screen_text(app)
            await press(pilot, "pagedown")
            assert "PgUp page 1 of 2" in screen_rows(app)[-1]
            assert "Below: not condemned" not in screen_text(app)
            assert "Tested first" in screen_text(app)
        else:
            assert "Tested first" in screen_text(app)
            assert "PgDn" not in screen_rows(app)[-1]


@pytest.mark.parametrize("size", [(110, 40), (120, 40)])
async def test_in_three_columns_no_text_is_wider_than_its_column(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter")
        cells = app.screen.query_one("#end").size.width
        labels = ("Repair ", "Drive ", "If it is left", "Proof of repair")
        lines = str(app.screen.query_one("#end").render()).splitlines()
        laid_out = lines[next(i for i, line in enumerate(lines) if line.startswith(labels)) :]
        assert max(map(len, laid_out)) <= cells


async def test_an_unproven_repair_is_proved_later(make_app: MakeApp, data: Path) -> None:
    repaired_unproven(data)
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, EndScreen)
        assert "repaired, unproven" in whole(app)
        assert "Enter prove it" in screen_rows(app)[-1]
        await press(pilot, "enter")
        assert isinstance(app.screen, StepScreen)
        assert app.screen.ask.proof
        session = app.desk.session
        assert session is not None
        assert session.walk.state.repairs[-1]["what"] == "renewed the valve"
        await press(pilot, "enter", "1")
        for typed in ("0.5", "0.4"):
            await type_text(pilot, typed)
            await press(pilot, "enter")
        assert isinstance(app.screen, VerdictScreen)
        await press(pilot, "enter")
        assert isinstance(app.screen, EndScreen)
        assert "the repair is proved" in whole(app)


async def test_the_proof_of_an_unproven_repair_is_put_off_without_a_second_repair(
    make_app: MakeApp, data: Path
) -> None:
    path = repaired_unproven(data)
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "d")
        assert isinstance(app.screen, WritePage)
        await type_text(pilot, "Monday")
        await press(pilot, "enter")
        assert isinstance(app.screen, StartScreen)
        assert "proof due Monday" in " ".join(screen_text(app).split())
        await press(pilot, "enter")
        assert isinstance(app.screen, EndScreen)
    with Job.open(path, clock=time.time) as job:
        kinds = [event["kind"] for event in job.walk.events]
        assert (kinds.count("repaired"), kinds.count("due")) == (1, 1)


async def test_an_outweighed_conclusion_is_told_with_its_repair_and_what_would_separate(
    make_app: MakeApp, data: Path
) -> None:
    half_done(data, answers={"pinch_purge_dtrim": "0"}, demo=False, tree="small")
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, EndScreen)
        session = app.desk.session
        assert session is not None
        end = session.walk.state.open_end
        assert end is not None
        assert end["outweighed"] is not None
        said = whole(app)
        assert "OPEN END" in said
        assert "Last step's word" in said
        assert "outweighed, so it is not named" in said
        assert "Suspects left" in said
        assert ("Would separate them" in said) is bool(end["separate"])
