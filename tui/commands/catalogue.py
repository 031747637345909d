"""``layby readings`` and ``layby faults``: the catalogues, searched."""

from __future__ import annotations

import argparse
import json
from typing import Any

from engine.library import load_library

from engine.searching import search_faults, search_readings

OK = 0


def run(arguments: argparse.Namespace) -> int:
    """Print what fits the word, one a line, or as JSON."""
    catalogue = load_library().catalogue
    find = search_readings if arguments.command == "readings" else search_faults
    found = find(catalogue, arguments.word)
    if arguments.json:
        print(json.dumps(found, indent=2, ensure_ascii=False, allow_nan=False))
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
