"""The state of a walk: where it stands and what it knows, as a fold over the job's events.

Events are plain data (see ``engine.walking`` for their kinds). Applying one never judges anything: what was
judged is taken from the event, so that opening a job recomputes nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeAlias

from engine.catalogue import Catalogue, Reading
from engine.kit import Kit
from engine.measured import Answer, Take, Value, combine
from engine.situation import FoundFact, Situation
from engine.suspects import Evidence, Weighing, add_evidence
from engine.tree import Binding, Call, Exit, Repair

Event: TypeAlias = Mapping[str, Any]
StepKey: TypeAlias = tuple[str, str, Binding]
"""Tree, step, and what its placeholders stand for."""

HALF_HOUR, DAY = 30 * 60.0, 24 * 60 * 60.0
ROAD_STATES = frozenset({"road", "load", "wot", "overrun", "reload"})
RUNNING_STATES = frozenset({"crank", "idle", "2500", "snap"}) | ROAD_STATES


@dataclass(slots=True)
class Frame:
    """One tree being walked; the last frame is the one at work."""

    tree: str
    binding: Binding
    step: str
    call: Call | None = None
    """How it was called, None for the outermost tree."""

    @property
    def key(self) -> StepKey:
        """The step it stands at."""
        return (self.tree, self.step, self.binding)


@dataclass(frozen=True, slots=True)
class MadeFinding:
    """A finding with what it came from."""

    fact: FoundFact
    step: StepKey
    rests_on: frozenset[str]


@dataclass(slots=True)
class WalkState:
    """Everything a walk knows. Changed only by ``engine.walking.Walk``."""

    catalogue: Catalogue
    root: str = ""
    """The tree the walk began with."""
    frames: list[Frame] = field(default_factory=list)
    takes: list[Take] = field(default_factory=list)
    void_before: dict[str, int] = field(default_factory=dict)
    """Reading -> takes numbered below this no longer count."""
    kept_at: dict[str, float] = field(default_factory=dict)
    """Reading -> when a person kept a stale value."""
    wanted: dict[str, int] = field(default_factory=dict)
    """Reading -> how many takes were asked for."""
    cannot_readings: dict[str, str] = field(default_factory=dict)
    cannot_steps: dict[StepKey, str] = field(default_factory=dict)
    went_on: set[StepKey] = field(default_factory=set)
    """Steps whose doubtful verdict a person accepted."""
    findings: list[MadeFinding] = field(default_factory=list)
    evidence: tuple[Evidence, ...] = ()
    path: list[Event] = field(default_factory=list)
    also: list[tuple[str, str | None]] = field(default_factory=list)
    left: dict[str, str] = field(default_factory=dict)
    """Item left clamped, plugged, unplugged or fitted -> title of the step that left it."""
    side: str | None = None
    epoch: int = 0
    acknowledged: set[tuple[str, int, bool]] = field(default_factory=set)
    """Caution, epoch, engine running."""
    repair_offer: Repair | None = None
    """A repair within the tree that the person has to answer."""
    open_exit: Exit | None = None
    """The exit last followed when it is an end, until its own event is recorded."""
    repairs_offered: Counter[StepKey] = field(default_factory=Counter)
    repairs_done: Counter[StepKey] = field(default_factory=Counter)
    carried: tuple[str, str, Binding] | None = None
    """Conclusion brought back by a procedure: tree, conclusion, binding."""
    concluded: Event | None = None
    open_end: Event | None = None
    returned: str | None = None
    proving: bool = False
    proof: Event | None = None
    due: str | None = None
    repairs: list[Event] = field(default_factory=list)
    inputs_at_verdict: int = 0
    """*inputs* when the last step was judged; as many still means that the next passed by undone."""
    inputs: int = 0
    """Events so far that brought something new from outside."""
    seen_at: dict[StepKey, int] = field(default_factory=dict)
    """Step -> *inputs* when it was last judged; the same number again means going round."""
    visits: Counter[StepKey] = field(default_factory=Counter)
    predictions: list[bool] = field(default_factory=list)
    """Of a learner: right or not, in order."""
    minutes: float = 0.0
    set_up: set[str] = field(default_factory=set)
    """Instruments and engine states already paid for."""
    rows_taken: set[tuple[int, str]] = field(default_factory=set)
    """Place in the path, and row."""
    taken_here: set[tuple[int, str]] = field(default_factory=set)
    """Place in the path, and reading."""
    _situation: Situation | None = field(default=None, compare=False, repr=False)
    _piece: tuple[object, Evidence] | None = field(default=None, compare=False, repr=False)
    _kit: Kit | None = field(default=None, compare=False, repr=False)
    _before: Situation | None = field(default=None, compare=False, repr=False)
    """The situation before the last change, from which the next takes over what still holds."""
    _by_reading: dict[str, list[Take]] = field(default_factory=dict, compare=False, repr=False)
    _values: dict[str, Value | None] = field(default_factory=dict, compare=False, repr=False)
    """Combined values of the readings that were not touched since; None while no take counts."""

    # ------------------------------------------------------------ what is known

    def live_takes(self, reading: str) -> tuple[Take, ...]:
        """Return the takes of a reading that still count, oldest first; stale ones among them."""
        return self._live(reading, self._by_reading.get(reading, ()))

    def _live(self, reading: str, takes: Sequence[Take]) -> tuple[Take, ...]:
        kind = self.catalogue.readings.get(reading)
        least = self.void_before.get(reading, 0)
        this_epoch = kind is not None and kind.keeps == "never"
        return tuple(
            take for take in takes if take.number >= least and not (this_epoch and take.epoch != self.epoch)
        )

    def is_stale(self, reading: Reading, now: float | None) -> bool:
        """Tell whether the last take of a reading has outlived what the catalogue allows."""
        spans = {"half-hour": HALF_HOUR, "day": DAY}
        if now is None or reading.keeps not in spans:
            return False
        takes = self.live_takes(reading.id)
        if not takes:
            return False
        last = max(takes[-1].at, self.kept_at.get(reading.id, 0.0))
        return now - last > spans[reading.keeps]

    def values(self) -> dict[str, Value]:
        """Return the combined value of every reading that has takes that count."""
        for name, all_takes in self._by_reading.items():
            if name not in self._values:
                takes = self._live(name, all_takes)
                reading = self.catalogue.readings.get(name)
                if takes and reading is not None:
                    self._values[name] = combine(reading, takes, self.catalogue.instruments)
                else:
                    self._values[name] = None
        return {name: value for name in self._by_reading if (value := self._values[name]) is not None}

    def situation(self) -> Situation:
        """Return what is known now, for judging; the same object until something changes."""
        if self._situation is None:
            found = tuple(made.fact for made in self.findings)
            self._situation = Situation(self.catalogue, self.values(), found)
            if self._before is not None:
                self._situation.take_over(self._before)
            self._before = self._situation
        return self._situation

    @property
    def kit(self) -> Kit:
        """The instruments on the van, known without working out anything else."""
        if self._kit is None:
            self._kit = self.situation().kit
        return self._kit

    def changed(self) -> None:
        """Drop what was worked out from the state."""
        self._situation = None

    def codes(self) -> tuple[str, ...]:
        """Return the stored and pending codes read in this epoch or saved before."""
        found: set[str] = set()
        for name in ("dtc_stored", "dtc_pending"):
            takes = self.live_takes(name)
            if takes and isinstance(takes[-1].answer, tuple):
                found |= set(takes[-1].answer)
        return tuple(sorted(found))

    @property
    def frame(self) -> Frame:
        """The tree at work."""
        return self.frames[-1]

    # ---------------------------------------------------------- changes of state

    def record_take(self, take: Take, minutes: float, sets_up: Sequence[str]) -> None:
        """Add a take and what it cost; it answers what could not be measured before."""
        self.takes.append(take)
        self._by_reading.setdefault(take.reading, []).append(take)
        self._renew(take.reading)
        self.cannot_readings.pop(take.reading, None)
        self.minutes += minutes
        self.set_up.update(sets_up)
        reading = self.catalogue.readings.get(take.reading)
        if reading is not None:
            self.rows_taken.add((len(self.path), reading.row))
            self.taken_here.add((len(self.path), reading.id))
        self.inputs += 1

    def make_void(self, reading: str, before: int) -> None:
        """Let no take of a reading that is numbered below *before* count any longer."""
        self.void_before[reading] = before
        self._renew(reading)

    def _renew(self, reading: str) -> None:
        """Let a reading's value be combined anew."""
        self._values.pop(reading, None)
        if reading == "kit_tools":
            self._kit = None

    def forget(self, readings: Sequence[str], from_number: int) -> None:
        """Make all takes so far of these readings void, with the findings and evidence that rest on them."""
        gone = frozenset(readings)
        for name in readings:
            self.make_void(name, from_number)
            self.cannot_readings.pop(name, None)
            self.wanted.pop(name, None)
        self.findings = [made for made in self.findings if not (made.rests_on & gone)]
        self.evidence = tuple(piece for piece in self.evidence if not (piece.rests_on & gone))

    def new_epoch(self) -> None:
        """Begin a new epoch: after a repair, a pause, a hand-over or a move of the car."""
        self.epoch += 1
        self._values.clear()
        self._kit = None
        self.cannot_readings.clear()
        self.cannot_steps.clear()
        self.went_on.clear()
        self.inputs += 1

    def after_repair(self, number: int) -> None:
        """Void what a repair of the conclusion makes doubtful; keep stop findings it does not cure."""
        lost = [name for name, reading in self.catalogue.readings.items() if reading.lost_by_repair]
        for name in lost:
            self.make_void(name, number)
        self.wanted.clear()
        self.findings = [made for made in self.findings if self._survives_repair(made.fact)]
        self.new_epoch()

    def _survives_repair(self, fact: FoundFact) -> bool:
        finding = self.catalogue.findings[fact.finding]
        return finding.drive is not None and not finding.ends_with_repair

    def judged(self, event: Event, key: StepKey) -> None:
        """Take over what a step's judgement found."""
        rests_on = frozenset(event["rests_on"])
        decided = event["rule"] is not None and not event["doubtful"]
        self.findings = [made for made in self.findings if made.step != key or self._stays(made, decided)]
        for found in event["findings"]:
            fact = FoundFact(found["finding"], found["side"], found["sure"], found["firm"])
            self.findings.append(MadeFinding(fact, key, rests_on))
        self.evidence = add_evidence(self.evidence, self.piece_of(event))
        for fault in event["also"]:
            if (fault, event["side"]) not in self.also:
                self.also.append((fault, event["side"]))
        for item in event["leaves"]:
            self.left.setdefault(item, event["title"])
        for item in event["undoes"]:
            self.left.pop(item, None)
        self.inputs_at_verdict = self.inputs
        if event["side"] is not None:
            self.side = event["side"]
        self.path.append(event)
        self.seen_at[key] = self.inputs
        self.visits[key] += 1

    def piece_of(self, event: Event) -> Evidence:
        """Return what a judged event says of suspects: the same piece before and after it takes effect."""
        if self._piece is None or self._piece[0] is not event["weighings"]:
            self._piece = (event["weighings"], evidence_of(event))
        return self._piece[1]

    def _stays(self, made: MadeFinding, decided: bool) -> bool:
        """Keep what stops the car until its step was looked at again and said otherwise."""
        return self.catalogue.findings[made.fact.finding].drive is not None and not decided

    def find_take(self, number: int) -> Take | None:
        """Return the take with this number."""
        return next((take for take in self.takes if take.number == number), None)


def evidence_of(event: Event) -> Evidence:
    """Return what a judged event says of suspects, as one piece."""
    weighings = tuple(Weighing(w["p"], w["side"], w["factors"]) for w in event["weighings"])
    step = "/".join(event[name] for name in ("tree", "step", "bank", "sensor"))
    return Evidence(event["title"], event["verdict"], frozenset(event["rests_on"]), weighings, step=step)


def corrected(take: Take, answer: Answer, typed: str, flagged: bool) -> Take:
    """Return *take* with another answer."""
    return replace(take, answer=answer, typed=typed, flagged=flagged)
