"""The line under the fields: what was understood, why something is refused, or a question asked once."""

from __future__ import annotations

from dataclasses import dataclass

from textual import events
from textual.message import Message
from textual.widgets import Static

from tui.hearing import Heard
from tui.keys import Key
from tui.text import content, joined

LETTERS = "abcdefg"
"""Keys of the candidates; a digit could be the beginning of the number typed again."""


class QuestionLine(Static, can_focus=False):
    """Says something, or asks once and takes a letter; a digit never answers."""

    @dataclass
    class Answered(Message):
        """A question was answered; *heard* is None when the person wants to type again."""

        heard: Heard | None
        typed: str

    def __init__(self, words: str = "", *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(content(words), id=id, markup=False)
        self.asked: Heard | None = None
        self.typed = ""

    def say(self, words: str) -> None:
        """Show words; they ask nothing."""
        self.asked = None
        self.can_focus = False
        self.update(content(words))

    def ask(self, heard: Heard, typed: str) -> None:
        """Ask which of the candidates is meant, and take the keys until it is answered."""
        self.asked, self.typed = heard, typed
        keys = ", ".join(f"{key.cap} {key.label}" for key in self.answer_keys())
        self.update(
            joined(
                [
                    (f"{heard.question.rstrip('.')}{'' if heard.question.endswith('?') else '.'} ", "bold"),
                    (keys, "reverse"),
                ]
            )
        )
        self.can_focus = True
        self.focus()

    def answer_keys(self) -> list[Key]:
        """Return the keys that answer."""
        if self.asked is None:
            return []
        first = [Key("y", "yes", "nothing")] if self.asked.takes_yes else []
        meant = [
            Key(letter, words, "nothing")
            for letter, (words, _) in zip(LETTERS, self.asked.candidates, strict=False)
        ]
        kept = meant if len(meant) > 1 else []
        return [*first, *(kept[1:] if first else kept), Key("n", "type it again", "nothing")]

    def on_key(self, event: events.Key) -> None:
        """Take the answer."""
        if self.asked is None:
            return
        event.stop()
        event.prevent_default()
        key = event.key
        candidates = self.asked.candidates
        if key in ("n", "escape"):
            self._answer(None)
        elif key == "y" and self.asked.takes_yes:
            self._answer(0)
        elif key in LETTERS[: len(candidates)] and len(candidates) > 1:
            self._answer(LETTERS.index(key))
        elif key.isdigit():  # the number was begun again: it never answers
            self.app.bell()

    def _answer(self, index: int | None) -> None:
        asked, typed = self.asked, self.typed
        assert asked is not None
        heard = asked.decided(index) if index is not None else None
        self.say("" if heard is not None else "Type it again.")
        self.post_message(self.Answered(heard, typed))
