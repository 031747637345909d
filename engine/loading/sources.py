"""A tree before it is written out: its file, and what the shop adds to it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from engine.catalogue import Catalogue
from engine.condition_loading import ConditionLoader, Known, Scope
from engine.expansion import fill_places, fill_prose, placeholders
from engine.loading.signatures import Signature
from engine.parts import Part, Report
from engine.tree import Note, Origin
from engine.yaml_text import Document

_QUOTED = re.compile(r"\{([a-z0-9_<>-]+)\}")
LEAST_WEIGHT, MOST_WEIGHT = 0.02, 50.0


@dataclass(slots=True)
class TreeSource:
    """One tree's document and signature, with the shop's steps, notes and cautions."""

    document: Document
    signature: Signature
    report: Report = field(default_factory=Report)
    steps: dict[str, Part] = field(default_factory=dict)
    """The shop's own steps."""
    conclusions: dict[str, Part] = field(default_factory=dict)
    before: dict[str, str] = field(default_factory=dict)
    """Step -> the shop's step that now comes before it."""
    notes: dict[str, list[Note]] = field(default_factory=dict)
    cautions: dict[str, list[str]] = field(default_factory=dict)
    weights: dict[tuple[str, str], list[tuple[str, float]]] = field(default_factory=dict)
    """(step, rule id) -> faults whose weight is multiplied; the rule id is empty for the whole step."""

    @property
    def root(self) -> Part:
        """The whole document."""
        return Part.root(self.document, self.report)


@dataclass(frozen=True, slots=True)
class Context:
    """What the builders of steps and conclusions of one tree share."""

    catalogue: Catalogue
    known: Known
    trees: Mapping[str, Signature]
    own: Signature
    scope: Scope

    @property
    def conditions(self) -> ConditionLoader:
        """A loader of conditions for this scope."""
        return ConditionLoader(self.known, self.scope)

    def at(self, scope: Scope) -> Context:
        """Return this context with other placeholders."""
        return Context(self.catalogue, self.known, self.trees, self.own, scope)

    # ----------------------------------------------------------------- texts

    def prose(self, part: Part, key: str) -> str:
        """Return the sentence under *key* with its placeholders in words; it must be there."""
        return self._sentence(part.text(key), part, key)

    def maybe_prose(self, part: Part, key: str) -> str | None:
        """Return the sentence under *key*, or None where there is none."""
        text = part.maybe_text(key)
        return None if text is None else self._sentence(text, part, key)

    def _sentence(self, text: str, part: Part, key: str) -> str:
        if "{" in text:
            self._check_quotes(text, part, key)
        if placeholders(text):
            self.scope.fill(text, part, key)
            text = fill_prose(text, self.scope.places, self.catalogue.words)
        return text

    def _check_quotes(self, text: str, part: Part, key: str) -> None:
        known = self.known.quantities
        for raw in _QUOTED.findall(text):
            name = fill_places(raw, self.scope.places)
            if name not in known and "<" not in name and not self.scope.known_elsewhere(raw, known):
                part.unknown("reading quoted in the text:", name, known, key)

    # ------------------------------------------------------------------- ids

    def quantities(self, part: Part, key: str) -> tuple[str, ...]:
        """Return the readings listed under *key*, those that this place has."""
        names = (self.conditions.quantity(text, item) for text, item in part.texts(key))
        return tuple(dict.fromkeys(name for name in names if name is not None))

    def names(self, part: Part, key: str, what: str, allowed: Mapping[str, object]) -> tuple[str, ...]:
        """Return the names listed under *key*, each one of *allowed*."""
        found = list(part.texts(key))
        for text, item in found:
            if text not in allowed:
                item.unknown(what, text, allowed)
        return tuple(text for text, _ in found)

    def step(self, part: Part, *keys: str) -> str:
        """Return the step named here."""
        named = part.get(keys[0]) if keys else part
        text = named.as_text() or ""
        if text and text not in self.own.steps:
            named.unknown("step", text, self.own.steps)
        return text

    def conclusion(self, part: Part) -> str:
        """Return the conclusion of this tree named here."""
        text = part.as_text() or ""
        if text and text not in self.own.conclusions:
            part.unknown("conclusion", text, self.own.conclusions)
        return text

    def weigh(self, part: Part) -> tuple[tuple[str, float], ...]:
        """Return fault -> factor from ``weigh``."""
        weights = []
        for fault, value in part.entries("weigh"):
            if fault not in self.catalogue.faults.faults:
                value.unknown_key("fault", fault, self.catalogue.faults.faults)
            factor = value.as_number()
            if factor is None:
                continue
            if not LEAST_WEIGHT <= factor <= MOST_WEIGHT:
                value.problem(f"found {factor:g}: a weight lies between {LEAST_WEIGHT} and {MOST_WEIGHT:g}")
            weights.append((fault, factor))
        return tuple(weights)


def origin(part: Part) -> Origin:
    """Return where a part's key stands, or the part itself when it is a list entry."""
    document = part.document
    line, column = document.key_marks.get(part.path) or document.mark(part.path)
    return Origin(document.file, line, column)
