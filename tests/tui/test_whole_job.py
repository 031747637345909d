"""A whole job on the real app with the real engine: from the start page to the report."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from engine.job_files import list_jobs
from tests.tui.conftest import SIZES, MakeApp, press, press_until, type_text
from tests.tui.half_done import half_done
from tests.tui.screen_text import screen_rows, screen_text
from tui.app import LaybyApp
from tui.screens.card import CardScreen
from tui.screens.end import EndScreen
from tui.screens.report import ReportPage
from tui.screens.start import StartScreen
from tui.screens.step import StepScreen
from tui.screens.verdict import VerdictScreen
from tui.widgets.lines import KeyLine


def assert_sound(app: LaybyApp) -> None:
    """Something has the focus, the last line fits, and no id of a reading or fault shows."""
    screen = app.screen
    assert screen.focused is not None, f"nothing has the focus on {screen}"
    keys = screen.query_one(KeyLine)
    assert keys.max_scroll_x == 0
    assert screen.max_scroll_x == 0
    rows = screen_rows(app)
    assert len(rows[-1]) <= app.size.width
    assert "?" in rows[-1] or "Esc" in rows[-1] or "Enter" in rows[-1]
    shown = "\n".join(rows)
    for name in ("stft_b1_idle", "purge_stuck_open", "scene_safe", "ect_idle", "C-HOT", "b1s1"):
        assert name not in shown


@pytest.mark.parametrize("size", SIZES)
async def test_the_demonstration_from_start_to_report(
    make_app: MakeApp, data: Path, tmp_path: Path, size: tuple[int, int]
) -> None:
    app = make_app()
    async with app.run_test(size=size, notifications=True) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, StartScreen)
        assert_sound(app)
        if size == SIZES[0]:
            await press(pilot, "d")
        else:
            half_done(data, "Trims at idle and at 2500 rpm")
            app.screen.reload()
            await press(pilot, "1")
        kinds = set()
        seen = None
        for _ in range(90):
            if app.screen is not seen:
                assert_sound(app)
                seen = app.screen
            kinds.add(type(app.screen))
            if isinstance(app.screen, EndScreen):
                break
            await press(pilot, "enter")
        assert {StepScreen, VerdictScreen, EndScreen} <= kinds
        assert "TANK PURGE VALVE LEAKS WHEN SHUT" in screen_text(app)
        assert "proven" in screen_text(app)
        session = app.desk.session
        assert session is not None
        for _ in range(len(session.walk.state.left)):
            await press(pilot, "u", "1")
        await press(pilot, "enter")
        assert "Advised: Renew the purge valve." in " ".join(screen_text(app).split())
        await press(pilot, "enter")
        assert session.walk.state.proving
        assert str(session.walk.state.repairs[-1]["what"]).startswith("Renew the purge valve.")
        await press_until(pilot, VerdictScreen)
        assert "fixed" in screen_text(app)
        assert_sound(app)
        await press(pilot, "enter", "e")
        assert isinstance(app.screen, ReportPage)
        assert "repaired, and the repair is proved" in " ".join(screen_text(app).split())
        for form in "mhj":
            await press(pilot, form, "enter")
        await press(pilot, "escape", "q")
        assert isinstance(app.screen, StartScreen)
    written = {path.suffix: path for path in tmp_path.iterdir() if path.is_file()}
    assert set(written) == {".md", ".html", ".json"}
    report = json.loads(written[".json"].read_text(encoding="utf-8"))
    assert report["found"]["strength"] == "proven"
    assert report["repair"]["result"] == "fixed"
    assert report["demo"] is True
    (card,) = list_jobs(data / "jobs").cards
    assert card.last is not None
    assert card.last["status"] == "fixed"


async def test_two_keys_from_the_start_to_the_first_question(make_app: MakeApp) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "n")
        assert isinstance(app.screen, CardScreen)
        await press(pilot, "enter")
        assert isinstance(app.screen, StepScreen)
        assert app.screen.ask.step.title == "Look before touching"


async def test_suspects_are_named_within_ten_entries(make_app: MakeApp) -> None:
    """The budget of a call-out: at most ten entries beyond the looks that gate hands and feet."""
    app = make_app(demo=True)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await app.workers.wait_for_complete()
        await pilot.pause()
        session = app.desk.session
        assert session is not None
        for _ in range(40):
            await press(pilot, "enter")
            if session.suspects()[0].moves:
                break
        assert len(session.walk.state.takes) <= 10
        assert session.walk.state.minutes <= 10


async def test_the_card_takes_what_is_known_and_blocks_nothing(make_app: MakeApp) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "n")
        await type_text(pilot, "grey hatch")
        await press(pilot, "down", "down")
        await type_text(pilot, "lots")
        await press(pilot, "down")
        await type_text(pilot, "Sam")
        await press(pilot, "down", "space", "space", "enter")
        assert isinstance(app.screen, StepScreen)
        session = app.desk.session
        assert session is not None
        assert session.name == "grey hatch"
        facts = {take.reading: (take.answer, take.how) for take in session.walk.state.takes}
        assert facts == {"veh_banks": (2.0, "told")}
        assert app.settings.who == "Sam"
