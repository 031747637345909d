"""The start page: open jobs, and what can be begun."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from tui.keys import Key, bindings
from tui.text import age, content, cut, padded, signs, stacked
from tui.widgets.lines import HeadLine, KeyLine

if TYPE_CHECKING:
    from engine.journal.card import Card
    from tui.app import LaybyApp

KEYS = (
    Key("enter", "open", "open", "Open the job the pointer shows; its digit does it too"),
    Key("n", "new job", "new", "Begin a job; Enter on the card goes straight to the first question"),
    Key("d", "demo", "demo", "A job with an invented car whose answers are at hand"),
    Key("f", "find", "find", "Find a job by car, complaint or date"),
    Key("o", "options", "options", "Theme, units, tools, confidence"),
    Key("question_mark", "help", "help", "This page"),
    Key("q", "quit", "app.quit", "End layby"),
)


class JobRows(Widget, can_focus=True):
    """The jobs, one line each; a digit opens one of the first nine."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
    ]

    class Opened(Message):
        """A job was picked by its digit or with the mouse."""

    def __init__(self, cards: Sequence[Card]) -> None:
        super().__init__(id="jobs")
        self.cards = tuple(cards)
        self.at = 0

    def on_mount(self) -> None:
        """Take the room the jobs need."""
        self.styles.height = max(len(self.cards), 1)

    def show(self, cards: Sequence[Card]) -> None:
        """Show other jobs."""
        self.cards, self.at = tuple(cards), 0
        self.styles.height = max(len(self.cards), 1)
        self.refresh()

    def render(self) -> Content:
        """Draw the rows."""
        if not self.cards:
            return content("  none yet: n begins one, d shows how it goes", "$quiet")
        return stacked([self._row(i, card) for i, card in enumerate(self.cards)])

    def _row(self, i: int, card: Card) -> Content:
        is_here = i == self.at
        pointer = signs().pointer if is_here else " "
        digit = str(i + 1) if i < 9 else " "
        cells = self.size.width
        car = padded(_word(card.header, "car") or "unnamed car", 18)
        when = age(time.time() - card.modified)
        where = _where(card)
        complaint = padded(_word(card.header, "complaint"), max(cells - 18 - 26 - 18, 8))
        text = f"{pointer} {digit}  {car} {complaint} {padded(where, 26)} {when}"
        return content(padded(text, cells), "bold" if is_here and self.has_focus else "")

    def on_key(self, event: events.Key) -> None:
        """Open by digit."""
        character = event.character or ""
        if character.isascii() and character.isdigit() and 1 <= int(character) <= len(self.cards[:9]):
            event.stop()
            self.at = int(character) - 1
            self.refresh()
            self.post_message(self.Opened())

    def on_click(self, event: events.Click) -> None:
        """Open what was clicked."""
        if event.y < len(self.cards):
            self.at = event.y
            self.refresh()
            self.post_message(self.Opened())

    def action_move(self, by: int) -> None:
        """Move the pointer."""
        if self.cards:
            self.at = (self.at + by) % len(self.cards)
            self.refresh()


def _word(data: Any, key: str) -> str:
    return str(data.get(key, "")) if data is not None else ""


def _where(card: Card) -> str:
    """Return where a job stands, in words."""
    last = card.last
    if last is None:
        return "just begun"
    status, step = _word(last, "status"), _word(last, "at_step")
    due = _word(last, "due")
    if due and due != "None":
        return f"repaired, proof due {due}"
    if status == "open":
        return f'at "{step}"'
    return f"{status}: {step}" if step and step != status else status


class StartScreen(Screen[None]):
    """Open jobs and what can be begun."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings(KEYS),
        Binding("f1", "help", show=False),
        Binding("escape", "all", show=False),
    ]
    AUTO_FOCUS = "#jobs"

    app: LaybyApp

    def compose(self) -> ComposeResult:
        """Lay out the page."""
        yield HeadLine("layby", self.app.theme_words(), id="head")
        with VerticalScroll(id="body", can_focus=False):
            yield Static(content("Jobs", "bold"), id="jobs-title", markup=False)
            yield JobRows(())
            yield Static("", id="notices", markup=False)
            yield Static("", id="begin", markup=False)
        yield Static(content(SCOPE, "$quiet"), id="scope", markup=False)
        yield KeyLine(KEYS, id="keys")

    def on_mount(self) -> None:
        """Read the jobs' cards."""
        self.reload()

    def on_screen_resume(self) -> None:
        """Read them anew after a job was left."""
        self.reload()

    def reload(self, word: str = "") -> None:
        """Show the jobs that match *word*."""
        cards, notices = self.app.job_cards(word)
        title = f'Jobs with "{word}" (Esc shows all)' if word else "Jobs"
        self.query_one("#jobs-title", Static).update(content(title, "bold"))
        self.query_one(JobRows).show(cards)
        lines = [content(f"! {cut(notice, 300)}") for notice in notices[:3]]
        self.query_one("#notices", Static).update(stacked(lines))
        self.query_one("#notices").display = bool(lines)
        kit = self.app.kit_words()
        self.query_one("#begin", Static).update(
            stacked([content("n  new job     d  demo job     f  find a job"), content(kit)])
        )
        self.query_one("#head", HeadLine).show("layby", self.app.theme_words())

    @on(JobRows.Opened)
    def _opened(self, event: JobRows.Opened) -> None:
        event.stop()
        self.action_open()

    def action_open(self) -> None:
        """Open the job the pointer shows."""
        rows = self.query_one(JobRows)
        if rows.cards:
            self.app.open_job(rows.cards[rows.at].path)

    def action_new(self) -> None:
        """Show an empty card."""
        self.app.show_card()

    def action_demo(self) -> None:
        """Begin the demonstration."""
        self.app.begin_demo()

    def action_find(self) -> None:
        """Ask for a word."""
        self.app.find_jobs(self.reload)

    def action_all(self) -> None:
        """Show all jobs."""
        self.reload()

    def action_options(self) -> None:
        """Show the options."""
        self.app.show_options()

    def action_help(self) -> None:
        """Show all keys."""
        self.app.show_keys("Keys on the start page", KEYS)


SCOPE = "Petrol engines with closed-loop control. Maker's data and local rules first."
