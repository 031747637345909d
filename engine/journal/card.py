"""What a list of jobs shows of each, read without going through the whole file."""

from __future__ import annotations

import contextlib
import json
import os
import stat
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from engine.journal import disk
from engine.journal.records import (
    HEADER_LIMIT,
    BadRecordError,
    Event,
    JournalError,
    decode,
    decode_numbered,
)

TAIL = 64 * 1024
"""How many bytes at the end of a journal are looked through."""
POSITION_KINDS = frozenset({"position", "card"})


@dataclass(frozen=True, slots=True)
class Card:
    """A job as a list of jobs shows it."""

    path: Path
    header: Event
    last: Event | None
    """The last event of the kinds asked for; None when the end of the file holds none."""
    count: int | None
    """How many events, as the last good line says; None when the end holds no good line."""
    modified: float
    """When the file was last written, in seconds since 1970, UTC."""

    @property
    def job(self) -> str:
        """The job's id."""
        return str(self.header.get("job", self.path.stem))


def read_card(path: Path, *, kinds: Collection[str] = POSITION_KINDS) -> Card:
    """Read the first line and the last 64 KiB of a journal, without locking it.

    What lies between is not looked at, so a card may show a job whose middle is damaged.

    Raises:
        JournalError: no such file, or its first line is no header.
    """
    try:
        descriptor = disk.open_file(regular(path), os.O_RDONLY)
        try:
            state = os.fstat(descriptor)
            head = disk.read_from(descriptor, 0, HEADER_LIMIT)
            start = max(0, state.st_size - TAIL)
            end = disk.read_from(descriptor, start, TAIL) if state.st_size > len(head) else head
        finally:
            os.close(descriptor)
    except OSError as error:
        raise JournalError(f"cannot be read: {disk.plain_reason(error)}", path=path) from error
    header = header_of(path, head)
    lines = end.split(b"\n")[:-1]
    if end is not head:
        del lines[:1]  # its start is cut off
    lines.reverse()
    count = next((number + 1 for number, _ in _good(lines)), None)
    marks = [b'"kind":' + json.dumps(kind, ensure_ascii=False).encode() for kind in kinds]
    likely = (line for line in lines if any(mark in line for mark in marks))
    last = next((event for _, event in _good(likely) if event["kind"] in kinds), None)
    return Card(path, header, last, count, state.st_mtime)


def read_header(path: Path) -> Event:
    """Read the first event of a journal and nothing else.

    Raises:
        JournalError: no such file, or its first line is no header.
    """
    try:
        with regular(path).open("rb") as file:
            head = file.read(HEADER_LIMIT)
    except OSError as error:
        raise JournalError(f"cannot be read: {disk.plain_reason(error)}", path=path) from error
    return header_of(path, head)


def header_of(path: Path, data: bytes) -> Event:
    """Return the header at the start of *data*, the first bytes of the journal *path*.

    Raises:
        JournalError: *data* does not begin with a whole header.
    """
    if not data:
        raise JournalError("the file is empty: the job was never begun, delete it", path=path)
    line, line_end, rest = data.partition(b"\n")
    if not line_end and len(data) < HEADER_LIMIT:
        raise JournalError("the first line was never finished: the job was never begun, delete it", path=path)
    try:
        header = decode(line, 0)
    except BadRecordError as bad:
        advice = "" if bad.newer else ": no layby job, or damaged; look for another copy of it"
        if not rest and not bad.intact:
            advice += ", or delete it if there is none"
        raise JournalError(f"{bad.reason}{advice}", path=path, line=1) from bad
    if header["kind"] != "opened":
        raise JournalError(
            f"begins with {header['kind']!r} where 'opened' belongs: no layby job", path=path, line=1
        )
    return header


def regular(path: Path) -> Path:
    """Return *path* if an ordinary file is there; reading anything else could wait for ever.

    Raises:
        JournalError: nothing is there, or something else.
    """
    try:
        mode = path.stat().st_mode
    except OSError as error:
        raise JournalError(f"cannot be read: {disk.plain_reason(error)}", path=path) from error
    if not stat.S_ISREG(mode):
        raise JournalError("is no file: name a file that ends in .layby", path=path)
    return path


def _good(lines: Iterable[bytes]) -> Iterator[tuple[int, Event]]:
    """Yield number and event of every line that is a record."""
    for line in lines:
        with contextlib.suppress(BadRecordError):
            yield decode_numbered(line)
