"""Local experience put in from the screen: note, limit, weight; refused edits; what new jobs show of it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from textual.pilot import Pilot

from engine.library import load_library
from engine.local_lines import LineKind
from engine.shop_editing import pin_note, set_limit
from tests.tui.conftest import SIZES, MakeApp, press, type_text
from tests.tui.half_done import half_done
from tests.tui.screen_text import screen_text
from tui.app import LaybyApp
from tui.screens.dialogs import PickPage, TextPage, WritePage
from tui.screens.shop import NEW_JOBS, figure_of, figure_problem, times_problem
from tui.screens.step import StepScreen
from tui.screens.verdict import VerdictScreen
from tui.widgets.local import local_lines

PINCH = "Pinch the purge hose"


def words(app: LaybyApp) -> str:
    """Return what stands on the screen, without line breaks."""
    return " ".join(screen_text(app).split())


async def pick(pilot: Pilot[None], wanted: str) -> None:
    """Pick the entry of a list that holds these words."""
    page = pilot.app.screen
    assert isinstance(page, PickPage)
    place = next(i for i, (_, label) in enumerate(page.options) if wanted in label)
    for _ in range(place // 9):
        await press(pilot, "0")
    await press(pilot, str(place % 9 + 1))


async def write(pilot: Pilot[None], text: str) -> None:
    """Write a line in place of what stands in the field."""
    page = pilot.app.screen
    assert isinstance(page, WritePage)
    page.query_one("#line").value = ""  # type: ignore[attr-defined]
    await type_text(pilot, text)
    await press(pilot, "enter")


@pytest.mark.parametrize("size", SIZES)
async def test_a_note_is_pinned_and_new_jobs_show_it_with_who_and_age(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    journal = half_done(data, PINCH, demo=False)
    app = make_app()
    async with app.run_test(size=size, notifications=True) as pilot:
        await press(pilot, "enter", "enter", "escape")
        before = journal.read_bytes()
        await press(pilot, "g")
        assert NEW_JOBS[:30] in words(app)
        await pick(pilot, "pin a note")
        await press(pilot, "enter")
        assert "write the note" in words(app)
        await write(pilot, "The hose sits behind the air box")
        await write(pilot, "R. Lead")
        assert isinstance(app.screen, TextPage)
        assert app.screen.heading == "Written"
        path = next((data / "shop").rglob("*.yaml"))
        shown = words(app).replace(" ", "")
        assert f"{path}:".replace(" ", "") in shown
        assert "R. Lead" in words(app)
        assert "jobs begun from now on" in words(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, StepScreen)
        assert journal.read_bytes() == before
    library = load_library(data / "shop")
    note = next(line for line in library.local if line.kind is LineKind.NOTE)
    assert (note.by, note.subject) == ("R. Lead", "rich-running/purge")


async def test_a_limit_for_cars_like_this_one_is_written_with_its_reason(
    make_app: MakeApp, data: Path
) -> None:
    half_done(data, PINCH, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "enter", "escape", "g")
        await pick(pilot, "change a limit")
        assert isinstance(app.screen, PickPage)
        chosen = next(name for name, label in app.screen.options if "+5" in label or " 5.0" in label)
        await pick(pilot, next(label for name, label in app.screen.options if name == chosen))
        await write(pilot, "1,200")
        assert "two ways" in words(app)
        await write(pilot, "9 bar")
        assert isinstance(app.screen, WritePage)
        await write(pilot, "6 %")
        await pick(pilot, "fuel")
        assert "that is all" in words(app)
        await pick(pilot, "that is all")
        await press(pilot, "enter")
        assert "write why" in words(app)
        await write(pilot, "three of these came back")
        await write(pilot, "R. Lead")
        assert isinstance(app.screen, TextPage)
        assert app.screen.heading == "Written"
        await press(pilot, "enter")
        assert isinstance(app.screen, StepScreen)
    line = next(line for line in load_library(data / "shop").local if line.kind is LineKind.LIMIT)
    assert (line.subject, line.reason, line.by) == (chosen, "three of these came back", "R. Lead")
    assert line.cars is not None


async def test_a_fault_is_weighed_and_the_next_job_begins_with_it(make_app: MakeApp, data: Path) -> None:
    half_done(data, PINCH, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "enter", "escape", "g")
        await pick(pilot, "weigh a fault")
        await pick(pilot, "tank purge valve leaks")
        await write(pilot, "90")
        assert "between 0.02 and 50" in words(app)
        await write(pilot, "2,5")
        await pick(pilot, "every car")
        await write(pilot, "eleven of twenty last year")
        await write(pilot, "")
        assert isinstance(app.screen, TextPage)
        assert app.screen.heading == "Written"
        assert {line.times for line in app.library().local} == {2.5}
        assert app.library().local[0].by is None
        await press(pilot, "enter", "q", "d", "escape", "s")
        shown = words(app)
        assert "weighed by this shop 2.5 times (unagreed, today: eleven of twenty last year)" in shown


async def test_what_is_wrong_is_told_and_nothing_is_written(make_app: MakeApp, data: Path) -> None:
    half_done(data, PINCH, demo=False)
    broken = data / "shop" / "figures.yaml"
    broken.parent.mkdir(parents=True)
    broken.write_text("format: 1\nextends: no-such-tree\nlimits:\n  - limit: no_such\n    value: 3\n")
    before = broken.read_bytes()
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "enter", "escape", "g")
        await pick(pilot, "pin a note")
        await write(pilot, "anything")
        await write(pilot, "R. Lead")
        assert isinstance(app.screen, TextPage)
        assert app.screen.heading == "Not written"
        assert ".yaml:2:10: error: " in words(app).replace(" ", "").replace("error:", " error: ")
        assert "as they were" in words(app)
    assert broken.read_bytes() == before
    assert list(broken.parent.iterdir()) == [broken]


async def test_esc_ends_the_pages_and_a_verdict_is_about_its_own_step(make_app: MakeApp, data: Path) -> None:
    half_done(data, PINCH, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "14.8")
        await press(pilot, "enter", "y")
        assert isinstance(app.screen, VerdictScreen)
        await press(pilot, "g")
        assert f"pin a note to this step: {PINCH}" in words(app)
        await press(pilot, "escape")
        assert isinstance(app.screen, VerdictScreen)
        assert not (data / "shop").exists() or not list((data / "shop").iterdir())


async def test_notes_and_limits_of_the_shop_stand_on_the_verdict(make_app: MakeApp, data: Path) -> None:
    shop = data / "shop"
    assert set_limit(shop, "pinch_rich", 6.0, by="R. Lead", on="2026-05-10", reason="came back").done
    tree = "rich-running"
    assert pin_note(shop, tree, "purge", "Behind the air box", by="R. Lead", on="2026-05-10").done
    library = load_library(shop)
    app = make_app()
    app._library = library
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "d")
        session = app.desk.session
        assert session is not None
        step = library.tree(tree).step("purge", session.walk.state.frame.binding)
        said = "\n".join(str(line) for line in local_lines(session, step, date(2026, 5, 31)))
    assert "Note: Behind the air box (this shop, R. Lead, 3 weeks old)" in said
    assert "Limit of this shop: " in said
    assert "R. Lead, 3 weeks old: came back" in said


@pytest.mark.parametrize(
    ("typed", "unit", "value"), [("14 %", "%", 14.0), ("-2,5", "%", -2.5), ("2.5 bar", "kPa", 2.5)]
)
def test_a_figure_is_read_as_people_type_it(typed: str, unit: str, value: float) -> None:
    assert figure_of(typed, unit)[0] == value


@pytest.mark.parametrize("typed", ["", "much", "1,200", "3 furlongs", "nan", "--1"])
def test_a_figure_that_is_none_is_refused_with_a_reason(typed: str) -> None:
    assert figure_problem(typed, "kPa")


def test_a_weight_stays_in_its_range() -> None:
    assert times_problem("2") == ""
    assert times_problem("0.01")
    assert times_problem("51")
