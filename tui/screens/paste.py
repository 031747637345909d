"""A block pasted from a code reader, or a log file: read, then confirmed value by value."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static, TextArea

from engine.inert import inert
from engine.pasting import Match, Pasted
from tui.hearing import Heard, heard_of
from tui.keys import Key
from tui.text import content, stacked
from tui.widgets.lines import KeyLine

MOST_BYTES = 8_000_000
"""Of a log file; an hour of twenty columns at ten lines a second is less."""


def read_log(path: Path) -> tuple[str, str]:
    """Return the text of a log file, and what is wrong with it (or nothing)."""
    try:
        if not path.is_file():
            return "", f"no file {path.name!r} there: write the whole path of a text file"
        if path.stat().st_size > MOST_BYTES:
            return (
                "",
                f"{path.name!r} is larger than {MOST_BYTES // 1_000_000} MB: cut out the part that counts",
            )
        data = path.read_bytes()
    except (OSError, ValueError):
        return "", "that file cannot be read: write the whole path of a text file"
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace"), ""
    if b"\0" in data[:4096]:
        return "", f"{path.name!r} holds no text: export the log as text with commas or tabs"
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        return data.decode("latin-1"), ""


def file_of(text: str) -> Path | None:
    """Return the file a single line names, when it looks like one; a name with a value does not."""
    line = text.strip().strip("'\"")
    if not line or "\n" in line or len(line) > 1000 or "\0" in line:
        return None
    path = Path(line).expanduser()
    looks = line.startswith(("/", "~", "./", "../", "\\")) or line[1:3] in (":\\", ":/")
    looks = looks or path.suffix.lower() in (".csv", ".txt", ".log", ".tsv", ".asc")
    return path if looks else None


class PasteArea(TextArea):
    """Takes a block; Enter after a path of one line reads that file."""

    async def _on_key(self, event: events.Key) -> None:
        if event.key == "escape" or (event.key == "enter" and file_of(self.text) is not None):
            event.stop()
            event.prevent_default()
            page = self.screen
            assert isinstance(page, PastePage)
            if event.key == "escape":
                page.action_leave_field()
            else:
                page.action_read()
            return
        await super()._on_key(event)


class PastePage(ModalScreen[str | None]):
    """Asks for a block or a path; Esc leaves the field, then Enter reads it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "read", show=False),
        Binding("escape", "close", show=False),
    ]
    AUTO_FOCUS = "#block"

    def __init__(self, title: str, note: str) -> None:
        super().__init__(classes="page")
        self.heading, self.note = title, note

    def compose(self) -> ComposeResult:
        """Lay out heading, the area and keys."""
        with Vertical(classes="sheet"):
            yield Static(content(self.heading, "bold"), classes="sheet-title", markup=False)
            yield Static(content(self.note), classes="sheet-note", markup=False)
            area = PasteArea("", id="block", tab_behavior="indent", show_line_numbers=False, compact=True)
            area.styles.height = "1fr"
            yield area
            yield Static("", id="problem", markup=False)
            with VerticalScroll(id="held", can_focus=True) as held:
                held.styles.height = 0
            yield KeyLine((), id="keys")

    def on_mount(self) -> None:
        """Say how to go on."""
        self._show_keys()

    def on_descendant_focus(self, _: events.DescendantFocus) -> None:
        """Other keys outside the area."""
        if self.is_mounted:
            self._show_keys()

    def _show_keys(self) -> None:
        inside = isinstance(self.focused, TextArea)
        path = Key("enter", "read a file, or next line", "read")
        keys = (path, Key("escape", "then Enter reads the block", "leave_field"))
        outside = (Key("enter", "read", "read"), Key("escape", "close", "close"))
        self.query_one("#keys", KeyLine).show(keys if inside else outside)

    def action_leave_field(self) -> None:
        """Leave the area: Enter reads now."""
        self.query_one("#held").focus()
        self._show_keys()

    def action_read(self) -> None:
        """Give back the block, or what the named file holds."""
        text = self.query_one("#block", TextArea).text
        path = file_of(text)
        problem = "" if text.strip() else "nothing was pasted: paste a block, or write the path of a log"
        if path is not None:
            text, problem = read_log(path)
        if problem:
            self.query_one("#problem", Static).update(content(f"! {inert(problem, limit=200)}"))
            self.query_one("#block").focus()
            return
        self.dismiss(text)

    def action_close(self) -> None:
        """Drop it."""
        self.dismiss(None)


Take = Callable[[Match, Heard], str]
"""Puts a match on disk; returns what went wrong, or nothing."""


