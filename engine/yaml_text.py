"""YAML without surprises: plain data with the line and column of every value and key.

Nothing is constructed but dict, list, str, int, float, bool and None. The parser's events are
taken one at a time, so depth, size and node count are bounded before anything is built, and
aliases are refused before they can multiply. No input raises: what is wrong is a `Problem`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

import yaml

from engine.errors import DataPath, Level, Problem, shown, where
from engine.yaml_scalars import plain_value
from engine.yaml_slips import LONGEST_LINE, explain, quoted

Data: TypeAlias = "dict[str, Data] | list[Data] | str | int | float | bool | None"
Mark = tuple[int, int]

LARGEST_FILE = 1 << 20
"""Bytes."""
DEEPEST = 32
"""Maps and lists inside one another."""
MOST_NODES = 20_000
"""Keys, values, maps and lists of one file."""
LONGEST_TEXT = 20_000
"""Characters of one value."""
MOST_PROBLEMS = 100
"""Problems listed of one file."""
MOST_MENDINGS = 20
"""Syntax errors mended in one file before giving up."""
MOST_MENDED = 1 << 20
"""Characters read again after mendings, all together; keeps hostile files quick."""

LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""The C parser where PyYAML has it: eight times as quick, same events and places."""

_UNPRINTABLE = re.compile(
    "[^\t\n\r -~\xa0-\u2027\u202f-\u2065\u206a-\ud7ff\ue000-\ufefe\uff00-\ufffc\U00010000-\U0010ffff]"
)
_STRAY_COMMENT = re.compile(r" #|[ \t]+#[0-9]")
_FLOW_SIGN = re.compile(r"[{}\[\],]")
_NAMES = {
    0: "a NUL byte",
    0x85: "a hidden line break (NEL)",
    0x2028: "a hidden line break (U+2028)",
    0x2029: "a hidden paragraph break (U+2029)",
    0xFEFF: "a byte order mark inside the text",
    0xFFFD: "bytes that are not UTF-8",
}


@dataclass(frozen=True, slots=True)
class Document:
    """One YAML file as plain data, with the place of everything in it."""

    file: str
    data: Data
    """What could be read, even when there are problems."""
    marks: Mapping[DataPath, Mark]
    """Line and column, from 1, of every value."""
    key_marks: Mapping[DataPath, Mark]
    """Line and column, from 1, of every key; the path is that of its value."""
    problems: tuple[Problem, ...]

    def mark(self, path: DataPath) -> Mark:
        """Return the place of a value, or of the nearest thing around it that was written."""
        while path not in self.marks and path:
            path = path[:-1]
        return self.marks.get(path, (1, 1))

    def problem(self, path: DataPath, message: str, *, level: Level = "error") -> Problem:
        """Return a problem at the value of *path*."""
        line, column = self.mark(path)
        return Problem(self.file, line, column, level, where(path), message)

    def key_problem(self, path: DataPath, message: str, *, level: Level = "error") -> Problem:
        """Return a problem at the key of *path*."""
        line, column = self.key_marks.get(path) or self.mark(path)
        return Problem(self.file, line, column, level, where(path), message)


def read_yaml(source: bytes | str, file: str) -> Document:
    """Read one YAML (or JSON) file; never raises for what is in it.

    Args:
        source: the file's bytes, or its text.
        file: the name to show in problems.
    """
    size = len(source)
    if size > LARGEST_FILE:
        message = f"the file has {size:,} bytes, at most {LARGEST_FILE:,} are read: split it"
        return Document(file, None, {}, {}, (Problem(file, 1, 1, "error", "", message),))
    text = source if isinstance(source, str) else source.decode("utf-8", errors="replace")
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    text, problems = _without_hidden_signs(text, file)
    budget = MOST_MENDED
    for _ in range(MOST_MENDINGS):
        builder = _Builder(file, text)
        error = builder.build()
        if error is None:
            break
        lines = text.split("\n")
        slip = _slip(error, lines)
        problems.append(Problem(file, slip[0] + 1, slip[1] + 1, "error", where(builder.place()), slip[2]))
        budget -= len(text)
        if not slip[3] or budget < 0:
            break
        for number, line in slip[3]:
            lines[number] = line
        mended = "\n".join(lines)
        if mended == text:
            break
        text = mended
    problems = sorted(set(problems + builder.problems))
    if len(problems) > MOST_PROBLEMS:
        problems = problems[:MOST_PROBLEMS]
        last = problems[-1]
        message = f"more than {MOST_PROBLEMS} problems in this file: the rest is not listed"
        problems.append(Problem(file, last.line, last.column, "error", "", message))
    return Document(file, builder.root, builder.marks, builder.key_marks, tuple(problems))


