"""Opening a journal as it was found: locked or not, and what to do with a bad line."""

from __future__ import annotations

import contextlib
import itertools
import os
from pathlib import Path

from engine.journal import disk
from engine.journal.card import regular
from engine.journal.records import JournalError, Problem

OTHER_WINDOW = "another window is writing this job: here it can only be followed"
NO_LOCKS = (
    "can only be read, since files cannot be locked here: "
    "move the jobs to a disk of this computer with LAYBY_DATA"
)


def open_descriptor(path: Path, *, write: bool) -> tuple[int, str]:
    """Open *path*, locked if *write*; return the descriptor and why it is not for writing."""
    try:
        regular(path)
        if not write:
            return disk.open_file(path, os.O_RDONLY), "it was opened for reading only"
        try:
            descriptor = disk.open_file(path, os.O_RDWR | os.O_APPEND)
        except OSError as error:
            reason = f"can only be read, {disk.plain_reason(error)}"
            return disk.open_file(path, os.O_RDONLY), reason
    except OSError as error:
        raise JournalError(f"cannot be read: {disk.plain_reason(error)}", path=path) from error
    try:
        return descriptor, "" if disk.lock(descriptor) else OTHER_WINDOW
    except OSError:
        return descriptor, NO_LOCKS


def settle(path: Path, descriptor: int, rest: bytes, problem: Problem, closed_to: str) -> tuple[str, str]:
    """Deal with what follows the last good line; return the notice and why not to write."""
    if not problem.torn:
        if not closed_to:
            disk.unlock(descriptor)
        advice = "" if problem.newer else ": the job can be read up to here, nothing was changed"
        message = f"{path}:{problem.line}: {problem.reason}{advice}"
        return message, closed_to or f"line {problem.line} cannot be read"
    what = f"{path}:{problem.line}: the last line was never finished ({problem.reason})"
    if closed_to:
        return f"{what}: it is left out", closed_to
    try:
        aside = _set_aside(path, rest)
        os.ftruncate(descriptor, os.fstat(descriptor).st_size - len(rest))
        disk.sync(descriptor)
    except OSError as error:
        reason = disk.plain_reason(error)
        with contextlib.suppress(OSError):
            disk.unlock(descriptor)
        return f"{what} and cannot be set aside: {reason}", f"can only be read: {reason}"
    return f"{what}: it is left out and kept as {aside.name}", ""


def _set_aside(path: Path, rest: bytes) -> Path:
    """Write *rest* to the first free name beside *path*."""
    for number in itertools.count(1):
        aside = path.with_name(f"{path.name}.torn-{number}")
        with contextlib.suppress(FileExistsError):
            disk.write_new(aside, rest)
            return aside
    raise AssertionError  # count() does not end
