"""An entry put into a list of a YAML file, or in place of one, with every other byte of the file kept."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.yaml_scalars import plain_value
from engine.yaml_text import Data, Document

_LINE = re.compile(r"[^\n]*\n|[^\n]+")
_SIGNS_OF_PROSE = frozenset(" _.,;()/%'+=-")
_SIGNS_IN_BRACES = frozenset("_.-")
_READ_AS_OTHER = frozenset({"y", "n", "yes", "no", "on", "off", "true", "false", "null"})
INDENT = 2


@dataclass(frozen=True, slots=True)
class Spliced:
    """A file's new text and the line, from 1, on which the entry begins."""

    text: str
    line: int


def with_entry(
    text: str, document: Document, section: str, entry: Mapping[str, Data], index: int | None = None
) -> Spliced | None:
    """Return *text* with *entry* appended to the list *section*, or in place of its entry *index*.

    Args:
        text: the file as it is.
        document: the same, read.
        section: top-level key of the list; made at the end of the file when it is not there.
        entry: keys and values of the new entry.
        index: which entry to put it in place of; None to append.

    Returns:
        None when the list is not written as lines that begin with a dash.
    """
    lines = _LINE.findall(text)
    end_of_line = "\r\n" if "\r\n" in text else "\n"
    if (section,) not in document.key_marks:
        return _with_section(lines, section, entry, end_of_line)
    dashes = _dashes(lines, document, section)
    if dashes is None:
        return None
    first = dashes[0] if index is None else dashes[index]
    column = len(lines[first]) - len(lines[first].lstrip(" "))
    own = _entry_lines(entry, column, end_of_line)
    if index is None:
        begin = end = _end_of_entry(lines, dashes, len(dashes) - 1, document, section)
    else:
        begin, end = first, _end_of_entry(lines, dashes, index, document, section)
    before = _closed(lines[:begin], end_of_line)
    return Spliced("".join((*before, *own, *lines[end:])), len(before) + 1)


def _with_section(lines: list[str], section: str, entry: Mapping[str, Data], end_of_line: str) -> Spliced:
    before = _closed(lines, end_of_line)
    if before and before[-1].strip():
        before.append(end_of_line)
    own = _entry_lines(entry, INDENT, end_of_line)
    return Spliced("".join((*before, f"{section}:{end_of_line}", *own)), len(before) + 2)


def _closed(lines: Sequence[str], end_of_line: str) -> list[str]:
    """Return lines of which the last one ends like the others."""
    closed = list(lines)
    if closed and not closed[-1].endswith("\n"):
        closed[-1] += end_of_line
    return closed


def _dashes(lines: Sequence[str], document: Document, section: str) -> list[int] | None:
    """Return the lines, from 0, on which the entries of a list begin, or None for a list in brackets."""
    count = sum(1 for path in document.marks if len(path) == 2 and path[0] == section)
    above = document.key_marks[section,][0] - 1
    found = []
    for index in range(count):
        at = document.marks[section, index][0] - 1
        while at > above and not lines[at].lstrip(" ").startswith("-"):
            at -= 1
        if at <= above:
            return None
        found.append(at)
        above = at
    return found or None


def _end_of_entry(
    lines: Sequence[str], dashes: Sequence[int], index: int, document: Document, section: str
) -> int:
    """Return the line, from 0, after an entry; comments and blank lines behind it are not its own."""
    if index + 1 < len(dashes):
        end = dashes[index + 1]
    else:
        own = document.key_marks[section,][0]
        keys = [mark[0] - 1 for path, mark in document.key_marks.items() if len(path) == 1 and mark[0] > own]
        end = min(keys, default=len(lines))
    while end > dashes[index] + 1 and not _has_content(lines[end - 1]):
        end -= 1
    return end


def _has_content(line: str) -> bool:
    bare = line.strip()
    return bool(bare) and not bare.startswith("#") and bare != "..."


# ------------------------------------------------------------------------ writing


def _entry_lines(entry: Mapping[str, Data], column: int, end_of_line: str) -> list[str]:
    lines = []
    for number, (key, value) in enumerate(entry.items()):
        lead = " " * column + ("- " if number == 0 else "  ")
        prose = _scalar(value, _SIGNS_OF_PROSE) if isinstance(value, str) else in_braces(value)
        lines.append(f"{lead}{key}: {prose}{end_of_line}")
    return lines


def in_braces(data: Data) -> str:
    """Return plain data on one line: ``{veh_fuel: {is: lpg}}``."""
    match data:
        case dict():
            inside = (f"{_scalar(key, _SIGNS_IN_BRACES)}: {in_braces(value)}" for key, value in data.items())
            return f"{{{', '.join(inside)}}}"
        case list():
            return f"[{', '.join(in_braces(value) for value in data)}]"
        case str():
            return _scalar(data, _SIGNS_IN_BRACES)
        case bool():
            return "true" if data else "false"
        case None:
            return "null"
        case _:
            return number_text(float(data))


def number_text(number: float) -> str:
    """Return a number as files write it: ``14``, ``-8.5``."""
    if number.is_integer() and abs(number) < 1e15:
        return str(int(number))
    text = repr(number)
    return text if "e" not in text else f"{number:.15f}".rstrip("0")


def _scalar(text: str, signs: frozenset[str]) -> str:
    """Return a text as a YAML scalar on one line, in quotes only where it needs them."""
    plain = (
        text[:1].isalpha()
        and text == text.strip()
        and all(sign.isalnum() or sign in signs for sign in text)
        and text.isprintable()
        and text.lower() not in _READ_AS_OTHER
        and plain_value(text) == (text, None)
    )
    return text if plain else f'"{"".join(map(_escaped, text))}"'


def _escaped(sign: str) -> str:
    if sign in '"\\':
        return f"\\{sign}"
    if sign == "\n":
        return "\\n"
    if sign.isprintable():
        return sign
    code = ord(sign)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
