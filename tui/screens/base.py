"""What all screens of a job share: first and last line, path and suspects beside the middle, commands."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.screen import Screen
from textual.widgets import Input

from engine.tree import Step
from tui.keys import Key, bindings
from tui.session import JobSession
from tui.text import COLUMN
from tui.widgets.chart import TrimChart
from tui.widgets.lines import HeadLine, KeyLine
from tui.widgets.path import PathLine, PathPanel
from tui.widgets.suspects import SuspectPanel, SuspectStrip

if TYPE_CHECKING:
    from tui.app import LaybyApp

COMMON = (
    Key("w", "why", "why", "Why this step, and why here"),
    Key("h", "how", "how", "Where and with which instrument"),
    Key("l", "path", "path", "The path so far; picking an entry corrects it"),
    Key("s", "suspects", "suspects", "All suspects, with what moved each"),
    Key("n", "note", "note", "Write a remark into the job"),
    Key("m", "may drive?", "drive", "May the car be driven? Worked out; a person decides"),
    Key("u", "undo list", "undo_list", "What was left clamped, plugged, unplugged or fitted"),
    Key("b", "back", "back", "Correct the last entry"),
    Key("a", "gas page", "gas", "The gases of the exhaust, and what they say together", in_line=False),
    Key("e", "report", "report", "The report so far", in_line=False),
    Key(
        "g", "this shop", "shop", "This shop's own: pin a note, change a limit, weigh a fault", in_line=False
    ),
    Key("q", "close job", "leave", "Close the job; it goes on from here next time", in_line=False),
    Key("question_mark", "help", "help", "This page"),
)
_SCROLL = (
    Binding("pagedown", "body_down", show=False),
    Binding("pageup", "body_up", show=False),
    Binding("f1", "help", show=False),
)


class JobScreen(Screen[None]):
    """A screen of an open job; subclasses fill the middle."""

    KEYS: ClassVar[tuple[Key, ...]] = ()
    """The screen's own keys, shown before the common ones."""
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings(COMMON),
        *_SCROLL,
        Binding("escape", "leave_field", show=False),
    ]
    AUTO_FOCUS = None
    SHOWS_SUSPECTS: ClassVar[bool] = True
    """Whether the narrow layout has the strip of suspects at its foot."""
    HERE: ClassVar[str] = ""

    app: LaybyApp

    def __init__(self, session: JobSession) -> None:
        super().__init__()
        self.job_session = session
        self.here_words = self.HERE
        self.shows_suspects = self.SHOWS_SUSPECTS
        self.shows_chart = True
        self._drawn_at: tuple[int, str] | None = None
        """For which state of the job the frame was drawn."""

    # ------------------------------------------------------------- drawing

    def compose(self) -> ComposeResult:
        """Lay out the frame around the middle."""
        session = self.job_session
        yield HeadLine(id="head")
        with Horizontal(id="columns"):
            yield PathPanel(session, self.here_words, id="left")
            with Vertical(id="middle"):
                with VerticalScroll(id="body", can_focus=True):
                    yield from self.compose_body()
                yield from self.compose_foot()
            with Vertical(id="right"):
                yield SuspectPanel(session, id="suspect-panel")
                if self.shows_chart:
                    yield TrimChart(session, id="chart")
        if self.shows_suspects:
            yield SuspectStrip(session, id="strip")
        yield PathLine(session, self.here_words, id="pathline")
        yield KeyLine(id="keys")

    def compose_body(self) -> ComposeResult:
        """Fill the middle; subclasses do."""
        yield from ()

    def compose_foot(self) -> ComposeResult:
        """Lay out what stays in sight under the middle; subclasses do."""
        yield from ()

    def on_mount(self) -> None:
        """Fill in what changes, and put the focus where it belongs."""
        self.refresh_frame()
        self.focus_first()
        self.watch(self.query_one("#body"), "scroll_y", self.refresh_keys, init=False)
        self.call_after_refresh(self.refresh_keys)

    def on_resize(self) -> None:
        """The last line says whether there is more than fits."""
        self.call_after_refresh(self.refresh_keys)

    def on_screen_resume(self) -> None:
        """Coming back from a page over this one."""
        self.refresh_frame()

    def focus_first(self) -> None:
        """Give the focus to the first thing to do; subclasses do better."""
        self.query_one("#body").focus()

    def refresh_frame(self) -> None:
        """Show first and last line and the columns as things stand."""
        session = self.job_session
        if not self.is_mounted:
            return
        self.query_one("#head", HeadLine).show(session.name, session.figures)
        self.refresh_keys()
        state = (len(session.walk.events), self.here_words)
        if state == self._drawn_at:
            return
        self._drawn_at = state
        for strip in self.query(SuspectStrip):
            strip.set_class(strip.is_unmoved(), "-unmoved")
        for line in self.query(PathLine):
            line.set_class(not session.walk.state.path, "-empty")
        for selector in ("#strip", "#suspect-panel", "#left", "#pathline"):
            for widget in self.query(selector):
                widget.refresh()

    def refresh_keys(self) -> None:
        """Show in the last line which keys work now; nothing once the screen is being taken down."""
        if not self.has_frame():
            return
        keys = list(self.line_keys())
        page = self.page_key()
        if page is not None:
            keys.insert(1, page)
        self.query_one("#keys", KeyLine).show(keys, typing=isinstance(self.focused, Input))

    def has_frame(self) -> bool:
        """Tell whether body and last line are there: not before the first layout, nor while closing."""
        return bool(self.query("#body")) and bool(self.query("#keys"))

    def page_key(self) -> Key | None:
        """Return the key that turns the page, which names the page it turns to; None when all fits."""
        body = self.query_one("#body", VerticalScroll)
        height = body.scrollable_content_region.height
        if body.max_scroll_y <= 0 or height <= 0:
            return None
        pages = 1 + ceil(body.max_scroll_y / height)
        if body.scroll_y >= body.max_scroll_y:
            return Key("pageup", f"page {pages - 1} of {pages}", "body_up")
        return Key("pagedown", f"page {2 + int(body.scroll_y // height)} of {pages}", "body_down")

    def body_cells(self) -> int:
        """Return how wide a text in the middle may be; 0 before the first layout."""
        return min(self.query_one("#body").scrollable_content_region.width, COLUMN)

    def line_keys(self) -> Sequence[Key]:
        """Return the keys of the last line, the most needed first."""
        common = [key for key in COMMON if key.key not in self.hidden_keys()]
        return [*self.KEYS, *common]

    def hidden_keys(self) -> frozenset[str]:
        """Return the common keys that do nothing here."""
        return frozenset() if self.job_session.walk.state.left else frozenset("u")

    def on_descendant_focus(self, _: events.DescendantFocus) -> None:
        """The last line depends on whether a field is open."""
        if self.is_mounted:
            self.refresh_keys()

    # ------------------------------------------------------------- commands

    def action_leave_field(self) -> None:
        """Leave the field: letters are commands now."""
        if isinstance(self.focused, Input):
            self.query_one("#body").focus()

    def action_body_down(self) -> None:
        """Turn the page on."""
        self.query_one("#body", VerticalScroll).scroll_page_down(animate=False)

    def action_body_up(self) -> None:
        """Turn the page back."""
        self.query_one("#body", VerticalScroll).scroll_page_up(animate=False)

    def action_why(self) -> None:
        """Say why."""
        self.app.desk.show_why(self.job_session)

    def action_how(self) -> None:
        """Say how."""
        self.app.desk.show_how(self.job_session)

    def action_path(self) -> None:
        """Show the path."""
        self.app.desk.corrections.show_path(self.job_session)

    def action_suspects(self) -> None:
        """Show all suspects."""
        self.app.desk.show_suspects(self.job_session)

    def action_note(self) -> None:
        """Write a note."""
        self.app.desk.write_note(self.job_session)

    def action_drive(self) -> None:
        """May it be driven?"""
        self.app.desk.show_drive(self.job_session)

    def action_undo_list(self) -> None:
        """Show what is to be undone."""
        self.app.desk.show_undo_list(self.job_session)

    def action_back(self) -> None:
        """Correct the last entry."""
        self.app.desk.corrections.correct_last(self.job_session)

    def action_gas(self) -> None:
        """Show the gases and what they say."""
        self.app.desk.show_gas(self.job_session)

    def action_report(self) -> None:
        """Show the report."""
        self.app.desk.show_report(self.job_session)

    def action_shop(self) -> None:
        """Put local experience into the shop's files."""
        from tui.screens.shop import ShopPages

        ShopPages(self.app, self.job_session, *self.shop_place()).show()

    def shop_place(self) -> tuple[str, Step | None]:
        """Return the tree and the step that local experience is about; no step at the proof of a repair."""
        walk = self.job_session.walk
        return walk.state.frame.tree, None if walk.state.proving else walk.step()

    def action_leave(self) -> None:
        """Close the job."""
        self.app.desk.close_job()

    def action_help(self) -> None:
        """Show all keys."""
        self.app.show_keys(self.help_title(), self.line_keys())

    def help_title(self) -> str:
        """Return the heading of the help page."""
        return "Keys here"
