"""Many ways to enter at a step: several numbers at once, a pasted log, taps, maker's figures, a wait."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from textual import events
from textual.pilot import Pilot
from textual.widgets import Input, TextArea

from engine.job import Job, JobCard
from engine.library import load_library, shipped_files
from engine.measured import Answer, Value
from engine.situation import Situation
from tests.tui.conftest import SIZES, MakeApp, press, type_text
from tests.tui.half_done import half_done
from tests.tui.screen_text import screen_text
from tui.app import LaybyApp
from tui.screens.countdown import CountdownPage
from tui.screens.figures import FigurePage, figures_missing
from tui.screens.paste import MatchesPage, PastePage, file_of, read_log
from tui.screens.step import StepScreen
from tui.screens.tap import TapPage
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


# ------------------------------------------------------------------------------------------ crossings

OWN = """\
format: 1
tree: own
kind: symptom
title: A tree of two steps, to enter in
complaints: [anything]
start: count
steps:
  count:
    title: Count the crossings
    do: Hold 2500 rpm.
    why: A lively sensor switches.
    wait: 30 s
    readings: [o2_b1s1_mean_idle, o2_b1s1_cross_2500]
    judge:
      - id: slow
        when: {o2_b1s1_cross_2500: {below: o2_cross_slow}}
        verdict: Slow
        grade: fail
        exit: ohms
      - otherwise: true
        verdict: Lively, or not read
        grade: inconclusive
        exit: ohms
    cannot: {say: Not counted., exit: ohms}
  ohms:
    title: Measure the heater
    do: Unplug it and measure.
    why: An open heater leaves the sensor cold.
    readings: [heater_ohms_b1s1]
    judge:
      - id: good
        when: {heater_ohms_b1s1: {at_least: heater_ohms_min, at_most: heater_ohms_max}}
        verdict: Good
        grade: ok
        exit: {conclude: heater}
      - otherwise: true
        verdict: Not good
        grade: inconclusive
        exit: {conclude: heater}
    cannot: {say: Not measured., exit: {conclude: heater}}
conclusions:
  heater:
    faults: [purge_stuck_open]
    strength: probable
    because: It was measured.
