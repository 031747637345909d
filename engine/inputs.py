"""What a person does to a walk: every command checks, then records an event before anything changes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from engine.catalogue import Drive
from engine.errors import LaybyError
from engine.folding import DERIVED, Fold
from engine.judging import CONFIDENCE
from engine.library import Library
from engine.measured import Answer, How
from engine.minutes import FREE, cost_of_take
from engine.tree import Repair
from engine.walk_state import Event


class WalkError(LaybyError):
    """A command that does not fit where the walk stands."""


class BehindRepair(WalkError):
    """A correction would reach back over a repair; it must be asked for expressly."""


class Inputs(Fold):
    """A walk's commands.

    Args:
        library: trees and catalogues.
        clock: seconds since the epoch; None when nothing goes stale (without a screen).
        confidence: the least probability at which a verdict is not doubtful.
        sink: called with every new event before it takes effect; the journal's append.
    """

    def __init__(
        self,
        library: Library,
        *,
        clock: Callable[[], float] | None = None,
        confidence: float = CONFIDENCE,
        sink: Callable[[Event], object] | None = None,
    ) -> None:
        super().__init__(library)
        self.clock = clock
        self.confidence = confidence
        self.sink = sink

    def now(self) -> float | None:
        """Return the time of the clock that was handed in, or None without one."""
        return self.clock() if self.clock is not None else None

    # ------------------------------------------------------------- beginning

    def start(self, tree: str, side: str | None = None) -> None:
        """Begin at a tree's start; a procedure needs the *side* it is walked for."""
        found = self.library.tree(tree)
        if found.takes is not None and side not in found.takes_for:
            allowed = ", ".join(found.takes_for)
            raise WalkError(f"{tree} is walked for one {found.takes}: give side={allowed}")
        self._record({"kind": "started", "tree": tree, "side": side, "confidence": self.confidence})

    # ------------------------------------------------------ inputs of the person

    def take(
        self,
        reading: str,
        answer: Answer,
        *,
        typed: str = "",
        instrument: str | None = None,
        how: How = "measured",
        flagged: bool = False,
    ) -> int:
        """Record one take and return its number."""
        kind = self.library.catalogue.readings[reading]
        tool = instrument or next(iter(self.state.kit.used_for(kind)), None)
        cost = FREE if how == "told" else cost_of_take(self.state, kind, tool)
        return self._record(
            {
                "kind": "taken",
                "reading": reading,
                "answer": list(answer) if isinstance(answer, tuple) else answer,
                "unit": kind.unit,
                "typed": typed,
                "instrument": tool,
                "how": how,
                "flagged": flagged,
                "at": self.now() or 0.0,
                "epoch": self.state.epoch,
                "minutes": cost.minutes,
                "sets_up": list(cost.sets_up),
            }
        )

    def cannot(self, reading: str | None = None, why: str = "") -> None:
        """Record that one reading, or the whole step, cannot be done; a stale value then counts no more."""
        kind = self.library.catalogue.readings.get(reading) if reading is not None else None
        self._record(
            {
                "kind": "cannot",
                "reading": reading,
                "was_stale": kind is not None and self.state.is_stale(kind, self.now()),
                "why": why,
                "at": self.now() or 0.0,
                **self._here(),
            }
        )

    def go_on(self) -> None:
        """Accept a doubtful verdict."""
        frame = self.state.frame
        step = self.library.tree(frame.tree).step(frame.step, frame.binding)
        values = self.state.values()
        takes = sorted(
            n for name in (*step.readings, *step.optional) if name in values for n in values[name].takes
        )
        self._record({"kind": "went-on", "takes": takes, "at": self.now() or 0.0, **self._here()})

    def again(
        self, readings: Sequence[str], *, since: int | None = None, across_repair: bool = False
    ) -> None:
        """Ask for another take; *since* is the place in the path to return to, if the verdict is past.

        Raises:
            BehindRepair: a repair lies between, and *across_repair* was not said.
        """
        if since is not None and since < len(self.state.path):
            first = min(self.state.path[since]["takes"], default=None)
            if first is not None:
                self._guard_repair(first, across_repair)
        self._record({"kind": "again", "readings": list(readings), "since": since, "at": self.now() or 0.0})

    def keep(self, reading: str) -> None:
        """Keep a stale value as it is."""
        self._record({"kind": "kept", "reading": reading, "at": self.now() or 0.0})

    def correct(
        self,
        take: int,
        answer: Answer,
        *,
        typed: str = "",
        flagged: bool = False,
        across_repair: bool = False,
    ) -> None:
        """Replace a take's answer; the walk returns to where it was first used.

        Raises:
            WalkError: there is no such take.
            BehindRepair: a repair lies between, and *across_repair* was not said.
        """
        if self.state.find_take(take) is None:
            raise WalkError(f"there is no take number {take}")
        self._guard_repair(take, across_repair)
        self._record(
            {
                "kind": "corrected",
                "take": take,
                "answer": list(answer) if isinstance(answer, tuple) else answer,
                "typed": typed,
                "flagged": flagged,
                "at": self.now() or 0.0,
            }
        )

    def withdraw_cannot(self, number: int, *, across_repair: bool = False) -> None:
        """Take back a ``cannot``, named by its number among the inputs."""
        if not any(event.get("n") == number and event["kind"] == "cannot" for event in self.events):
            raise WalkError(f"input {number} is no 'cannot'")
        self._guard_repair(number, across_repair)
        self._record({"kind": "corrected", "cannot": number})

    def note(self, text: str) -> None:
        """Keep a remark with the step at hand."""
        self._record({"kind": "note", "text": text, "at": self.now() or 0.0, **self._here()})

    def keep_trace(self, recording: Mapping[str, Any]) -> int:
        """Keep a recorded signal with the step at hand, as `engine.traces.keeping.kept` packs it."""
        return self._record({"kind": "trace", **recording, "at": self.now() or 0.0, **self._here()})

    def predict(self, answer: str, *, right: bool) -> None:
        """Keep what a learner predicted of the step at hand, before its verdict."""
        self._record({"kind": "predicted", "answer": answer, "right": right, **self._here()})

    def acknowledge(self, cautions: Sequence[str], *, running: bool) -> None:
        """Record that the person read these cautions."""
        self._record(
            {
                "kind": "acknowledged",
                "cautions": list(cautions),
                "epoch": self.state.epoch,
                "running": running,
                "at": self.now() or 0.0,
            }
        )

    def undo_left(self, item: str) -> None:
        """Record that something left clamped, plugged, unplugged or fitted was undone."""
        if item not in self.state.left:
            raise WalkError(f"{item} is not on the list of what was left")
        self._record({"kind": "undone", "item": item, "at": self.now() or 0.0})

    def repair_done(self, what: str = "") -> None:
        """Answer the repair offered within the tree: done; its readings are asked again."""
        repair = self._offered()
        forget = list(self._forgotten(repair))
        self._record(
            {
                "kind": "repair-done",
                **{name: self.state.path[-1][name] for name in ("tree", "step", "bank", "sensor")},
                "what": what,
                "forget": forget,
                "next": repair.next,
                "at": self.now() or 0.0,
            }
        )

    def decline_repair(self) -> None:
        """Answer the repair offered within the tree: not now."""
        self._record({"kind": "repair-declined", "next": self._offered().next})

    def repaired(self, what: str = "") -> None:
        """Record that the concluded fault was repaired; the proof readings are asked anew."""
        if self.state.concluded is None:
            raise WalkError("nothing is concluded yet, so there is no repair to prove")
        self._record({"kind": "repaired", "what": what, "at": self.now() or 0.0})

    def due(self, when: str) -> None:
        """Record that the proof is put off until *when*: repaired, unproven."""
        self._record({"kind": "due", "when": when, "at": self.now() or 0.0})

    def new_epoch(self, reason: str) -> None:
        """Begin a new epoch after a pause, a hand-over or a move of the car."""
        self._record({"kind": "epoch", "reason": reason, "at": self.now() or 0.0})

    def confirm_drive(self, who: str, drive: Drive) -> None:
        """Record who decided whether the car is driven."""
        self._record({"kind": "confirmed", "who": who, "drive": drive.value, "at": self.now() or 0.0})

    # ------------------------------------------------------------- inside

    def _here(self) -> dict[str, str]:
        """Return where the walk stands; the proof of a repair is a step of its own."""
        frame, step = self.state.frame, "proof" if self.state.proving else self.state.frame.step
        return {
            "tree": frame.tree,
            "step": step,
            "bank": frame.binding.bank,
            "sensor": frame.binding.sensor,
        }

    def _offered(self) -> Repair:
        if self.state.repair_offer is None:
            raise WalkError("no repair is offered at this step")
        return self.state.repair_offer

    def _guard_repair(self, number: int, across_repair: bool) -> None:
        repairs = [e for e in self.events if e["kind"] in ("repaired", "repair-done") and e["n"] > number]
        if repairs and not across_repair:
            raise BehindRepair(
                "a repair was made after this; say that the correction shall reach back over it"
            )

    def _record(self, event: Mapping[str, Any]) -> int:
        """Hand an event to the sink, then let it take effect; return an input's number."""
        number = len(self.events)
        if event["kind"] not in DERIVED:
            event = {**event, "n": self.entered}
        if self.sink is not None:
            self.sink(event)
        self.events.append(event)
        self.entered += "n" in event
        self._apply(event, number)
        return int(event.get("n", number))
