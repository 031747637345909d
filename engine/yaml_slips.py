"""The commonest slips of people who write prose into YAML, with the line as it should stand.

`explain` is asked about the place where the YAML parser gave up. Where it knows the slip it
returns the line to blame, what to write instead and a mended copy of the lines, so that the
reader can go on and find the next fault in the same run.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from engine.errors import shown

LONGEST_LINE = 2_000
"""Longer lines are not searched for slips."""
MOST_TABBED = 2_000
"""Lines mended at once where tabs indent them."""

_ENTRY = re.compile(r"(?P<lead> *(?:- +)*(?:[^\s:#{}\[\]\"'-][^\s:{}\[\]\"']*:[ ]+))(?P<text>\S.*)")
_ITEM = re.compile(r"(?P<lead> *(?:- +)+)(?P<text>\S.*)")
_GLUED_KEY = re.compile(r"(?P<lead> *(?:- +)*)(?P<key>[A-Za-z_][\w-]*):(?P<text>[^\s:/].*)")
_GLUED_DASH = re.compile(r"(?P<lead> *)-(?P<text>[^\s\d.-].*)")
_NO_COLON = re.compile(r" *(?:- +)*(?P<key>[a-z][a-z_-]*) +\S")
_CUT = re.compile(r"[ \t]#")
_PAIRS = {"{": "}", "[": "]"}
_COMPLAINTS = (
    ("mapping values", "a key cannot stand here"),
    ("flow", "a list in [ ] or a map in { } needs a comma or its closing sign here"),
    ("block scalar", "a text below | or > begins on the next line, indented"),
    ("quoted scalar", "something in this quoted text is not allowed, such as a \\ before a letter"),
    ("directive", "a line cannot begin with %"),
    ("mapping keys", "a ? cannot begin a key here"),
    ("node content", "a value was expected here"),
    ("document start", "the file goes on after its end: one map of keys makes a file"),
    ("alias", "a text cannot start with *"),
    ("anchor", "a text cannot start with &"),
    ("tag", "a text cannot start with !"),
    ("cannot start any token", "a text cannot start with this sign unless it is quoted"),
)


@dataclass(frozen=True, slots=True)
class Slip:
    """A slip that was recognised."""

    line: int
    """Counted from 0."""
    column: int
    """Counted from 0."""
    message: str
    mended: tuple[tuple[int, str], ...] = ()
    """Lines to put in place of the old ones before reading on; empty: cannot go on."""


def quoted(text: str) -> str:
    """Return *text* as a quoted YAML scalar on one line."""
    text = text.rstrip()
    if '"' in text or "\\" in text:
        return "'" + text.replace("'", "''") + "'"
    return f'"{text}"'


def explain(lines: list[str], said: str, line: int, column: int, began: int) -> Slip:
    """Return the slip behind a parser's complaint.

    Args:
        lines: the file, without line ends.
        said: the parser's own words, only used to tell cases apart.
        line: where it gave up, counted from 0.
        column: counted from 0.
        began: line where the construct began that it could not finish.
    """
    line = max(0, min(line, len(lines) - 1))
    began = max(0, min(began, line))
    for number in dict.fromkeys((line, began)):
        if len(lines[number]) > LONGEST_LINE:
            return Slip(line, column, "the line is too long to be checked; break it into several")
    slip = (
        _tab(lines, line)
        or _open_quote(lines, said, line, began)
        or _start_sign(lines, line, column)
        or _quote_inside(lines, line)
        or _glued(lines, said, line, began)
        or _cut_by_comment(lines, said, line, began)
        or _colon_in_text(lines, said, line, column)
        or _open_bracket(lines, said, began)
        or _layout(lines, said, line, column)
    )
    return slip or Slip(line, column, f"this is not YAML: {_plain_words(said)}")


def _tab(lines: list[str], line: int) -> Slip | None:
    """A tab used for indentation; every such line is mended at once."""
    if "\t" not in _indent(lines[line]):
        return None
    mended = tuple(
        (number, _indent(text).replace("\t", "  ") + text.lstrip(" \t"))
        for number, text in enumerate(lines[line : line + MOST_TABBED], line)
        if "\t" in _indent(text)
    )
    more = f" (so are {len(mended) - 1} more lines)" if len(mended) > 1 else ""
    column = lines[line].index("\t")
    return Slip(line, column, f"the line is indented with a tab{more}: use two spaces", mended)


def _open_quote(lines: list[str], said: str, line: int, began: int) -> Slip | None:
    """A quote that is never closed, or is closed by the opening quote of a later line."""
    ended_early = "quoted scalar" in said
    first = began if ended_early else max(0, line - 12)
    for number in [began] if ended_early else range(line, first - 1, -1):
        text = lines[number]
        entry = _ENTRY.fullmatch(text) or _ITEM.fullmatch(text)
        if entry is None or len(text) > LONGEST_LINE:
            continue
        value, sign = entry["text"], entry["text"][0]
        if sign not in "\"'" or _quotes(value, sign) % 2 == 0:
            continue
        if sign == "'" and value.rstrip().endswith("'") and len(value) > 1:
            continue  # 'don't' closes well and is a quote inside
        better = entry["lead"] + value.rstrip() + sign
        message = f"the quote {sign} is never closed: write {_line(better)}"
        return Slip(number, entry.start("text"), message, ((number, better),))
    if ended_early:
        found = re.search(r"[\"']", lines[began])
        column = found.start() if found else 0
        return Slip(began, column, "a quote that begins on this line is never closed")
    return None


def _start_sign(lines: list[str], line: int, column: int) -> Slip | None:
    """A text that starts with a sign that means something to YAML."""
    entry = _ENTRY.fullmatch(lines[line]) or _ITEM.fullmatch(lines[line])
    if entry is None:
        return None
    text, start = entry["text"], entry.start("text")
    sign = text[0]
    closes_wrongly = sign in "]},?" or (sign in "|>" and not re.match(r"[|>][-+1-9]{0,2}\s*$", text))
    if not (sign in "%@`*&!" or closes_wrongly) or column < start:
        return None
    better = entry["lead"] + quoted(text)
    message = f"a text cannot start with {sign} unless it is quoted: write {_line(better)}"
    return Slip(line, start, message, ((line, better),))


def _quote_inside(lines: list[str], line: int) -> Slip | None:
    """Words before or after a quoted piece, or the same quote inside a quoted text."""
    entry = _ENTRY.fullmatch(lines[line]) or _ITEM.fullmatch(lines[line])
    if entry is None or entry["text"][0] not in "\"'":
        return None
    text = entry["text"].rstrip()
    sign = text[0]
    closing = text.find(sign, 1)
    if closing in (-1, len(text) - 1) or text[closing + 1 :].lstrip().startswith(("#", ":")):
        return None
    inner = text[1:-1] if text.endswith(sign) else text
    better = entry["lead"] + quoted(inner)
    message = f"the quote {sign} closes before the text ends: write {_line(better)}"
    return Slip(line, entry.start("text") + closing, message, ((line, better),))


def _glued(lines: list[str], said: str, line: int, began: int) -> Slip | None:
    """`key:text` or `-text` without the blank."""
    for number in dict.fromkeys((began, line, line - 1)):
        if number < 0 or len(lines[number]) > LONGEST_LINE:
            continue
        if dash := _GLUED_DASH.fullmatch(lines[number]):
            better = f"{dash['lead']}- {dash['text']}"
            message = f"a blank is missing after the dash: write {_line(better)}"
            return Slip(number, len(dash["lead"]), message, ((number, better),))
        if key := _GLUED_KEY.fullmatch(lines[number]):
            if "':'" not in said and "mapping values" not in said:
                continue
            better = f"{key['lead']}{key['key']}: {key['text']}"
            message = f"a blank is missing after the colon: write {_line(better)}"
            return Slip(number, key.end("key"), message, ((number, better),))
    return None


def _cut_by_comment(lines: list[str], said: str, line: int, began: int) -> Slip | None:
    """A text or a brace whose end was swallowed by ` #`."""
    before = line - 1
    while before > began and not lines[before].strip():
        before -= 1
    for number in dict.fromkeys((began if "flow" in said else before, before)):
        entry = _ENTRY.fullmatch(lines[number]) if 0 <= number < line else None
        cut = _CUT.search(lines[number]) if entry else None
        if entry is None or cut is None or cut.start() < entry.start("text"):
            continue
        text, start = entry["text"], entry.start("text")
        in_braces = text[0] in _PAIRS
        if in_braces and _open_at_end(text[: cut.start() - start]) == "":
            continue
        if not in_braces and _indent(lines[line]) <= _indent(lines[number]):
            continue
        if in_braces:
            message = "a # after a blank begins a comment and cut this off: put quotes around the text"
            better = lines[number][: cut.start()] + _open_at_end(text[: cut.start() - start])
            return Slip(number, cut.start() + 1, message, ((number, better),))
        better = entry["lead"] + text.replace(" #", " no. ")
        message = (
            "a # after a blank begins a comment and cut this text off: write the text below "
            f"{_line(entry['lead'].rstrip() + ' >-')}, or put it in quotes"
        )
        return Slip(number, cut.start() + 1, message, ((number, better),))
    return None


def _colon_in_text(lines: list[str], said: str, line: int, column: int) -> Slip | None:
    """A colon and a blank in an unquoted text."""
    text = lines[line]
    if "flow" in said:
        return _colon_in_braces(lines, line, column)
    if "mapping values" not in said:
        return None
    entry = _ENTRY.fullmatch(text)
    if entry and entry.start("text") <= column and entry["text"][0] not in "{[\"'|>":
        better = entry["lead"] + quoted(entry["text"])
        message = f"a colon in an unquoted text: write {_line(better)}"
        return Slip(line, column, message, ((line, better),))
    above = line - 1
    while above > 0 and not lines[above].strip():
        above -= 1
    if above < 0 or len(lines[above]) > LONGEST_LINE:
        return None
    opener = _ENTRY.fullmatch(lines[above])
    deeper = len(_indent(text)) > len(_indent(lines[above]))
    if text[column : column + 1] != ":":
        return None
    harmless = text[:column] + "," + text[column + 1 :]
    if opener and deeper:
        lead = opener["lead"].rstrip()
        message = (
            f"either a colon in a text that goes on from the line above: begin it {_line(lead + ' >-')}"
            f" with all of the text below; or this key stands too far right: indent it by "
            f"{len(_indent(lines[above]))}"
        )
        return Slip(line, column, message, ((line, harmless),))
    return _no_colon(lines, above)


def _no_colon(lines: list[str], above: int) -> Slip | None:
    """A key without its colon, found out at the next key."""
    start = _NO_COLON.match(lines[above])
    if start is None or ": " in lines[above]:
        return None
    at = start.end("key")
    better = lines[above][:at] + ":" + lines[above][at:]
    message = f"a colon is missing after the key: write {_line(better)}"
    return Slip(above, at, message, ((above, better),))


def _colon_in_braces(lines: list[str], line: int, column: int) -> Slip | None:
    """`{say: Note: look, next: x}`: quote the piece up to the next comma or brace."""
    text = lines[line]
    if text[column : column + 1] != ":":
        return None
    start = max(text.rfind(": ", 0, column) + 2, text.rfind(", ", 0, column) + 2)
    ends = [at for at in (text.find(sign, column) for sign in ",}]") if at >= 0]
    end = min(ends, default=len(text))
    if start < 2 or end <= start:
        return None
    better = text[:start] + quoted(text[start:end]) + text[end:]
    message = f"a colon in an unquoted text inside braces: write {_line(better)}"
    return Slip(line, column, message, ((line, better),))


def _open_bracket(lines: list[str], said: str, began: int) -> Slip | None:
    """A brace or bracket that is not closed on the line that opens it."""
    if "flow" not in said:
        return None
    missing = _open_at_end(lines[began])
    if not missing:
        return None
    better = lines[began].rstrip() + missing
    opened = "{" if missing[-1] == "}" else "["
    message = f"the {opened} is never closed: write {_line(better)}"
    return Slip(began, lines[began].index(opened), message, ((began, better),))


def _layout(lines: list[str], said: str, line: int, column: int) -> Slip | None:
    """Wrong indentation and what else can be told from the parser's complaint."""
    if lines[line].lstrip(" -").startswith(":"):
        return Slip(line, lines[line].index(":"), "a key is missing before this colon")
    if "sequence entries are not allowed" in said:
        return Slip(line, column, "a list begins on a line of its own: put the - below the key")
    if "could not find expected ':'" in said:
        number = line
        while number > 0 and (number == line or not lines[number].strip()):
            number -= 1
        slip = _no_colon(lines, number)
        return slip or Slip(number, len(_indent(lines[number])), "a key without a colon and a value")
    if any(words in said for words in ("expected key", "expected '-'", "<block end>")):
        indent = len(_indent(lines[line]))
        columns = sorted({len(_indent(text)) for text in lines[max(0, line - 40) : line] if text.strip()})
        near = min(columns, key=lambda other: abs(other - indent), default=indent)
        kind = "an entry with -" if "block collection" in said else "a key"
        if near == indent:
            return Slip(line, column, f"{kind} was expected here; lists and keys cannot be mixed")
        message = f"{kind} was expected in another column: the line is indented by {indent}, not {near}"
        better = " " * near + lines[line].lstrip(" ")
        return Slip(line, column, message, ((line, better),))
    return None


def _quotes(text: str, sign: str) -> int:
    """Count the quotes in a text that begins with one, without escaped or commented ones."""
    if sign == '"':
        text = re.sub(r"\\.", "", text)
    return text.count(sign)


def _open_at_end(text: str) -> str:
    """Return the closing signs *text* still needs, innermost first; none if they are at odds."""
    missing: list[str] = []
    quote = ""
    for sign in text:
        if quote:
            quote = "" if sign == quote else quote
        elif sign == '"':
            quote = sign
        elif sign in _PAIRS:
            missing.append(_PAIRS[sign])
        elif sign in "}]" and (not missing or missing.pop() != sign):
            return ""
    return "".join(reversed(missing))


def _indent(text: str) -> str:
    return text[: len(text) - len(text.lstrip(" \t"))]


def _line(text: str) -> str:
    """Return a corrected line for a message: without its indentation and not endless."""
    text = text.strip()
    return text if len(text) <= 100 else text[:99] + "…"


def _plain_words(said: str) -> str:
    """Return the parser's complaint in words that need no knowledge of YAML."""
    for part, words in _COMPLAINTS:
        if part in said:
            return words
    return shown(said.strip(": "))[1:-1]
