"""A place in a definition file, read with a type in mind: what does not fit is reported, never raised."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

from engine.errors import DataPath, Level, Problem, did_you_mean, shown
from engine.yaml_text import Data, Document

_SIDE = re.compile(r"b[12](?:s[123])?")


@dataclass(slots=True)
class Report:
    """The problems found so far; what is written out several times is reported once."""

    problems: list[Problem] = field(default_factory=list)
    _seen: set[tuple[str, int, int, str]] = field(default_factory=set)

    def add(self, problem: Problem) -> None:
        """Keep *problem*, unless the same is known at this place for another side or member."""
        alike = _SIDE.sub("b", problem.message).partition("'")[0]
        key = (problem.file, problem.line, problem.column, alike)
        if key not in self._seen:
            self._seen.add(key)
            self.problems.append(problem)

    @property
    def sorted(self) -> tuple[Problem, ...]:
        """The problems by file, line and column."""
        return tuple(sorted(self.problems))


@dataclass(frozen=True, slots=True)
class Part:
    """A value in a document, with its path."""

    document: Document
    path: DataPath
    data: Data
    report: Report

    @classmethod
    def root(cls, document: Document, report: Report) -> Part:
        """Return the whole of a document."""
        return cls(document, (), document.data, report)

    # ------------------------------------------------------------- reporting

    def problem(self, message: str, *keys: str | int, level: Level = "error") -> None:
        """Report something wrong with this value, or with one inside it."""
        self.report.add(self.document.problem((*self.path, *keys), message, level=level))

    def key_problem(self, message: str, *keys: str | int, level: Level = "error") -> None:
        """Report something wrong with the key of this value, or of one inside it."""
        self.report.add(self.document.key_problem((*self.path, *keys), message, level=level))

    def unknown(self, what: str, found: str, allowed: Collection[str], *keys: str | int) -> None:
        """Report a name that is not known, with the nearest that is."""
        self.problem(f"unknown {what} {shown(found)}{did_you_mean(found, allowed)}", *keys)

    def unknown_key(self, what: str, found: str, allowed: Collection[str], *keys: str | int) -> None:
        """Report a key that names nothing known, with the nearest that does."""
        self.key_problem(f"unknown {what} {shown(found)}{did_you_mean(found, allowed)}", *keys)

    # --------------------------------------------------------------- inside

    def has(self, key: str) -> bool:
        """Tell whether this is a map with *key*."""
        return isinstance(self.data, dict) and key in self.data

    def get(self, key: str | int) -> Part:
        """Return the value under *key*; nothing (None) where there is none."""
        data: Data = None
        if isinstance(self.data, dict) and isinstance(key, str):
            data = self.data.get(key)
        elif isinstance(self.data, list) and isinstance(key, int):
            data = self.data[key]
        return Part(self.document, (*self.path, key), data, self.report)

    def entries(self, key: str | None = None) -> Iterator[tuple[str, Part]]:
        """Return the keys and values of this map, or of the map under *key*."""
        part = self if key is None else self.get(key)
        if isinstance(part.data, dict):
            for name in part.data:
                yield name, part.get(name)
        elif part.data is not None:
            part.problem(f"found {shown(part.data)}, expected a map of keys")

    def items(self, key: str | None = None) -> Iterator[Part]:
        """Return the values of this list, or of the list under *key*."""
        part = self if key is None else self.get(key)
        if isinstance(part.data, list):
            for index in range(len(part.data)):
                yield part.get(index)
        elif part.data is not None:
            part.problem(f"found {shown(part.data)}, expected a list")

    def texts(self, key: str | None = None) -> Iterator[tuple[str, Part]]:
        """Return the texts of the list under *key*."""
        for item in self.items(key):
            text = item.as_text()
            if text is not None:
                yield text, item

    # --------------------------------------------------------------- scalars

    def as_text(self) -> str | None:
        """Return this value as a text, or None with a report."""
        if isinstance(self.data, str):
            return self.data
        self.problem(f"found {shown(self.data)}, expected a text")
        return None

    def as_number(self) -> float | None:
        """Return this value as a number, or None with a report."""
        number = as_float(self.data)
        if number is None:
            self.problem(f"found {shown(self.data)}, expected a number")
        return number

    def text(self, key: str, default: str | None = None) -> str:
        """Return the text under *key*; reported when it is missing and there is no default."""
        found = self.data.get(key) if isinstance(self.data, dict) else None
        if isinstance(found, str):
            return found
        if found is None:
            if default is None:
                self.key_problem(f"{key}: is missing here")
            return default or ""
        self.problem(f"found {shown(found)}, expected a text", key)
        return default or ""

    def maybe_text(self, key: str) -> str | None:
        """Return the text under *key*, or None where there is none."""
        return self.text(key, "") if self.get(key).data is not None else None

    def number(self, key: str, default: float | None = None) -> float:
        """Return the number under *key*; reported when it is missing and there is no default."""
        found = self.data.get(key) if isinstance(self.data, dict) else None
        if found is None:
            if default is None:
                self.key_problem(f"{key}: is missing here")
            return default or 0.0
        return self.get(key).as_number() or 0.0

    def flag(self, key: str) -> bool:
        """Return the true or false under *key*; false where there is none."""
        found = self.data.get(key) if isinstance(self.data, dict) else None
        if found is not None and not isinstance(found, bool):
            self.problem(f"found {shown(found)}, expected true or false", key)
        return found is True

    def one_of(self, key: str, allowed: Collection[str], default: str | None = None) -> str:
        """Return the word under *key*, which must be one of *allowed*; the first of them when it is not."""
        found = self.text(key, default)
        if found in allowed:
            return found
        if found:
            words = ", ".join(allowed)
            self.problem(f"found {shown(found)}, allowed: {words}{did_you_mean(found, allowed)}", key)
        return default or next(iter(allowed))


def as_float(data: Data) -> float | None:
    """Return plain data as a finite number, or None."""
    if isinstance(data, bool) or not isinstance(data, int | float):
        return None
    try:
        number = float(data)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None
