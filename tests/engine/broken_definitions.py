"""Definition files with one piece replaced, and a shop's overlay to go with the shipped trees."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from engine.errors import DataPath
from engine.yaml_text import Document

OVERLAY = """
format: 1
extends: rich-running
limits:
  - {limit: trim_rich, value: -12, by: A. Lead, on: "2024-03-01", reason: our meter reads low}
  - limit: trim_lean
    cars: {veh_fuel: {is: lpg}}
    value: 14
    by: A. Lead
    on: "2024-03-01"
    reason: gas cars run leaner here
weights:
  - {fault: purge_stuck_open, times: 2, by: A. Lead, on: "2024-03-01", reason: seen often in this town}
  - {fault: fuel_reg_high, times: 0.5, at: read-trims/both-rich-equal, by: B, on: "2024-03-01", reason: rare}
notes:
  - {at: gas, text: The analyser warms up for five minutes., by: A. Lead, on: "2024-03-01", reason: cold van}
warn:
  - {at: gas, cautions: [C-MAKER], by: A. Lead, on: "2024-03-01", reason: house rule}
steps:
  shop-smell:
    before: gas
    title: Smell the tailpipe
    do: Stand beside the tailpipe, not behind it, and smell.
    why: It costs nothing.
    cautions: [C-CO]
    readings: [shop-tail-colour]
    judge:
      - when: {shop-tail-colour: {is: black}}
        verdict: Soot
        grade: watch
        exit: gas
      - otherwise: true
        verdict: Nothing to see
        grade: inconclusive
        exit: gas
    cannot: {say: Not looked at., exit: gas}
    by: A. Lead
    on: "2024-03-01"
    reason: cheap
add:
  readings:
    shop-tail-colour:
      label: colour inside the tailpipe
      kind: one
      choices: {black: black, grey: grey, not_looked: {label: not looked, not_looked: true}}
      tool: [EY]
      minutes: 1
      state: "off"
      takes: latest
      keeps: day
      by: A. Lead
      on: "2024-03-01"
      reason: cheap
"""


def paths(data: Any, path: DataPath = ()) -> Iterator[DataPath]:
    """Return the path of everything inside plain data."""
    yield path
    inside = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in inside:
        yield from paths(value, (*path, key))


def with_changed(document: Document, path: DataPath, junk: Any, *, key: str | None = None) -> Document:
    """Return a document with the value at *path* replaced, or its key renamed to *key*."""
    return replace(document, data=_changed(document.data, path, junk, key))


def _changed(data: Any, path: DataPath, junk: Any, key: str | None) -> Any:
    if not path:
        return junk
    if isinstance(data, dict):
        out = {}
        for name, value in data.items():
            if name != path[0]:
                out[name] = value
            elif key is not None and len(path) == 1:
                out[key] = value
            else:
                out[name] = _changed(value, path[1:], junk, key)
        return out
    return [
        _changed(value, path[1:], junk, key) if index == path[0] else value
        for index, value in enumerate(data)
    ]
