"""Which schema a shipped file is checked against."""

from __future__ import annotations

from pathlib import Path


def schema_of(name: str) -> str:
    """Return the schema's name: the catalogue file's own, else ``tree``."""
    path = Path(name)
    return path.stem if path.parent.name == "catalogue" else "tree"
