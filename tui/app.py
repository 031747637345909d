"""The interface: start page, open job, options. The engine decides; this shows."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.app import App
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.screen import Screen

from engine.errors import LaybyError
from engine.job_files import DataFolders, JobFilesError, data_folder, list_jobs
from tui.keys import Key
from tui.screens.start import StartScreen
from tui.settings import Settings, load_settings, save_settings
from tui.text import choose_signs, content, joined, padded, plain
from tui.themes import THEMES

if TYPE_CHECKING:
    from engine.journal.card import Card
    from engine.library import Library
    from tui.desk import Desk
    from tui.screens.card import NewJob

WIDE = 110
"""Columns from which path and suspects stand beside the middle."""


class LaybyApp(App[None]):
    """layby on a terminal.

    Args:
        data: folder of the jobs; else the environment's or the system's.
        shop: folder of the shop's own files; else the one in the data folder, if it holds any.
        demo: begin with the demonstration job.
    """

    CSS_PATH = "app.tcss"
    TITLE = "layby"
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (WIDE, "-wide")]  # noqa: RUF012 -- Textual's own attribute
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+q", "quit", show=False, priority=True)]

    first_tree = "triage"
    """The tree a new job begins with."""

    def __init__(self, data: Path | None = None, shop: Path | None = None, demo: bool = False) -> None:
        super().__init__()
        self.folders = DataFolders(data_folder(data))
        self.shop_folder = shop
        self.starts_with_demo = demo
        self.settings, self.settings_problem = load_settings(self.folders.settings)
        self._library: Library | None = None
        self._library_lock = Lock()
        self._desk: Desk | None = None
        choose_signs(getattr(sys.__stderr__, "encoding", "utf-8"))
        self._settle_themes()

    def _settle_themes(self) -> None:
        """Register our two themes; with NO_COLOR the terminal's own colours are left out of the choice."""
        for name in list(self.available_themes):
            if name.startswith(("ansi", "textual-ansi")) and os.environ.get("NO_COLOR"):
                self.unregister_theme(name)
        for theme in THEMES.values():
            self.register_theme(theme)
        self.theme = self.settings.theme

    # ------------------------------------------------------------- starting

    def on_mount(self) -> None:
        """Show the start page; read the trees once it is painted."""
        self.push_screen(StartScreen())
        if self.settings_problem:
            self.say(self.settings_problem)
        self.call_after_refresh(self._after_first_paint)

    def _after_first_paint(self) -> None:
        self.warm_up()
        if self.starts_with_demo:
            self.begin_demo()

    @work(thread=True, exclusive=True, group="load", exit_on_error=False, description="read trees")
    def warm_up(self) -> None:
        """Read the trees, so that the first job begins at once; a fault in them is told then."""
        try:
            self.library()
        except LaybyError:
            return

    def library(self) -> Library:
        """Return trees and catalogues, read once.

        Raises:
            LaybyError: something in them is wrong.
        """
        from engine.library import load_library

        with self._library_lock:
            if self._library is None:
                self._library = load_library(self._shop())
            return self._library

    def forget_library(self) -> None:
        """Read trees and catalogues anew for the next job: the shop's files were changed."""
        with self._library_lock:
            self._library = None
        self.warm_up()

    @property
    def own_shop(self) -> Path:
        """The folder of the shop's own files, whether there are any or not."""
        return self.shop_folder if self.shop_folder is not None else self.folders.shop

    def _shop(self) -> Path | None:
        if self.shop_folder is not None:
            return self.shop_folder
        own = self.folders.shop
        return own if own.is_dir() and any(own.rglob("*.yaml")) else None

    @property
    def desk(self) -> Desk:
        """The open job and its screens; imported when the first job needs it."""
        if self._desk is None:
            from tui.desk import Desk

            self._desk = Desk(self)
        return self._desk

    def on_unmount(self) -> None:
        """Let go of the open job's file."""
        if self._desk is not None:
            self._desk.close_quietly()

    # ------------------------------------------------------------- what screens ask for

    def job_cards(self, word: str = "") -> tuple[tuple[Card, ...], tuple[str, ...]]:
        """Return the jobs that match *word*, and a line for each file that cannot be read."""
        try:
            found = list_jobs(self.folders.jobs)
        except JobFilesError as error:
            return (), (str(error),)
        parts = word.casefold().split()

        def fits(card: Card) -> bool:
            text = " ".join(
                str(card.header.get(key, "")) for key in ("car", "complaint", "place", "job")
            ).casefold()
            return all(part in text for part in parts)

        return tuple(card for card in found.cards if fits(card)), found.notices

    def theme_words(self) -> str:
        """Return what stands at the right of the start page's first line."""
        return f"{self.settings.theme} theme"

    def kit_words(self) -> str:
        """Return what is set of this van's kit."""
        tools = f"{len(self.settings.tools)} tools" if self.settings.tools else "tools not said (o)"
        units = ", ".join(self.settings.units.values()) or "units as shown"
        return f"Van kit: {tools}; {units}; verdicts at {100 * self.settings.confidence:.0f} %"

    def say(self, words: str) -> None:
        """Say something for a few seconds."""
        self.notify(plain(words), markup=False, timeout=4)

    def attempt(self, command: Callable[[], object]) -> bool:
        """Do something that goes to disk; say in one line why it could not."""
        try:
            command()
        except LaybyError as error:
            self.say(str(error))
            return False
        return True

    def show_text(self, title: str, lines: Sequence[Content]) -> None:
        """Show a page to read."""
        from tui.screens.dialogs import TextPage

        self.push_screen(TextPage(title, lines))

    def show_keys(self, title: str, keys: Sequence[Key]) -> None:
        """Show what every key does."""
        lines = [joined([(padded(key.cap, 7), "bold"), key.help or key.label]) for key in keys]
        lines += [
            content(""),
            content("In a field every sign is typed; Esc leaves it, then letters are commands."),
            content("A digit goes back to the field, or picks from a list. 0 turns a list's page."),
            content("PgUp and PgDn turn a page that does not fit; Tab goes round; Ctrl+Q ends layby."),
        ]
        self.show_text(title, lines)

    def keep_settings(self, settings: Settings) -> str:
        """Take and keep other settings; return what went wrong, or nothing."""
        self.settings = settings
        self.theme = settings.theme
        try:
            save_settings(self.folders.settings, settings)
        except JobFilesError as error:
            return str(error)
        return ""

    # ------------------------------------------------------------- which screen

    def show_base(self, screen: Screen[None]) -> None:
        """Show a screen in place of the job's last one, over the start page."""
        while len(self.screen_stack) > 3:
            self.pop_screen()
        if len(self.screen_stack) <= 2:
            self.push_screen(screen)
        else:
            self.switch_screen(screen)

    def show_start(self) -> None:
        """Go back to the start page."""
        while len(self.screen_stack) > 2:
            self.pop_screen()

    def show_card(self) -> None:
        """Show the card of a new job."""
        from tui.screens.card import CardScreen

        self.show_base(CardScreen())

    def show_options(self) -> None:
        """Show the options."""
        from tui.screens.options import OptionsScreen

        self.show_base(OptionsScreen())

    def begin_job(self, new: NewJob) -> None:
        """Begin the job of a card; who does it is kept for the next one."""
        if new.card.who and new.card.who != self.settings.who:
            self.keep_settings(replace(self.settings, who=new.card.who))
        problem = self.desk.begin(new)
        if problem:
            self.say(problem)

    def begin_demo(self) -> None:
        """Begin the demonstration job."""
        problem = self.desk.begin_demo()
        if problem:
            self.say(problem)

    def open_job(self, path: Path) -> None:
        """Open a job where it was left."""
        problem = self.desk.open(path)
        if problem:
            self.say(problem)

    def find_jobs(self, show: Callable[[str], None]) -> None:
        """Ask for a word and show the jobs that hold it."""
        from tui.screens.dialogs import WritePage

        def found(word: str | None) -> None:
            if word is not None:
                show(word.strip())

        self.push_screen(
            WritePage("Find", note="Part of the car, the complaint or the date as 20260131."), found
        )
