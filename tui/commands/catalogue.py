"""``layby readings`` and ``layby faults``: the catalogues, searched."""

from __future__ import annotations

import argparse
from typing import Any

from engine.library import load_library, shipped_files
from engine.searching import search_faults, search_readings
from tui.commands.printing import print_json

OK = 0


def run(arguments: argparse.Namespace) -> int:
    """Print what fits the word, one a line, or as JSON."""
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


def _line(entry: dict[str, Any]) -> str:
    extra = entry.get("unit") or entry.get("system") or ""
    tools = f"  [{', '.join(entry['tools'])}]" if entry.get("tools") else ""
    return f"{entry['id']:30} {entry['label']}{f' ({extra})' if extra else ''}{tools}"
