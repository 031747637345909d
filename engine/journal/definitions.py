"""The definition files a job was walked with, kept inside the job, once and compressed."""

from __future__ import annotations

import base64
import hashlib
import zlib
from collections.abc import Mapping
from pathlib import PurePosixPath
from typing import Any

from engine.journal.records import Event, JournalError

DEFINITIONS_LIMIT = 32 * 1024 * 1024
"""Most bytes unpacked; a few kilobytes can be made to unpack to gigabytes."""


def pack_definitions(files: Mapping[str, bytes]) -> Event:
    """Return one event of kind `definitions` that holds *files*, the same bytes for the same files.

    Args:
        files: content by path, relative and with forward slashes.

    Raises:
        JournalError: a path is absolute or leads upwards, or it is too much.
    """
    names = sorted(files)
    for name in names:
        _check_name(name)
    content = b"".join(files[name] for name in names)
    if len(content) > DEFINITIONS_LIMIT:
        raise JournalError(f"the definition files take {len(content)} bytes, at most {DEFINITIONS_LIMIT} fit")
    return {
        "kind": "definitions",
        "files": [
            {
                "name": name,
                "size": len(files[name]),
                "sha256": hashlib.sha256(files[name]).hexdigest(),
            }
            for name in names
        ],
        "packed": base64.b64encode(zlib.compress(content, 9)).decode("ascii"),
    }


def unpack_definitions(event: Mapping[str, Any]) -> dict[str, bytes]:
    """Return the files of an event made by `pack_definitions`, each checked against its SHA-256.

    Raises:
        JournalError: the event does not hold what it says, or more than fits.
    """
    try:
        entries = [(str(e["name"]), int(e["size"]), str(e["sha256"])) for e in event["files"]]
        packed = base64.b64decode(event["packed"], validate=True)
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        raise JournalError(f"the definition files are not readable ({error!r})") from error
    total = sum(size for _, size, _ in entries)
    if any(size < 0 for _, size, _ in entries) or total > DEFINITIONS_LIMIT:
        raise JournalError(f"the definition files would take {total} bytes, at most {DEFINITIONS_LIMIT} fit")
    content = _inflate(packed, total)
    files: dict[str, bytes] = {}
    start = 0
    for name, size, digest in entries:
        _check_name(name)
        data = content[start : start + size]
        start += size
        if name in files or hashlib.sha256(data).hexdigest() != digest:
            raise JournalError(f"definition file {name!r} is not what the job was walked with")
        files[name] = data
    return files


def _inflate(packed: bytes, size: int) -> bytes:
    """Decompress to exactly *size* bytes, never more than one beyond it."""
    inflater = zlib.decompressobj()
    try:
        content = inflater.decompress(packed, size + 1)
    except zlib.error as error:
        raise JournalError(f"the definition files do not unpack ({error})") from error
    if len(content) != size or not inflater.eof or inflater.unused_data:
        raise JournalError(f"the definition files do not unpack to the {size} bytes they say")
    return content


def _check_name(name: str) -> None:
    """Raise unless *name* stays inside the folder it would be written to."""
    path = PurePosixPath(name)
    if not path.parts or path.is_absolute() or ".." in path.parts or set(name) & set("\\:\0"):
        raise JournalError(f"definition file {name!r}: write a path like 'symptoms/name.yaml'")
