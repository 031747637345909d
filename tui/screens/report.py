"""The report as plain text, and saved as Markdown, HTML or JSON where the person wants it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from engine.report import as_html, as_json, as_markdown, page
from tui.keys import Key, bindings
from tui.screens.dialogs import WritePage
from tui.session import JobSession
from tui.text import content
from tui.widgets.lines import KeyLine

if TYPE_CHECKING:
    from tui.app import LaybyApp

_KEYS = (
    Key("m", "save Markdown", "save('md')"),
    Key("h", "save HTML", "save('html')"),
    Key("j", "save JSON", "save('json')"),
    Key("pagedown", "page", "page_down"),
    Key("escape", "close", "close"),
)


class ReportPage(ModalScreen[None]):
    """The job as a document."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings(_KEYS),
        Binding("enter,q", "close", show=False),
        Binding("space", "page_down", show=False),
        Binding("pageup", "page_up", show=False),
    ]
    AUTO_FOCUS = "#text"

    app: LaybyApp

    def __init__(self, session: JobSession) -> None:
        super().__init__(classes="page")
        self.job_session = session

    def text(self, form: str) -> str:
        """Return the report in one of its forms."""
        data = self.job_session.gathered()
        match form:
            case "json":
                return as_json(data)
            case "html":
                return as_html(page(data))
            case _:
                return as_markdown(page(data))

    def compose(self) -> ComposeResult:
        """Lay out the text and the keys."""
        with Vertical(classes="sheet"):
            yield Static(content("Report", "bold"), classes="sheet-title", markup=False)
            with VerticalScroll(id="text", can_focus=True):
                yield Static(content(self.text("md")), classes="sheet-text", markup=False)
            yield KeyLine(_KEYS, id="keys")

    def action_save(self, form: str) -> None:
        """Ask where to, and write it there."""
        name = f"{self.job_session.job.journal.path.stem}.{form}"
        where = WritePage(
            "Save where?",
            value=str(Path.cwd() / name),
            note="A file, or a folder that is there.",
            problem_of=_problem,
        )
        self.app.push_screen(where, lambda target: self._write(form, name, target))

    def _write(self, form: str, name: str, target: str | None) -> None:
        if target is None:
            return
        path = Path(target).expanduser()
        path = path / name if path.is_dir() else path
        try:
            path.write_text(self.text(form), encoding="utf-8")
        except OSError as error:
            self.app.say(f"{path}: cannot be written: {error.strerror or error}")
            return
        self.app.say(f"Saved: {path}")

    def action_close(self) -> None:
        """Close."""
        self.dismiss(None)

    def action_page_down(self) -> None:
        """Turn on."""
        self.query_one("#text", VerticalScroll).scroll_page_down(animate=False)

    def action_page_up(self) -> None:
        """Turn back."""
        self.query_one("#text", VerticalScroll).scroll_page_up(animate=False)


def _problem(text: str) -> str:
    """Return why nothing can be written there."""
    if not text.strip() or "\0" in text:
        return "write a file name"
    path = Path(text).expanduser()
    if path.is_dir() or path.parent.is_dir():
        return ""
    return f"there is no folder {path.parent}"
