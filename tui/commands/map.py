"""``layby map``: a tree as a picture."""

from __future__ import annotations

import argparse
import sys

from engine.library import load_library
from engine.mapping import as_dot, as_svg, as_text, map_of

OK = 0


def run(arguments: argparse.Namespace) -> int:
    """Print a tree as text, as a graph in the DOT language, or as an SVG picture."""
    library = load_library(arguments.shop)
    drawn = map_of(library.tree(arguments.tree), library.catalogue)
    write = {"text": as_text, "dot": as_dot, "svg": as_svg}[arguments.format]
    sys.stdout.write(write(drawn))
    return OK
