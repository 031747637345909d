"""A report as a neutral page of headings, lists and tables, written out as Markdown or HTML."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from engine.catalogue import Drive
from engine.concluding import drive_words

PARTS_WORDS = {
    "none": "no part",
    "small": "small part",
    "medium": "medium part",
    "large": "large part",
    "very-large": "very dear part",
}
FOOT = (
    "This report is no roadworthiness test. The maker's current data, local rules and licensed practice come "
    "first. Scope: spark-ignition petrol engines with closed-loop mixture control."
)


@dataclass(slots=True)
class Block:
    """A heading with what stands under it."""

    title: str
    level: int = 2
    texts: list[str] = field(default_factory=list)
    items: list[str] = field(default_factory=list)
    head: tuple[str, ...] = ()
    rows: list[tuple[str, ...]] = field(default_factory=list)
    drawing: tuple[str, ...] = ()
    """Lines of text that draw something; shown where *svg* cannot be."""
    svg: str = ""
    """The same as an SVG element, made of numbers and fixed words only."""

    @property
    def is_empty(self) -> bool:
        """Tell whether nothing stands under the heading."""
        return not (self.texts or self.items or self.rows or self.drawing)


@dataclass(frozen=True, slots=True)
class Page:
    """A whole report."""

    title: str
    blocks: tuple[Block, ...]
    foot: str


def page(data: Mapping[str, Any]) -> Page:
    """Lay out gathered data: first a page for the customer, without percentages, then the path."""
    title = f"{data['car'] or 'Car'}: {data['status']}"
    blocks = [
        _job(data),
        _found(data),
        _numbers(data),
        Block("Not replaced, and why", items=[_cleared(c) for c in data["not_condemned"]]),
        Block("Not checked", items=[_why(entry) for entry in data["not_checked"]]),
        Block("Tested first", texts=[data["saving"]["customer"]] if data["saving"]["customer"] else []),
        _driving(data),
        Block("Still to be undone", items=list(data["left"])),
        Block("Remarks", items=[f"{n['text']} ({n['at']})" if n["at"] else n["text"] for n in data["notes"]]),
        *_workshop(data),
    ]
    return Page(title, tuple(b for b in blocks if not b.is_empty), FOOT)


def _job(data: Mapping[str, Any]) -> Block:
    items = [f"Complaint: {data['complaint']}"] if data["complaint"] else []
    if data["place"]:
        items.append(f"Place: {data['place']}")
    if data["who"]:
        items.append(f"Mechanic: {data['who']}")
    items.append(f"Begun: {data['begun']}")
    items.append(f"Job: {data['job']}")
    if data["demo"]:
        items.append("This is a demonstration with an invented car.")
    return Block("The job", items=items)


def _found(data: Mapping[str, Any]) -> Block:
    found = data["found"]
    if found is None:
        return _open(data)
    block = Block("What was found")
    if not found["labels"]:
        block.texts = ["No fault was found here.", found["because"]]
        return block
    where = f", {found['side_words']}" if found["side_words"] else ""
    cylinder = f", cylinder {found['cylinder']}" if found["cylinder"] else ""
    block.texts = [
        f"{found['labels'][0].capitalize()}{where}{cylinder}: {found['strength']}.",
        found["because"],
    ]
    block.items = [f"Also: {label}" for label in found["labels"][1:]]
    block.items += [f"Also found: {a['label']} {a['side']}".rstrip() for a in found["also"]]
    if found["missing"]:
        block.items.append("Not proven, because this is missing: " + "; ".join(found["missing"]))
    if found["common_practice"]:
        block.items.append(f"Rests on rules of thumb of the trade for: {', '.join(found['common_practice'])}")
    block.items.append(f"Repair: {found['repair']} {_effort(found)}".rstrip())
    if found["proof_words"]:
        block.items.append(f"Proof of the repair: {found['proof_words']}")
    block.items.append(f"If it is left: {found['if_left']}")
    return block


def _effort(found: Mapping[str, Any]) -> str:
    minutes = found["minutes_of_repair"]
    words = PARTS_WORDS[found["parts"]]
    return f"(about {minutes:g} min, {words})" if minutes else f"({words})"


def _open(data: Mapping[str, Any]) -> Block:
    end = data["open_end"]
    if end is None:
        return Block("What was found", texts=["Nothing is concluded yet: the job is not finished."])
    block = Block("What was found", texts=["An open end: no fault is named.", end["say"]])
    ranks = ("most likely", "second", "third", "fourth", "fifth")
    block.items = [f"{rank}: {s['label']}" for rank, s in zip(ranks, end["suspects"], strict=False)]
    block.items += [f"Would separate them: {text}" for text in end["separate"]]
    return block


def _numbers(data: Mapping[str, Any]) -> Block:
    repair = data["repair"]
    if repair is None:
        return Block("Repair")
    texts = [f"Repaired: {repair['what'] or 'as advised'}. {data['status'].capitalize()}."]
    rows: list[tuple[str, ...]] = [(n["label"], n["before"], n["after"]) for n in repair["numbers"]]
    return Block("Before and after", texts=texts, head=("reading", "before", "after"), rows=rows)


def _cleared(entry: Mapping[str, Any]) -> str:
    return f"{entry['label']}: {entry['verdict']} ({entry['by'].lower()})"


def _why(entry: Mapping[str, Any]) -> str:
    return f"{entry['what']} ({entry['why']})" if entry["why"] else str(entry["what"])


def _driving(data: Mapping[str, Any]) -> Block:
    drive = data["drive"]
    block = Block("Driving", texts=[drive_words(Drive(drive["decided"] or drive["worked_out"]))])
    block.items = [f"because: {reason}" for reason in drive["reasons"]]
    if drive["who"]:
        block.items.append(f"decided by {drive['who']}, {drive['at']}")
    else:
        block.items.append("worked out from the findings; no person has confirmed it yet")
    return block


def _workshop(data: Mapping[str, Any]) -> Sequence[Block]:
    path = Block("For the workshop: the path", head=("step", "readings", "verdict", "how sure"))
    for step in data["path"]:
        readings = "; ".join(f"{r['label']}: {r['value']}" for r in step["readings"]) or "none"
        verdict = step["verdict"] + (f" ({step['cannot']})" if step["cannot"] else "")
        sure = f"{step['grade']}, {100 * step['sure']:.0f} %" + (", doubtful" if step["doubtful"] else "")
        path.rows.append((step["title"], readings, verdict, sure))
    limits = Block("Limits used", head=("limit", "value", "from"))
    limits.rows = [(entry["label"], entry["value"], entry["source"]) for entry in data["limits"]]
    effort = Block(
        "Effort",
        items=[
            f"{data['entries']} entries, about {data['minutes']:g} minutes of measuring",
            f"{data['corrections']} corrections",
        ],
    )
    if data["saving"]["shop"]:
        effort.items.append(data["saving"]["shop"])
    unusual = Block("Entered although unusual", items=list(data["unusual"]))
    repairs = Block(
        "Repaired on the way", items=[text or "as advised" for text in data["repairs_on_the_way"]]
    )
    return (path, *(_recorded(entry) for entry in data["recordings"]), repairs, limits, unusual, effort)


def _recorded(entry: Mapping[str, Any]) -> Block:
    """Return a recorded signal with its numbers and its drawing."""
    return Block(
        f"Recorded signal: {entry['title']}",
        texts=[f"{entry['file']}, {entry['column']}: {entry['length']}."],
        items=[*entry["numbers"], *(f"mind: {notice}" for notice in entry["notices"])],
        drawing=tuple(entry["drawing"]),
        svg=entry["svg"],
    )
