"""What must be true of files that survive a power cut: written whole, flushed, locked, replaced.

Functions raise `OSError`; `plain_reason` puts one into words.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import sys
import time
from collections.abc import Sequence
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

_BINARY: int = getattr(os, "O_BINARY", 0)
_LOCKED_BYTE = 0x7FFF_FFFE
"""Windows keeps others from reading what is locked, so the locked byte lies far behind the data."""
_CHUNK = 1 << 20
_WINDOWS_PAUSES_S = (0.02, 0.05, 0.1, 0.2, 0.4)
"""A virus scanner or a sync client holds a file for some 10 to 100 ms (common practice)."""


def open_file(path: Path, flags: int) -> int:
    """Open *path* in binary, new files for their owner alone, and return its descriptor."""
    return os.open(path, flags | _BINARY, 0o600)


def read_from(descriptor: int, start: int, size: int | None = None) -> bytes:
    """Return the bytes from *start*, at most *size* of them, else to the end."""
    os.lseek(descriptor, start, os.SEEK_SET)
    parts: list[bytes] = []
    left = size
    while left is None or left > 0:
        part = os.read(descriptor, _CHUNK if left is None else min(left, _CHUNK))
        if not part:
            break
        parts.append(part)
        left = None if left is None else left - len(part)
    return b"".join(parts)


def write_once(descriptor: int, data: bytes) -> None:
    """Write *data* in one call; a short write is an error, as on a full disk."""
    written = os.write(descriptor, data)
    if written != len(data):
        raise OSError(errno.ENOSPC, f"only {written} of {len(data)} bytes could be written")


def sync(descriptor: int) -> None:
    """Flush a file to the disk itself, through the drive's own cache where the system can."""
    full = None if sys.platform == "win32" else getattr(fcntl, "F_FULLFSYNC", None)
    if full is not None and sys.platform != "win32":
        with contextlib.suppress(OSError):  # not every file system on macOS knows it
            fcntl.fcntl(descriptor, full)
            return
    os.fsync(descriptor)


def sync_folder(folder: Path) -> None:
    """Flush the entries of *folder*, so that a new name in it survives a power cut."""
    if sys.platform == "win32":  # folders cannot be opened there
        return
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some network file systems
            raise
    finally:
        os.close(descriptor)


def make_folder(folder: Path) -> None:
    """Make *folder* and what is missing above it, for their owner alone; leave others as is."""
    missing = []
    while not folder.exists():
        missing.append(folder)
        folder = folder.parent
    if not folder.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder))
    for new in reversed(missing):
        new.mkdir(mode=0o700, exist_ok=True)
        sync_folder(new.parent)


def lock(descriptor: int) -> bool:
    """Take the writer's lock without waiting; False when another has it.

    Raises:
        OSError: the file system cannot lock.
    """
    try:
        if sys.platform == "win32":
            os.lseek(descriptor, _LOCKED_BYTE, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EAGAIN, errno.EACCES, errno.EDEADLK):
            return False
        raise
    return True


def unlock(descriptor: int) -> None:
    """Give the writer's lock back."""
    if sys.platform == "win32":
        os.lseek(descriptor, _LOCKED_BYTE, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)
    else:
        fcntl.flock(descriptor, fcntl.LOCK_UN)


def identity(file: int | str) -> tuple[int, int, int]:
    """Return device, number on it and size in bytes of an open file or a name; zeros if none."""
    try:
        state = os.stat(file)  # noqa: PTH116 - also takes descriptors, and is asked at every append
    except FileNotFoundError:
        return 0, 0, 0
    return state.st_dev, state.st_ino, state.st_size


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not exist yet, and flush it and its folder.

    Raises:
        FileExistsError: the name is taken.
        OSError: it could not be written; nothing is left behind.
    """
    descriptor = open_file(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    try:
        try:
            write_once(descriptor, data)
            sync(descriptor)
        finally:
            os.close(descriptor)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def replace_file(path: Path, data: bytes) -> None:
    """Put *data* under *path* so that a reader finds the old or the new content, never half."""
    draft = path.with_name(f".{path.name}.{secrets.token_hex(4)}.new")
    write_new(draft, data)
    try:
        replace_patiently(draft, path, _WINDOWS_PAUSES_S if sys.platform == "win32" else ())
    except BaseException:
        draft.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def replace_patiently(source: Path, target: Path, pauses_s: Sequence[float]) -> None:
    """Rename *source* over *target*; when refused, try again after each of *pauses_s* seconds."""
    for pause_s in pauses_s:
        try:
            source.replace(target)
        except PermissionError:
            time.sleep(pause_s)
        else:
            return
    source.replace(target)


def plain_reason(error: OSError) -> str:
    """Say in words why the disk refused, and what to do where that is known."""
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return "the disk is full: free some space, then enter it again"
        case errno.EROFS:
            return "the disk is read-only: choose another folder with LAYBY_DATA"
        case errno.EACCES | errno.EPERM:
            return "not permitted: check who owns it, or choose another folder with LAYBY_DATA"
        case errno.ENOENT:
            return "there is no such file or folder"
        case errno.ENOTDIR | errno.EISDIR:
            return "a file stands where a folder belongs, or the other way round"
        case errno.EIO:
            return "the disk reports a fault: copy the job to another disk"
        case _:
            return error.strerror or str(error)
