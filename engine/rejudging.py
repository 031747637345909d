"""The same inputs judged again, under the files a job was begun with or under the present ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from engine.folding import DERIVED
from engine.library import Library
from engine.walk_state import Event
from engine.walking import Walk


@dataclass(frozen=True, slots=True)
class Rejudged:
    """What a second judging came to."""

    before: tuple[tuple[str, str], ...]
    """Title and verdict of each step as recorded."""
    after: tuple[tuple[str, str], ...]
    conclusion_before: str | None
    conclusion_after: str | None
    lost: tuple[str, ...]
    """Inputs that these trees no longer know or no longer use, in words, each once."""

    @property
    def parted_at(self) -> int | None:
        """Place in the path where the two first differ, None when they do not."""
        if self.before == self.after:
            return None
        pairs = zip(self.before, self.after, strict=False)
        return next(
            (i for i, (old, new) in enumerate(pairs) if old != new), min(len(self.before), len(self.after))
        )

    @property
    def is_same(self) -> bool:
        """Tell whether path and conclusion came out the same."""
        return self.parted_at is None and self.conclusion_before == self.conclusion_after


def rejudge(recorded: Walk, library: Library) -> Rejudged:
    """Walk the inputs of a recorded walk through *library* again and compare; the record is not touched.

    Args:
        recorded: a job's walk as it stands.
        library: the trees to judge by.
    """
    moment = [0.0]
    again = Walk(library, clock=None if recorded.clock is None else lambda: moment[0])
    lost = []
    for event in recorded.events:
        if event["kind"] in DERIVED:  # here the recorded walk went on, and nowhere else
            again.advance()
            continue
        moment[0] = event.get("at", moment[0])
        if not _fits(event, library, again):
            lost.append(_words(event, recorded))
            continue
        again.replay([event])
    again.advance()
    lost += [recorded.library.catalogue.label(name) for name in _no_longer_used(recorded, again)]
    return Rejudged(
        before=recorded.path_lines(),
        after=again.path_lines(),
        conclusion_before=_id(recorded.state.concluded),
        conclusion_after=_id(again.state.concluded),
        lost=tuple(dict.fromkeys(lost)),
    )


def _fits(event: Event, library: Library, again: Walk) -> bool:
    """Tell whether these trees still have a place for an input."""
    match event["kind"]:
        case "started":
            again.library.tree(event["tree"])  # without the tree there is nothing to compare: says so
        case "taken":
            return event["reading"] in library.catalogue.readings
        case "cannot" if event["reading"] is None:
            tree = library.trees.get(event["tree"])
            known = (steps.keys() | {"proof"} for steps in tree.steps.values()) if tree is not None else ()
            return any(event["step"] in names for names in known)
        case "repair-done" | "repair-declined":
            return again.state.repair_offer is not None
        case "repaired":
            return again.state.concluded is not None
        case "corrected":
            numbers = {past.get("n") for past in again.events}
            return event.get("take", event.get("cannot")) in numbers
    return True


def _no_longer_used(recorded: Walk, again: Walk) -> list[str]:
    used, now = ({name for e in walk.state.path for name in e["readings"]} for walk in (recorded, again))
    return sorted(used - now)


def _words(event: Event, recorded: Walk) -> str:
    name: Any = event.get("reading")
    if name is not None:
        return recorded.library.catalogue.label(name)
    return f"{event['kind']} {event.get('step', '')}".strip().replace("-", " ")


def _id(event: Event | None) -> str | None:
    return event["id"] if event is not None else None
