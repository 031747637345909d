"""One call-out on disk: its journal, its walk, and the definition files it was begun with."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from engine.asking import Ask, Doubt, Ended, RepairOffer
from engine.folding import DERIVED
from engine.inert import inert
from engine.job_files import open_job
from engine.journal import Journal, JournalError, pack_definitions, unpack_definitions
from engine.library import Library, load_library, shipped_files
from engine.walk_state import Event
from engine.walking import Stop, Walk

OWN_KINDS = frozenset({"opened", "definitions", "position"})
"""Events that belong to the file, not to the walk."""


@dataclass(frozen=True, slots=True)
class JobCard:
    """What is known of a job before anything is measured."""

    car: str
    """The car in a few words: "grey hatchback 1.6"."""
    complaint: str
    """The customer's words."""
    place: str = ""
    who: str = ""
    """Who does the job."""
    learner: bool = False
    demo: bool = False

    def as_data(self) -> dict[str, Any]:
        """Return the card as plain data, its texts made inert."""
        return {
            "car": inert(self.car),
            "complaint": inert(self.complaint),
            "place": inert(self.place),
            "who": inert(self.who),
            "learner": self.learner,
            "demo": self.demo,
        }


class Job:
    """An open job; close it, or use it in a ``with``.

    An input is on the disk before its command returns. What the walk derives is written together when the
    walk next waits; lost in a crash, it is derived again.
    """

    def __init__(
        self,
        journal: Journal,
        walk: Walk,
        card: Mapping[str, Any],
        *,
        notices: tuple[str, ...] = (),
    ) -> None:
        self.journal = journal
        self.walk = walk
        self.card = card
        self.notices = notices
        self._held: list[Event] = []
        self._position: Mapping[str, Any] | None = None
        walk.sink = self._keep

    @classmethod
    def begin(
        cls,
        folder: Path,
        library: Library,
        card: JobCard,
        *,
        clock: Callable[[], float],
        tree: str = "triage",
        side: str | None = None,
        confidence: float | None = None,
    ) -> Job:
        """Begin a job in *folder* and start its walk.

        Raises:
            LaybyError: there is no such tree, it needs a side, or the disk refuses; no file is left.
        """
        walk = Walk(library, clock=clock)
        if confidence is not None:
            walk.confidence = confidence
        walk.start(tree, side)
        at = datetime.fromtimestamp(clock(), UTC).isoformat(timespec="seconds")
        journal = Journal.create(folder, header=card.as_data(), at=at, name_hint=card.car)
        try:
            journal.append_many((pack_definitions(library.files), *walk.events))
            header = {"kind": "opened", "job": journal.path.stem, "at": at, **card.as_data()}
            job = cls(journal, walk, header)
            job.advance()
        except BaseException:
            journal.close()
            journal.path.unlink(missing_ok=True)
            raise
        return job

    @classmethod
    def open(cls, path: Path, *, clock: Callable[[], float], write: bool = True) -> Job:
        """Open a job where it was left; nothing is judged again.

        Raises:
            JournalError: the file is no job, cannot be read, or was cut off before anything was asked.
            DefinitionError: the definition files inside are not usable.
        """
        opened = open_job(path, write=write)
        try:
            library = _pinned(path, opened.events)
            walk = Walk(library, clock=clock)
            walk.replay(event for event in opened.events if event["kind"] not in OWN_KINDS)
        except KeyError as error:
            opened.journal.close()
            raise JournalError(f"an event lacks {error}: another program wrote it", path=path) from error
        except BaseException:
            opened.journal.close()
            raise
        job = cls(opened.journal, walk, opened.events[0], notices=opened.notices)
        positions = [event for event in opened.events if event["kind"] == "position"]
        job._position = positions[-1] if positions else None
        return job

    @property
    def read_only(self) -> bool:
        """Tell whether nothing can be added."""
        return self.journal.read_only

    def advance(self) -> Stop:
        """Go on as far as what is known allows, and put it on disk; a read-only job only looks."""
        if self.read_only:
            return self.walk.look() or Ended(concluded=False)
        stop = self.walk.advance()
        self._flush(stop)
        return stop

    def follow(self) -> bool:
        """Take over what another window added; return whether there was anything."""
        events = [event for event in self.journal.follow() if event["kind"] not in OWN_KINDS]
        self.walk.replay(events)
        return bool(events)

    def close(self) -> None:
        """Let go of the journal."""
        self.journal.close()

    def __enter__(self) -> Job:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _keep(self, event: Event) -> None:
        if event["kind"] in DERIVED:
            self._held.append(event)
            return
        self.journal.append_many([*self._held, event])
        self._held.clear()

    def _flush(self, stop: Stop) -> None:
        position = self._position_now(stop)
        if position != self._position:
            self._held.append(position)
            self._position = position
        if self._held:
            self.journal.append_many(self._held)
            self._held.clear()

    def _position_now(self, stop: Stop) -> dict[str, Any]:
        state = self.walk.state
        title, status = _where(stop, self.walk)
        return {
            "kind": "position",
            "at_step": title,
            "status": status,
            "entries": len(state.takes),
            "minutes": round(state.minutes, 1),
            "due": state.due,
        }


def _where(stop: Stop, walk: Walk) -> tuple[str, str]:
    """Return the title of where a job stands, and its status in a word."""
    state = walk.state
    match stop:
        case Ask(step=step, proof=proof):
            return step.title, "to be proved" if proof else "open"
        case Doubt(step=step) | RepairOffer(step=step):
            return step.title, "open"
        case Ended():
            if state.proof is not None and state.proof["result"] == "fixed":
                return "fixed", "fixed"
            if state.proof is not None and state.proof["result"] == "unproven":
                return "repaired, unproven", "unproven"
            if state.concluded is not None:
                labels = state.concluded["labels"]
                return (labels[0] if labels else "not found here"), "concluded"
            return "open end", "open end"


def _pinned(path: Path, events: tuple[Event, ...]) -> Library:
    """Return the library a job was begun with, from the journal itself."""
    packed = [event for event in events if event["kind"] == "definitions"]
    if not packed or not any(event["kind"] == "started" for event in events):
        message = "holds only its beginning, nothing was asked yet: delete it and begin the job anew"
        raise JournalError(message, path=path)
    files = unpack_definitions(packed[-1])
    return load_library() if files == shipped_files() else load_library(files=files)
