"""Everything that can be wrong, as lines a person can act on.

One shallow family: `str(error)` of every `LaybyError` is a finished line (or lines) that may be
printed as it is, with no escape sequence or line break that came out of a file.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Level = Literal["error", "warning", "hint"]
DataPath = tuple[str | int, ...]

LONGEST_SHOWN = 60
"""Characters of a found text that a message repeats at most."""


class LaybyError(Exception):
    """Anything layby refuses; `str()` is a finished line."""


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing wrong in one place of a file, sorted by file, line and column."""

    file: str
    line: int
    """Counted from 1."""
    column: int
    """Counted from 1, in characters."""
    level: Level
    where: str
    """The place in the document in words, `steps.look-over.judge[2].when`; may be empty."""
    message: str

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        return f"{self.file}:{self.line}:{self.column}: {self.level}: {place}{self.message}"


class DefinitionError(LaybyError):
    """Trees, catalogues or readings files that cannot be used; carries every problem found."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


def where(path: DataPath) -> str:
    """Return a place in a document in words; list entries are counted from 1, as people count."""
    words = ""
    for part in path:
        if isinstance(part, int):
            words += f"[{part + 1}]"
        else:
            words += f".{_inert(part)}" if words else _inert(part)
    return words


def shown(found: object) -> str:
    """Return what was found as a short quoted piece of a line, safe on any terminal."""
    if found is None:
        return "nothing"
    if isinstance(found, bool):
        return "true" if found else "false"
    if isinstance(found, int | float):
        return str(found)
    if isinstance(found, dict):
        return "a map of keys" if found else "an empty map {}"
    if isinstance(found, list):
        return "a list" if found else "an empty list []"
    return f"'{_inert(str(found))}'"


def nearest(found: str, allowed: Iterable[str]) -> str | None:
    """Return the allowed word most like *found*, if one is like it at all."""
    lowered = {word.lower(): word for word in sorted(allowed)}
    near = difflib.get_close_matches(found[:LONGEST_SHOWN].lower(), lowered, n=1, cutoff=0.6)
    return lowered[near[0]] if near else None


def did_you_mean(found: str, allowed: Iterable[str]) -> str:
    """Return ` (did you mean 'x'?)` for the nearest allowed word, or an empty text."""
    near = nearest(found, allowed)
    return f" (did you mean '{near}'?)" if near else ""


def _inert(text: str) -> str:
    """Cut *text* to size and replace whatever a terminal might obey."""
    short = text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…"
    return "".join(
        sign if sign.isprintable() else sign.encode("unicode_escape").decode("ascii") for sign in short
    )