"""


def own_job(data: Path, *, rate: float | None = 10.0, at_ohms: bool = False) -> None:
    """Begin a job in the small tree above, at one of its steps."""
    library = load_library(files={**shipped_files(), "trees/symptoms/own.yaml": OWN.encode()})
    with Job.begin(
        data / "jobs", library, JobCard(car="van", complaint="hesitates"), clock=time.time, tree="own"
    ) as job:
        job.advance()
        if rate is not None:
            job.walk.take("kit_reader_rate", rate, how="told")
        if at_ohms:
            job.walk.cannot(None, "no time")
            job.advance()


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


async def count_to(pilot: Pilot[None], taps: int) -> None:
    """Start, tap so many times within ten seconds, and let the time run out."""
    page = pilot.app.screen
    assert isinstance(page, TapPage)
    clock = Clock()
    page.clock = clock
    await press(pilot, "space")
    assert "Enter starts first" in flat(pilot.app)  # type: ignore[arg-type]
    await press(pilot, "enter")
    for _ in range(taps):
        clock.now += 9.5 / taps
        await pilot.press("space")
    clock.now = 110.1
    page.tick()
    await pilot.pause()


@sizes
async def test_crossings_are_tapped_with_the_space_bar(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    own_job(data)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "escape", "k")
        await count_to(pilot, 14)
        assert "14 crossings in 10 s" in flat(app)
        await press(pilot, "enter")
        take = job_of(app).walk.state.takes[-1]
        assert (take.reading, take.answer) == ("o2_b1s1_cross_2500", 14.0)
        slots = app.screen.query_one(EntryTable).slots
        assert [slot.status for slot in slots] == ["open", "done"]


@sizes
async def test_the_rate_is_asked_once_and_a_slow_display_leaves_it_not_measurable(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    own_job(data, rate=None)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "escape", "k")
        assert isinstance(app.screen, FigurePage)
        figure = app.screen.query_one("#figure", Input)
        figure.value = "[/x] lots"
        await press(pilot, "enter")
        assert "Not taken" in flat(app)
        figure.value = "2"
        await press(pilot, "enter")
        await count_to(pilot, 9)
        assert "Cannot be judged: 2 values a second" in flat(app)
        await press(pilot, "enter")
        state = job_of(app).walk.state
        assert "at least 5 are needed" in state.cannot_readings["o2_b1s1_cross_2500"]
        assert [take.reading for take in state.takes] == ["kit_reader_rate"]


@sizes
async def test_a_recorded_column_of_volts_is_counted_too(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    own_job(data)
    rows = [f"{i / 10:.1f};{0.8 if i // 5 % 2 else 0.1}" for i in range(101)]
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "escape", "k", "v")
        app.screen.query_one(TextArea).text = "not volts [/x]"
        await press(pilot, "escape", "enter")
        assert "no volts in it" in flat(app)
        await press(pilot, "v")
        app.screen.query_one(TextArea).text = "\n".join(rows)
        await press(pilot, "escape", "enter")
        assert "101 values, 0.10 to 0.80 V" in flat(app)
        await press(pilot, "enter")
        answer = job_of(app).walk.state.takes[-1].answer
        assert isinstance(answer, float)
        assert answer == pytest.approx(20, abs=0.5)


async def test_where_nothing_crosses_the_key_says_so(make_app: MakeApp, data: Path) -> None:
    own_job(data, at_ohms=True)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "escape", "k")
        assert "No crossings are counted here" in flat(app)


# ------------------------------------------------------------------------------------------ maker's figures


@sizes
async def test_a_makers_figure_is_typed_and_the_limit_is_the_makers(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    own_job(data, at_ohms=True)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter")
        assert "maker's figure: not to hand" in flat(app)
        assert "rule of thumb" in flat(app)
        await press(pilot, "escape", "f", "1")
        assert isinstance(app.screen, FigurePage)
        figure = app.screen.query_one("#figure", Input)
        for nonsense in ("[/x]", "", "1e999", "-3"):
            figure.value = nonsense
            await press(pilot, "enter")
            assert "Not taken" in flat(app)
        figure.value = "4.5"
        await press(pilot, "enter")
        if app.screen.query_one(QuestionLine).has_focus:
            await press(pilot, "y")
        app.screen.query_one("#source", Input).value = "data sheet [b]7[/b]"
        await press(pilot, "enter")
        assert isinstance(app.screen, StepScreen)
        take = job_of(app).walk.state.takes[-1]
        assert take.reading.startswith("spec_heater_ohms_")
        assert (take.answer, take.how) == (4.5, "told")
        assert "source: data sheet [b]7[/b]" in job_of(app).walk.events[-1]["text"]
        beside = app.screen.query(".note").last()
        assert "maker's figure" in str(beside.render())


@sizes
async def test_a_figure_may_be_said_not_to_be_to_hand(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    own_job(data, at_ohms=True)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter", "escape", "f", "3")
        assert "Kept: the maker's figure is not to hand" in flat(app)
        known = job_of(app).walk.state.cannot_readings
        assert {"spec_heater_ohms_min", "spec_heater_ohms_max"} <= set(known)
        assert isinstance(app.screen, StepScreen)


def test_a_limit_without_a_general_figure_waits_for_the_makers() -> None:
    library = load_library()
    tree = library.tree("rich-running")
    step = tree.step("fuel-pressure", next(iter(tree.steps)))
    told = {"spec_fuel_pressure": Value("spec_fuel_pressure", 350.0)}
    assert [r.id for r in figures_missing(step, Situation(library.catalogue, {}))] == ["spec_fuel_pressure"]
    assert figures_missing(step, Situation(library.catalogue, told)) == ()


# ------------------------------------------------------------------------------------------ a wait


@sizes
async def test_the_step_stays_usable_while_the_time_runs_and_the_bell_rings(
    make_app: MakeApp, data: Path, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    own_job(data)
    rung: list[int] = []
    app = make_app()
    monkeypatch.setattr(app, "bell", lambda: rung.append(1))
    async with app.run_test(size=size) as pilot:
        await press(pilot, "enter")
        assert "May be entered meanwhile:" in flat(app)
        step = app.screen
        assert isinstance(step, StepScreen)
        clock = Clock()
        step.wait.clock = clock
        await press(pilot, "escape", "c")
        assert isinstance(app.screen, CountdownPage)
        await press(pilot, "enter")
        assert step.is_current
        clock.now += 10
        step.wait.tick()
        await pilot.pause()
        shown = screen_text(app)
        assert "20 left" in shown or "▇▇▇▇▇▇▇▇▇" in shown
        await press(pilot, "0", "full_stop", "4", "enter")
        assert answers(app)[-1] == 0.4
        assert not rung
        clock.now += 21
        step.wait.tick()
        step.wait.tick()
        await pilot.pause()
        assert "Time is up" in flat(app)
        assert rung == [1]
