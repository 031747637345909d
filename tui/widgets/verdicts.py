"""A judged step in lines: verdict, numbers with their limits, how sure, what would turn it, who moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from textual.content import Content

from engine.walk_state import Event
from engine.wording import is_trim, number_words
from tui.session import JobSession
from tui.text import COLUMN, content, joined, padded, sure_words, width
from tui.widgets.path import GRADE_WORDS
from tui.widgets.suspects import rank_word

Margin = Mapping[str, Any]
FACTS = ("veh_", "kit_")
"""Readings about car and van, which say nothing of the fault."""
CERTAIN = 0.95
"""From here on a verdict is called sure."""
_LABEL, _VALUE = 30, 11
"""Cells of a label and of its value where both stand on one line."""


def head_lines(event: Event) -> list[Content]:
    """Return the verdict with its grade and how sure it is."""
    grade = GRADE_WORDS.get(str(event["grade"]), "")
    lines = [
        content(event["verdict"], "bold"),
        joined(
            [(grade, "bold reverse"), f"  {verdict_sure_words(event)}   ", (str(event["title"]), "$quiet")]
        ),
    ]
    if event["cannot"] is not None:
        why = f": {event['cannot']}" if event["cannot"] else ""
        lines[1] = content(f"not done{why}; nothing is cleared by that")
    elif is_way_surer(event):
        sure = 100.0 * min(event["sure"], 0.9999)
        lines.append(
            content(f"The way on is sure ({sure:.0f} %): what else it may be leads the same way, so far.")
        )
    if event["for_safety"]:
        lines.append(content("Taken for safety: harm is possible, so the more cautious way was chosen."))
    if event["means"]:
        lines.append(content(event["means"]))
    return lines


def is_way_surer(event: Event) -> bool:
    """Tell whether the way on is certain although the verdict itself is not."""
    return not event["doubtful"] and event["verdict_sure"] < CERTAIN <= event["sure"]


def verdict_sure_words(event: Event) -> str:
    """Return how sure the verdict itself is; a sure way on does not make it surer."""
    if is_way_surer(event):
        return f"likeliest, not certain: {100.0 * event['verdict_sure']:.0f} %"
    return sure_words(event["verdict_sure"], doubtful=event["doubtful"])


def missing_lines(session: JobSession, event: Event) -> list[Content]:
    """Return one line about maker's figures that were not to hand, and one about instruments that are not."""
    lines = []
    missed, absent = event.get("missed_figures", ()), event.get("not_on_van", ())
    if missed:
        figures = ", ".join(_figure_label(session, name) for name in missed)
        lines.append(joined([("Maker's figure not to hand: ", "bold"), f"{figures}; this proves nothing."]))
    if absent:
        names = ", ".join(session.catalogue.label(name) for name in absent)
        lines.append(joined([("Not asked, no instrument on this van: ", "bold"), names]))
    return lines


def _figure_label(session: JobSession, name: str) -> str:
    known = name in session.catalogue.readings
    return session.catalogue.label(name) if known else name.removeprefix("spec_").replace("_", " ")


def number_lines(session: JobSession, event: Event, most: int = 6, cells: int = COLUMN) -> list[Content]:
    """Return one row a number: value, limit, and the distance between them; then the other answers.

    Args:
        session: the job.
        event: the judged step.
        most: rows at most.
        cells: width there is; where a label does not fit beside its numbers it has a line of its own.
    """
    nearest: dict[str, Margin] = {}
    for margin in event["margins"]:
        nearest.setdefault(margin["quantity"], margin)
    rows: list[list[Content]] = []
    drawn: set[str] = set()
    for name, margin in list(nearest.items())[:most]:
        drawn.add(name)
        rows.append(_margin_row(session, margin, cells))
    for name, entry in _in_order(session, event):
        if name in drawn or name.startswith(FACTS) or _is_inside(session, name, drawn) or len(rows) >= most:
            continue
        rows.append(_answer_row(session.catalogue.label(name), session.words(name, entry["value"]), cells))
    lines = [line for row in rows for line in row]
    sources = dict.fromkeys(margin["source"] for margin in nearest.values())
    if sources:
        lines.append(content(f"Limits: {', '.join(sources)}", "$quiet"))
    return lines


