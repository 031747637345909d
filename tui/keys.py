"""Keys of a screen as data: from the same list come the bindings, the last line and the help page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from textual.binding import Binding


@dataclass(frozen=True, slots=True)
class Key:
    """One key and what it does."""

    key: str
    """As Textual names it: "enter", "w", "question_mark"."""
    label: str
    """Two words at most, for the last line."""
    action: str
    """Name of the screen's action."""
    help: str = ""
    """A sentence for the help page."""
    in_line: bool = True
    """Shown in the last line where there is room."""

    @property
    def cap(self) -> str:
        """What stands on the key."""
        names = {
            "enter": "Enter", "question_mark": "?", "escape": "Esc", "plus": "+", "pagedown": "PgDn",
            "pageup": "PgUp",
        }  # fmt: skip
        return names.get(self.key, self.key)

    @property
    def is_letter(self) -> bool:
        """Tell whether it is a letter, which goes into a field while one is open."""
        return len(self.key) == 1 or self.key == "question_mark"


def bindings(keys: Iterable[Key]) -> list[Binding]:
    """Return the bindings of *keys*."""
    return [Binding(key.key, key.action, key.label, show=False) for key in keys]
