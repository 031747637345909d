"""The fold of a walk: from events to where the job stands.

Applying a ``judged`` event follows the exit it names and recomputes nothing, so that opening or reporting a
job never judges again. The kinds of events are listed in ``engine.walking``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from engine.judging import NO_WAY
from engine.library import Library
from engine.measured import Take
from engine.proving import expanded
from engine.suspects import Evidence, Weighing, add_evidence
from engine.tree import (
    Binding,
    Call,
    Conclude,
    Conclusion,
    Continue,
    Exit,
    Next,
    Refer,
    Repair,
    Return,
)
from engine.walk_state import Event, Frame, StepKey, WalkState, corrected

DERIVED = frozenset({"asked", "skipped", "judged", "concluded", "opened-end", "returned", "proved"})
"""Kinds of events that the walk itself makes; all others come from the person and carry their number ``n``
among the inputs, which does not depend on how anything was judged."""
FAILED_PROOF_FACTOR = 0.1
"""What a failed proof of repair leaves of the repaired fault's weight."""


class Fold:
    """Events so far and the state they add up to."""

    def __init__(self, library: Library) -> None:
        self.library = library
        self.events: list[Event] = []
        self.entered = 0
        """How many of them came from the person; the number of the next."""
        self.state = WalkState(library.catalogue)
        self.withdrawn: set[int] = set()
        """Numbers of ``cannot`` inputs that were taken back."""
        self._replaced: dict[int, Mapping[str, Any]] = {}
        self._left_out: set[int] = set()
        """Places of derived events that a correction made void."""
        self._folding_again = False

    def replay(self, events: Iterable[Event]) -> None:
        """Take over events read from a journal; nothing is judged and nothing is handed to the sink."""
        for event in events:
            self.events.append(event)
            self.entered += "n" in event
            self._apply(event, len(self.events) - 1)

    def _exit_of(self, event: Event) -> Exit:
        """Return the exit that a judged event took: by its rule, or the way of ``cannot``."""
        step = self.library.tree(event["tree"]).step(event["step"], binding_of(event))
        rule = next((rule for rule in step.rules if rule.id == event["exit_by"]), None)
        if rule is not None:
            return rule.exit
        return step.cannot.exit if step.cannot is not None else NO_WAY

    def _forgotten(self, repair: Repair) -> tuple[str, ...]:
        names: list[str] = []
        for name in repair.forget:
            names.extend(self.library.catalogue.reading_groups.get(name, (name,)))
        return tuple(dict.fromkeys(names))

    def _proof_conclusion(self) -> Conclusion:
        done = self.state.concluded
        assert done is not None
        binding = Binding(*done["binding"])
        return self.library.tree(done["tree"]).conclusion(done["id"], binding)

    def _apply(self, event: Event, number: int) -> None:
        handler = getattr(self, "_on_" + event["kind"].replace("-", "_"), None)
        if handler is not None:
            self.state.changed()
            handler(event, number)
            self.state.changed()

    def _on_started(self, event: Event, _: int) -> None:
        tree = self.library.tree(event["tree"])
        self.confidence = event["confidence"]
        self.state.root = tree.id
        self.state.side = event["side"]
        self.state.frames = [Frame(tree.id, Binding.of(event["side"]), tree.start)]

    def _on_taken(self, event: Event, _: int) -> None:
        answer = event["answer"]
        take = Take(
            number=event["n"],
            reading=event["reading"],
            answer=tuple(answer) if isinstance(answer, list) else answer,
            typed=event["typed"],
            instrument=event["instrument"],
            at=event["at"],
            epoch=event["epoch"],
            how=event["how"],
            flagged=event["flagged"],
        )
        if event["n"] in self._replaced:
            new = self._replaced[event["n"]]
            again = new["answer"]
            take = corrected(
                take, tuple(again) if isinstance(again, list) else again, new["typed"], new["flagged"]
            )
        self.state.record_take(take, event["minutes"], event["sets_up"])

    def _on_cannot(self, event: Event, _: int) -> None:
        if event["n"] in self.withdrawn:
            return
        self.state.inputs += 1
        if event["reading"] is not None:
            self.state.cannot_readings[event["reading"]] = event["why"]
            if event.get("was_stale"):  # journals of an earlier program have no such key
                self.state.make_void(event["reading"], event["n"])
        else:
            self.state.cannot_steps[key_of(event)] = event["why"]

    def _on_went_on(self, event: Event, _: int) -> None:
        replaced = (self._replaced[take] for take in event["takes"] if take in self._replaced)
        if any(correction["n"] > event["n"] for correction in replaced):
            return  # the doubt that was accepted was about another value
        self.state.went_on.add(key_of(event))

    def _on_kept(self, event: Event, _: int) -> None:
        self.state.kept_at[event["reading"]] = event["at"]

    def _on_again(self, event: Event, number: int) -> None:
        since = event["since"]
        if since is not None and since < len(self.state.path):
            judged = self.state.path[since]
            self._rewind(next(i for i, past in enumerate(self.events) if past is judged), number)
        for name in event["readings"]:
            self.state.wanted[name] = len(self.state.live_takes(name)) + 1
        self.state.went_on.clear()

    def _on_corrected(self, event: Event, number: int) -> None:
        if "cannot" in event:
            self.withdrawn.add(event["cannot"])
            self._rewind(self._index_of(event["cannot"]), number)
            return
        self._replaced[event["take"]] = event
        self._rewind(self._first_use(event["take"], number), number)

    def _first_use(self, take: int, number: int) -> int:
        """Return the place of the first derived event that a take can have had a part in.

        What the car has, what is on the van and which codes are stored decide what is asked at all, so
        everything after such a take counts.
        """
        entered = self._index_of(take)
        reading = self.events[entered]["reading"]
        decides_what_is_asked = reading.startswith(("veh_", "kit_", "dtc_"))
        for i in range(entered + 1, number):
            past = self.events[i]
            if i in self._left_out or past["kind"] not in DERIVED:
                continue
            if decides_what_is_asked or take in past.get("takes", ()):
                return i
        return number

    def _index_of(self, n: int) -> int:
        return next(i for i, event in enumerate(self.events) if event.get("n") == n)

    def _rewind(self, to: int, number: int) -> None:
        """Fold all events before *number* once more, without what the walk derived from *to* on."""
        if self._folding_again:  # an earlier correction: what it made void is left out already
            return
        self._left_out |= {i for i in range(to, number) if self.events[i]["kind"] in DERIVED}
        self.state = WalkState(self.library.catalogue)
        self._folding_again = True
        for i, event in enumerate(self.events[:number]):
            if i not in self._left_out:
                self._apply(event, i)
        self._folding_again = False

    def _on_acknowledged(self, event: Event, _: int) -> None:
        for name in event["cautions"]:
            self.state.acknowledged.add((name, event["epoch"], event["running"]))

    def _on_predicted(self, event: Event, _: int) -> None:
        self.state.predictions.append(event["right"])

    def _on_undone(self, event: Event, _: int) -> None:
        self.state.left.pop(event["item"], None)

    def _on_epoch(self, _: Event, __: int) -> None:
        self.state.new_epoch()

    def _on_skipped(self, event: Event, _: int) -> None:
        self.state.frame.step = event["to"]

    def _on_judged(self, event: Event, _: int) -> None:
        state = self.state
        key = state.frame.key
        state.judged(event, key)
        tree = self.library.tree(state.frame.tree)
        if event["side"] is not None and tree.kind == "symptom":
            state.frame.binding = Binding.of(event["side"])
        self._follow(self._exit_of(event), key)

    def _follow(self, way: Exit, key: StepKey) -> None:
        """Move to where an exit leads; an end is left in ``open_exit`` until its own event."""
        state = self.state
        state.open_exit = None
        match way:
            case Next(step):
                state.frame.step = step
            case Continue(tree, at):
                found = self.library.trees.get(tree)
                if found is None:
                    state.open_exit = Refer(f"The job goes on in “{tree}”, which is not here yet.", tree)
                    return
                state.frames = [Frame(tree, state.frame.binding, at or found.start)]
            case Call(procedure, arguments):
                found = self.library.trees.get(procedure)
                if found is None:
                    state.open_exit = Refer(
                        f"This calls for “{procedure}”, which is not here yet.", procedure
                    )
                    return
                named = dict(arguments)
                side = named.get("sensor") or named.get("bank")
                binding = Binding.of(side) if side else state.frame.binding
                state.frames.append(Frame(procedure, binding, found.start, way))
            case Return(outcome, conclusion):
                self._return(outcome, conclusion, key)
            case Repair(_, _, step, times):
                if max(state.repairs_offered[key], state.repairs_done[key]) >= times:
                    state.frame.step = step
                else:
                    state.repairs_offered[key] += 1
                    state.repair_offer = way
            case Conclude() | Refer():
                state.open_exit = way

    def _return(self, outcome: str, conclusion: str | None, key: StepKey) -> None:
        state = self.state
        done = state.frame
        if conclusion is not None:
            state.carried = (done.tree, conclusion, done.binding)
        if done.call is None:
            state.open_exit = Return(outcome, conclusion)
            return
        state.frames.pop()
        way = done.call.exit_for(outcome)
        self._follow(way or Refer(f"“{done.tree}” ended with {outcome}, which leads no further here."), key)

    def _on_concluded(self, event: Event, _: int) -> None:
        self.state.concluded = event

    def _on_opened_end(self, event: Event, _: int) -> None:
        self.state.open_end = event

    def _on_returned(self, event: Event, _: int) -> None:
        self.state.returned = event["outcome"]

    def _on_repair_done(self, event: Event, _: int) -> None:
        self.state.repairs_done[key_of(event)] += 1
        self.state.forget(event["forget"], event["n"])
        self.state.repairs.append(event)
        self.state.inputs += 1
        self._leave_offer(event)

    def _on_repair_declined(self, event: Event, _: int) -> None:
        self._leave_offer(event)

    def _leave_offer(self, event: Event) -> None:
        """Go on after an answered offer; a correction may have led elsewhere, then the place stays."""
        if self.state.repair_offer is not None:
            self.state.repair_offer = None
            self.state.frame.step = event["next"]

    def _on_repaired(self, event: Event, _: int) -> None:
        state = self.state
        state.repairs.append(event)
        state.after_repair(event["n"])
        done = state.concluded
        state.proof = None
        if done is None:  # a correction from before the conclusion: the walk finds its own way again
            return
        for item in done["undoes"]:
            state.left.pop(item, None)
        state.proving = self._proof_conclusion().proof is not None
        for name in expanded(self.library.catalogue, self._proof_measures(), state.situation()):
            state.make_void(name, event["n"])

    def _proof_measures(self) -> tuple[str, ...]:
        proof = self._proof_conclusion().proof
        return proof.measure if proof is not None else ()

    def _on_due(self, event: Event, _: int) -> None:
        self.state.due = event["when"]

    def _on_proved(self, event: Event, _: int) -> None:
        state = self.state
        state.proof = event
        state.path.append(event)
        state.proving = False
        if event["result"] != "failed":
            return
        if event["faults"]:
            weighing = Weighing(1.0, event["side"], dict.fromkeys(event["faults"], FAILED_PROOF_FACTOR))
            rests_on = frozenset({f"proof {len(state.repairs)}"})
            state.evidence = add_evidence(
                state.evidence, Evidence("Proof of repair", event["verdict"], rests_on, (weighing,))
            )
        state.concluded = None
        state.open_exit = None
        tree = self.library.tree(state.root)
        state.visits.clear()
        state.seen_at.clear()
        state.repairs_offered.clear()
        state.frames = [Frame(tree.id, Binding.of(state.side), tree.start)]


def binding_of(event: Event) -> Binding:
    """Return what the placeholders stood for when an event was made."""
    return Binding(event["bank"], event["sensor"])


def key_of(event: Event) -> StepKey:
    """Return the step an event was made at."""
    return (event["tree"], event["step"], binding_of(event))
