"""Verdicts on the screen: numbers and drawing in any width, what the rule beat, what is uncertain."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from tests.tui.conftest import MakeApp, press, type_text
from tests.tui.half_done import half_done
from tests.tui.screen_text import screen_rows, screen_text
from tui.app import LaybyApp
from tui.screens.verdict import VerdictScreen

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
