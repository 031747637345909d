"""``layby shop``: the shop's own files begun and listed, and the names they may use."""

from __future__ import annotations

import argparse
import shlex
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from engine.errors import DefinitionError, LaybyError
from engine.job_files import DataFolders, data_folder
from engine.library import Library, load_library, schema_place
from engine.local_lines import UNSIGNED, LocalLine, age_words
from engine.shop_editing import named_by_path, real_path
from engine.shop_starter import write_starter
from engine.wording import number_words
from tui.commands.printing import print_json

OK = 0
_YEAR = timedelta(days=365)


def run(arguments: argparse.Namespace) -> int:
    """Do what the first word says; without one, list the shop's lines."""
    own = arguments.shop or DataFolders(data_folder(arguments.data)).shop
    word: str = arguments.word or ""
    match arguments.action:
        case "new":
            return _new(Path(word) if word else own, word or arguments.shop)
        case "limits":
            return _limits(_loaded(own, needed=False), word.casefold())
        case "steps":
            return _steps(_loaded(own, needed=False), word)
        case _:
            return _list(Path(word) if word else own, as_json=arguments.json)


def _today() -> date:
    return datetime.now(UTC).astimezone().date()


def _new(folder: Path, named: object) -> int:
    path = write_starter(folder, _today().isoformat(), (_today() + _YEAR).isoformat())
    print(f"written: {path}")
    print(f"schema for the editor: {schema_place('overlay')} (named in the first line)")
    where = shlex.quote(str(folder))
    print(f"next: open it in an editor, then: layby check {where}")
    print(f"then: layby shop list {where}" if named else "then: layby shop")
    return OK


def _loaded(folder: Path, *, needed: bool) -> Library:
    """Return the library with the shop's files, each fault named by its path.

    Raises:
        LaybyError: the files cannot be used, or there are none and they are needed.
    """
    if not (folder.is_dir() and any(folder.rglob("*.yaml"))):
        if needed:
            raise LaybyError(f"{folder}: nothing of this shop's own yet; layby shop new writes a first file")
        return load_library()
    try:
        return load_library(folder)
    except DefinitionError as error:
        raise DefinitionError(named_by_path(error.problems, folder)) from error


# ------------------------------------------------------------------------- listed


def _list(folder: Path, *, as_json: bool) -> int:
    for path in sorted(folder.rglob("*.yml")) if folder.is_dir() else ():
        print(f"{path}: is not read: rename it to {path.with_suffix('.yaml').name}", file=sys.stderr)
    library = _loaded(folder, needed=True)
    lines = sorted(
        (
            replace(line, origin=replace(line.origin, file=real_path(line.origin.file, folder)))
            for line in library.local
        ),
        key=lambda line: (line.origin.file, line.origin.line),
    )
    if as_json:
        print_json([_as_data(line, folder) for line in lines])
        return OK
    for line in lines:
        print("\n".join(_in_words(line, folder)))
    unsigned = sum(line.by is None for line in lines)
    counted = "1 line" if len(lines) == 1 else f"{len(lines)} lines"
    print(f"{folder}: {counted}, {unsigned} {UNSIGNED}", file=sys.stderr)
    return OK


def _in_words(line: LocalLine, folder: Path) -> list[str]:
    words = [f"{line.place}: {line.kind} {line.subject}: {line.change}"]
    if line.cars_words:
        words.append(f"    only where {line.cars_words}")
    reason = f": {line.reason}" if line.reason else ""
    words.append(f"    {line.by or UNSIGNED}, {line.on or 'no day'}, {age_words(line.on, _today())}{reason}")
    if line.ended:
        words.append(f"    not used: it ended on {line.until}")
    elif line.until:
        words.append(f"    until {line.until}")
    if line.overruled_by is not None:
        later = line.overruled_by
        words.append(f"    not used: {real_path(later.file, folder)}:{later.line} comes later")
    return words


def _as_data(line: LocalLine, folder: Path) -> dict[str, Any]:
    later = line.overruled_by
    return {
        "file": line.origin.file,
        "line": line.origin.line,
        "kind": str(line.kind),
        "subject": line.subject,
        "change": line.change,
        "cars": line.cars_words or None,
        "by": line.by,
        "on": line.on,
        "reason": line.reason,
        "until": line.until,
        "ended": line.ended,
        "overruled_by": f"{real_path(later.file, folder)}:{later.line}" if later else None,
    }


# -------------------------------------------------------------------------- names


def _limits(library: Library, word: str) -> int:
    found = [
        limit
        for limit in library.catalogue.limits.values()
        if word in limit.id.casefold() or word in limit.label.casefold()
    ]
    if not found:
        print(f"no limit fits “{word}”")
    for limit in found:
        figure = "by the car" if limit.value is None else number_words(limit.value, limit.unit)
        unit = f" [{limit.unit}]" if limit.value is None and limit.unit else ""
        print(f"{limit.id:30} {limit.label}: {figure}{unit}")
    return OK


def _steps(library: Library, name: str) -> int:
    if not name:
        raise LaybyError(f"layby shop steps TREE; there are {', '.join(library.trees)}")
    tree = library.tree(name)
    table = next(iter(tree.steps.values()))
    for step_id in tree.step_ids:
        print(f"{step_id:30} {table[step_id].title}")
        for rule in table[step_id].rules:
            print(f"    {step_id}/{rule.id}: {rule.verdict}")
    return OK
