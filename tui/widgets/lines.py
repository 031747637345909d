"""The first line (which job, how far) and the last (which keys work)."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.style import Style
from textual.widget import Widget

from tui.keys import Key
from tui.text import content, cut, plain, width


class HeadLine(Widget):
    """Left what the job is, right how far it is."""

    def __init__(self, left: str = "", right: str = "", *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.left_words = left
        self.right_words = right

    def show(self, left: str, right: str) -> None:
        """Show other words."""
        if (left, right) != (self.left_words, self.right_words):
            self.left_words, self.right_words = left, right
            self.refresh()

    def render(self) -> Content:
        """Draw both, the right one whole."""
        right = plain(self.right_words)
        room = max(self.size.width - width(right) - 2, 0)
        left = cut(self.left_words, room)
        gap = " " * max(self.size.width - width(left) - width(right), 1)
        return Content.assemble(Content.styled(left, "bold"), gap, right)


class KeyLine(Widget):
    """Which keys work now; as many as fit, the first and the last always. Each can be clicked."""

    def __init__(self, keys: Sequence[Key] = (), *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.shown_keys: tuple[Key, ...] = tuple(keys)
        self.is_typing = False

    def show(self, keys: Sequence[Key], *, typing: bool = False) -> None:
        """Show other keys; *typing*: letters go into a field until Esc."""
        if (tuple(keys), typing) != (self.shown_keys, self.is_typing):
            self.shown_keys, self.is_typing = tuple(keys), typing
            self.refresh()

    def fitting(self) -> list[Key | str]:
        """Return the keys that fit the width, with "Esc, then" before the letters while typing."""
        keys = [key for key in self.shown_keys if key.in_line]
        while keys:
            parts = self._parts(keys)
            if sum(width(self._words(part)) + 2 for part in parts) <= self.size.width + 1 or len(keys) <= 2:
                return parts
            del keys[-2]
        return []

    def _parts(self, keys: Sequence[Key]) -> list[Key | str]:
        parts: list[Key | str] = [key for key in keys if not key.is_letter]
        letters = [key for key in keys if key.is_letter]
        if letters and self.is_typing:
            parts.append("Esc, then")
        return [*parts, *letters]

    @staticmethod
    def _words(part: Key | str) -> str:
        return part if isinstance(part, str) else f"{part.cap} {part.label}"

    def render(self) -> Content:
        """Draw the keys."""
        pieces: list[Content] = []
        for part in self.fitting():
            if isinstance(part, str):
                pieces.append(content(part))
                continue
            click = Style.from_meta({"@click": f"screen.{part.action}"})
            cap = Content.styled(part.cap, "bold reverse" if not part.is_letter else "bold")
            pieces.append(Content.assemble(cap, " ", part.label).stylize(click))
        return Content.assemble(" ", Content("  ").join(pieces))
