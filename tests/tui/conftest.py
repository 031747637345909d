"""A real app on a data folder of its own, without blinking, animations or the person's settings."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input

from tui.app import LaybyApp

SIZES = [(80, 24), (120, 40)]
MakeApp = Callable[..., LaybyApp]


@pytest.fixture(autouse=True)
def _still(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Nothing blinks or moves, and no folder of the person's own is used."""
    monkeypatch.setattr(Input, "_toggle_cursor", lambda _: None)
    monkeypatch.setenv("TEXTUAL_ANIMATIONS", "none")
    monkeypatch.setenv("LAYBY_DATA", str(tmp_path / "elsewhere"))
    for name in ("NO_COLOR", "TEXTUAL_THEME", "COLORTERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data folder."""
    return tmp_path / "data"


@pytest.fixture
def make_app(data: Path) -> MakeApp:
    """Make an app on the data folder."""

    def make(**given: object) -> LaybyApp:
        return LaybyApp(data=data, **given)  # type: ignore[arg-type]

    return make


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Press keys one after the other, each once the one before has taken effect."""
    for key in keys:
        await pilot.press(key)
        if len(pilot.app.workers):
            await pilot.app.workers.wait_for_complete()
        await pilot.pause()


async def type_text(pilot: Pilot[None], text: str) -> None:
    """Type a text into the field that has the focus."""
    names = {
        " ": "space", ".": "full_stop", ",": "comma", "-": "minus", "/": "slash", "[": "left_square_bracket",
        "]": "right_square_bracket", "=": "equals_sign", "'": "apostrophe", "(": "left_parenthesis",
        ")": "right_parenthesis", "@": "at", "%": "percent_sign", "$": "dollar_sign", "<": "less_than_sign",
        ">": "greater_than_sign", ":": "colon", "#": "number_sign",
    }  # fmt: skip
    await pilot.press(*(names.get(sign, sign) for sign in text))
    await pilot.pause()


async def press_until(
    pilot: Pilot[None], kind: type[Screen[None]], *, key: str = "enter", most: int = 90
) -> None:
    """Press a key until a screen of this kind shows."""
    for _ in range(most):
        if isinstance(pilot.app.screen, kind):
            return
        await press(pilot, key)
    raise AssertionError(f"{kind.__name__} never came; at {pilot.app.screen}")
