"""Schema and loader know the same words: every key of the tree schema is one the loader asks for."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from engine.library import load_library, shipped_files
from engine.parts import Part
from engine.schema_check import vocabulary

HEADER = {"format", "tree", "kind", "for", "takes", "outcomes", "entries", "steps", "conclusions"}
"""Read by the outline of a tree (``engine.loading.signatures``) straight from the document."""
TESTS = {
    "below", "above", "at_least", "at_most", "is", "is_not", "one_of", "has", "has_any", "has_none",
    "has_other_than",
}  # fmt: skip
"""How a quantity is compared: read as the keys of a map of quantities."""


def test_the_loader_asks_for_the_words_of_the_schema_and_no_others(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: set[str] = set()
    for name in ("has", "get", "entries", "items", "texts", "text", "maybe_text", "number", "flag", "one_of"):
        original = getattr(Part, name)

        def noting(self, key=None, *rest, _original=original, **more):
            if isinstance(key, str):
                asked.add(key)
            return _original(self, key, *rest, **more) if key is not None else _original(self, **more)

        monkeypatch.setattr(Part, name, noting)
    files = dict(shipped_files())
    load_library(files=files)

    words = vocabulary("tree")
    assert words - asked - HEADER - TESTS == set()
    own = json.loads(
        (Path(__file__).parents[2] / "trees" / "schema" / "tree.schema.json").read_text(encoding="utf-8")
    )
    assert set(own["properties"]) <= asked | HEADER
