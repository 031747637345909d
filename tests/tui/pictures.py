"""The README's pictures, made from the real screens: ``python -m tests.tui.pictures``.

Walks the demonstration job in a folder of its own and keeps a picture of each page in ``tui/pictures``. The
session number in the SVG is fixed, so that unchanged screens give unchanged files.
"""

from __future__ import annotations

import asyncio
import os
import re
import sys
import tempfile
from pathlib import Path

from textual.widgets import Input

from tui.app import LaybyApp
from tui.screens.end import EndScreen
from tui.screens.step import StepScreen
from tui.screens.verdict import VerdictScreen

FOLDER = Path(__file__).parents[2] / "tui" / "pictures"
SIZE = (110, 36)
NUMBERED = re.compile(r"terminal-\d+")


def keep(app: LaybyApp, name: str) -> None:
    """Write what the screen shows now."""
    svg = NUMBERED.sub("terminal-0", app.export_screenshot(title="layby"))
    (FOLDER / f"{name}.svg").write_text(svg, encoding="utf-8")
    sys.stdout.write(f"{name}.svg\n")


async def take_pictures(data: Path) -> None:
    """Drive the demonstration and keep the pages the README shows."""
    app = LaybyApp(data=data, shop=None, demo=False)
    async with app.run_test(size=SIZE) as pilot:

        async def press(key: str) -> None:
            await pilot.press(key)
            await app.workers.wait_for_complete()
            await pilot.pause()

        await pilot.pause()
        keep(app, "start")
        await press("d")
        kept: set[str] = set()
        for _ in range(120):
            session = app.desk.session
            title = session.walk.step().title if session is not None else ""
            screen = app.screen
            if isinstance(screen, StepScreen) and title.startswith("Trims") and "step" not in kept:
                await press("enter")
                await press("enter")
                keep(app, "step")
                kept.add("step")
            elif isinstance(screen, VerdictScreen) and "step" in kept and "verdict" not in kept:
                keep(app, "verdict")
                kept.add("verdict")
            elif isinstance(screen, EndScreen):
                keep(app, "conclusion")
                break
            await press("enter")


def main() -> int:
    """Make all pictures."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    os.environ["TEXTUAL_ANIMATIONS"] = "none"
    Input._toggle_cursor = lambda _: None  # type: ignore[method-assign]
    with tempfile.TemporaryDirectory() as folder:
        asyncio.run(take_pictures(Path(folder)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