def _answer_row(label: str, answer: str, cells: int) -> list[Content]:
    beside = max(width(label), min(_LABEL, cells // 2))
    if beside + 1 + width(answer) <= cells:
        return [joined([f"{padded(label, beside)} ", (answer, "bold")])]
    return [content(label), joined(["  ", (answer, "bold")])]


def _in_order(session: JobSession, event: Event) -> list[tuple[str, Mapping[str, Any]]]:
    """Return worked values, then readings in the order in which the step asks for them."""
    asked: tuple[str, ...] = ()
    if event["kind"] == "judged":
        step = session.step_of(event)
        asked = (*step.readings, *step.optional)
    readings = event["readings"]
    own = [name for name in asked if name in readings]
    others = [name for name in readings if name not in own]
    return [*event["work"].items(), *((name, readings[name]) for name in (*own, *others))]


def _is_inside(session: JobSession, name: str, drawn: set[str]) -> bool:
    """Tell whether a reading is already in a worked value that is shown."""
    return any(name in session.catalogue.base_readings(quantity) for quantity in drawn)


def _margin_row(session: JobSession, margin: Margin, cells: int) -> list[Content]:
    name, unit = margin["quantity"], margin["unit"]
    label = session.catalogue.label(name)
    value = session.words(name, margin["value"])
    side = "above it" if margin["distance"] >= 0 else "below it"
    text = f"limit {signed(name, margin['limit_value'], unit)}, {distance_words(margin)} {side}"
    room = cells - _LABEL - 1
    if width(label) <= _LABEL and _VALUE + 1 + width(text) <= room and width(value) <= _VALUE:
        return [joined([f"{padded(label, _LABEL)} ", (padded(value, _VALUE), "bold"), f" {text}"])]
    if width(value) + width(text) + 4 <= cells:
        return [content(label), joined(["  ", (value, "bold"), f"  {text}"])]
    limit, _, distance = text.partition(", ")
    return [content(label), joined(["  ", (value, "bold"), f"  {limit}"]), content(f"  {distance}")]


def distance_words(margin: Margin) -> str:
    """Return how far a value is from its limit, without sign and unit."""
    unit = margin["unit"]
    return number_words(abs(margin["distance"]), unit).removesuffix(unit).strip().lstrip("+")


def signed(quantity: str, value: float, unit: str) -> str:
    """Return a limit as text, trims with their sign."""
    text = number_words(value, unit)
    return f"+{text}" if is_trim(quantity) and value > 0 and not text.startswith("+") else text


def turn_lines(event: Event, most: int = 2) -> list[Content]:
    """Return what would turn the verdict, nearest first."""
    words: list[str] = []
    for margin in event["margins"]:
        if margin["turns_to"] is None or len(words) >= most:
            continue
        side = "above" if margin["distance"] <= 0 else "below"
        limit = signed(margin["quantity"], margin["limit_value"], margin["unit"])
        words.append(f"{margin['label']} {side} {limit}: {margin['turns_to']}")
    if not words:
        return []
    return [joined([("Would turn it: ", "bold"), "; ".join(words) + "."])]


def moved_lines(session: JobSession, event: Event, before: Sequence[Event], most: int = 3) -> list[Content]:
    """Return how the first suspects moved with this step, in words."""
    now = event.get("suspects", ()) if event["weighings"] else ()
    earlier = next((e["suspects"] for e in reversed(before) if e.get("suspects")), ())
    old = {s["fault"]: (place, s["p"]) for place, s in enumerate(earlier)}
    words = []
    for place, suspect in enumerate(now[:most]):
        was = old.get(suspect["fault"])
        if was is None or suspect["p"] > was[1] * 1.15:
            move = "up"
        elif suspect["p"] < was[1] / 1.15:
            move = "down"
        else:
            move = "as before"
        words.append(f"{rank_word(place)} {suspect['label']} ({move})")
    return [joined([("Suspects: ", "bold"), ", ".join(words)])] if words else []


def uses_trims(event: Event) -> bool:
    """Tell whether the step read trims, so that the drawing belongs to it."""
    return event["kind"] == "judged" and any(name.startswith("tt_") for name in event["work"])
