"""What other trees must know of a tree: its kind, entries, outcomes and what it takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, cast

from engine.tree import BINDINGS, Binding
from engine.yaml_text import Data, Document

EVERY_PLACE = ("b1", "b2", "b1s1", "b2s1", "b1s2", "b2s2")
_FOR_KIND = {"bank": ("b1", "b2"), "sensor": ("b1s1", "b2s1", "b1s2", "b2s2")}


@dataclass(frozen=True, slots=True)
class Signature:
    """The outside of a tree."""

    id: str
    kind: Literal["symptom", "procedure"]
    steps: tuple[str, ...]
    conclusions: tuple[str, ...]
    entries: tuple[str, ...]
    outcomes: tuple[str, ...]
    takes: Literal["bank", "sensor"] | None
    takes_for: tuple[str, ...]

    @property
    def bindings(self) -> tuple[Binding, ...]:
        """The bindings its steps are written out for."""
        if self.takes is None:
            return BINDINGS
        return tuple(dict.fromkeys(Binding.of(place) for place in self.takes_for))


def signature_of(document: Document) -> Signature | None:
    """Return the outside of a tree, or None when the document names no tree."""
    data = document.data
    if not isinstance(data, dict) or not isinstance(data.get("tree"), str):
        return None
    takes = data.get("takes")
    takes_known = cast("Literal['bank', 'sensor'] | None", takes if takes in ("bank", "sensor") else None)
    places = tuple(place for place in _texts(data.get("for")) if place in EVERY_PLACE)
    return Signature(
        id=cast("str", data["tree"]),
        kind="procedure" if data.get("kind") == "procedure" else "symptom",
        steps=_keys(data.get("steps")),
        conclusions=_keys(data.get("conclusions")),
        entries=_texts(data.get("entries")),
        outcomes=_texts(data.get("outcomes")),
        takes=takes_known,
        takes_for=(places or _FOR_KIND[takes_known]) if takes_known else (),
    )


def _keys(data: Data) -> tuple[str, ...]:
    return tuple(data) if isinstance(data, dict) else ()


def _texts(data: Data) -> tuple[str, ...]:
    return tuple(item for item in data if isinstance(item, str)) if isinstance(data, list) else ()
