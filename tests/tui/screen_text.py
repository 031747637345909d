"""The screen as plain rows, read from the public screenshot."""

from __future__ import annotations

import html
import re
from typing import Any

from textual.app import App

_TEXT = re.compile(
    r'<text[^>]*? x="([\d.]+)"[^>]*?clip-path="url\(#[^)]*-line-(\d+)\)"[^>]*>(.*?)</text>', re.DOTALL
)
CELL = 12.2
"""Width of a cell in the screenshot's own units."""


def screen_rows(app: App[Any]) -> list[str]:
    """Return what stands on the screen, row by row."""
    width, height = app.size
    rows = [[" "] * width for _ in range(height)]
    for x, line, text in _TEXT.findall(app.export_screenshot()):
        place = round(float(x) / CELL)
        for offset, sign in enumerate(html.unescape(text).replace("\xa0", " ")):
            if int(line) < height and place + offset < width:
                rows[int(line)][place + offset] = sign
    return ["".join(row).rstrip() for row in rows]


def screen_text(app: App[Any]) -> str:
    """Return what stands on the screen as one text."""
    return "\n".join(screen_rows(app))
