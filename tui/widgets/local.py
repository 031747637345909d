"""What the shop's own files say at a step: notes and limits with who stands for them and how old they are."""

from __future__ import annotations

from datetime import UTC, date, datetime

from textual.content import Content

from engine.local_lines import LocalLine, age_words, note_words
from engine.situation import comparisons
from engine.tree import Step
from tui.session import JobSession
from tui.text import joined


def local_lines(session: JobSession, step: Step, today: date | None = None) -> list[Content]:
    """Return one line for each note pinned to a step and for each limit of it that the shop has set.

    Args:
        session: the job, which keeps the files it was begun with.
        step: the step at hand.
        today: for the age; the present day when not given.
    """
    day = today or datetime.now(UTC).astimezone().date()
    lines = [joined([("Note: ", "bold"), f"{n.text} ({note_words(n, day)})"]) for n in step.notes]
    return [*lines, *local_limit_lines(session, step, day)]


def local_limit_lines(session: JobSession, step: Step, today: date | None = None) -> list[Content]:
    """Return one line for each limit of a step that the shop has set for this car."""
    day = today or datetime.now(UTC).astimezone().date()
    library, situation = session.walk.library, session.walk.state.situation()
    names = (compare.limit for rule in step.rules for compare in comparisons(rule.when))
    found: dict[tuple[str, int], Content] = {}
    for name in names:
        line = library.limit_line(name, situation) if isinstance(name, str) else None
        if line is not None and isinstance(name, str):
            label = session.catalogue.limits[name].label
            said = f"{label} {line.change} ({signed_words(line, day)})"
            found.setdefault(
                (line.origin.file, line.origin.line), joined([("Limit of this shop: ", "bold"), said])
            )
    return list(found.values())


def local_weights(session: JobSession, today: date | None = None) -> dict[str, str]:
    """Return fault -> how this shop weighs it for this car, who stands for that, how old it is, and why."""
    day = today or datetime.now(UTC).astimezone().date()
    lines = session.walk.library.prior_lines(session.walk.state.situation())
    return {
        fault: f"weighed by this shop {line.times:g} times ({signed_words(line, day)})"
        for fault, line in lines.items()
    }


def signed_words(line: LocalLine, today: date) -> str:
    """Return who stands for a line, how old it is, why, and for which cars."""
    reason = f": {line.reason}" if line.reason else ""
    cars = f"; only where {line.cars_words}" if line.cars_words else ""
    return f"{line.by or 'unagreed'}, {age_words(line.on, today)}{reason}{cars}"
