"""The interpreter: one job's walk through the trees.

A ``Walk`` is a fold over events, which are plain data. Commands check, then record an event; recording hands
it to the *sink* (the journal) before anything else changes. Events of the person (``taken``, ``cannot``,
``went-on``, ``again``, ``corrected``, ``kept``, ``note``, ``acknowledged``, ``undone``, ``repaired``,
``repair-done``, ``repair-declined``, ``epoch``, ``confirmed``, ``due``, ``predicted``, ``started``) are
inputs; ``asked``, ``skipped``, ``judged``, ``concluded``, ``opened-end``, ``returned``, ``proved`` are what
the walk made of them. ``engine.folding`` turns events into state.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, TypeAlias

from engine.asking import (
    Ask,
    Doubt,
    Ended,
    RepairOffer,
    cautions_due,
    doubt,
    is_road_step,
    lines_of,
)
from engine.catalogue import Drive
from engine.changed import Changed as Changed
from engine.concluding import conclude, contradicting, drive_decision, open_end
from engine.folding import binding_of, key_of
from engine.inputs import Inputs
from engine.judging import CONFIDENCE, Judgement, judge, readings_of
from engine.library import Library
from engine.measured import Answer, Take
from engine.ordering import separating_steps
from engine.proving import expanded, proof_step
from engine.recording import judged_event
from engine.situation import Situation
from engine.suspects import Evidence, Suspect, add_evidence, codes_evidence, rank
from engine.tree import (
    RETURNED,
    Binding,
    Conclude,
    Conclusion,
    Condition,
    Exit,
    Refer,
    Repair,
    Return,
    Step,
)
from engine.walk_state import Event

Stop: TypeAlias = Ask | Doubt | RepairOffer | Ended
MOST_JUDGEMENTS = 300
"""Judgements in one go; more means that a tree goes round."""

SHOWN = 5
"""Suspects that a verdict keeps with it."""


class Walk(Inputs):
    """One job's way through the trees.

    Args:
        library: trees and catalogues.
        clock: seconds since the epoch; None when nothing goes stale (without a screen).
        confidence: the least probability at which a verdict is not doubtful.
        sink: called with every new event before it takes effect; the journal's append.
        most_visits: how often one step may be judged; coming to it once more is an honest open end.
    """

    def __init__(
        self,
        library: Library,
        *,
        clock: Callable[[], float] | None = None,
        confidence: float = CONFIDENCE,
        sink: Callable[[Event], object] | None = None,
        most_visits: int = 50,
    ) -> None:
        super().__init__(library, clock=clock, confidence=confidence, sink=sink)
        self.most_visits = most_visits
        self._judged: tuple[object, Judgement] | None = None
        self._ranked: dict[int | None, tuple[object, tuple[Suspect, ...]]] = {}
        self._said: tuple[tuple[str, ...], tuple[Evidence, ...]] | None = None

    def correct_and_advance(
        self,
        take: int,
        answer: Answer,
        *,
        typed: str = "",
        flagged: bool = False,
        across_repair: bool = False,
    ) -> Changed:
        """Correct a take, walk again from where it was first used, and return what came out differently."""
        before = self.path_lines()
        self.correct(take, answer, typed=typed, flagged=flagged, across_repair=across_repair)
        self.advance()
        return Changed(before, self.path_lines())

    # ------------------------------------------------------------ going on

    def advance(self) -> Stop:
        """Go on as far as what is known allows, and return what the walk waits for."""
        for _ in range(MOST_JUDGEMENTS):
            if self.state.open_exit is not None and not self._is_over():
                self._record_end(self.state.open_exit)
            stop = self.look()
            if isinstance(stop, Ask):
                self._record_asked(stop)
            if stop is not None:
                return stop
            self._judge_here()
        self._end_open(Refer("The trees went round without an end; nothing more is decided here."))
        return Ended(concluded=False)

    def look(self) -> Stop | None:
        """Return what the walk waits for, or None when the step at hand can be judged; changes nothing."""
        state = self.state
        if state.proving:
            return self._proof_stop()
        if self._is_over():
            return Ended(concluded=state.concluded is not None)
        if state.repair_offer is not None:
            return self._repair_offer(state.repair_offer)
        step = self.step()
        if self._is_skipped(step) or state.frame.key in state.cannot_steps or self._goes_round():
            return None
        situation = state.situation()
        lines = lines_of(state, step, situation, self.now(), self.confidence)
        if lines:
            return self._ask(step, lines, situation)
        judgement = self._judgement(step, situation)
        if judgement.doubtful and self.clock is not None and state.frame.key not in state.went_on:
            return doubt(state.frame.tree, state.frame.binding, step, situation, judgement)
        return None

    def _ask(self, step: Step, lines: tuple[Any, ...], situation: Situation, *, proof: bool = False) -> Ask:
        frame = self.state.frame
        must_undo = tuple(self.state.left) if is_road_step(self.state, lines) else ()
        return Ask(
            tree=frame.tree,
            binding=frame.binding,
            step=step,
            lines=lines,
            cautions=cautions_due(self.state, step, situation),
            must_undo=must_undo,
            proof=proof,
        )

    def _record_asked(self, ask: Ask) -> None:
        names = [line.reading.id for line in ask.lines]
        event = {"kind": "asked", **self._here(), "readings": names, "proof": ask.proof}
        if next((e for e in reversed(self.events) if e["kind"] == "asked"), None) != event:
            self._record(event)

    def _judge_here(self) -> None:
        """Judge the step at hand, or take the way round it, and record what came of it."""
        state = self.state
        if state.proving:
            self._judge_proof()
            return
        step, key = self.step(), state.frame.key
        if self._goes_round():
            self._end_open(Refer(f"“{step.title}” came up again with nothing new to judge."))
            return
        if self._is_skipped(step):
            self._record(
                {
                    "kind": "skipped",
                    **self._here(),
                    "title": step.title,
                    "to": step.skip,
                    "takes": self._takes_of(step.only_if),
                }
            )
            return
        situation = state.situation()
        cannot_why = state.cannot_steps.get(key)
        judgement = None if cannot_why is not None else self._judgement(step, situation)
        side = self._side_of(judgement, situation)
        event = judged_event(
            state,
            step,
            self._here(),
            situation,
            judgement,
            cannot_why,
            side,
            self.confidence,
            attended=self.clock is not None,
        )
        self._record({**event, "suspects": self._suspects_after(event)})

    def _takes_of(self, condition: Condition | None) -> list[int]:
        situation = self.state.situation()
        values = (situation.values.get(name) for name in readings_of(situation, condition))
        return sorted(number for value in values if value is not None for number in value.takes)

    def _judgement(self, step: Step, situation: Situation) -> Judgement:
        """Judge a step once for the same inputs."""
        key = (self.state.frame.key, len(self.events), self.confidence)
        if self._judged is None or self._judged[0] != key:
            self._judged = (key, judge(step, situation, self.confidence))
        return self._judged[1]

    def _suspects_after(self, event: Event) -> list[dict[str, Any]]:
        pieces = add_evidence(self.state.evidence, self.state.piece_of(event))
        return [
            {"fault": s.fault, "label": s.label, "side": s.side, "p": s.p} for s in self._rank(pieces, SHOWN)
        ]

    def _record_end(self, way: Exit) -> None:
        """Record the end that the last judgement led to."""
        state = self.state
        match way:
            case Conclude(name, side):
                tree, conclusion, binding = self._conclusion(name)
                suspects = self.suspects()
                event = conclude(state, tree, conclusion, side or state.side, state.path[-1], suspects)
                against = contradicting(event, suspects)
                if against is not None:
                    self._end_open(Refer(_contradiction(event, against)), outweighed=event)
                    return
                self._record({**event, "binding": [binding.bank, binding.sensor]})
            case Refer() as refer:
                self._end_open(refer)
            case Return(outcome):
                self._record({"kind": "returned", "outcome": outcome})

    def _end_open(self, refer: Refer, *, outweighed: Event | None = None) -> None:
        suspects = self.suspects()
        words: list[str] = []
        if drive_decision(self.state, None)[0] is not Drive.DO_NOT_DRIVE:  # else nothing more is run today
            tests = separating_steps(self.library.trees, self.state.situation(), suspects, self.state.visits)
            words = [test.words for test in tests]
        self._record(open_end(self.state, refer.say, refer.tree, suspects, words, outweighed))

    # ------------------------------------------------------------ proof of repair

    def _proof_stop(self) -> Stop | None:
        situation = self.state.situation()
        step = self._proof_step(self._proof_conclusion(), situation)
        if step is None:
            return Ended(concluded=True)
        if key_of(self._here()) in self.state.cannot_steps:
            return None
        lines = lines_of(self.state, step, situation, self.now(), self.confidence)
        return self._ask(step, lines, situation, proof=True) if lines else None

    def _proof_step(self, conclusion: Conclusion, situation: Situation) -> Step | None:
        """Return the proof as a step, its worked values written out as the readings they rest on."""
        step = proof_step(conclusion)
        if step is None:
            return None
        return replace(step, readings=expanded(self.library.catalogue, step.readings, situation))

    def _judge_proof(self) -> None:
        state, conclusion = self.state, self._proof_conclusion()
        situation = state.situation()
        step = self._proof_step(conclusion, situation)
        assert step is not None
        why = state.cannot_steps.get(key_of(self._here()))
        judgement = judge(step, situation, self.confidence)
        event = judged_event(
            state,
            step,
            self._here(),
            situation,
            judgement,
            why,
            None,
            self.confidence,
            attended=self.clock is not None,
        )
        result = judgement.rule.id if judgement.rule is not None and not judgement.doubtful else "unproven"
        self._record(
            {
                **event,
                "kind": "proved",
                "result": result,
                "faults": list(conclusion.faults),
                "side": state.concluded["side"] if state.concluded is not None else None,
            }
        )

    # ------------------------------------------------------------- looking

    def path_lines(self) -> tuple[tuple[str, str], ...]:
        """Return title and verdict of every judged step."""
        return tuple((event["title"], event["verdict"]) for event in self.state.path)

    def step(self) -> Step:
        """Return the step the walk stands at."""
        frame = self.state.frame
        return self.library.tree(frame.tree).step(frame.step, frame.binding)

    def suspects(self) -> tuple[Suspect, ...]:
        """Return all suspects, the heaviest first, worked out from the priors."""
        return self._rank(self.state.evidence)

    def _rank(self, pieces: Sequence[Evidence], most: int | None = None) -> tuple[Suspect, ...]:
        catalogue = self.library.catalogue
        codes = self._codes_say(self.state.codes())
        situation = self.state.situation()
        factors = dict(self.library.prior_factors(situation))
        point = situation.as_read
        for fault in catalogue.faults.conditional:
            if fault.only_if is not None and point.truth(fault.only_if) is False:
                factors[fault.id] = 0.0
        key = (codes, pieces, situation.banks, factors)
        if most not in self._ranked or self._ranked[most][0] != key:
            pieces = (*codes, *pieces)
            self._ranked[most] = (key, rank(catalogue, pieces, situation.banks, factors, most=most))
        return self._ranked[most][1]

    def _codes_say(self, codes: tuple[str, ...]) -> tuple[Evidence, ...]:
        """Return what the codes say of faults, the same pieces until others are read."""
        if self._said is None or self._said[0] != codes:
            self._said = (codes, codes_evidence(self.library.catalogue, codes))
        return self._said[1]

    def drive(self) -> tuple[Drive, list[str]]:
        """Return whether the car may be driven as things stand, and why not more freely."""
        end = self.state.concluded or self.state.open_end
        fixed = self.state.proof is not None and self.state.proof["result"] == "fixed"
        own = "may-drive" if fixed else None
        if end is not None and not fixed:  # journals of an earlier program have only the decision itself
            own = end.get("own_drive", end.get("drive"))
        return drive_decision(self.state, Drive(own) if own is not None else None)

    def unused_takes(self) -> tuple[Take, ...]:
        """Return the takes that no judgement on the present path used; car and van facts aside."""
        used = {number for event in self.state.path for number in event["takes"]}
        facts = ("veh_", "kit_", "spec_")
        return tuple(t for t in self.state.takes if t.number not in used and not t.reading.startswith(facts))

    # ------------------------------------------------------------- inside

    def _is_over(self) -> bool:
        state = self.state
        return bool(state.concluded or state.open_end) or state.returned is not None

    def _goes_round(self) -> bool:
        """Tell whether the step came up too often, or again with nothing new since it was judged twice."""
        state, key = self.state, self.state.frame.key
        visits = state.visits[key]
        return visits >= self.most_visits or (visits >= 2 and state.seen_at[key] == state.inputs)

    def _is_skipped(self, step: Step) -> bool:
        if step.only_if is None or step.skip is None:
            return False
        return self.state.situation().as_read.truth(step.only_if) is False

    def _side_of(self, judgement: Judgement | None, situation: Situation) -> str | None:
        """Return the side that the deciding rule finds; the codes' own where the rule says so."""
        if judgement is None or judgement.rule is None or judgement.doubtful:
            return None
        side = judgement.rule.side
        if judgement.probability_of_side(side) < self.confidence:
            return None
        if side != "from_codes":
            return side
        codes = self.library.catalogue.codes
        sides = {entry.side for code in self.state.codes() if (entry := codes.find(code)) and entry.side}
        sides = {s for s in sides if situation.banks > 1 or not s.startswith("b2")}
        banks = {s[:2] for s in sides}
        if len(sides) == 1:
            return sides.pop()
        return banks.pop() if len(banks) == 1 else None

    def _repair_offer(self, repair: Repair) -> RepairOffer:
        judged = self.state.path[-1]
        step = self.library.tree(judged["tree"]).step(judged["step"], binding_of(judged))
        return RepairOffer(judged["tree"], step, repair.say, self._forgotten(repair))

    def _conclusion(self, name: str) -> tuple[str, Conclusion, Binding]:
        frame = self.state.frame
        tree, own, binding = frame.tree, name, frame.binding
        if name == RETURNED and self.state.carried is not None:
            tree, own, binding = self.state.carried
        return tree, self.library.tree(tree).conclusion(own, binding), binding


def _contradiction(event: Event, against: Suspect) -> str:
    said = event["labels"][0] if event["labels"] and event["strength"] == "probable" else "nothing wrong"
    return (
        f"The last step says: {said}. All the evidence together weighs more on: {against.label}. "
        "No part is named until a test separates them."
    )
