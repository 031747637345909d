"""Local experience put into a shop's folder from the step at hand: a limit, a weight, a note.

An edit appends its own lines to a file, or puts them in place of the line that said the same thing before;
everything else in the file stays byte for byte. The new text is loaded with all trees first and replaces
the old in one go, so that a wrong edit leaves the folder as it was.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from engine.errors import LaybyError, Problem, did_you_mean, shown
from engine.journal import disk
from engine.library import (
    SHOP,
    Library,
    assemble_documents,
    kind_of_file,
    load_library,
    not_repeated,
    schema_place,
    shipped_documents,
    shipped_files,
    shop_files,
)
from engine.local_lines import step_digest
from engine.overlays import EVERY_TREE
from engine.schema_check import check_schema
from engine.shop_text import number_text, with_entry
from engine.units import UnitError, convert
from engine.yaml_text import Data, Document, read_yaml

FIGURES = "figures"
"""Name of the file for limits and weights that belong to no tree."""
Cars = Mapping[str, Data]
"""Facts about the car as a condition: ``{"veh_fuel": {"is": "lpg"}}``."""


@dataclass(frozen=True, slots=True)
class Edited:
    """What became of an edit."""

    path: Path
    """The file it was meant for."""
    line: int
    """The line it stands on, from 1; 0 when nothing was written."""
    problems: tuple[Problem, ...] = ()
    """Errors: the folder is as it was. Warnings: written, and worth a look."""

    @property
    def done(self) -> bool:
        """Tell whether it was written."""
        return self.line > 0


def set_limit(
    folder: Path,
    limit: str,
    value: float,
    unit: str | None = None,
    *,
    cars: Cars | None = None,
    by: str = "",
    on: str,
    reason: str,
) -> Edited:
    """Write another figure for a limit; the line for the same cars is replaced.

    Args:
        folder: the shop's folder; made when it is not there.
        limit: its name.
        value: the figure.
        unit: the figure's unit; None for the limit's own.
        cars: the cars it holds for; None for every car.
        by: who stands for it; empty for nobody yet.
        on: the day, ``2026-05-31``.
        reason: why.
    """
    try:
        figure = _in_own_unit(folder, limit, value, unit)
    except LaybyError as error:
        return _refused(folder / f"{FIGURES}.yaml", str(error))
    entry: dict[str, Data] = {"limit": limit, "cars": dict(cars) if cars else None, "value": figure}
    return _edit(folder, "limits", entry | _signed(by, on, reason), ("limit", "cars"), ("limit",))


def set_weight(
    folder: Path,
    fault: str,
    times: float,
    *,
    cars: Cars | None = None,
    tree: str = EVERY_TREE,
    at: str | None = None,
    until: str | None = None,
    by: str = "",
    on: str,
    reason: str,
) -> Edited:
    """Write another weight of a fault: its prior, or with *at* what the verdicts of a step say of it.

    Args:
        folder: the shop's folder; made when it is not there.
        fault: its name.
        times: what the shipped weight is multiplied by, 0.02 to 50.
        cars: the cars it holds for; None for every car. Not together with *at*.
        tree: the tree of *at*.
        at: step, or ``step/rule``.
        until: the last day it holds.
        by: who stands for it; empty for nobody yet.
        on: the day.
        reason: why.
    """
    if not math.isfinite(times):
        return _refused(folder / f"{FIGURES}.yaml", f"found {times}: a weight lies between 0.02 and 50")
    entry: dict[str, Data] = {"fault": fault, "cars": dict(cars) if cars else None, "times": times, "at": at}
    entry |= {"base": _base_digest(tree, at) if at else None, "until": until}
    same = ("fault", "cars", "at")
    return _edit(folder, "weights", entry | _signed(by, on, reason), same, ("fault", "at"), tree)


def pin_note(
    folder: Path, tree: str, step: str, text: str, *, by: str = "", on: str, reason: str = ""
) -> Edited:
    """Pin a note to a step of a tree, or to ``step/rule``.

    Args:
        folder: the shop's folder; made when it is not there.
        tree: the tree.
        step: the step.
        text: the note.
        by: who stands for it; empty for nobody yet.
        on: the day.
        reason: why, when the note does not say it itself.
    """
    entry: dict[str, Data] = {"at": step, "text": text, "base": _base_digest(tree, step)}
    return _edit(folder, "notes", entry | _signed(by, on, reason), ("at", "text"), (), tree)


def _signed(by: str, on: str, reason: str) -> dict[str, Data]:
    return {"by": by.strip() or None, "on": on, "reason": reason.strip() or None}


def _base_digest(tree: str, at: str) -> str | None:
    """Return the digest of a shipped step, or None when it is the shop's own."""
    for document in shipped_documents().values():
        data = document.data
        if isinstance(data, dict) and data.get("tree") == tree:
            steps = data.get("steps")
            step = steps.get(at.partition("/")[0]) if isinstance(steps, dict) else None
            return step_digest(step) if isinstance(step, dict) else None
    return None