def _slip(error: yaml.YAMLError, lines: list[str]) -> tuple[int, int, str, tuple[tuple[int, str], ...]]:
    """Return line, column (from 0), message and mended lines for a parser's complaint."""
    mark = getattr(error, "problem_mark", None)
    began = getattr(error, "context_mark", None) or mark
    said = f"{getattr(error, 'context', '') or ''}: {getattr(error, 'problem', '') or ''}"
    if mark is None or began is None:
        return 0, 0, f"this is not YAML: {shown(str(error))}", ()
    slip = explain(lines, said, mark.line, mark.column, began.line)
    return slip.line, slip.column, slip.message, slip.mended


def _without_hidden_signs(text: str, file: str) -> tuple[str, list[Problem]]:
    """Replace what no editor shows by blanks, column for column, and report each place."""
    problems: list[Problem] = []
    line, line_start, counted_to = 1, 0, 0
    for found in _UNPRINTABLE.finditer(text):
        if len(problems) > MOST_PROBLEMS:
            break
        breaks = text.count("\n", counted_to, found.start())
        if breaks:
            line += breaks
            line_start = text.rfind("\n", counted_to, found.start()) + 1
        counted_to = found.start()
        code = ord(found[0])
        name = _NAMES.get(code, f"a sign that cannot be seen (U+{code:04X})")
        message = f"{name}: take it out, and save the file as UTF-8"
        problems.append(Problem(file, line, found.start() - line_start + 1, "error", "", message))
    return (_UNPRINTABLE.sub(" ", text) if problems else text), problems


class _Stop(Exception):
    """Reading ends here; the reason is already among the problems."""


