"""The two themes: *day* for bright sun, *night* for the dark. Neither says anything by colour alone."""

from __future__ import annotations

from textual.theme import Theme

DAY = Theme(
    name="day",
    primary="#003a70",
    secondary="#003a70",
    accent="#003a70",
    warning="#6b3a00",
    error="#8a0000",
    success="#00491d",
    foreground="#000000",
    background="#ffffff",
    surface="#f2f2f2",
    panel="#e0e0e0",
    boost="#d4d4d4",
    dark=False,
    text_alpha=1.0,
    variables={
        "input-cursor-background": "#000000",
        "input-cursor-foreground": "#ffffff",
        "input-selection-background": "#9cc4f0",
        "field": "#e4e4e4",
        "field-now": "#ffe9a8",
        "quiet": "#3d3d3d",
    },
)
NIGHT = Theme(
    name="night",
    primary="#ffb454",
    secondary="#ffb454",
    accent="#ffb454",
    warning="#ffd479",
    error="#ff9c8f",
    success="#a6e3a1",
    foreground="#e8e6e1",
    background="#0f1112",
    surface="#1a1d1f",
    panel="#25292c",
    boost="#2e3336",
    dark=True,
    text_alpha=1.0,
    variables={
        "input-cursor-background": "#ffb454",
        "input-cursor-foreground": "#0f1112",
        "input-selection-background": "#5a4520",
        "field": "#25292c",
        "field-now": "#4a3a1a",
        "quiet": "#b3b0a8",
    },
)
THEMES = {theme.name: theme for theme in (DAY, NIGHT)}
