"""``layby work``: any formula of the trade, with unit, range and source."""

from __future__ import annotations

import argparse

from engine.formulas.registry import formula, names
from engine.working import work
from tui.commands.printing import print_json

OK = 0


def run(arguments: argparse.Namespace) -> int:
    """Work the formula out, or list the formulas when none is named."""
    if arguments.formula is None:
        _list(arguments.json)
        return OK
    worked = work(arguments.formula, arguments.values)
    if arguments.json:
        print_json(worked.as_json())
        return OK
    for name, (value, unit) in worked.results.items():
        shown = f"{value:.6g}" if isinstance(value, float) else str(value)
        print(f"{name.replace('_', ' ')} = {shown} {unit}".rstrip())
    print(f"range: {worked.range}")
    print(f"source: {worked.source}")
    return OK


def _list(as_json: bool) -> None:
    known = [formula(name) for name in names()]
    if as_json:
        print_json([{"formula": f.name, "title": f.title} for f in known])
        return
    for entry in known:
        arguments = " ".join(f"{a.name}{f' {a.unit}' if a.unit else ''}" for a in entry.arguments)
        print(f"{entry.name:24} {entry.title} ({arguments})")
