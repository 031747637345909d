"""Copies of one job, as file sync leaves them behind when two laptops worked on it."""

from __future__ import annotations

import contextlib
import os
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from engine.journal import disk
from engine.journal.card import read_header, regular
from engine.journal.records import Event, JournalError, scan


@dataclass(frozen=True, slots=True)
class Tails:
    """Where two copies of one journal part."""

    common: int
    """How many events both begin with."""
    only_a: tuple[Event, ...]
    only_b: tuple[Event, ...]

    @property
    def have_parted(self) -> bool:
        """True when each holds something the other has not; else one just continues the other."""
        return bool(self.only_a) and bool(self.only_b)


def compare_tails(path_a: Path, path_b: Path) -> Tails:
    """Return what two copies share and what each has alone; unfinished last lines do not count.

    Raises:
        JournalError: one of them cannot be read.
    """
    (data_a, events_a), (data_b, events_b) = _records(path_a), _records(path_b)
    # Lines are compared rather than events, since 1, 1.0 and True are equal in Python.
    pairs = zip(data_a, data_b, strict=False)
    common = next((index for index, (a, b) in enumerate(pairs) if a != b), min(len(data_a), len(data_b)))
    return Tails(common, events_a[common:], events_b[common:])


def find_copies(folder: Path) -> dict[str, tuple[Path, ...]]:
    """Return the files of every job that *folder* holds more than once, by job id, sorted.

    A sync client may put its own mark before or behind `.layby`; files that are no readable job
    are passed over.

    Raises:
        JournalError: the folder cannot be read.
    """
    groups: defaultdict[str, list[Path]] = defaultdict(list)
    try:
        paths = sorted(folder.glob("*.layby*"))
    except OSError as error:
        raise JournalError(f"cannot be read: {disk.plain_reason(error)}", path=folder) from error
    for path in paths:
        if ".torn-" in path.name:
            continue
        with contextlib.suppress(JournalError):
            groups[_job_id(path)].append(path)
    return {job: tuple(found) for job, found in sorted(groups.items()) if len(found) > 1}


def copies_with_more(path: Path) -> tuple[Path, ...]:
    """Return the copies beside *path* that hold events it has not.

    Raises:
        JournalError: *path* or its folder cannot be read.
    """
    beside = find_copies(path.parent).get(_job_id(path), ())
    ahead = []
    for other in beside:
        if other.name == path.name:
            continue
        with contextlib.suppress(JournalError):
            if compare_tails(path, other).only_b:
                ahead.append(other)
    return tuple(ahead)


def _job_id(path: Path) -> str:
    """Return the job id in the header of *path*."""
    return str(read_header(path).get("job", path.stem))


def _records(path: Path) -> tuple[list[bytes], tuple[Event, ...]]:
    """Return the good lines of *path* as bytes and as events."""
    try:
        descriptor = disk.open_file(regular(path), os.O_RDONLY)
        try:
            data = disk.read_from(descriptor, 0)
        finally:
            os.close(descriptor)
    except OSError as error:
        raise JournalError(f"cannot be read: {disk.plain_reason(error)}", path=path) from error
    found = scan(data)
    return data[: found.end].split(b"\n")[:-1], found.events
