"""The step: fields, refusals, questions, commands, cannot, back."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.widgets import Input

from tests.tui.conftest import SIZES, MakeApp, press, type_text
from tests.tui.half_done import half_done
from tests.tui.screen_text import screen_text
from tui.screens.dialogs import PickPage, TextPage
from tui.screens.step import StepScreen
from tui.screens.verdict import VerdictScreen
from tui.widgets.choices import ChoiceList
from tui.widgets.entries import EntryTable, Field
from tui.widgets.question import QuestionLine

WARM_UP = "Warm it up, and does it know?"
TRIMS = "Trims at idle and at 2500 rpm"


async def at_fields(pilot: object, app: object) -> None:
    """Acknowledge the cautions."""
    await press(pilot, "enter", "enter")  # type: ignore[arg-type]


@pytest.mark.parametrize("size", SIZES)
async def test_trims_stand_as_one_grid_with_unit_limits_and_source(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "enter")
        table = app.screen.query_one(EntryTable)
        assert table.grid
        await type_text(pilot, "-8,6")
        assert "= -8.6 %" in screen_text(app)
        await press(pilot, "enter")
        await type_text(pilot, "-9.4")
        await press(pilot, "enter")
        shown = screen_text(app)
        assert "total trim -18.0 %" in shown
        assert "rule of thumb" in shown
        assert "good -5.0 … +5.0 %" in shown
        session = app.desk.session
        assert session is not None
        assert [take.answer for take in session.walk.state.takes][-2:] == [-8.6, -9.4]


async def test_a_reading_is_acknowledged_only_when_it_is_on_disk(make_app: MakeApp, data: Path) -> None:
    path = half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, "enter", "enter")
        before = path.read_bytes().count(b'"kind":"taken"')
        await type_text(pilot, "-8.6")
        assert path.read_bytes().count(b'"kind":"taken"') == before
        await press(pilot, "enter")
        assert path.read_bytes().count(b'"kind":"taken"') == before + 1
        assert "on disk" in screen_text(app)
        other = path.with_suffix(".moved")
        path.rename(other)
        await type_text(pilot, "-9.4")
        await press(pilot, "enter")
        assert "moved or replaced by another program" in " ".join(screen_text(app).split())
        assert app.screen.query_one(EntryTable).slots[1].status == "open"
        other.rename(path)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("lots", "is not a number"),
        ("4000", "Not taken"),
        ("[/x]", "is not a number"),
        ("-8.6 bar", "Not taken"),
        ("1e999", "Not taken"),
        ("--5", "Not taken"),
    ],
)
async def test_nonsense_in_a_number_is_refused_beside_the_field(
    make_app: MakeApp, data: Path, typed: str, said: str
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        entries = len(app.desk.session.walk.state.takes)  # type: ignore[union-attr]
        app.screen.query_one(Field).value = typed
        await press(pilot, "enter")
        assert said in " ".join(screen_text(app).split())
        assert isinstance(app.screen.focused, Field)
        assert len(app.desk.session.walk.state.takes) == entries  # type: ignore[union-attr]


async def test_after_a_refusal_the_next_number_takes_the_place_of_the_refused_one(
    make_app: MakeApp, data: Path
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "4000")
        await press(pilot, "enter", "7", "1")
        assert app.screen.query_one(Field).value == "71"
        await type_text(pilot, "000")
        await press(pilot, "enter", "escape", "3")
        assert app.screen.query_one(Field).value == "3"


async def test_the_unlikely_is_asked_once_and_taken_on_yes(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "-60")
        await press(pilot, "enter")
        line = app.screen.query_one(QuestionLine)
        assert line.has_focus
        await press(pilot, "x", "w")
        assert isinstance(app.screen, StepScreen)
        await press(pilot, "n")
        assert isinstance(app.screen.focused, Field)
        await press(pilot, "enter", "y")
        take = app.desk.session.walk.state.takes[-1]  # type: ignore[union-attr]
        assert (take.answer, take.flagged) == (-60.0, True)


async def test_grouped_digits_are_asked_about(make_app: MakeApp, data: Path) -> None:
    half_done(data, WARM_UP, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "1,200")
        await press(pilot, "enter")
        line = app.screen.query_one(QuestionLine)
        assert line.has_focus or "Not taken" in screen_text(app)
        assert app.screen.query_one(EntryTable).slots[0].status == "open"


@pytest.mark.parametrize("typed", ["P017", "banana", "[@click=app.quit]x[/]", "P0172 Z9"])
async def test_nonsense_in_codes_is_refused(make_app: MakeApp, data: Path, typed: str) -> None:
    half_done(data, "Read and save the codes", demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        app.screen.query_one(Field).value = typed
        await press(pilot, "enter")
        assert "is no code" in " ".join(screen_text(app).split())
        assert app.is_running


async def test_a_choice_takes_its_digit_and_nothing_else(make_app: MakeApp) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "n", "enter", "enter")
        table = app.screen.query_one(EntryTable)
        await press(pilot, "9", "enter")
        assert [slot.status for slot in table.slots] == ["open"] * 4
        assert "Press the digit" in screen_text(app)
        await press(pilot, "1")
        assert [slot.status for slot in table.slots] == ["done"] + ["open"] * 3
        assert app.screen.focused is table.slots[1].control


async def test_digits_are_never_commands_and_letters_only_outside_the_field(
    make_app: MakeApp, data: Path
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        await press(pilot, "w", "q", "x")
        assert isinstance(app.screen.focused, Input)
        assert app.screen.focused.value == "wqx"
        await press(pilot, "escape")
        assert not isinstance(app.screen.focused, Input)
        await press(pilot, "w")
        assert isinstance(app.screen, TextPage)
        await press(pilot, "escape")
        app.screen.query_one(Field).value = ""
        await press(pilot, "minus", "7")
        assert isinstance(app.screen.focused, Field)
        assert app.screen.focused.value == "-7"


async def test_cannot_for_one_reading_and_for_the_step(make_app: MakeApp, data: Path) -> None:
    half_done(data, WARM_UP, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter", "escape", "x")
        assert isinstance(app.screen, PickPage)
        await press(pilot, "1", "2")
        assert app.screen.query_one(EntryTable).slots[0].status == "cannot"
        state = app.desk.session.walk.state  # type: ignore[union-attr]
        assert list(state.cannot_readings.values()) == ["no instrument"]
        await press(pilot, "x", "2", "6")
        await type_text(pilot, "[b]no cable[/b]")
        await press(pilot, "enter")
        assert isinstance(app.screen, VerdictScreen)
        shown = " ".join(screen_text(app).split())
        assert "not done: [b]no cable[/b]; nothing is cleared by that" in shown


async def test_what_no_instrument_can_show_is_not_asked_at_the_next_step(
    make_app: MakeApp, data: Path
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        asked = {line.reading.id for line in app.screen.ask.lines}  # type: ignore[attr-defined]
        await press(pilot, "escape", "x", "2", "2")
        state = app.desk.session.walk.state  # type: ignore[union-attr]
        assert asked <= set(state.cannot_readings)
        assert isinstance(app.screen, VerdictScreen)


async def test_back_types_the_last_entry_again(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "-8.6")
        await press(pilot, "enter", "escape", "b")
        field = app.screen.focused
        assert isinstance(field, Field)
        field.value = "-3.1"
        await press(pilot, "enter")
        session = app.desk.session
        assert session is not None
        assert [take.answer for take in session.last_takes(1)] == [-3.1]
        assert [event["kind"] for event in session.walk.events].count("corrected") == 1


async def test_several_answers_are_ticked_by_digits(make_app: MakeApp, data: Path) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "o")
        tools = app.screen.query_one(ChoiceList)
        tools.focus()
        await press(pilot, "1", "2", "0", "1", "enter")
        assert app.settings.tools == ("CR", "MM", "IR")
        assert "page 2 of 2" in screen_text(app)


async def test_cautions_come_first_and_are_acknowledged_with_one_key(make_app: MakeApp) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "n", "enter")
        assert "KILLS: passing traffic" in screen_text(app)
        await press(pilot, "1")
        session = app.desk.session
        assert session is not None
        assert not session.walk.state.takes
        await press(pilot, "enter")
        assert session.walk.events[-1]["kind"] == "acknowledged"
        await press(pilot, "1")
        assert len(session.walk.state.takes) == 1


async def test_the_mouse_works_too(make_app: MakeApp) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "n", "enter", "enter")
        await pilot.click(ChoiceList, offset=(4, 0))
        await pilot.pause()
        session = app.desk.session
        assert session is not None
        assert len(session.walk.state.takes) == 1
        await pilot.click("#keys", offset=(24, 0))
        await pilot.pause()
        assert isinstance(app.screen, TextPage)
