"""Texts as the screen shows them: inert, in widths counted in cells, with signs every terminal has.

Whatever comes from a tree or a person passes through ``content`` (or a widget with ``markup=False``), so that
brackets, links and escapes in it stay characters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from re import finditer
from textwrap import wrap

from rich.cells import cell_len, set_cell_size
from textual.content import Content

from engine.inert import inert

COLUMN = 76
"""Widest column of running text, in cells."""
_PLAIN = str.maketrans(
    {
        "°": " deg ", "Ω": "ohm", "μ": "u", "±": "+/-", "…": "...", "–": "-", "—": "-", "×": "x", "−": "-",
        "“": '"', "”": '"', "’": "'", "≤": "<=", "≥": ">=", "·": "-",
    }
)  # fmt: skip
RANKS = ("first", "second", "third", "fourth", "fifth", "sixth")


@dataclass(frozen=True, slots=True)
class Signs:
    """The signs that are drawn; ``ASCII`` holds stand-ins for terminals that know no more."""

    bar: str = "▇"
    tick: str = "✓"
    pointer: str = "›"
    dot: str = "●"
    rule: str = "─"
    middle: str = "·"
    axis: str = "┤"
    corner: str = "└"
    foot: str = "┴"
    is_ascii: bool = False


UNICODE = Signs()
ASCII = Signs("#", "*", ">", "o", "-", "-", "|", "+", "+", True)


class _Drawn:
    """Which signs this terminal gets; set once at the start."""

    signs: Signs = UNICODE


def choose_signs(encoding: str | None) -> Signs:
    """Set and return the signs for a terminal of this encoding."""
    name = (encoding or "").lower().replace("-", "").replace("_", "")
    _Drawn.signs = UNICODE if name in ("utf8", "utf16", "utf16le", "cp65001") else ASCII
    return _Drawn.signs


def signs() -> Signs:
    """Return the signs in use."""
    return _Drawn.signs


def plain(text: str, *, keep_lines: bool = False) -> str:
    """Return *text* as this terminal can show it: inert, and plain ASCII where nothing else is known."""
    harmless = inert(text, keep_lines=keep_lines)
    if not _Drawn.signs.is_ascii:
        return harmless
    return harmless.translate(_PLAIN).encode("ascii", "replace").decode("ascii")


def content(text: str, style: str = "") -> Content:
    """Return *text* as characters and nothing else."""
    return (
        Content.styled(plain(text, keep_lines=True), style)
        if style
        else Content(plain(text, keep_lines=True))
    )


def joined(parts: Sequence[str | tuple[str, str]]) -> Content:
    """Return texts one after the other; a pair is a text with its style."""
    pieces = [content(part) if isinstance(part, str) else content(*part) for part in parts]
    return Content("").join(pieces)


def stacked(lines: Sequence[Content]) -> Content:
    """Return lines one under the other."""
    return Content("\n").join(lines)


def width(text: str) -> int:
    """Return how many cells *text* takes."""
    return cell_len(text)


def cut(text: str, cells: int) -> str:
    """Return *text* in at most *cells* cells, with three dots where something is left out."""
    shown = plain(text)
    if cell_len(shown) <= cells:
        return shown
    return set_cell_size(shown, max(cells - 3, 0)).rstrip() + "..."[: max(cells, 0)]


def first_sentences(text: str, cells: int) -> str:
    """Return as many whole sentences as fit in *cells* cells; cut in the middle only where none does."""
    shown = plain(text)
    if cell_len(shown) <= cells:
        return shown
    kept = ""
    for end in finditer(r"[.!?](?= |$)", shown):
        if cell_len(shown[: end.end()]) > cells:
            break
        kept = shown[: end.end()]
    return kept or cut(text, cells)


def padded(text: str, cells: int) -> str:
    """Return *text* in exactly *cells* cells."""
    return set_cell_size(cut(text, cells), cells)


def hanging(label: str, text: str, *, indent: int = 18, cells: int = COLUMN) -> Content:
    """Return a text beside its label, every further line under the first."""
    lines = wrap(plain(text), max(cells - indent, 10)) or [""]
    head = joined([(padded(label, indent), "bold"), lines[0]])
    return stacked([head, *(content(" " * indent + line) for line in lines[1:])])


def bar(share: float, cells: int) -> str:
    """Return a bar for a share of 0 to 1; whatever is left shows at least one sign."""
    full = round(share * cells)
    return signs().bar * (max(full, 1) if share > 0.0 else full)


def age(seconds: float) -> str:
    """Return how long ago something was, as people say it."""
    minutes = int(max(seconds, 0.0) // 60)
    if minutes < 1:
        return "just now"
    if minutes < 60:
        return f"{minutes} min ago"
    hours = minutes // 60
    if hours < 24:
        return f"{hours} h ago"
    days = hours // 24
    return "yesterday" if days == 1 else f"{days} days ago"


def sure_words(sure: float, *, doubtful: bool = False) -> str:
    """Return how sure a verdict is: a word first, then the figure."""
    figure = f"{100.0 * min(sure, 0.9999):.0f} %" if sure < 0.995 else "over 99 %"
    if doubtful:
        return f"doubtful, {figure}"
    return f"sure, {figure}" if sure >= 0.95 else f"taken all the same, {figure}"
