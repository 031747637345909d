"""What a command prints, also where standard output cannot show every sign."""

from __future__ import annotations

import codecs
import json
import sys
from typing import Any


def print_json(data: Any) -> None:
    """Print *data* as JSON, with escapes where the output is not UTF-8."""
    print(json.dumps(data, indent=2, ensure_ascii=not shows_everything(), allow_nan=False))


def shows_everything() -> bool:
    """Tell whether standard output can show every sign."""
    try:
        return codecs.lookup(sys.stdout.encoding or "ascii").name.startswith("utf")
    except LookupError:
        return False