class MatchesPage(ModalScreen[int]):
    """The values found, one by one: Enter takes, s skips, a digit says which is meant. Gives how many."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", show=False),
        Binding("s", "skip", show=False),
        Binding("escape,q", "close", show=False),
        Binding("pagedown", "page_down", show=False),
        Binding("pageup", "page_up", show=False),
    ]
    AUTO_FOCUS = "#match-body"

    def __init__(self, text: str, pasted: Pasted, labels: Callable[[str], str], take: Take) -> None:
        super().__init__(classes="page")
        self.source = text.splitlines()
        self.pasted, self.labels, self.take = pasted, labels, take
        self.left = list(pasted.matches)
        self.taken: list[str] = []
        self.skipped = 0
        self.problem = ""

    def compose(self) -> ComposeResult:
        """Lay out the value at hand and what else the block holds."""
        with Vertical(classes="sheet"):
            yield Static("", id="match-title", classes="sheet-title", markup=False)
            with VerticalScroll(id="match-body", can_focus=True):
                yield Static("", id="match", classes="sheet-note", markup=False)
                yield Static(stacked(self._rest()), classes="sheet-text", markup=False)
            yield KeyLine((), id="keys")

    def on_mount(self) -> None:
        """Show the first."""
        self._draw()

    def _heard(self) -> Heard | None:
        return heard_of(self.left[0].outcome) if self.left else None

    def _draw(self) -> None:
        total = len(self.pasted.matches)
        heard = self._heard()
        if heard is None:
            title = "All gone through" if total else "Nothing found that is asked here"
            lines = [content(f"{len(self.taken)} taken, {self.skipped} skipped. Enter goes back.")]
        else:
            title = f"Found in the block: {total - len(self.left) + 1} of {total}"
            lines = self._match_lines(self.left[0], heard)
        if self.problem:
            lines.append(content(f"! {self.problem}", "bold"))
        lines += [content(words, "$quiet") for words in self.taken]
        self.query_one("#match-title", Static).update(content(title, "bold"))
        self.query_one("#match", Static).update(stacked(lines))
        self.query_one("#keys", KeyLine).show(self._keys(heard))
        self.query_one("#match-body").scroll_home(animate=False)

    def _match_lines(self, match: Match, heard: Heard) -> list[Content]:
        lines = [content(self.labels(match.reading), "bold")]
        if heard.answer is not None:
            lines.append(content(f"= {heard.echo}", "bold"))
        elif heard.candidates:
            lines.append(content(f"? {heard.question}", "bold"))
            for number, (words, _) in enumerate(heard.candidates, 1):
                lines.append(content(f"  {number}  {words}"))
        else:
            lines.append(content(f"! Not to be taken: {heard.refusal}", "bold"))
        made = f", made of {match.samples} values" if match.samples > 1 else ""
        lines.append(content(f"{match.name}: {match.typed}{made}"))
        lines.append(content(f"line {match.line}: {self._source(match.line)}", "$quiet"))
        return lines

    def _source(self, line: int) -> str:
        inside = 1 <= line <= len(self.source)
        return inert(self.source[line - 1].replace("\t", " "), limit=150) if inside else ""

    def _keys(self, heard: Heard | None) -> tuple[Key, ...]:
        close = Key("escape", "close", "close")
        if heard is None:
            return (Key("enter", "back", "take"),)
        skip = Key("s", "skip", "skip")
        if heard.answer is not None:
            return (Key("enter", "take", "take"), skip, close)
        meant = [Key(str(i), "is meant", "nothing") for i in range(1, len(heard.candidates) + 1)]
        return (*meant, skip, close)

    def _rest(self) -> list[Content]:
        lines = [content(f"Mind: {notice}") for notice in self.pasted.notices]
        if self.pasted.unmatched:
            lines.append(content("Not used", "bold"))
        for one in self.pasted.unmatched:
            lines.append(content(f"  line {one.line}: {one.text} ({one.why})", "$quiet"))
        return lines

    # ------------------------------------------------------------- commands

    def on_key(self, event: events.Key) -> None:
        """Take the digit of the candidate that is meant."""
        heard = self._heard()
        if heard is None or not heard.candidates or not event.key.isdigit():
            return
        event.stop()
        if 1 <= int(event.key) <= len(heard.candidates):
            self._take(heard.decided(int(event.key) - 1))

    def action_take(self) -> None:
        """Take the value shown, when there is one to take."""
        heard = self._heard()
        if heard is None:
            self.action_close()
        elif heard.answer is not None:
            self._take(heard)
        else:
            self.problem = "press the digit of what is meant" if heard.candidates else "s skips it"
            self._draw()

    def _take(self, heard: Heard) -> None:
        match = self.left[0]
        self.problem = self.take(match, heard)
        if not self.problem:
            self.left.pop(0)
            gone = [other for other in self.left if other.reading in (match.reading, *match.rivals)]
            self.left = [other for other in self.left if other not in gone]
            self.skipped += len(gone)
            self.taken.append(f"{self.labels(match.reading)}: {heard.echo}, on disk")
        self._draw()

    def action_skip(self) -> None:
        """Leave this value out."""
        if self.left:
            self.left.pop(0)
            self.skipped += 1
            self.problem = ""
            self._draw()

    def action_page_down(self) -> None:
        """Turn on."""
        self.query_one("#match-body", VerticalScroll).scroll_page_down(animate=False)

    def action_page_up(self) -> None:
        """Turn back."""
        self.query_one("#match-body", VerticalScroll).scroll_page_up(animate=False)

    def action_close(self) -> None:
        """Back to the step; what was taken stays taken."""
        self.dismiss(len(self.taken))


def states_of(states: Sequence[str]) -> list[str]:
    """Return the engine states a block can come from, without what holds in any."""
    return [state for state in dict.fromkeys(states) if state != "any"]
