"""Leaving, coming back, a second window, corrections, doubt, repair, the undo list, driving, the end."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from engine.job import Job
from tests.tui.conftest import SIZES, MakeApp, press, type_text
from tests.tui.half_done import answer, half_done
from tests.tui.screen_text import screen_text
from tui.app import LaybyApp
from tui.screens.correcting import EntryPage
from tui.screens.dialogs import PickPage, TextPage, WritePage
from tui.screens.doubt import DoubtScreen, RepairScreen
from tui.screens.end import EndScreen
from tui.screens.follow import FollowScreen
from tui.screens.predict import PredictScreen
from tui.screens.start import StartScreen
from tui.screens.step import StepScreen
from tui.screens.verdict import VerdictScreen
from tui.session import JobSession
from tui.widgets.entries import Field

TRIMS = "Trims at idle and at 2500 rpm"


def open_session(app: LaybyApp) -> JobSession:
    """Return the open job."""
    session = app.desk.session
    assert session is not None
    return session


def words(app: LaybyApp) -> str:
    """Return what stands on the screen, without line breaks."""
    return " ".join(screen_text(app).split())


async def test_a_killed_app_loses_nothing_and_goes_on_where_it_was(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "-8.6")
        await press(pilot, "enter")
        entries = len(open_session(app).walk.state.takes)
        await type_text(pilot, "-9")
        app.exit()
    again = make_app()
    async with again.run_test(size=(80, 24)) as pilot:
        assert TRIMS[:14] in screen_text(again)
        await press(pilot, "1")
        assert isinstance(again.screen, StepScreen)
        assert again.screen.ask.step.title == TRIMS
        assert len(open_session(again).walk.state.takes) == entries
        asked = [line.reading.id for line in again.screen.ask.lines]
        assert "stft_b1_idle" not in asked
        assert "ltft_b1_idle" in asked


async def test_after_a_pause_the_safety_looks_are_offered_anew(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False, clock=lambda: time.time() - 3 * 3600.0)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, PickPage)
        assert "You were away for 3 hours" in words(app)
        await press(pilot, "1")
        assert open_session(app).walk.state.epoch == 1
        assert isinstance(app.screen, StepScreen)
        assert app.screen.ask.cautions
        assert "traffic" in words(app) or app.screen.ask.step.title == TRIMS


@pytest.mark.parametrize("size", SIZES)
async def test_a_second_window_reads_and_follows(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    path = half_done(data, TRIMS, demo=False)
    app = make_app()
    with Job.open(path, clock=time.time) as writer:
        writer.advance()
        async with app.run_test(size=size) as pilot:
            await press(pilot, "enter")
            assert isinstance(app.screen, FollowScreen)
            assert "Read only" in words(app)
            assert TRIMS in words(app)
            await press(pilot, "n", "b", "m", "u", "x")
            assert isinstance(app.screen, FollowScreen)
            entries = len(open_session(app).walk.state.takes)
            for name, typed in (("stft_b1_idle", "-8.6"), ("ltft_b1_idle", "-9.4"), ("stft_b1_2500", "-1.6")):
                answer(writer, name, typed)
            answer(writer, "ltft_b1_2500", "-3.1")
            writer.advance()
            app.screen.look_again()
            await pilot.pause()
            assert f"{entries + 4} entries" in words(app)
            assert "Last:" in words(app)
            await press(pilot, "l")
            assert "Rich at idle, fading" in words(app)
            await press(pilot, "escape", "q")
            assert isinstance(app.screen, StartScreen)


async def test_damaged_and_newer_jobs_are_one_clear_line(make_app: MakeApp, data: Path) -> None:
    good = half_done(data, "The engine lamp", demo=False, car="good car")
    damaged = data / "jobs" / "20260101T000000Z-damaged.layby"
    lines = good.read_bytes().split(b"\n")
    lines[2] = lines[2][:40] + b"#" + lines[2][41:]
    damaged.write_bytes(b"\n".join(lines))
    (data / "jobs" / "20260102T000000Z-none.layby").write_bytes(b"no job at all\n")
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await pilot.pause()
        assert "none.layby" in words(app)
        assert "Traceback" not in words(app)
        place = [card.path for card in app.job_cards()[0]].index(damaged)
        await press(pilot, str(place + 1))
        assert isinstance(app.screen, FollowScreen | StartScreen)
        assert "damaged" in words(app)


async def test_a_job_killed_before_its_first_step_is_one_line(make_app: MakeApp, data: Path) -> None:
    path = half_done(data, "Look before touching", demo=False)
    lines = path.read_bytes().split(b"\n")
    path.write_bytes(b"\n".join(lines[:2]) + b"\n")
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, StartScreen)
        assert "nothing was asked yet" in re.sub(r"[\s▌]+", " ", screen_text(app))


@pytest.mark.parametrize("size", SIZES)
async def test_a_correction_from_the_path_shows_what_changed(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, "Pinch the purge hose", demo=False)
    app = make_app()
    async with app.run_test(size=size, notifications=True) as pilot:
        await press(pilot, "enter", "l")
        assert isinstance(app.screen, PickPage)
        options = app.screen.options
        place = next(i for i, (_, label) in enumerate(options) if "Rich at idle" in label)
        for _ in range(place // 9):
            await press(pilot, "0")
        await press(pilot, str(place % 9 + 1))
        assert isinstance(app.screen, PickPage)
        takes = app.screen.options
        pick = next(i for i, (_, label) in enumerate(takes) if "short-term trim at idle" in label)
        await press(pilot, str(pick + 1))
        assert isinstance(app.screen, EntryPage)
        await type_text(pilot, "8.6")
        await press(pilot, "enter")
        assert isinstance(app.screen, TextPage)
        shown = words(app)
        assert "What the correction changed" in shown
        assert "Was: Trims at idle" in shown
        assert "Rich at idle, fading" in shown
        await press(pilot, "escape")
        kinds = [event["kind"] for event in open_session(app).walk.events]
        assert kinds.count("corrected") == 1


async def test_what_could_not_be_had_is_asked_again_from_the_path(make_app: MakeApp, data: Path) -> None:
    half_done(data, "Does the purge valve shut?", answers={"pinch_purge_dtrim": ""}, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "l")
        options = app.screen.options  # type: ignore[attr-defined]
        place = next(i for i, (_, label) in enumerate(options) if "Pinch the purge hose" in label)
        await press(pilot, str(place + 1))
        assert "ask it again (not at hand)" in words(app)
        await press(pilot, "1")
        assert isinstance(app.screen, StepScreen)
        assert app.screen.ask.step.title == "Pinch the purge hose"


async def test_correcting_back_over_a_repair_is_asked_first(make_app: MakeApp, data: Path) -> None:
    path = half_done(data)
    with Job.open(path, clock=time.time) as job:
        for item in list(job.walk.state.left):
            job.walk.undo_left(item)
        job.walk.repaired("renewed the valve")
        job.advance()
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "l")
        options = app.screen.options  # type: ignore[attr-defined]
        place = next(i for i, (_, label) in enumerate(options) if "Pinch the purge hose" in label)
        await press(pilot, str(place + 1), "1")
        await type_text(pilot, "12")
        await press(pilot, "enter")
        if not isinstance(app.screen, PickPage):
            await press(pilot, "y")
        assert isinstance(app.screen, PickPage)
        assert "A repair was made after this was measured" in words(app)
        await press(pilot, "1")
        assert open_session(app).walk.state.proving


async def test_a_doubtful_verdict_offers_what_could_settle_it(make_app: MakeApp, data: Path) -> None:
    half_done(data, "doubt", answers={"pinch_purge_dtrim": "3.1"}, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, DoubtScreen)
        shown = words(app)
        assert "too close to tell" in shown
        assert "measure again" in shown
        await press(pilot, "1")
        assert isinstance(app.screen, StepScreen)
        assert "before:" in words(app)


async def test_going_on_with_a_doubt_finds_nothing(make_app: MakeApp, data: Path) -> None:
    half_done(data, "doubt", answers={"pinch_purge_dtrim": "3.1"}, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, DoubtScreen)
        options = [value for value, _ in app.screen._options()]
        await press(pilot, str(options.index("on") + 1))
        assert isinstance(app.screen, VerdictScreen)
        assert "doubtful" in words(app)


async def test_a_repair_on_the_way_is_done_or_put_off(make_app: MakeApp, data: Path) -> None:
    half_done(data, "repair", answers={"scene_safe": "move_car"}, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, RepairScreen)
        assert "Move the car" in words(app)
        await press(pilot, "1")
        assert isinstance(app.screen, StepScreen)
        assert [event["kind"] for event in open_session(app).walk.events].count("repair-done") == 1


async def test_a_road_step_waits_until_all_is_undone(make_app: MakeApp, data: Path) -> None:
    half_done(data, "Clamp the hose [/x]", demo=False, tree="small")
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "14.8")
        await press(pilot, "enter", "y")
        assert isinstance(app.screen, VerdictScreen)
        assert "Left behind: purge hose" in words(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, PickPage)
        assert "Undo these before the road" in words(app)
        await press(pilot, "1")
        assert isinstance(app.screen, StepScreen)
        assert not open_session(app).walk.state.left
        await press(pilot, "1")
        assert isinstance(app.screen, VerdictScreen)


async def test_a_repair_is_closed_only_when_all_is_undone(make_app: MakeApp, data: Path) -> None:
    half_done(data, "On the road", answers={"pinch_purge_dtrim": "14.8"}, demo=False, tree="small")
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "escape", "x", "2", "3", "enter")
        assert isinstance(app.screen, EndScreen)
        assert "[ ] purge hose" in words(app)
        assert "Do not drive" in words(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, PickPage)
        assert "Undo list" in words(app)
        await press(pilot, "1")
        assert not open_session(app).walk.state.left
        assert isinstance(app.screen, EndScreen)
        assert "Do not drive" not in words(app)
        assert "[ ]" not in words(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, WritePage)


async def test_a_failed_proof_goes_back_to_the_suspects(make_app: MakeApp, data: Path) -> None:
    path = half_done(data, demo=False)
    with Job.open(path, clock=time.time) as job:
        for item in list(job.walk.state.left):
            job.walk.undo_left(item)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter", "enter", "enter")
        assert isinstance(app.screen, StepScreen)
        await press(pilot, "2")
        for typed in ("-9.4", "-8.6"):
            await type_text(pilot, typed)
            await press(pilot, "enter")
        assert isinstance(app.screen, VerdictScreen)
        assert "not fixed" in words(app)
        await press(pilot, "enter")
        state = open_session(app).walk.state
        assert state.concluded is None
        assert not isinstance(app.screen, EndScreen)


async def test_the_proof_can_be_put_off_until_a_day(make_app: MakeApp, data: Path) -> None:
    path = half_done(data, demo=False)
    with Job.open(path, clock=time.time) as job:
        for item in list(job.walk.state.left):
            job.walk.undo_left(item)
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "d", "enter")
        await type_text(pilot, "Friday")
        await press(pilot, "enter")
        assert isinstance(app.screen, StartScreen)
        assert "proof due Friday" in words(app)


async def test_a_person_decides_about_driving(make_app: MakeApp, data: Path) -> None:
    half_done(data, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "m")
        assert "A person decides" in words(app)
        await press(pilot, "2", "enter")
        assert "write a name" in words(app)
        await type_text(pilot, "Sam [/b]")
        await press(pilot, "enter")
        assert isinstance(app.screen, EndScreen)
        assert "decided by Sam [/b]: it is driven with care" in words(app)


async def test_try_another_value_leaves_the_job_alone(make_app: MakeApp, data: Path) -> None:
    path = half_done(data, "Pinch the purge hose", demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "14.8")
        await press(pilot, "enter", "y")
        assert isinstance(app.screen, VerdictScreen)
        before = path.read_bytes()
        await press(pilot, "t")
        assert isinstance(app.screen, EntryPage)
        app.screen.query_one(Field).value = "0.5"
        await press(pilot, "enter")
        assert isinstance(app.screen, TextPage)
        assert "Nothing was written into the job" in words(app)
        assert "Now it is: The trim comes up" in words(app)
        await press(pilot, "escape")
        assert isinstance(app.screen, VerdictScreen)
        assert path.read_bytes() == before


async def test_repeating_a_verdict_asks_its_readings_again(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        for typed in ("-8.6", "-9.4", "-1.6", "-3.1"):
            await type_text(pilot, typed)
            await press(pilot, "enter")
        assert isinstance(app.screen, VerdictScreen)
        shown = words(app)
        assert "Rich at idle, fading" in shown
        assert "Total trim, %" in shown
        assert "Would turn it" in shown
        await press(pilot, "r")
        assert isinstance(app.screen, StepScreen)
        assert app.screen.ask.step.title == TRIMS
        assert all(line.again for line in app.screen.ask.lines)


async def test_a_learner_predicts_sees_why_and_is_scored(make_app: MakeApp, data: Path) -> None:
    half_done(data, "What does the customer say?", learner=True, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, PredictScreen)
        assert "Before you look" in words(app)
        await press(pilot, "2")
        assert isinstance(app.screen, StepScreen)
        assert "Why:" in words(app)
        assert "score 1 of 1" in words(app)
        await press(pilot, "enter", "1")
        assert isinstance(app.screen, VerdictScreen)
        shown = words(app)
        assert "You said" in shown
        assert "fired" in shown


async def test_a_note_goes_into_the_report(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter", "escape", "n")
        await type_text(pilot, "smells hot")
        await press(pilot, "enter", "e")
        assert "smells hot" in str(open_session(app).gathered()["notes"])


async def test_the_open_end_names_what_is_left(make_app: MakeApp, data: Path) -> None:
    half_done(data, answers={"scene_safe": "not_safe"}, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, EndScreen)
        shown = words(app)
        assert "OPEN END" in shown
        assert "Suspects left" in shown
        assert "recovered" in shown
        await press(pilot, "enter")
        assert isinstance(app.screen, EndScreen)
