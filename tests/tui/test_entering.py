"""Many ways to enter at a step: several numbers at once, a pasted log, taps, maker's figures, a wait."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual import events
from textual.pilot import Pilot
from textual.widgets import TextArea

from engine.measured import Answer
from tests.tui.conftest import SIZES, MakeApp, press, type_text
from tests.tui.half_done import half_done
from tests.tui.screen_text import screen_text
from tui.app import LaybyApp
from tui.screens.paste import MatchesPage, PastePage, file_of, read_log
from tui.screens.step import StepScreen
from tui.screens.verdict import VerdictScreen
from tui.session import JobSession
from tui.widgets.entries import EntryTable, Field
from tui.widgets.question import QuestionLine
from tui.widgets.rows import several_numbers

TRIMS = "Trims at idle and at 2500 rpm"
sizes = pytest.mark.parametrize("size", SIZES)


def job_of(app: LaybyApp) -> JobSession:
    """Return the open job."""
    assert app.desk.session is not None
    return app.desk.session


def answers(app: LaybyApp, after: int = 0) -> list[Answer]:
    """Return the answers on disk after the first *after*."""
    return [take.answer for take in job_of(app).walk.state.takes][after:]


def flat(app: LaybyApp) -> str:
    """Return what stands in the middle of the screen, with one blank between words."""
    rows = [row.split("│") for row in screen_text(app).splitlines()]
    return " ".join(" ".join(row[1] if len(row) >= 3 else row[0] for row in rows).split())


async def enter_text(pilot: Pilot[None], text: str) -> None:
    """Put a text into the field at hand and press Enter."""
    field = pilot.app.screen.focused
    assert isinstance(field, Field)
    field.value = text
    await press(pilot, "enter")


# ------------------------------------------------------------------------------------------ a row at once


@pytest.mark.parametrize(
    ("typed", "numbers"),
    [
        ("-8.6 -9.4 -1.6 -3.1", ("-8.6", "-9.4", "-1.6", "-3.1")),
        ("-8,6;-9,4", ("-8,6", "-9,4")),
        ("-8.6\t-9.4 %", ("-8.6", "-9.4 %")),
        (" 5 ;; 6 ", ("5", "6")),
        ("2.5 bar", ()),
        ("-7,5", ()),
        ("1 200", ()),
        ("1,200", ()),
        ("5 %", ()),
        ("5 lots", ()),
        (";", ()),
        ("", ()),
    ],
)
def test_only_what_is_surely_several_numbers_is_parted(typed: str, numbers: tuple[str, ...]) -> None:
    assert several_numbers(typed) == numbers


@sizes
@pytest.mark.parametrize("typed", ["-8.6 -9.4 -1.6 -3.1", "-8,6; -9,4; -1,6; -3,1", "-8.6\t-9.4\t-1.6\t-3.1"])
async def test_several_numbers_fill_the_row_and_then_the_next(
    make_app: MakeApp, data: Path, size: tuple[int, int], typed: str
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "enter")
        before = len(answers(app))
        field = app.screen.focused
        assert isinstance(field, Field)
        field.value = typed
        await pilot.pause()
        assert "= -8.6 %; -9.4 %; -1.6 %; -3.1 % Enter takes it" in flat(app)
        assert len(answers(app)) == before
        await press(pilot, "enter")
        assert answers(app, before) == [-8.6, -9.4, -1.6, -3.1]
        takes = job_of(app).walk.state.takes[before:]
        assert [take.reading for take in takes] == [
            "stft_b1_idle", "ltft_b1_idle", "stft_b1_2500", "ltft_b1_2500",
        ]  # fmt: skip
        assert isinstance(app.screen, VerdictScreen)


@sizes
async def test_too_many_numbers_are_one_line_and_nothing_is_taken(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "enter")
        before = len(answers(app))
        await enter_text(pilot, "1 2 3 4 5")
        assert "Nothing taken: 5 numbers, but 4 fields are left from here on. Write 4." in flat(app)
        assert len(answers(app)) == before


@sizes
async def test_a_question_halts_the_rest_and_an_answer_lets_it_go_on(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "enter")
        before = len(answers(app))
        await enter_text(pilot, "-8.6 -60 -1.6")
        assert app.screen.query_one(QuestionLine).has_focus
        assert answers(app, before) == [-8.6]
        await press(pilot, "n")
        assert "The 1 after it: not taken either" in flat(app)
        assert answers(app, before) == [-8.6]
        await enter_text(pilot, "-60 -1.6")
        await press(pilot, "y")
        assert answers(app, before) == [-8.6, -60.0, -1.6]
        assert [take.flagged for take in job_of(app).walk.state.takes[before:]] == [False, True, False]


async def test_a_refused_number_keeps_those_after_it_out(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        before = len(answers(app))
        await enter_text(pilot, "-8.6 4000 -1.6 -3.1")
        assert answers(app, before) == [-8.6]
        assert "Not taken: 4000 % cannot be" in flat(app)
        assert "The 2 after it: not taken either" in flat(app)
        slots = app.screen.query_one(EntryTable).slots
        assert app.screen.focused is slots[1].control
        await enter_text(pilot, "-8.6 lots")
        assert answers(app, before) == [-8.6]


async def test_pasted_lines_and_columns_go_into_one_field(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        before = len(answers(app))
        field = app.screen.focused
        assert isinstance(field, Field)
        field.post_message(events.Paste("-8,6\t-9,4\r\n-1,6\t-3,1\n"))
        await pilot.pause()
        assert field.value == "-8,6; -9,4; -1,6; -3,1"
        await press(pilot, "enter")
        assert answers(app, before) == [-8.6, -9.4, -1.6, -3.1]


# ------------------------------------------------------------------------------------------ a pasted block

BLOCK = """\
Short term fuel trim bank 1 (%)\t-8.6
Long term fuel trim bank 1 (%)\t-9.4
Cabin lamp [/x]\ton
"""


async def paste(pilot: Pilot[None], text: str) -> None:
    """Open the page at idle, paste a text and read it."""
    await press(pilot, "escape", "p", "1")
    assert isinstance(pilot.app.screen, PastePage)
    area = pilot.app.screen.query_one(TextArea)
    area.post_message(events.Paste(text))
    await pilot.pause()
    await press(pilot, "escape", "enter")


@sizes
async def test_a_pasted_block_is_confirmed_value_by_value(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "enter")
        before = len(answers(app))
        await paste(pilot, BLOCK)
        assert isinstance(app.screen, MatchesPage)
        shown = flat(app)
        assert "Found in the block: 1 of 2" in shown
        assert "= -8.6 %" in shown
        assert "line 1: Short term fuel trim bank 1 (%) -8.6" in shown
        assert "Not used" in shown
        assert "Cabin lamp [/x]" in shown
        assert answers(app, before) == []
        await press(pilot, "s", "enter")
        assert "1 taken, 1 skipped" in flat(app)
        assert answers(app, before) == [-9.4]
        await press(pilot, "enter")
        table = app.screen.query_one(EntryTable)
        assert [slot.status for slot in table.slots] == ["open", "done", "open", "open"]
        assert app.screen.focused is table.slots[0].control


@sizes
async def test_a_log_file_is_read_by_its_path(make_app: MakeApp, data: Path, size: tuple[int, int]) -> None:
    half_done(data, TRIMS, demo=False)
    log = data / "trims.txt"
    log.write_bytes(BLOCK.encode())
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "enter", "escape", "p", "1")
        before = len(answers(app))
        area = app.screen.query_one(TextArea)
        area.text = str(data / "nothing.txt")
        await press(pilot, "enter")
        assert "no file" in flat(app)
        area.text = str(log)
        await press(pilot, "enter")
        assert isinstance(app.screen, MatchesPage)
        await press(pilot, "enter", "enter", "enter")
        assert answers(app, before) == [-8.6, -9.4]
        assert isinstance(app.screen, StepScreen)


@sizes
@pytest.mark.parametrize("text", ["[@click=app.quit]x[/] \x1b[31m\n\n;;;\t", "a,b,c\n1,2\n", "\u202e = lots"])
async def test_a_block_of_nonsense_takes_nothing_and_says_so(
    make_app: MakeApp, data: Path, size: tuple[int, int], text: str
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "enter")
        before = len(answers(app))
        await paste(pilot, text)
        assert isinstance(app.screen, MatchesPage)
        assert "Nothing found that is asked here" in flat(app)
        await press(pilot, "s", "7", "enter")
        assert isinstance(app.screen, StepScreen)
        assert answers(app, before) == []


async def test_an_unlikely_value_in_a_block_needs_its_digit(make_app: MakeApp, data: Path) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        before = len(answers(app))
        await paste(pilot, "Short term fuel trim bank 1 (%)\t-60\nCabin lamp\ton\n")
        await press(pilot, "enter")
        assert answers(app, before) == []
        assert "press the digit" in flat(app)
        await press(pilot, "9", "1")
        assert answers(app, before) == [-60.0]
        assert job_of(app).walk.state.takes[-1].flagged


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"\x00\x01\x02", "holds no text"), (None, "no file"), (b"\xff\xfea\x00", "")],
)
def test_files_that_are_no_logs_are_told(tmp_path: Path, content: bytes | None, said: str) -> None:
    path = tmp_path / "x.log"
    if content is not None:
        path.write_bytes(content)
    text, problem = read_log(path)
    assert said in problem
    assert bool(text) is not bool(said)


def test_a_name_with_a_value_is_no_path() -> None:
    assert file_of("STFT: -8.6") is None
    assert file_of("/tmp/a.csv") == Path("/tmp/a.csv")
    assert file_of("a.csv\nb") is None
    assert file_of("") is None


# ------------------------------------------------------------------------------------------ limits


@sizes
async def test_beside_a_total_stands_its_good_band_alone(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, TRIMS, demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "enter")
        await type_text(pilot, "-8.6")
        await press(pilot, "enter")
        assert isinstance(app.screen, StepScreen)
        shown = flat(app)
        assert "good -5.0 … +5.0 %" in shown
        assert "limits" not in shown
        assert "Limits: rule of thumb" in shown
