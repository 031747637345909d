"""A walk without a screen: answers come from a file, doubts are gone on with, repairs are advised only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.answers_file import Answers, FileAnswer
from engine.asking import Ask, Ended, RepairOffer
from engine.catalogue import Reading
from engine.library import Library
from engine.measured import Answer, How
from engine.walk_state import Event
from engine.walking import Walk

FACTS = ("veh_", "kit_", "spec_")
NOT_IN_FILE = "not in the file"
MOST_VISITS = 2
"""Without a screen a step is entered at most twice."""


@dataclass(slots=True)
class _Feeder:
    """Answers asks from a file and keeps what was assumed and not measured."""

    walk: Walk
    answers: Mapping[str, tuple[FileAnswer, ...]]
    assumed: list[str] = field(default_factory=list)
    not_measured: list[str] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)

    def give_facts(self) -> None:
        """Hand over what is known of the car and the van before anything is asked."""
        for name, takes in self.answers.items():
            if name.startswith(FACTS):
                self._take_all(name, takes, how="told")

    def answer(self, ask: Ask) -> None:
        """Answer every line of an ask."""
        for item in ask.must_undo:
            self.walk.undo_left(item)
        for line in ask.lines:
            name = line.reading.id
            self.asked.add(name)
            if name in self.answers:
                self._take_all(name, self.answers[name])
            elif line.reading.assumed is not None:
                if name not in self.assumed:
                    self.assumed.append(name)
                self.walk.take(name, _assumed(line.reading), how="assumed")
            else:
                if name not in self.not_measured:
                    self.not_measured.append(name)
                self.walk.cannot(name, NOT_IN_FILE)

    def _take_all(self, name: str, takes: tuple[FileAnswer, ...], *, how: How = "from-file") -> None:
        for take in takes:
            self.walk.take(name, take.answer, typed=take.typed, how=how, flagged=take.flagged)


def _assumed(reading: Reading) -> Answer:
    value = reading.assumed
    if reading.kind in ("many", "codes"):
        return (str(value),)
    return float(value) if isinstance(value, int | float) else str(value)


def walk_headless(
    library: Library, tree: str, answers: Answers, *, side: str | None = None
) -> tuple[Walk, dict[str, Any]]:
    """Walk a tree to its end with the answers of a file.

    Args:
        library: trees and catalogues.
        tree: where to begin.
        answers: what the file and the command line say.
        side: the bank or sensor a procedure is walked for.

    Returns:
        the walk, and its outcome as the data that ``layby walk --json`` prints.
    """
    walk = Walk(library, most_visits=MOST_VISITS)
    walk.start(tree, side)
    feeder = _Feeder(walk, answers.answers)
    feeder.give_facts()
    _go(walk, feeder)
    outcome = _outcome(walk, tree, answers, feeder)
    if answers.after_repair and walk.state.concluded is not None:
        outcome["proof"] = _prove(walk, feeder, answers.after_repair)
    return walk, outcome


def _go(walk: Walk, feeder: _Feeder) -> None:
    while True:
        match walk.advance():
            case Ask() as ask:
                feeder.answer(ask)
            case RepairOffer():
                walk.decline_repair()
            case Ended():
                return
            case _:
                walk.go_on()


def _prove(walk: Walk, feeder: _Feeder, after: Mapping[str, tuple[FileAnswer, ...]]) -> dict[str, Any]:
    """Take the repair as made, answer its proof from the second map, and return what it shows."""
    feeder.answers = after
    walk.repaired("as advised")
    while isinstance(ask := walk.advance(), Ask) and ask.proof:
        feeder.answer(ask)
    proof = walk.state.proof
    if proof is None:
        return {"result": "unproven", "readings": {}}
    return {"result": proof["result"], "readings": _plain(proof["readings"])}


def _plain(readings: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    return {name: {"value": r["value"], "unit": r["unit"]} for name, r in readings.items()}


def _outcome(walk: Walk, tree: str, answers: Answers, feeder: _Feeder) -> dict[str, Any]:
    """Return how the walk ended, before any repair."""
    state = walk.state
    done = state.concluded
    used = feeder.asked | {name for event in state.path for name in event["readings"]}
    unused = [n for n in answers.answers if n not in used and not n.startswith(FACTS)]
    outcome: dict[str, Any] = {
        "tree": tree,
        "outcome": "concluded" if done is not None else "open",
        "conclusion": _conclusion(done) if done is not None else None,
        "suspects": [{"fault": s.fault, "side": s.side, "p": s.p} for s in walk.suspects()],
        "path": [_path_entry(event) for event in state.path if event["kind"] == "judged"],
        "not_measured": list(feeder.not_measured),
        "assumed": list(feeder.assumed),
        "flagged": sorted(answers.flagged),
        "unused": unused,
        "minutes": round(state.minutes, 3),
        "proof": None,
        "also": [{"fault": fault, "side": side} for fault, side in state.also],
        "drive": walk.drive()[0].value,
    }
    if state.open_end is not None and done is None:
        outcome["open_end"] = {"say": state.open_end["say"], "tree": state.open_end["tree"]}
    if state.returned is not None:
        outcome["returned"] = state.returned
    return outcome


def _conclusion(event: Event) -> dict[str, Any]:
    keys = ("id", "faults", "side", "cylinder", "direction", "strength", "sure", "drive", "repair", "missing")
    return {key: event[key] for key in keys}


def _path_entry(event: Event) -> dict[str, Any]:
    return {
        "tree": event["tree"],
        "step": event["step"],
        "readings": _plain(event["readings"]),
        "work": event["work"],
        "verdict": event["verdict"],
        "grade": event["grade"],
        "sure": event["sure"],
        "exit": event["exit"],
    }
