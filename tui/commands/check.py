"""``layby check``: what is wrong in trees, catalogues and the shop's own files."""

from __future__ import annotations

import argparse
import sys

from engine.review import check

OK, FINDINGS = 0, 1


def run(arguments: argparse.Namespace) -> int:
    """Print one finding a line; exit 1 when there are any, hints aside."""
    problems = check(arguments.paths)
    for problem in problems:
        print(problem)
    serious = [problem for problem in problems if problem.level != "hint"]
    what = ", ".join(str(path) for path in arguments.paths) or "the shipped trees and catalogues"
    print(f"{what}: {len(serious)} findings" if serious else f"{what}: clean", file=sys.stderr)
    return FINDINGS if serious else OK
