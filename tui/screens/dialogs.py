"""Small pages over a screen: a text to read, a list to pick from, a line to write."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from tui.keys import Key
from tui.text import content, stacked
from tui.widgets.choices import ChoiceList
from tui.widgets.lines import KeyLine

_CLOSE = Key("escape", "close", "close", "Close this page")
_PAGE = Key("pagedown", "page", "page_down")


class TextPage(ModalScreen[None]):
    """A text to read; Esc or Enter closes it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter,q", "close", show=False),
        Binding("pagedown,space", "page_down", show=False),
        Binding("pageup", "page_up", show=False),
    ]
    AUTO_FOCUS = "#text"

    def __init__(self, title: str, lines: Sequence[Content]) -> None:
        super().__init__(classes="page")
        self.heading = title
        self.lines_shown = lines

    def compose(self) -> ComposeResult:
        """Lay out heading, text and keys."""
        with Vertical(classes="sheet"):
            yield Static(content(self.heading, "bold"), classes="sheet-title", markup=False)
            with VerticalScroll(id="text", can_focus=True):
                yield Static(stacked(list(self.lines_shown)), classes="sheet-text", markup=False)
            yield KeyLine((Key("enter", "close", "close"), _PAGE), id="keys")

    def action_close(self) -> None:
        """Close."""
        self.dismiss(None)

    def action_page_down(self) -> None:
        """Turn on."""
        self.query_one("#text", VerticalScroll).scroll_page_down(animate=False)

    def action_page_up(self) -> None:
        """Turn back."""
        self.query_one("#text", VerticalScroll).scroll_page_up(animate=False)


class PickPage(ModalScreen[str | None]):
    """A list to pick one entry from; Esc picks none."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "close", show=False)]
    AUTO_FOCUS = "ChoiceList"

    def __init__(self, title: str, options: Sequence[tuple[str, str]], *, note: str = "") -> None:
        super().__init__(classes="page")
        self.heading = title
        self.options = options
        self.note = note

    def compose(self) -> ComposeResult:
        """Lay out heading, list and keys."""
        with Vertical(classes="sheet"):
            yield Static(content(self.heading, "bold"), classes="sheet-title", markup=False)
            if self.note:
                yield Static(content(self.note), classes="sheet-note", markup=False)
            with VerticalScroll(can_focus=False):
                yield ChoiceList(self.options, start=(self.options[0][0],))
            yield KeyLine((Key("enter", "take", "take"), _CLOSE), id="keys")

    @on(ChoiceList.Picked)
    def _picked(self, event: ChoiceList.Picked) -> None:
        event.stop()
        self.dismiss(event.values[0])

    def action_take(self) -> None:
        """Take what the pointer shows."""
        self.query_one(ChoiceList).action_take()

    def action_close(self) -> None:
        """Pick nothing."""
        self.dismiss(None)


class WritePage(ModalScreen[str | None]):
    """One line to write; Enter keeps it, Esc drops it."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "close", show=False)]
    AUTO_FOCUS = "#line"

    def __init__(
        self,
        title: str,
        *,
        note: str = "",
        value: str = "",
        hint: str = "",
        problem_of: Callable[[str], str] | None = None,
    ) -> None:
        """Take what to ask.

        Args:
            title: what is asked.
            note: a sentence under it.
            value: what stands in the field.
            hint: what stands in an empty field.
            problem_of: says what is wrong with a text, or nothing.
        """
        super().__init__(classes="page")
        self.heading, self.note, self.value, self.hint = title, note, value, hint
        self.problem_of = problem_of

    def compose(self) -> ComposeResult:
        """Lay out heading, field and keys."""
        with Vertical(classes="sheet"):
            yield Static(content(self.heading, "bold"), classes="sheet-title", markup=False)
            if self.note:
                yield Static(content(self.note), classes="sheet-note", markup=False)
            yield Input(
                self.value,
                placeholder=self.hint,
                compact=True,
                id="line",
                max_length=2000,
                classes="wide-field",
            )
            yield Static("", id="problem", markup=False)
            yield KeyLine((Key("enter", "keep", "keep"), Key("escape", "drop", "close")), id="keys")

    @on(Input.Submitted, "#line")
    def _submitted(self, event: Input.Submitted) -> None:
        event.stop()
        problem = self.problem_of(event.value) if self.problem_of is not None else ""
        if problem:
            self.query_one("#problem", Static).update(content(f"! {problem}"))
            return
        self.dismiss(event.value)

    async def action_keep(self) -> None:
        """Keep the text."""
        await self.query_one("#line", Input).action_submit()

    def action_close(self) -> None:
        """Drop the text."""
        self.dismiss(None)
