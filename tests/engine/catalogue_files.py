"""The shipped catalogues as plain data, families written out, for the tests of their content."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files
from itertools import product
from typing import Any

from engine.schema_check import check_schema
from engine.yaml_text import read_yaml


@cache
def document(name: str) -> Any:
    source = files("trees").joinpath("catalogue", f"{name}.yaml").read_bytes()
    found = read_yaml(source, f"trees/catalogue/{name}.yaml")
    problems = [*found.problems, *check_schema(found, name)]
    assert not problems, "\n".join(map(str, problems))
    return found.data


def members(family: str) -> list[tuple[str, tuple[str, ...]]]:
    """Return every id of a family with the words in its slots."""
    parts = re.split(r"\{([^}]*)\}", family)
    combinations = product(*(slot.split(",") for slot in parts[1::2]))
    return [(re.sub(r"\{[^}]*\}", "%s", family) % words, words) for words in combinations]


def filled(value: Any, words: tuple[str, ...]) -> Any:
    """Return *value* with <1>, <2> written out, in texts, lists and maps."""
    if isinstance(value, str):
        return re.sub(r"<([1-9])>", lambda match: words[int(match.group(1)) - 1], value)
    if isinstance(value, list):
        return [filled(part, words) for part in value]
    if isinstance(value, dict):
        return {key: filled(part, words) for key, part in value.items()}
    return value


def written_out(entries: dict[str, Any]) -> dict[str, Any]:
    words = document("readings")["words"]
    out: dict[str, Any] = {}
    for family, entry in entries.items():
        for name, slots in members(family):
            assert name not in out, f"{name} is written twice"
            in_words = tuple(words.get(slot, slot) for slot in slots)
            out[name] = {**filled(entry, slots), "label": filled(entry["label"], in_words)}
    return out


@cache
def readings() -> dict[str, Any]:
    return written_out(document("readings")["readings"])


@cache
def worked() -> dict[str, Any]:
    return written_out(document("worked")["worked"])


def expected(text: str) -> set[str]:
    return {name for family in text.split() for name, _ in members(family)}
