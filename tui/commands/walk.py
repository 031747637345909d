"""``layby walk``: a tree without a screen."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from engine.answers_file import read_answers
from engine.catalogue import Drive
from engine.concluding import drive_words
from engine.errors import LaybyError
from engine.headless import walk_headless
from engine.inert import inert
from engine.job_files import DataFolders, data_folder
from engine.library import Library, load_library
from engine.wording import answer_words, side_words
from tui.commands.printing import print_json

OK, BAD_INPUT = 0, 2
MOST_READ = 64 << 20
"""Most bytes of a readings file; a device may have no end."""
NAMED_AT_MOST = 8
"""How many readings a line of words names."""


def run(arguments: argparse.Namespace) -> int:
    """Walk and print the outcome; a file with faults is listed whole and nothing is walked."""
    library = load_library(arguments.shop or _own_shop(arguments.data))
    library.tree(arguments.tree)
    answers = read_answers(
        _read(arguments.readings), str(arguments.readings), library.catalogue, arguments.car
    )
    if answers.problems:
        for problem in answers.problems:
            print(problem, file=sys.stderr)
        return BAD_INPUT
    _, outcome = walk_headless(library, arguments.tree, answers, side=answers.side)
    if arguments.json:
        print_json(outcome)
    else:
        print("\n".join(_lines(library, outcome)))
    return OK


def _read(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(MOST_READ)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise LaybyError(f"{inert(str(path))}: cannot be read: {reason}") from error


def _own_shop(data: Path | None) -> Path | None:
    """Return the shop's folder in the data folder, if it holds any file of the shop's own."""
    own = DataFolders(data_folder(data)).shop
    return own if own.is_dir() and any(own.rglob("*.yaml")) else None


def _lines(library: Library, outcome: dict[str, Any]) -> list[str]:
    catalogue = library.catalogue
    lines = []
    for entry in outcome["path"]:
        step = next(iter(_steps(library, entry["tree"], entry["step"])), entry["step"])
        lines.append(f"{step}")
        shown = {**entry["readings"], **entry["work"]}
        for name, value in shown.items():
            answer = tuple(value["value"]) if isinstance(value["value"], list) else value["value"]
            assumed = " (assumed: nobody said)" if name in outcome["assumed"] else ""
            lines.append(f"    {catalogue.label(name)}: {answer_words(catalogue, name, answer)}{assumed}")
        lines.append(f"  {entry['grade']}, {100 * entry['sure']:.0f} %: {entry['verdict']}")
    lines.append("")
    lines += _end(library, outcome)
    return lines


def _steps(library: Library, tree: str, step: str) -> list[str]:
    return [by_id[step].title for by_id in library.tree(tree).steps.values() if step in by_id][:1]


def _listed(labels: list[str]) -> str:
    """Return the first labels; the whole list is in the JSON."""
    first, more = labels[:NAMED_AT_MOST], len(labels) - NAMED_AT_MOST
    return "; ".join(first) + (f"; and {more} more" if more > 0 else "")


def _end(library: Library, outcome: dict[str, Any]) -> list[str]:
    catalogue = library.catalogue
    faults = catalogue.faults.faults
    lines = []
    found = outcome["conclusion"]
    if found is not None:
        label = faults[found["faults"][0]].label if found["faults"] else "no fault found here"
        where = side_words(catalogue, found["side"])
        lines.append(f"{label}{', ' + where if where else ''}: {found['strength']}")
        lines += [f"  missing for proven: {text}" for text in found["missing"]]
        lines.append(f"Repair: {found['repair']}")
    elif "returned" in outcome:
        lines.append(f"Returned: {outcome['returned']}")
    else:
        lines.append(f"Open end: {outcome['open_end']['say']}")
    lines.append("Suspects:")
    for suspect in outcome["suspects"][:3]:
        label = faults[suspect["fault"]].label if suspect["fault"] else catalogue.faults.outside_label
        lines.append(
            f"  {100 * suspect['p']:3.0f} %  {label} {side_words(catalogue, suspect['side'])}".rstrip()
        )
    for key, words in (("not_measured", "Not measured"), ("assumed", "Assumed"), ("unused", "Not used")):
        if outcome[key]:
            lines.append(f"{words}: {_listed([catalogue.label(name) for name in outcome[key]])}")
    lines.append(f"Minutes: {outcome['minutes']:g}")
    lines.append(f"Driving: {drive_words(Drive(outcome['drive']))}")
    if outcome["proof"] is not None:
        lines.append(f"Proof of repair: {outcome['proof']['result']}")
    return lines
