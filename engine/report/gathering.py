"""What a report says, gathered from a job's events."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from engine.catalogue import Catalogue, Source
from engine.measured import Answer
from engine.money import saving
from engine.report.recordings import gather_recordings
from engine.suspects import codes_evidence, rank
from engine.tree import Strength
from engine.walk_state import Event, WalkState
from engine.walking import Walk
from engine.wording import answer_words, number_words

COMMON_PRACTICE = Source("common-practice", "")


def gather(header: Mapping[str, Any], walk: Walk) -> dict[str, Any]:
    """Return everything a report shows, as plain data.

    Args:
        header: the job's first event.
        walk: its events, folded; nothing is judged again.
    """
    events, state, catalogue = walk.events, walk.state, walk.library.catalogue
    path, proof, opened_end = state.path, state.proof, state.open_end
    concluded = state.concluded
    repaired = next((e for e in reversed(state.repairs) if e["kind"] == "repaired"), None)
    end = concluded or opened_end
    return {
        "job": header.get("job", ""),
        "car": header.get("car", ""),
        "complaint": header.get("complaint", ""),
        "place": header.get("place", ""),
        "who": header.get("who", ""),
        "demo": bool(header.get("demo", False)),
        "begun": header.get("at", ""),
        "status": _status(concluded, opened_end, proof, repaired, state.due),
        "found": _found(concluded, path, catalogue),
        "open_end": _open_end(opened_end) if concluded is None else None,
        "not_condemned": list(end["not_condemned"]) if end else [],
        "not_checked": _not_checked(walk, path, catalogue),
        "drive": _drive(events, walk),
        "repair": _repair(repaired, proof, path, catalogue),
        "repairs_on_the_way": [e["what"] for e in events if e["kind"] == "repair-done"],
        "path": [_step(event, catalogue) for event in path],
        "limits": _limits(path),
        "cautions": sorted({c for e in events if e["kind"] == "acknowledged" for c in e["cautions"]}),
        "left": [catalogue.left[item].label for item in state.left if item in catalogue.left],
        "notes": [{"text": e["text"], "at": when(e["at"])} for e in events if e["kind"] == "note"],
        "corrections": sum(e["kind"] == "corrected" for e in events),
        "unusual": _unusual(events, catalogue),
        "entries": sum(e["kind"] == "taken" for e in events),
        "saving": _saving(concluded, opened_end, walk),
        "minutes": round(sum(e["minutes"] for e in events if e["kind"] == "taken"), 1),
        "recordings": gather_recordings(events, catalogue),
        "trim_points": _trim_points(_since_last_repair(path, state)),
    }


NOT_FIXED = "repaired, but the proof failed: not fixed"


def when(seconds: float) -> str:
    """Return a time as text in UTC, or nothing when it was not known."""
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%d %H:%M UTC") if seconds else ""


def _last(events: Sequence[Event], kind: str) -> Event | None:
    return next((event for event in reversed(events) if event["kind"] == kind), None)


def _status(
    concluded: Event | None,
    opened_end: Event | None,
    proof: Event | None,
    repaired: Event | None,
    due: str | None,
) -> str:
    if proof is not None and proof["result"] == "fixed":
        return "repaired, and the repair is proved"
    if proof is not None and proof["result"] == "failed":
        return "another fault is named: the earlier repair did not fix it" if concluded else NOT_FIXED
    if repaired is not None:
        return "repaired, unproven" + (f", proof due {due}" if due else "")
    if concluded is not None:
        return "concluded, not repaired"
    return "open end" if opened_end is not None else "not finished"


def _found(concluded: Event | None, path: Sequence[Event], catalogue: Catalogue) -> dict[str, Any] | None:
    if concluded is None:
        return None
    keys = (
        "id", "faults", "labels", "side", "side_words", "cylinder", "direction", "strength", "sure",
        "because", "repair", "if_left", "missing",
    )  # fmt: skip
    found = {key: concluded[key] for key in keys}
    main = catalogue.faults.faults.get(concluded["faults"][0]) if concluded["faults"] else None
    found["parts"] = main.parts if main is not None else "none"
    found["minutes_of_repair"] = main.minutes if main is not None else None
    found["proof_words"] = main.proof if main is not None else ""
    found["common_practice"] = [e["label"] for e in _limits(path) if e["source"] == COMMON_PRACTICE.words]
    found["also"] = [
        {
            "label": catalogue.faults.faults[fault].label,
            "side": catalogue.words.get(side, side) if side else "",
        }
        for fault, side in concluded["also"]
    ]
    return found


def _open_end(event: Event | None) -> dict[str, Any] | None:
    if event is None:
        return None
    return {
        "say": event["say"],
        "tree": event["tree"],
        "suspects": [dict(s) for s in event["suspects"]],
        "separate": list(event.get("separate", ())),
    }


def _not_checked(walk: Walk, path: Sequence[Event], catalogue: Catalogue) -> list[dict[str, str]]:
    """Return what could not be measured or done, with the reason; what was measured later is left out."""
    known = {name for event in path for name in event["readings"]}
    said: dict[str, str] = {}
    for event in path:
        for name, entry in event["readings"].items():
            if label := _not_looked(catalogue, name, entry["value"]):
                said[catalogue.label(name)] = label
        for name in event.get("not_on_van", ()):
            said[catalogue.label(name)] = "no instrument for it on this van"
    for event in walk.events:
        if event["kind"] == "cannot" and event["n"] not in walk.withdrawn:
            name = event["reading"]
            if name is None or name not in known:
                said[catalogue.label(name) if name else _title(path, event)] = event["why"]
    return [{"what": what, "why": why} for what, why in said.items()]


def _not_looked(catalogue: Catalogue, name: str, value: Any) -> str:
    """Return the label of the choice that means *not looked at*, if that was the answer."""
    reading = catalogue.readings.get(name)
    given = value if isinstance(value, list) else [value]
    choices = (reading.choice(word) for word in given if reading is not None and isinstance(word, str))
    return next((choice.label for choice in choices if choice is not None and choice.not_looked), "")


def _title(path: Sequence[Event], event: Event) -> str:
    here = (e["title"] for e in path if (e["tree"], e["step"]) == (event["tree"], event["step"]))
    return next(here, str(event["step"]).replace("-", " "))


def _drive(events: Sequence[Event], walk: Walk) -> dict[str, Any]:
    confirmed = _last(events, "confirmed")
    worked_out, reasons = walk.drive()
    return {
        "worked_out": worked_out.value,
        "reasons": reasons,
        "decided": confirmed["drive"] if confirmed is not None else None,
        "who": confirmed["who"] if confirmed is not None else None,
        "at": when(confirmed["at"]) if confirmed is not None else "",
    }


def _repair(
    repaired: Event | None, proof: Event | None, path: Sequence[Event], catalogue: Catalogue
) -> dict[str, Any] | None:
    if repaired is None:
        return None
    after = proof["readings"] | proof["work"] if proof is not None else {}
    before: dict[str, Any] = {}
    for event in path:
        if event is proof:
            break
        if event["kind"] == "judged":
            before.update(event["readings"] | event["work"])
    return {
        "what": repaired["what"],
        "at": when(repaired["at"]),
        "result": proof["result"] if proof is not None else "unproven",
        "numbers": [
            {
                "label": catalogue.label(name),
                "before": words(catalogue, name, before[name]["value"]) if name in before else "not measured",
                "after": words(catalogue, name, entry["value"]),
            }
            for name, entry in after.items()
        ],
    }


def words(catalogue: Catalogue, name: str, value: Any) -> str:
    """Return a recorded value as people read it."""
    answer: Answer = tuple(value) if isinstance(value, list) else value
    return answer_words(catalogue, name, float(answer) if isinstance(answer, int) else answer)


def _step(event: Event, catalogue: Catalogue) -> dict[str, Any]:
    shown = {**event["readings"], **event["work"]}
    near = next((m for m in event["margins"] if m["turns_to"] is not None), None)
    return {
        "title": event["title"],
        "side": catalogue.words.get(event["side"], "") if event["side"] else "",
        "readings": [
            {"label": catalogue.label(name), "value": words(catalogue, name, entry["value"])}
            for name, entry in shown.items()
        ],
        "verdict": event["verdict"],
        "means": event["means"],
        "grade": event["grade"],
        "sure": event["verdict_sure"],
        "doubtful": event["doubtful"],
        "cannot": event["cannot"],
        "turn": _turn(near),
    }


def _turn(margin: Mapping[str, Any] | None) -> str:
    if margin is None:
        return ""
    distance = number_words(abs(margin["distance"]), margin["unit"])
    limit = number_words(margin["limit_value"], margin["unit"])
    return f"{margin['label']}: {distance} from the limit {limit} ({margin['source']})"


def _limits(path: Sequence[Event]) -> list[dict[str, Any]]:
    used: dict[str, dict[str, Any]] = {}
    for event in path:
        for name, limit in event["limits"].items():
            used[name] = {
                "label": limit["label"],
                "value": number_words(limit["value"], limit["unit"]),
                "source": limit["source"],
            }
    return list(used.values())


def _unusual(events: Sequence[Event], catalogue: Catalogue) -> list[str]:
    return [
        f"{catalogue.label(e['reading'])}: {words(catalogue, e['reading'], e['answer'])}"
        for e in events
        if e["kind"] == "taken" and e["flagged"]
    ]


def _saving(concluded: Event | None, opened_end: Event | None, walk: Walk) -> dict[str, str | None]:
    """Return what testing first saved, in words; the customer hears of it when the fault is proven."""
    end = concluded or opened_end
    state, catalogue = walk.state, walk.library.catalogue
    if end is None or end.get("strength") == Strength.NOT_FOUND_HERE:
        return {"customer": None, "shop": None}
    saved = [take.answer for take in state.takes if take.reading in ("dtc_stored", "dtc_pending")]
    codes = sorted({code for answer in saved if isinstance(answer, tuple) for code in answer})
    before = rank(catalogue, codes_evidence(catalogue, codes), state.situation().banks)
    fault = next(iter(concluded["faults"]), None) if concluded is not None else None
    minutes = next(e["minutes"] for e in reversed(state.path) if e["kind"] == "judged")
    told = saving(catalogue, before, minutes, fault)
    probable = concluded is not None and concluded["strength"] != Strength.PROVEN
    return {"customer": None if probable else told.customer_words, "shop": told.shop_words}


def _since_last_repair(path: Sequence[Event], state: WalkState) -> list[Event]:
    """Return the verdicts that rest on something taken after the last repair, or all when there was none."""
    last = state.repairs[-1]["n"] if state.repairs else -1
    return [event for event in path if max(event["takes"], default=-1) > last]


def _trim_points(path: Sequence[Event]) -> list[dict[str, Any]]:
    """Return total trims with the air flow they were read at, for the drawing."""
    known: dict[str, Any] = {}
    for event in path:
        known.update(event["readings"] | event["work"])
    points = []
    for bank in ("b1", "b2"):
        for state in ("idle", "2500", "load"):
            trim, air = known.get(f"tt_{bank}_{state}"), known.get(f"maf_{state}")
            if trim is not None:
                points.append(
                    {
                        "bank": bank,
                        "state": state,
                        "trim": trim["value"],
                        "air": air["value"] if air else None,
                    }
                )
    return points
