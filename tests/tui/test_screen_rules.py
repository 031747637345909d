"""Rules that hold on every screen: hostile text, colours, signs, focus, imports."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from textual.app import App
from textual.screen import Screen

from engine.job_files import DataFolders
from tests.tui.conftest import SIZES, MakeApp, press, type_text
from tests.tui.half_done import half_done
from tests.tui.screen_text import screen_rows, screen_text
from tui.app import LaybyApp
from tui.screens.card import CardScreen
from tui.screens.countdown import CountdownPage, clock_words, large
from tui.screens.end import EndScreen
from tui.screens.options import OptionsScreen
from tui.screens.start import StartScreen
from tui.screens.step import StepScreen
from tui.settings import Settings, load_settings, save_settings
from tui.text import ASCII, choose_signs, cut, plain, signs, width
from tui.themes import DAY, NIGHT
from tui.widgets.chart import explained, trim_lines
from tui.widgets.lines import KeyLine

HOSTILE = "[/x] [b]red[/b] [@click=app.quit]go[/] [K12] \x1b[31mred\x07 \u202egnp $a"
REPO = Path(__file__).parents[2]


def soundly_drawn(app: LaybyApp) -> None:
    """Something has the focus and the last line fits."""
    assert app.screen.focused is not None, str(app.screen)
    for keys in app.screen.query(KeyLine):
        assert keys.max_scroll_x == 0
    rows = screen_rows(app)
    assert all(width(row) <= app.size.width for row in rows)
    assert rows[-1].strip()


@pytest.mark.parametrize("size", SIZES)
async def test_hostile_text_is_inert_on_every_screen(
    make_app: MakeApp, data: Path, tmp_path: Path, size: tuple[int, int]
) -> None:
    half_done(data, "Clamp the hose [/x]", demo=False, tree="small", car=HOSTILE, complaint=HOSTILE)
    app = make_app()
    async with app.run_test(size=size, notifications=True) as pilot:
        await pilot.pause()
        assert "[/x] [b]red[/b]" in screen_text(app)
        await press(pilot, "enter")
        shown = screen_text(app)
        assert "Clamp the hose [/x]" in shown
        assert "[@click=app.quit]link[/]" in shown
        await press(pilot, "enter", "escape")
        for key in "whsl":
            await press(pilot, key)
            soundly_drawn(app)
            await press(pilot, "escape")
        await press(pilot, "n")
        app.screen.query_one("#line").value = HOSTILE  # type: ignore[attr-defined]
        await press(pilot, "enter", "x", "2", "6")
        app.screen.query_one("#line").value = HOSTILE  # type: ignore[attr-defined]
        await press(pilot, "enter")
        soundly_drawn(app)
        await press(pilot, "m", "1")
        app.screen.query_one("#line").value = HOSTILE  # type: ignore[attr-defined]
        await press(pilot, "enter", "l", "1", "escape", "e")
        assert "[K12]" in screen_text(app) or "K12" in screen_text(app)
        await press(pilot, "escape", "q", "f")
        app.screen.query_one("#line").value = HOSTILE  # type: ignore[attr-defined]
        await press(pilot, "enter")
        assert isinstance(app.screen, StartScreen)
        assert app.is_running
        assert "\x1b" not in screen_text(app)


@pytest.mark.parametrize("size", [(60, 20), (200, 60)])
async def test_smaller_and_larger_terminals_are_whole_too(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, "Pinch the purge hose", demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        soundly_drawn(app)
        await press(pilot, "enter", "enter")
        soundly_drawn(app)
        assert isinstance(app.screen, StepScreen)


@pytest.mark.parametrize("size", SIZES)
async def test_every_page_has_a_focus_and_a_last_line_that_fits(
    make_app: MakeApp, data: Path, size: tuple[int, int]
) -> None:
    half_done(data, "Pinch the purge hose", demo=False)
    app = make_app()
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        soundly_drawn(app)
        for key, kind in (("n", CardScreen), ("o", OptionsScreen)):
            await press(pilot, key)
            assert isinstance(app.screen, kind)
            soundly_drawn(app)
            await press(pilot, "tab", "tab")
            soundly_drawn(app)
            await press(pilot, "escape")
            assert isinstance(app.screen, StartScreen)
        for key in ("question_mark", "f"):
            await press(pilot, key)
            soundly_drawn(app)
            await press(pilot, "escape")
        await press(pilot, "enter", "enter", "escape")
        assert isinstance(app.screen, StepScreen)
        for key in ("question_mark", "w", "h", "l", "s", "n", "m", "x", "b", "e"):
            await press(pilot, key)
            soundly_drawn(app)
            await press(pilot, "escape", "escape")
            assert isinstance(app.screen, StepScreen), key


async def test_text_columns_stop_at_76(make_app: MakeApp, data: Path) -> None:
    half_done(data, demo=False)
    app = make_app()
    async with app.run_test(size=(200, 60)) as pilot:
        await press(pilot, "enter")
        assert isinstance(app.screen, EndScreen)
        assert app.screen.query_one("#end").size.width <= 76
        assert app.screen.query_one("#left").display
        assert app.screen.query_one("#right").display


async def test_no_color_keeps_every_word(
    make_app: MakeApp, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    half_done(data, "Pinch the purge hose", demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter")
        coloured = set(re.findall(r"fill: (#[0-9a-f]{6})", app.export_screenshot()))
        grey = {colour for colour in coloured if len({colour[1:3], colour[3:5], colour[5:7]}) == 1}
        window = {"#292929", "#ff5f57", "#febc2e", "#28c840"}
        assert coloured - window <= grey | {"#c5c8c6"}, "with NO_COLOR only greys are drawn"
        shown = screen_text(app)
        assert "IGNITES" in shown
        assert "first" in shown
        assert not any(name.startswith("ansi") for name in app.available_themes)


def test_themes_are_readable() -> None:
    """Contrast of at least 7 to 1 in both themes for text and quiet text.

    Source: WCAG 2.2, success criterion 1.4.6 and the definition of relative luminance; from memory.
    """

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    def contrast(one: str, other: str) -> float:
        light, dark = sorted((luminance(one), luminance(other)), reverse=True)
        return (light + 0.05) / (dark + 0.05)

    for theme in (DAY, NIGHT):
        assert theme.background is not None
        for colour in (theme.foreground, theme.primary, theme.warning, theme.error, theme.variables["quiet"]):
            assert colour is not None
            assert contrast(colour, theme.background) >= 7.0, (theme.name, colour)
        assert theme.foreground is not None
        for field in ("field", "field-now"):
            assert contrast(theme.foreground, theme.variables[field]) >= 7.0, (theme.name, field)


async def test_the_day_theme_is_kept(make_app: MakeApp, data: Path) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await press(pilot, "o", "1")
        assert app.theme == "day"
    again = make_app()
    assert again.settings.theme == "day"


async def test_units_of_the_van_hold_for_bare_numbers(make_app: MakeApp, data: Path) -> None:
    save_settings(DataFolders(data).settings, Settings(units={"°C": "°F"}))
    half_done(data, "Warm it up, and does it know?", demo=False)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter")
        assert "°F" in screen_text(app)
        await type_text(pilot, "195")
        await press(pilot, "enter")
        session = app.desk.session
        assert session is not None
        taken = session.walk.state.takes[-1].answer
        assert isinstance(taken, float)
        assert abs(taken - 90.556) < 0.01


@pytest.mark.parametrize(
    "content",
    [b"[]", b"{", b'{"theme": 5, "units": [1], "tools": "x", "confidence": "high"}', b"\xff\xfe"],
)
def test_broken_settings_count_as_none(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "settings.json"
    path.write_bytes(content)
    settings, _ = load_settings(path)
    assert settings.theme == "night"
    assert settings.confidence == 0.95


def test_signs_have_stand_ins_where_the_terminal_knows_no_more() -> None:
    try:
        assert choose_signs("ascii") is ASCII
        assert plain("91 °C ± 2 Ω ≤ 5…").isascii()
        assert all(sign.isascii() for sign in (signs().bar, signs().tick, signs().pointer, signs().rule))
        assert all(line.isascii() for line in large("1:30"))
    finally:
        choose_signs("utf-8")


def test_cut_counts_cells() -> None:
    assert cut("abcdef", 6) == "abcdef"
    assert cut("abcdefg", 6) == "abc..."
    assert width(cut("日本語日本語", 7)) <= 7


def test_large_figures_are_tall() -> None:
    lines = large("30")
    assert len(lines) == 10
    assert max(map(len, lines)) >= 24
    assert clock_words(75) == "1:15"
    assert clock_words(9) == "9"


def test_the_drawing_of_trims_names_its_points_and_what_explains_them() -> None:
    points = [
        {"bank": "b1", "state": "idle", "trim": 20.0, "air": 3.0},
        {"bank": "b1", "state": "2500", "trim": 5.0, "air": 12.0},
    ]
    lines = trim_lines(points, 74)
    assert any("+20.0" in line and "idle" in line for line in lines)
    assert any("limit" in line for line in lines)
    assert lines[-1].endswith("air, g/s")
    assert all(len(line) <= 74 for line in lines)
    # By hand: 0.15 = x (1/3 - 1/12), so x = 0.6 g/s of air past the meter.
    assert "0.60 g/s past the meter" in explained(points)
    assert "mm" in explained(points)
    assert trim_lines(points[:1], 74) == []
    rich = [{**points[0], "trim": -20.0}, {**points[1], "trim": -5.0}]
    assert "Extra fuel or vapour" in explained(rich)


async def test_the_countdown_rings_once(
    make_app: MakeApp, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rung: list[bool] = []
    monkeypatch.setattr(App, "bell", lambda _: rung.append(True))
    half_done(data, "Clamp the hose [/x]", demo=False, tree="small")
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "enter", "escape", "c")
        assert isinstance(app.screen, CountdownPage)
        await pilot.pause(2.6)
        assert "Time is up" in screen_text(app)
        await pilot.pause(0.6)
        assert rung == [True]
        await press(pilot, "enter")
        assert isinstance(app.screen, StepScreen)


def test_our_screens_take_no_name_that_the_base_class_uses() -> None:
    """An attribute of the framework that is overwritten by accident fails in ways hard to see."""
    ours = [StepScreen, EndScreen, StartScreen, CardScreen, OptionsScreen, CountdownPage]
    wanted = {
        "AUTO_FOCUS", "BINDINGS", "compose", "on_mount", "on_key", "on_resize", "on_screen_resume", "app",
        "on_descendant_focus",
    }  # fmt: skip
    base = set(dir(Screen))
    for kind in ours:
        for parent in kind.__mro__:
            if not parent.__module__.startswith("tui."):
                continue
            taken = {name for name in vars(parent) if name in base and not name.startswith("__")}
            taken = {
                name for name in taken if not name.startswith(("_css", "_merged", "_inherit", "_decorated"))
            }
            allowed = (
                wanted
                | {"_computes", "_reactives", "_default_css", "_get_default_css"}
                | {"can_focus", "can_focus_children"}
            )
            assert taken <= allowed, (parent, taken - allowed)


def fresh(code: str) -> str:
    """Run code in a fresh interpreter and return what it prints."""
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=REPO, capture_output=True, text=True, timeout=60, check=True
    )
    return done.stdout.strip()


def test_the_command_imports_no_screen() -> None:
    code = (
        "import sys, tui.cli; print(sorted(m for m in sys.modules if m.split('.')[0] in ('textual', 'rich')))"
    )
    assert fresh(code) == "[]"


def test_the_start_page_is_painted_before_anything_heavy_is_imported(tmp_path: Path) -> None:
    code = f"""
import asyncio, sys
from pathlib import Path
from tui.app import LaybyApp
heavy = ("jsonschema", "numpy", "pint", "scipy")
def watch(self):
    self.seen = [name for name in heavy if name in sys.modules]
    self.screen_then = type(self.screen).__name__
LaybyApp._after_first_paint = watch
async def main():
    app = LaybyApp(data=Path({str(tmp_path)!r}))
    async with app.run_test() as pilot:
        await pilot.pause()
        print(app.screen_then, app.seen, "engine.library" in sys.modules)
asyncio.run(main())
"""
    assert fresh(code) == "StartScreen [] False"
