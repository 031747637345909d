"""One job's journal, open: append what happened, or follow another window that does."""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from engine.journal import disk
from engine.journal.card import header_of
from engine.journal.records import Event, JournalError, encode, scan
from engine.journal.recovery import open_descriptor, settle

SUFFIX = ".layby"


@dataclass(frozen=True, slots=True)
class Opened:
    """A journal as it was found."""

    journal: Journal
    events: tuple[Event, ...]
    """What it holds, the header first; the index is the sequence number."""
    notices: tuple[str, ...]
    """What the person must be told, one line each."""
    read_only: bool


class Journal:
    """An open journal; use `create` or `open`, and close it or use it in a `with`.

    An event counts as recorded when `append` has returned: it is on the disk then. One thread at a
    time. The lock lasts until `close`.
    """

    def __init__(self, path: Path, descriptor: int, *, end: int, count: int, closed_to: str) -> None:
        self.path = path
        self._descriptor: int | None = descriptor
        self._name = os.fspath(path)
        self._identity = disk.identity(descriptor)[:2]
        self._end = end
        self._count = count
        self._closed_to_writing = closed_to
        """Why nothing can be appended; empty while it can."""
        self._may_follow = True

    @property
    def count(self) -> int:
        """How many events are known here, which is the next sequence number."""
        return self._count

    @property
    def read_only(self) -> bool:
        """True when nothing can be appended, from the start or since the disk failed."""
        return bool(self._closed_to_writing)

    @classmethod
    def create(
        cls,
        folder: Path,
        *,
        header: Mapping[str, Any],
        at: str,
        name_hint: str = "",
        token: str | None = None,
    ) -> Journal:
        """Begin a journal under a name of its own and record the header.

        Args:
            folder: made if missing, for the owner alone.
            header: put into the first event beside `job` (the file's name without its suffix) and
                `at`, unless it has its own.
            at: the time as ISO 8601 text with its offset from UTC.
            name_hint: words for the file name; whatever is not a letter or digit becomes a dash.
            token: what makes the name unique; random if not given.

        Raises:
            JournalError: the time is no time, or the disk refuses.
        """
        stem = _stem(at, name_hint, token or secrets.token_hex(5))
        path = folder / f"{stem}{SUFFIX}"
        line = encode({"kind": "opened", "job": stem, "at": at, **header}, 0)
        try:
            disk.make_folder(folder)
            descriptor = disk.open_file(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_EXCL)
        except OSError as error:
            message = f"no job can be begun here: {disk.plain_reason(error)}"
            raise JournalError(message, path=folder) from error
        try:
            header_of(path, line)
            disk.lock(descriptor)
            disk.write_once(descriptor, line)
            disk.sync(descriptor)
            disk.sync_folder(folder)
        except BaseException as error:
            os.close(descriptor)
            path.unlink(missing_ok=True)
            if isinstance(error, OSError):
                message = f"the job could not be begun: {disk.plain_reason(error)}"
                raise JournalError(message, path=path) from error
            raise
        return cls(path, descriptor, end=len(line), count=1, closed_to="")

    @classmethod
    def open(cls, path: Path, *, write: bool = True) -> Opened:
        """Read a journal and, if asked and possible, keep it for writing.

        The writer sets a torn last line aside as `<name>.torn-<n>` and drops it. Damage anywhere
        else, another writer or a disk that cannot be written leave it read-only, with a notice.

        Raises:
            JournalError: no such file, it cannot be read, or it does not begin with a header.
        """
        descriptor, closed_to = open_descriptor(path, write=write)
        try:
            data = disk.read_from(descriptor, 0)
            header_of(path, data)
            found = scan(data)
            notices = [f"{path}: {closed_to}"] if closed_to and write else []
            if found.problem:
                notice, closed_to = settle(path, descriptor, data[found.end :], found.problem, closed_to)
                notices.append(notice)
        except BaseException as error:
            os.close(descriptor)
            if isinstance(error, OSError):
                message = f"cannot be read: {disk.plain_reason(error)}"
                raise JournalError(message, path=path) from error
            raise
        journal = cls(path, descriptor, end=found.end, count=len(found.events), closed_to=closed_to)
        journal._may_follow = found.problem is None or found.problem.torn
        return Opened(journal, found.events, tuple(notices), journal.read_only)

    def append(self, event: Mapping[str, Any]) -> int:
        """Put *event* on the disk and return its sequence number.

        Raises:
            JournalError: it could not be recorded; the line says what to do. Nothing of it is left.
        """
        return self.append_many((event,))[0]

    def append_many(self, events: Iterable[Mapping[str, Any]]) -> tuple[int, ...]:
        """Put *events* on the disk in this order, with one write and one flush.

        A power cut may leave the first few of them. Returns their sequence numbers.

        Raises:
            JournalError: they could not be recorded; nothing of them is left.
        """
        first = self._count
        lines = [encode(event, seq) for seq, event in enumerate(events, first)]
        descriptor = self._writable()
        if lines:
            self._record(descriptor, b"".join(lines), first + len(lines))
        return tuple(range(first, self._count))

    def follow(self) -> list[Event]:
        """Return the events another window added since the last look; the writer gets none.

        Raises:
            JournalError: the file is no longer the one that was opened, or is damaged further on.
        """
        if self._descriptor is None or not self.read_only or not self._may_follow:
            return []
        try:
            self._check_unchanged(grown=True)
            data = disk.read_from(self._descriptor, self._end)
        except OSError as error:
            message = f"cannot be read: {disk.plain_reason(error)}"
            raise JournalError(message, path=self.path) from error
        found = scan(data, first=self._count)
        self._end += found.end
        self._count += len(found.events)
        if found.problem and not found.problem.torn and not found.events:
            line = found.problem.line
            raise JournalError(f"{found.problem.reason}: open the job again", path=self.path, line=line)
        return list(found.events)

    def close(self) -> None:
        """Give the file and its lock back; harmless when done twice."""
        descriptor, self._descriptor = self._descriptor, None
        self._closed_to_writing = self._closed_to_writing or "it is closed: open it again"
        if descriptor is not None:
            os.close(descriptor)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def _writable(self) -> int:
        """Return the descriptor if it may be written, else raise why not."""
        if self._closed_to_writing or self._descriptor is None:
            raise JournalError(f"not recorded: {self._closed_to_writing}", path=self.path)
        try:
            self._check_unchanged()
        except OSError as error:
            reason = disk.plain_reason(error)
            raise JournalError(f"not recorded: {reason}", path=self.path) from error
        return self._descriptor

    def _record(self, descriptor: int, data: bytes, count: int) -> None:
        """Write and flush *data*; whatever interrupts it, take it back."""
        step = "write"
        try:
            disk.write_once(descriptor, data)
            step = "flush"
            disk.sync(descriptor)
        except BaseException as error:
            taken_back = self._take_back(descriptor)
            if not taken_back or (step == "flush" and isinstance(error, OSError)):
                # What a failed flush left on the disk is unknown, and flushing again may lie.
                self._closed_to_writing = "the disk failed: close the job and open it again"
            if isinstance(error, OSError):
                message = f"not recorded, the {step} failed: {disk.plain_reason(error)}"
                raise JournalError(message, path=self.path) from error
            raise
        self._end, self._count = self._end + len(data), count

    def _take_back(self, descriptor: int) -> bool:
        """Cut the file back to its last recorded event; False if even that fails."""
        try:
            os.ftruncate(descriptor, self._end)
        except OSError:
            return False
        return True

    def _check_unchanged(self, *, grown: bool = False) -> None:
        """Raise if something other than a layby window replaced or changed the file."""
        there = disk.identity(self._name)
        in_place = there[:2] == self._identity
        size = there[2]
        if in_place and (size == self._end or (grown and size > self._end)):
            return
        what = "changed" if in_place else "moved or replaced"
        message = f"the file was {what} by another program: close the job and open it again"
        self._closed_to_writing = self._closed_to_writing or message
        raise JournalError(message, path=self.path)


def _stem(at: str, name_hint: str, token: str) -> str:
    """Return a file name without suffix: time in UTC, hint, token."""
    try:
        moment = datetime.fromisoformat(at)
    except ValueError as error:
        raise JournalError(f"time {at!r}: write it like 2026-01-31T08:15:00+00:00") from error
    if moment.utcoffset() is None:
        raise JournalError(f"time {at!r}: add its offset from UTC, like +00:00")
    hint = re.sub(r"[^a-z0-9]+", "-", name_hint.lower())[:24].strip("-")
    stamp = f"{moment.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    return "-".join(part for part in (stamp, hint, token) if part)
