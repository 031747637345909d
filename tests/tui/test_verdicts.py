"""Verdicts on the screen: numbers and drawing in any width, what the rule beat, what is uncertain."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.tui.conftest import MakeApp, press, type_text
from tests.tui.half_done import half_done
from tests.tui.screen_text import screen_rows, screen_text
from tui.app import LaybyApp
from tui.screens.dialogs import TextPage
from tui.screens.predict import PredictScreen
from tui.screens.verdict import VerdictScreen
from tui.widgets.verdicts import head_lines, missing_lines

TRIMS = "Trims at idle and at 2500 rpm"
SIZES = [(80, 24), (110, 30), (120, 40), (160, 50)]


async def to_trims_verdict(pilot: Pilot[None], app: LaybyApp) -> None:
    """Type the trims of a rich idle and show what they mean."""
    await press(pilot, "enter", "enter")
    for typed in ("-8.6", "-9.4", "-1.6", "-3.1"):
        await type_text(pilot, typed)
        await press(pilot, "enter")
    assert isinstance(app.screen, VerdictScreen)


def whole(app: LaybyApp) -> str:
    """Return everything the verdict says, also what a page hides."""
    return str(app.screen.query_one("#verdict").render())


@pytest.mark.parametrize("size", SIZES)
async def test_the_trims_are_drawn_once_and_to_the_width_there_is(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await to_trims_verdict(pilot, app)
        shown = screen_text(app)
        assert shown.count("Total trim, %") == 1
        axis = [row for row in screen_rows(app) if "┤" in row]
        assert [row for row in axis if "idle" in row]
        assert len(axis) == len({row.partition("┤")[0][-6:] for row in axis}), "a line of the drawing wraps"
        corner = next(row for row in screen_rows(app) if "└" in row)
        assert corner.count("┴") == 2


@pytest.mark.parametrize("size", SIZES)
async def test_value_limit_and_distance_stand_on_one_line(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, "Pinch the purge hose", demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "14.8")
        await press(pilot, "enter", "y")
        assert isinstance(app.screen, VerdictScreen)
        rows = screen_rows(app)
        line = next(row for row in rows if "limit +5.0 %" in row)
        assert "+14.8 %" in line
        assert "9.8 above it" in line
        label = "change of total trim with the tank purge hose pinched"
        assert label in " ".join(whole(app).split())


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_a_learner_reads_why_the_rule_fired_what_it_beat_and_who_moved(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, TRIMS, demo=False, learner=True)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter")
        while isinstance(app.screen, PredictScreen):
            await press(pilot, "1")
        await press(pilot, "enter")
        for typed in ("-8.6", "-9.4", "-1.6", "-3.1"):
            await type_text(pilot, typed)
            await press(pilot, "enter")
        assert isinstance(app.screen, VerdictScreen)
        said = " ".join(whole(app).split())
        assert "fired Rich at idle, fading, over 99 %" in said
        assert "because total trim at idle, bank 1 -18.0 % is at most -5.0 %" in said
        beaten = said[said.index("beaten") :]
        assert "missed by" in beaten
        assert "bank 2" not in said, "the car has one bank"
        assert "Moved by total trim at idle, bank 1 -18.0 %" in said
        assert "tank purge valve leaks when shut: up" in said
        assert said.count("beaten") <= 4
        await press(pilot, "w")
        page = app.screen
        assert isinstance(page, TextPage)
        listed = " ".join(" ".join(str(line).split()) for line in page.lines_shown)
        assert listed.count("beaten") > 4
        assert "about what this car has not got" in listed


async def test_the_page_of_suspects_names_the_readings_behind_each_move(
    make_app: MakeApp, data: Path
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(120, 40)) as pilot:
        await to_trims_verdict(pilot, app)
        await press(pilot, "s")
        shown = " ".join(screen_text(app).split())
        assert (
            "Rich at idle, fading (Trims at idle and at 2500 rpm: total trim at idle, bank 1 -18.0 %" in shown
        )


def test_a_sure_way_does_not_make_the_verdict_sure() -> None:
    event = {
        "verdict": "Near the edge", "grade": "watch", "title": "Trims", "doubtful": False, "cannot": None,
        "sure": 0.99, "verdict_sure": 0.61, "for_safety": False, "means": None,
    }  # fmt: skip
    said = "\n".join(str(line) for line in head_lines(event))
    assert "likeliest, not certain: 61 %" in said
    assert "The way on is sure (99 %)" in said
    assert "way on" not in "\n".join(str(line) for line in head_lines({**event, "verdict_sure": 0.97}))


async def test_what_was_missing_is_said_in_one_line_each(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        session = app.desk.session
        assert session is not None
        event = {"missed_figures": ["spec_fuel_pressure"], "not_on_van": ["fuelp_koeo"]}
        lines = [str(line) for line in missing_lines(session, event)]
        assert len(lines) == 2
        assert lines[0].startswith("Maker's figure not to hand: ")
        assert lines[1].startswith("Not asked, no instrument on this van: ")
        assert "fuelp_koeo" not in lines[1]
        assert missing_lines(session, {}) == []
