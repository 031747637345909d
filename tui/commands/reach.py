"""``layby reach``: what can be decided with some instruments in some minutes."""

from __future__ import annotations

import argparse
import dataclasses
import json
from typing import Any

from engine.catalogue import Catalogue
from engine.library import load_library
from engine.reach import Reach, cost_of_missing, reach

OK = 0


def run(arguments: argparse.Namespace) -> int:
    """Print what can be decided, what cannot, and what each missing instrument costs."""
    library = load_library(arguments.shop)
    kit = tuple(tool for tool in arguments.kit.upper().replace(",", " ").split() if tool)
    found = reach(library, arguments.tree, kit, arguments.minutes, found=("complaint-carried",))
    missing = cost_of_missing(library, kit) if arguments.missing else ()
    if arguments.json:
        data: dict[str, Any] = dataclasses.asdict(found)
        data["missing"] = [dataclasses.asdict(entry) for entry in missing]
        print(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))
        return OK
    print("\n".join(_lines(library.catalogue, found)))
    for entry in missing:
        lost = [fault.label for fault in entry.fallen if fault.becomes == "lost"]
        weaker = [fault.label for fault in entry.fallen if fault.becomes == "probable"]
        print(f"Without {entry.label}: {len(lost)} conclusions lost, {len(weaker)} only probable")
        for label in (*lost, *weaker):
            print(f"    {label}")
    return OK


def _lines(catalogue: Catalogue, found: Reach) -> list[str]:
    lines = ["Can be decided:" if found.decidable else "Nothing can be decided."]
    for entry in found.decidable:
        why = f" (for proven: {entry.for_proven})" if entry.for_proven else ""
        lines.append(f"  {entry.way.minutes:4.0f} min  {entry.strength:8}  {entry.label}{why}")
    if found.not_decidable:
        lines.append("Cannot be decided:")
    for rest in found.not_decidable:
        tools = ", ".join(
            catalogue.instruments[tool].label for tool in rest.missing if tool in catalogue.instruments
        )
        lines.append(f"  {rest.label}: {rest.words or tools}")
    return [*lines, found.estimate]
