"""Typed text made harmless for terminals, spreadsheets, HTML and Markdown.

What a person typed, or a file brought along, is shown as the characters it consists of: it moves no
cursor, turns no reading direction round, and starts no formula, tag or link.
"""

from __future__ import annotations

import html
import re
import unicodedata

LENGTH_LIMIT = 4000
"""Most characters kept of one text; a long note has some hundred."""

_ESCAPE_SEQUENCES = re.compile(
    r"(?:\x1b[\]PX^_]|[\x90\x98\x9d\x9e\x9f])[^\x07\x18\x1a\x1b\x9c]*+(?:\x07|\x1b\\|\x9c)"
    r"|(?:\x1b\[|\x9b)[0-?]*+[ -/]*+[@-~]"
    r"|\x1b[ -/]*+[0-~]"
)
"""Control strings, control sequences and short escapes.

Source: ECMA-48, 5th edition (1991), sections 5.3-5.6: introducers, parameter, intermediate and final
bytes; from memory. BEL as the end of a control string is common practice of terminals.
"""
_LINE_BREAKS = re.compile("\r\n|[\n\r\x0b\x0c\x85\u2028\u2029]")
_CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""C0, DEL, C1, and the characters that override or isolate the reading direction."""
_HALF_PAIRS = re.compile("[\ud800-\udfff]")
_FORMULA_STARTS = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_MARKDOWN_ANYWHERE = re.compile(r"([\\`*_\[\]|~$])")
_MARKDOWN_START = re.compile(r"^([#+=:-])|^(\d{1,9})([.)])")
_BARE_LINK = re.compile(r"(:)(?=//)|(?<=www)(\.)", re.IGNORECASE)


def inert(text: str, *, keep_lines: bool = False, limit: int = LENGTH_LIMIT) -> str:
    """Return *text* in NFC without control characters, escape sequences and direction overrides.

    Args:
        text: anything.
        keep_lines: keep line breaks (as line feeds) and tabs; otherwise they become blanks.
        limit: most characters returned, at least 1; a longer text ends in an ellipsis.
    """
    text = _ESCAPE_SEQUENCES.sub("", text)
    text = _LINE_BREAKS.sub("\n", text)
    if not keep_lines:
        text = text.replace("\n", " ").replace("\t", " ")
    text = _HALF_PAIRS.sub("\ufffd", _CONTROLS.sub("", text))
    text = unicodedata.normalize("NFC", text)
    return text if len(text) <= limit else text[: limit - 1] + "…"


def spreadsheet_safe(text: str) -> str:
    """Return *text* for a cell: one line, and never a formula.

    An apostrophe goes before =, +, - and @, also full-width ones and ones behind blanks or tabs.
    For texts only; numbers are written as numbers.
    """
    text = inert(text)
    return f"'{text}" if text.lstrip().startswith(_FORMULA_STARTS) else text


def html_safe(text: str) -> str:
    """Return *text* for HTML, between tags or inside a quoted attribute; line breaks stay."""
    return html.escape(inert(text, keep_lines=True), quote=True)


def markdown_safe(text: str) -> str:
    """Return *text* on one line for Markdown, a table cell included, as nothing but text."""
    text = inert(text).strip()
    text = _MARKDOWN_ANYWHERE.sub(r"\\\1", text)
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    text = _BARE_LINK.sub(r"\\\g<0>", text)
    return _MARKDOWN_START.sub(lambda m: f"\\{m[1]}" if m[1] else f"{m[2]}\\{m[3]}", text)
