"""Options of this van: theme, units of a bare number, tools, confidence."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Static

from tui.keys import Key
from tui.settings import CONFIDENCES, QUANTITY_WORDS, UNITS
from tui.text import content
from tui.widgets.choices import ChoiceList
from tui.widgets.cycle import Cycle
from tui.widgets.lines import HeadLine, KeyLine

if TYPE_CHECKING:
    from tui.app import LaybyApp

TOOLS = (
    ("CR", "code reader with live data"), ("MM", "multimeter"), ("OS", "oscilloscope"),
    ("CL", "current clamp"),
    ("GA", "five-gas analyser"), ("FG", "fuel-pressure gauge"), ("VG", "vacuum gauge"),
    ("BG", "exhaust back-pressure gauge"), ("SM", "smoke machine"), ("IR", "thermometer"),
    ("CG", "compression and leak-down gauge"), ("PR", "metered propane"), ("SB", "clear sample bottle"),
)  # fmt: skip


class OptionsScreen(Screen[None]):
    """The options; each holds as soon as it is changed."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "close", show=False),
        Binding("down", "app.focus_next", show=False),
        Binding("up", "app.focus_previous", show=False),
    ]
    AUTO_FOCUS = "#theme"
    KEYS: ClassVar[tuple[Key, ...]] = (
        Key("down", "next line", "app.focus_next"),
        Key("space", "change", "turn"),
        Key("escape", "back, kept", "close"),
    )

    app: LaybyApp

    def compose(self) -> ComposeResult:
        """Lay out one line an option."""
        settings = self.app.settings
        yield HeadLine("layby: options", "kept at once", id="head")
        with VerticalScroll(id="body", can_focus=False):
            yield Cycle(
                "Theme",
                (("day", "day, for bright sun"), ("night", "night")),
                value=settings.theme,
                id="theme",
            )
            yield Cycle(
                "Confidence asked",
                [(str(level), f"{100 * level:.0f} %") for level in CONFIDENCES],
                value=str(settings.confidence),
                id="confidence",
            )
            for unit, units in UNITS.items():
                label = f"A bare {QUANTITY_WORDS[unit]} is"
                name = f"unit-{list(UNITS).index(unit)}"
                yield Cycle(label, [(one, one) for one in units], value=settings.unit(unit), id=name)
            yield Static(
                content("Tools on this van (digits tick, 0 turns the page)"),
                classes="card-head",
                markup=False,
            )
            yield ChoiceList(TOOLS, several=True, start=settings.tools, id="tools")
            yield Static("", id="problem", markup=False)
        yield KeyLine(self.KEYS, id="keys")

    @on(Cycle.Turned)
    def _turned(self, event: Cycle.Turned) -> None:
        event.stop()
        settings, cycle = self.app.settings, event.cycle
        if cycle.id == "theme":
            settings = replace(settings, theme=cycle.value)
        elif cycle.id == "confidence":
            settings = replace(settings, confidence=float(cycle.value))
        else:
            unit = list(UNITS)[int(str(cycle.id).removeprefix("unit-"))]
            settings = settings.with_unit(unit, cycle.value)
        self._keep(settings)

    def _keep(self, settings: object) -> None:
        problem = self.app.keep_settings(settings)  # type: ignore[arg-type]
        self.query_one("#problem", Static).update(content(problem))

    @on(ChoiceList.Picked)
    def _picked(self, event: ChoiceList.Picked) -> None:
        event.stop()
        self._keep(replace(self.app.settings, tools=event.values))

    def action_turn(self) -> None:
        """Change the line at hand."""
        if isinstance(self.focused, Cycle):
            self.focused.action_turn(1)

    def action_close(self) -> None:
        """Keep the tools too and go back."""
        tools = self.query_one("#tools", ChoiceList)
        kept = tuple(value for value, _ in tools.options if value in tools.marked)
        self._keep(replace(self.app.settings, tools=kept))
        self.app.show_start()
