"""Speed as ratios within one run: ``python -m tests.bench``.

Nothing here fails on a slow day; each line prints what was measured, against what, and the budget.
"""

from __future__ import annotations

import sys

from tests.bench.measures import MEASURES


def main() -> int:
    """Print every measure."""
    for name, measure in MEASURES.items():
        sys.stdout.write(f"{name:34} {measure()}\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
