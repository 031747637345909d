"""``layby readings`` and ``layby faults``: the catalogues, searched; which trees conclude a fault."""

from __future__ import annotations

import argparse
import dataclasses
from typing import Any

from engine.fault_coverage import FaultCoverage, fault_coverage
from engine.library import load_library, shipped_files
from engine.searching import search_faults, search_readings
from tui.commands.printing import print_json

OK = 0


def run(arguments: argparse.Namespace) -> int:
    """Print what fits the word, one a line, or as JSON."""
    if arguments.command == "faults" and arguments.coverage:
        return _coverage(arguments)
    files = {name: content for name, content in shipped_files().items() if "/catalogue/" in name}
    catalogue = load_library(files=files).catalogue  # the trees are not searched
    find = search_readings if arguments.command == "readings" else search_faults
    found = find(catalogue, arguments.word)
    if arguments.json:
        print_json(found)
        return OK
    if not found:
        print(f"nothing in the {arguments.command} fits “{arguments.word}”")
    for entry in found:
        print(_line(entry))
    return OK


def _coverage(arguments: argparse.Namespace) -> int:
    """Print each fault that fits the word with the trees that conclude it."""
    word = arguments.word.lower()
    found = [
        one
        for one in fault_coverage(load_library())
        if word in one.fault.lower() or word in one.label.lower()
    ]
    if arguments.json:
        print_json([dataclasses.asdict(one) for one in found])
        return OK
    for one in found:
        print(_covered(one))
    return OK


def _covered(one: FaultCoverage) -> str:
    ways = "; ".join(f"{way.tree} {way.minutes:.0f} min ({way.ends_in})" for way in one.ways)
    return f"{one.fault:24} {ways or 'concluded by no tree'}"


def _line(entry: dict[str, Any]) -> str:
    extra = entry.get("unit") or entry.get("system") or ""
    tools = f"  [{', '.join(entry['tools'])}]" if entry.get("tools") else ""
    return f"{entry['id']:30} {entry['label']}{f' ({extra})' if extra else ''}{tools}"