class _Builder:
    """Turns one stream of parser events into data, marks and problems."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.text = text
        self.lines = text.split("\n")
        self.root: Data = None
        self.marks: dict[DataPath, Mark] = {}
        self.key_marks: dict[DataPath, Mark] = {}
        self.problems: list[Problem] = []
        self._open: list[dict[str, Data] | list[Data]] = []
        self._paths: list[DataPath] = []
        self._keys: list[str | None] = []
        """The key whose value comes next, for each open map."""
        self._nodes = 0
        self._anonymous = 0

    def build(self) -> yaml.YAMLError | None:
        """Read the text; return the parser's complaint if it gave up."""
        loader = LOADER(self.text)
        try:
            documents = 0
            while loader.check_event():
                event = loader.get_event()
                if isinstance(event, yaml.DocumentStartEvent):
                    documents += 1
                    self._document(event, documents)
                else:
                    self._take(event)
        except yaml.YAMLError as error:
            return error
        except _Stop:
            return None
        finally:
            loader.dispose()
        return None

    def place(self) -> DataPath:
        """Return the path of what is being read."""
        if not self._open:
            return ()
        key = self._keys[-1]
        return self._paths[-1] if key is None else (*self._paths[-1], key)

    def _document(self, event: yaml.DocumentStartEvent, number: int) -> None:
        if number > 1:
            self._problem(event, "a second document begins here: one file holds one; take out ---")
            raise _Stop
        if event.version or event.tags:
            self._problem(event, "a % directive: take the line out")

    def _take(self, event: yaml.Event) -> None:
        """Take one event of the content."""
        if isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
            self._open.pop()
            self._paths.pop()
            self._keys.pop()
            return
        if not isinstance(event, yaml.NodeEvent):
            return
        self._nodes += 1
        if self._nodes > MOST_NODES:
            self._problem(event, f"the file holds more than {MOST_NODES:,} values: split it")
            raise _Stop
        is_key = bool(self._open) and isinstance(self._open[-1], dict) and self._keys[-1] is None
        if is_key and isinstance(event, yaml.ScalarEvent):
            self._keys[-1] = self._key(event)
            return
        if is_key:
            self._problem(event, "a key must be a word, not a list, a map or an alias")
            self._keys[-1] = self._nameless()
            if isinstance(event, yaml.AliasEvent):
                return
            self._container_as_key(event)
            return
        self._value(event)

    def _container_as_key(self, event: yaml.Event) -> None:
        """Read a map or list that stands where a key should, and keep it out of the data."""
        self._push(event, {} if isinstance(event, yaml.MappingStartEvent) else [], self.place())

    def _value(self, event: yaml.NodeEvent) -> None:
        path = self._path_of_next()
        self.marks.setdefault(path, _start(event))
        value: Data = None
        if isinstance(event, yaml.AliasEvent):
            self._refuse_sign(event, "*")
        elif event.anchor is not None:
            self._refuse_sign(event, "&")
        elif getattr(event, "tag", None) is not None:
            self._refuse_sign(event, "!")
        if isinstance(event, yaml.ScalarEvent):
            value = self._scalar(event)
        elif isinstance(event, yaml.MappingStartEvent):
            value = {}
        elif isinstance(event, yaml.SequenceStartEvent):
            value = []
        self._attach(value)
        if isinstance(value, dict | list):
            self._push(event, value, path)

    def _push(self, event: yaml.Event, value: dict[str, Data] | list[Data], path: DataPath) -> None:
        if len(self._open) >= DEEPEST:
            self._problem(event, f"more than {DEEPEST} maps and lists inside one another")
            raise _Stop
        self._open.append(value)
        self._paths.append(path)
        self._keys.append(None)

    def _path_of_next(self) -> DataPath:
        """Return the path of the value that comes next."""
        if not self._open:
            return ()
        container = self._open[-1]
        if isinstance(container, list):
            return (*self._paths[-1], len(container))
        key = self._keys[-1]
        return (*self._paths[-1], key if key is not None else "?")

    def _attach(self, value: Data) -> None:
        """Put a value into what is open; of a key given twice the first value stays."""
        if not self._open:
            self.root = value
            return
        container = self._open[-1]
        if isinstance(container, list):
            container.append(value)
            return
        key = self._keys[-1]
        self._keys[-1] = None
        if key is not None and not key.startswith("\0"):
            container.setdefault(key, value)

    def _key(self, event: yaml.ScalarEvent) -> str:
        """Return the key's text, or a name that is kept out of the data."""
        if event.anchor is not None or event.tag is not None:
            self._refuse_sign(event, "&" if event.anchor is not None else "!")
        text = event.value
        plain = event.style in (None, "")
        if plain and text == "<<":
            self._problem(event, "merge keys << are not used here: write the lines out")
            return self._nameless()
        if not text.strip() or len(text) > 200:
            self._problem(event, "a key is missing here" if not text.strip() else "a key is too long")
            return self._nameless()
        value, refusal = plain_value(text) if plain else (text, None)
        if not isinstance(value, str) or refusal:
            self._problem(event, f'a key must be a word: put quotes around it: "{text[:40]}"')
        container, path = self._open[-1], (*self._paths[-1], text)
        if isinstance(container, dict) and text in container:
            first = self.key_marks.get(path, (0, 0))[0]
            self._problem(event, f"the key {shown(text)} stands twice, first on line {first}")
        self.key_marks.setdefault(path, _start(event))
        return text

    def _nameless(self) -> str:
        self._anonymous += 1
        return f"\0{self._anonymous}"

    def _scalar(self, event: yaml.ScalarEvent) -> Data:
        text = event.value
        if len(text) > LONGEST_TEXT:
            self._problem(event, f"a text of {len(text):,} characters: at most {LONGEST_TEXT:,}")
            return text[:LONGEST_TEXT]
        if event.style not in (None, ""):
            return text
        value, refusal = plain_value(text)
        if refusal:
            self._problem(event, refusal)
        if text.startswith("-") and isinstance(value, str) and text[1:2].isalpha():
            self._problem(event, f"a blank is missing after the dash: write - {text[1:41]}")
        if isinstance(value, str) and value:
            self._warn_of_comment(event)
        return value

    def _warn_of_comment(self, event: yaml.ScalarEvent) -> None:
        """Warn where ` #` cut a text, unless two blanks mark it as a comment."""
        end = event.end_mark
        if " " not in event.value or end is None or end.line >= len(self.lines):
            return
        line = self.lines[end.line]
        if not _STRAY_COMMENT.match(line, end.column):
            return
        number, column = _start(event)
        text = line[column - 1 :]
        advice = "put quotes around the text"
        if number == end.line + 1 and len(line) <= LONGEST_LINE and not _FLOW_SIGN.search(text):
            advice = f"write {(line[: column - 1].strip() + ' ' + quoted(text)).strip()[:100]}"
        message = f"the text ends before the #: {advice}, or two blanks before a comment"
        self._problem(event, message, level="warning")

    def _refuse_sign(self, event: yaml.NodeEvent, sign: str) -> None:
        """Refuse an alias, anchor or tag, with the line as a text would be written."""
        name = {"*": "an alias (*)", "&": "an anchor (&)", "!": "a tag (!)"}[sign]
        number, column = _start(event)
        line = self.lines[number - 1] if number <= len(self.lines) else ""
        text = line[column - 1 :]
        if len(line) <= LONGEST_LINE and text.startswith(sign):
            better = (line[: column - 1].strip() + " " + quoted(text)).strip()
            self._problem(event, f"{name} is not used here; if a text was meant write {better[:100]}")
        else:
            self._problem(event, f"{name} is not used here: write the text out")

    def _problem(self, event: yaml.Event, message: str, *, level: Level = "error") -> None:
        line, column = _start(event)
        path = tuple(part for part in self.place() if isinstance(part, int) or not part.startswith("\0"))
        self.problems.append(Problem(self.file, line, column, level, where(path), message))
        if len(self.problems) > MOST_PROBLEMS:
            raise _Stop


def _start(event: yaml.Event) -> Mark:
    """Return line and column, from 1, where an event begins."""
    mark = event.start_mark
    return (1, 1) if mark is None else (mark.line + 1, mark.column + 1)
