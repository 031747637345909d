"""The same inputs judged again, under the files a job was begun with or under the present ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.errors import LaybyError
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
    """Inputs that no longer fit, in words."""

    @property
    def parted_at(self) -> int | None:
        """Place in the path where the two first differ, None when they do not."""
        if self.before == self.after:
            return None
        pairs = zip(self.before, self.after, strict=False)
        return next(
            (i for i, (old, new) in enumerate(pairs) if old != new), min(len(self.before), len(self.after))
        )


def rejudge(events: Sequence[Event], library: Library) -> Rejudged:
    """Walk the inputs of *events* through *library* again and compare.

    Args:
        events: a walk's events, inputs and derived.
        library: the trees to judge by.
    """
    old = Walk(library)
    moment = [0.0]
    new = Walk(library, clock=lambda: moment[0])
    lost: list[str] = []
    for event in events:
        old.events.append(event)
        if event["kind"] in DERIVED:
            continue
        moment[0] = event.get("at", moment[0])
        try:
            if new.events:
                new.advance()
            new.replay([event])
        except (LaybyError, KeyError, IndexError, AssertionError):
            lost.append(f"{event['kind']} {event.get('reading') or event.get('step') or ''}".strip())
    new.advance()
    recorded = [event for event in events if event["kind"] in ("judged", "proved")]
    concluded = [event["id"] for event in events if event["kind"] == "concluded"]
    done = new.state.concluded
    return Rejudged(
        before=tuple((event["title"], event["verdict"]) for event in recorded),
        after=new.path_lines(),
        conclusion_before=concluded[-1] if concluded else None,
        conclusion_after=done["id"] if done is not None else None,
        lost=tuple(lost),
    )