def _in_own_unit(folder: Path, name: str, value: float, unit: str | None) -> float:
    """Return a figure in the limit's unit.

    Raises:
        LaybyError: no such limit, no number, or a unit of something else.
    """
    limits = load_library().catalogue.limits
    if name not in limits and folder.is_dir():
        limits = load_library(folder).catalogue.limits
    if name not in limits:
        raise LaybyError(f"unknown limit {shown(name)}{did_you_mean(name, limits)}")
    value = float(value)
    if not math.isfinite(value):
        raise LaybyError(f"found {value}, expected a number")
    own = limits[name].unit
    try:
        return value if unit is None else convert(value, unit, own)
    except UnitError as error:
        raise LaybyError(
            f"{number_text(value)} {unit}: {error}; {name} is in {own or 'a bare number'}"
        ) from error


# ------------------------------------------------------------------------ the edit


@dataclass(frozen=True, slots=True)
class _Place:
    """The file an entry goes into, and the entry it stands in place of."""

    name: str
    content: bytes
    index: int | None


def _edit(
    folder: Path,
    section: str,
    filled: dict[str, Data],
    same: tuple[str, ...],
    about: tuple[str, ...],
    tree: str = EVERY_TREE,
) -> Edited:
    """Put an entry into the folder.

    Args:
        folder: the shop's folder.
        section: the list.
        filled: the entry; keys without a value are left out.
        same: an entry equal in these keys is replaced.
        about: an entry equal in these keys is about the same thing: the new one goes behind it.
        tree: what the file extends; figures may stand in any file.
    """
    entry = {key: value for key, value in filled.items() if value is not None}
    try:
        files = shop_files(folder) if folder.is_dir() else {}
    except LaybyError as error:
        return _refused(folder, str(error))
    documents = {name: read_yaml(content, name) for name, content in files.items()}
    place = _place(files, documents, section, entry, same, about, tree)
    path = folder / place.name.removeprefix(f"{SHOP}/")
    document = read_yaml(place.content, place.name)
    errors = tuple(problem for problem in document.problems if problem.level == "error")
    if errors:  # the text is then not what was read
        return Edited(path, 0, named_by_path(errors, folder))
    spliced = with_entry(place.content.decode("utf-8"), document, section, entry, place.index)
    if spliced is None or not _as_meant(spliced.text, document, section, entry, place.index):
        line = document.key_marks.get((section,), (1, 1))[0]
        return _refused(
            path, f"{section}: no line can be put into this list as it is written: edit it by hand", line
        )
    changed = {**files, place.name: spliced.text.encode("utf-8")}
    lines = range(spliced.line, spliced.line + len(entry))
    problems = named_by_path(_validated(changed, documents, place.name, lines), folder)
    if any(problem.level == "error" for problem in problems):
        return Edited(path, 0, problems)
    refused = _replaced(path, files.get(place.name), changed[place.name])
    return refused or Edited(path, spliced.line, problems)


def _replaced(path: Path, old: bytes | None, new: bytes) -> Edited | None:
    """Put the new content under *path*; return why not, or None when it is done."""
    try:
        disk.make_folder(path.parent)
        if old is None:
            disk.write_new(path, new)
        elif path.read_bytes() != old:
            return _refused(path, "the file was changed meanwhile: try again")
        else:
            disk.replace_file(path, new)
    except OSError as error:
        return _refused(path, disk.plain_reason(error))
    return None


def named_by_path(problems: Iterable[Problem], folder: Path) -> tuple[Problem, ...]:
    """Return problems of a shop's files with the files named as they are on the disk."""
    return tuple(replace(problem, file=real_path(problem.file, folder)) for problem in problems)


