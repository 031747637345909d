"""``layby`` without a command: the interface."""

from __future__ import annotations

import argparse
import sys

BAD_INPUT = 2


def run(arguments: argparse.Namespace) -> int:
    """Show the interface; needs a terminal to read keys from and one to draw on."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        print("layby needs a terminal for its screen; without one use: layby walk --help", file=sys.stderr)
        return BAD_INPUT
    from tui.app import LaybyApp

    app = LaybyApp(data=arguments.data, shop=arguments.shop, demo=arguments.demo)
    app.run(mouse=not arguments.no_mouse)
    return app.return_code or 0
