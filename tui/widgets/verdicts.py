"""A judged step in lines: verdict, numbers with their limits, how sure, what would turn it, who moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from textual.content import Content

from engine.walk_state import Event
from engine.wording import is_trim, number_words
from tui.session import JobSession, rule_shares
from tui.text import content, joined, padded, sure_words
from tui.widgets.path import GRADE_WORDS
from tui.widgets.suspects import rank_word

Margin = Mapping[str, Any]
FACTS = ("veh_", "kit_")
"""Readings about car and van, which say nothing of the fault."""


def head_lines(event: Event) -> list[Content]:
    """Return the verdict with its grade and how sure it is."""
    grade = GRADE_WORDS.get(str(event["grade"]), "")
    how_sure = sure_words(event["verdict_sure"], doubtful=event["doubtful"])
    lines = [
        content(event["verdict"], "bold"),
        joined([(grade, "bold reverse"), f"  {how_sure}   ", (str(event["title"]), "$quiet")]),
    ]
    if event["cannot"] is not None:
        why = f": {event['cannot']}" if event["cannot"] else ""
        lines[1] = content(f"not done{why}; nothing is cleared by that")
    if event["for_safety"]:
        lines.append(content("Taken for safety: harm is possible, so the more cautious way was chosen."))
    if event["means"]:
        lines.append(content(event["means"]))
    return lines


def number_lines(session: JobSession, event: Event, most: int = 6) -> list[Content]:
    """Return one line a number: value, limit, and the distance between them; then the other answers."""
    lines: list[Content] = []
    drawn: set[str] = set()
    nearest: dict[str, Margin] = {}
    for margin in event["margins"]:
        nearest.setdefault(margin["quantity"], margin)
    for name, margin in list(nearest.items())[:most]:
        drawn.add(name)
        lines.append(_margin_line(session, margin))
    for name, entry in _in_order(session, event):
        if name in drawn or name.startswith(FACTS) or _is_inside(session, name, drawn) or len(lines) >= most:
            continue
        label = padded(session.catalogue.label(name), 34)
        lines.append(content(f"{label} {session.words(name, entry['value'])}"))
    sources = dict.fromkeys(margin["source"] for margin in nearest.values())
    if sources:
        lines.append(content(f"Limits: {', '.join(sources)}", "$quiet"))
    return lines


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


def _margin_line(session: JobSession, margin: Margin) -> Content:
    name, unit = margin["quantity"], margin["unit"]
    label = padded(session.catalogue.label(name), 30)
    value = session.words(name, margin["value"])
    limit = signed(name, margin["limit_value"], unit)
    distance = number_words(abs(margin["distance"]), unit).removesuffix(unit).strip().lstrip("+")
    side = "above it" if margin["distance"] >= 0 else "below it"
    text = f"limit {limit}, {distance} {side}"
    return joined([f"{label} ", (padded(value, 11), "bold"), f" {text}"])


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


def rule_lines(event: Event) -> list[Content]:
    """Return the rule that fired and the rules it beat, each with its share."""
    lines = [content("The rule that fired, and those it beat", "bold")]
    for place, share in enumerate(rule_shares(event, most=6)):
        word = "fired" if share["rule"] == event["rule"] else "beaten"
        lines.append(
            content(
                f"  {padded(word, 7)} {100 * share['p']:5.1f} %  {share['verdict']}",
                "bold" if place == 0 else "",
            )
        )
    others = [
        m["turns_to"]
        for m in event["margins"]
        if m["turns_to"] and m["turns_to"] not in {s["verdict"] for s in event["rules"]}
    ]
    lines += [content(f"  no chance with these readings: {verdict}") for verdict in dict.fromkeys(others)]
    return lines


def uses_trims(event: Event) -> bool:
    """Tell whether the step read trims, so that the drawing belongs to it."""
    return event["kind"] == "judged" and any(name.startswith("tt_") for name in event["work"])