def real_path(name: str, folder: Path) -> str:
    """Return the path of a definition file of the shop; that of a shipped one stays."""
    return str(folder / name.removeprefix(f"{SHOP}/")) if name.startswith(f"{SHOP}/") else name


def _refused(path: Path, message: str, line: int = 1) -> Edited:
    return Edited(path, 0, (Problem(str(path), line, 1, "error", "", message),))


def _place(
    files: Mapping[str, bytes],
    documents: Mapping[str, Document],
    section: str,
    entry: Mapping[str, Data],
    same: tuple[str, ...],
    about: tuple[str, ...],
    tree: str,
) -> _Place:
    """Return where an entry goes: for its like, behind what is about the same, into the tree's file."""
    behind: str | None = None
    for name, index, other in reversed(list(_entries(documents, section, tree))):
        if all(other.get(key) == entry.get(key) for key in same):
            return _Place(name, files[name], index)
        if behind is None and about and all(other.get(key) == entry.get(key) for key in about):
            behind = name
    own = [name for name, document in documents.items() if _extends(document) == tree]
    if behind is not None or own:
        name = behind or own[-1]
        return _Place(name, files[name], None)
    stem = FIGURES if tree == EVERY_TREE else tree
    numbered = (f"{SHOP}/{stem}{f'-{n}' if n > 1 else ''}.yaml" for n in range(1, len(files) + 2))
    name = next(name for name in numbered if name not in files)
    return _Place(name, new_file(tree).encode(), None)


def new_file(tree: str) -> str:
    """Return the beginning of a file that extends *tree*, with the schema for editors."""
    return f"# yaml-language-server: $schema={schema_place('overlay')}\nformat: 1\nextends: {tree}\n"


def _entries(
    documents: Mapping[str, Document], section: str, tree: str
) -> Iterator[tuple[str, int, dict[str, Data]]]:
    """Return every entry of a section with its file and index, in the order they are laid over."""
    for name, document in documents.items():
        data = document.data
        if not isinstance(data, dict) or kind_of_file(name, document) != "overlay":
            continue
        entries = data.get(section)
        for index, one in enumerate(entries if isinstance(entries, list) else ()):
            in_tree = isinstance(one, dict) and "at" in one
            if isinstance(one, dict) and (not in_tree or data.get("extends") == tree):
                yield name, index, one


def _extends(document: Document) -> Data:
    return document.data.get("extends") if isinstance(document.data, dict) else None


def _as_meant(
    text: str, before: Document, section: str, entry: Mapping[str, Data], index: int | None
) -> bool:
    """Tell whether the new text says what the old one said, and the entry."""
    old = before.data if isinstance(before.data, dict) else {}
    listed = old.get(section)
    entries: list[Data] = list(listed) if isinstance(listed, list) else []
    if index is None:
        entries.append(dict(entry))
    else:
        entries[index] = dict(entry)
    return read_yaml(text, before.file).data == {**old, section: entries}


def _validated(
    files: Mapping[str, bytes], read: Mapping[str, Document], changed: str, lines: range
) -> tuple[Problem, ...]:
    """Return the errors of the shop's files, else the warnings about the changed lines."""
    documents = dict(shipped_documents())
    for name in sorted(files, key=PurePosixPath):
        documents[name] = read_yaml(files[name], name) if name == changed else read[name]
    library, found = assemble_documents(documents, {**shipped_files(), **files})
    by_schema = [
        problem
        for name in files
        for problem in check_schema(documents[name], kind_of_file(name, documents[name]))
    ]
    problems = [*by_schema, *not_repeated(found, by_schema)]
    errors = tuple(sorted(problem for problem in problems if problem.level == "error"))
    near = (problem for problem in problems if problem.file == changed and problem.line in lines)
    return errors or (*near, *_overruled(library, changed, lines))


def _overruled(library: Library, changed: str, lines: range) -> Iterator[Problem]:
    """Return where the new line stands in place of others, or another in its place."""
    for one in library.local:
        if one.overruled_by is None:
            continue
        later = one.overruled_by
        if one.origin.file == changed and one.origin.line in lines:
            message = f"written, but {later.file}:{later.line} comes later and holds in its place"
            yield Problem(changed, one.origin.line, one.origin.column, "warning", "", message)
        elif later.file == changed and later.line in lines:
            message = (
                f"holds for every car now, also in place of {one.place} ({one.cars_words or one.subject})"
            )
            yield Problem(changed, later.line, later.column, "warning", "", message)
