"""Events as lines: checksum, version, sequence number; and what is wrong with a line that is bad.

A line is the CRC-32 of its JSON in 8 hex digits, a blank, compact JSON in UTF-8, a line feed. Lines
are split at the byte 0x0A only, because text splitting also breaks at U+2028 inside a value.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import re
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn, TypeAlias

from engine.errors import LaybyError
from engine.inert import inert

Event: TypeAlias = dict[str, Any]
"""A JSON object with a text `kind`; `v` and `seq` are the journal's own keys."""

FORMAT_VERSION = 1
RECORD_LIMIT = 16 * 1024 * 1024
"""Longest line in bytes; the packed definition files of a job need about 1 % of it."""
HEADER_LIMIT = 64 * 1024
"""Longest first line in bytes, so that a list of jobs stays cheap to read."""

_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"))
_ASCII_ENCODER = json.JSONEncoder(ensure_ascii=True, allow_nan=False, separators=(",", ":"))
_CHECKSUM_LENGTH = 8
_RECORD_START = re.compile(rb'[0-9a-f]{8} \{"v":')
_STARTS_TRIED = 16
"""A torn line holds one or two; a file made to waste time could hold millions."""


class JournalError(LaybyError):
    """A job on disk cannot be used as asked; `str(error)` is a line a person can act on."""

    def __init__(self, message: str, *, path: Path | None = None, line: int | None = None) -> None:
        super().__init__(message)
        self.message, self.path, self.line = message, path, line

    def __str__(self) -> str:
        place = [str(part) for part in (self.path, self.line) if part is not None]
        return inert(": ".join((":".join(place), self.message)) if place else self.message)


class BadRecordError(Exception):
    """A line is no record; *intact* when its checksum holds, so it was written as it stands."""

    def __init__(self, reason: str, *, intact: bool = False, newer: bool = False) -> None:
        super().__init__(reason)
        self.reason, self.intact, self.newer = reason, intact, newer


@dataclass(frozen=True, slots=True)
class Problem:
    """The first line that is no record, and why."""

    line: int
    """Line number, 1-based."""
    reason: str
    torn: bool
    """True for a last line that was never acknowledged; False for damage."""
    newer: bool = False
    """True when a newer program wrote the line."""


@dataclass(frozen=True, slots=True)
class Scan:
    """The good records at the start of some bytes."""

    events: tuple[Event, ...]
    end: int
    """How many bytes the good records take."""
    problem: Problem | None


def encode(event: Mapping[str, Any], seq: int) -> bytes:
    """Return the line for *event* with sequence number *seq*, line feed included.

    Raises:
        JournalError: no text `kind`, a reserved key, a value JSON does not know (NaN and infinity
            among them), or longer than `RECORD_LIMIT`.
    """
    kind = event.get("kind")
    if not isinstance(kind, str):
        raise JournalError(f"event {seq} has no kind: give it a text under 'kind'")
    if "v" in event or "seq" in event:
        raise JournalError(f"event {seq} ({kind}) uses the key 'v' or 'seq': name it otherwise")
    record = {"v": FORMAT_VERSION, "seq": seq, "kind": kind, **event}
    try:
        payload = _compact(record)
    except (TypeError, ValueError, RecursionError) as error:
        raise JournalError(f"event {seq} ({kind}) cannot be written as JSON: {error}") from error
    line = b"%08x %b\n" % (zlib.crc32(payload), payload)
    limit = RECORD_LIMIT if seq else HEADER_LIMIT
    if len(line) > limit:
        raise JournalError(f"event {seq} ({kind}) takes {len(line)} bytes, at most {limit} fit: shorten it")
    return line


def decode(line: bytes, seq: int | None = None) -> Event:
    """Return the event of *line* (without its line feed), the journal's own keys taken off.

    Args:
        line: the bytes up to the line feed.
        seq: the sequence number it must have; None takes any.

    Raises:
        BadRecordError: the line is no record of this version with that number.
    """
    return decode_numbered(line, seq)[1]


def decode_numbered(line: bytes, seq: int | None = None) -> tuple[int, Event]:
    """Return sequence number and event of *line*; see `decode`."""
    checksum, blank, payload = line[:8], line[8:9], line[_CHECKSUM_LENGTH + 1 :]
    if blank != b" " or len(line) > RECORD_LIMIT:
        raise BadRecordError("this is no record")
    if b"%08x" % zlib.crc32(payload) != checksum:
        raise BadRecordError("the checksum does not fit")
    try:
        record = json.loads(payload.decode("utf-8"), parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise BadRecordError(f"not readable as JSON ({error})", intact=True) from error
    if not isinstance(record, dict):
        raise BadRecordError("a JSON object was expected", intact=True)
    _check_version(record.pop("v", None))
    number = record.pop("seq", None)
    if type(number) is not int or number < 0 or seq not in (None, number):
        expected = "a number" if seq is None else seq
        raise BadRecordError(f"sequence number {number!r} where {expected} belongs", intact=True)
    if not isinstance(record.get("kind"), str):
        raise BadRecordError("the event has no kind", intact=True)
    return number, record


def scan(data: bytes, *, first: int = 0) -> Scan:
    """Read records from the start of *data* up to its end or the first line that is none.

    Args:
        data: bytes that begin at the start of a line.
        first: sequence number of the first record, which is also its 0-based line.
    """
    events: list[Event] = []
    start = 0
    problem: Problem | None = None
    while start < len(data):
        seq = first + len(events)
        stop = data.find(b"\n", start)
        if stop < 0:
            problem = Problem(seq + 1, "the line has no end", torn=True)
            break
        try:
            events.append(decode(data[start:stop], seq))
        except BadRecordError as bad:
            is_torn = stop + 1 == len(data) and not bad.intact
            problem = Problem(seq + 1, bad.reason, is_torn, bad.newer)
            break
        start = stop + 1
    if problem and problem.torn and _holds_a_record(data[start:].removesuffix(b"\n")):
        problem = Problem(problem.line, "two lines have run together", torn=False)
    return Scan(tuple(events), start, problem)


def _holds_a_record(line: bytes) -> bool:
    """Say whether *line* is two, the line feed between them lost; one of them was acknowledged."""
    for match in itertools.islice(_RECORD_START.finditer(line, 1), _STARTS_TRIED):
        for part in (line[: match.start() - 1], line[match.start() :]):
            with contextlib.suppress(BadRecordError):
                decode(part)
                return True
    return False


def _compact(record: Mapping[str, Any]) -> bytes:
    """Return *record* as JSON bytes, without blanks."""
    text = _ENCODER.encode(record)
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError:
        # Half a surrogate pair, as a terminal hands over bytes that are no UTF-8: nothing typed is
        # lost, so it is written as an escape.
        return _ASCII_ENCODER.encode(record).encode("ascii")


def _check_version(version: object) -> None:
    """Raise unless *version* is the one this program writes."""
    if type(version) is not int or version < 1:
        raise BadRecordError(f"version {version!r} is none", intact=True)
    if version > FORMAT_VERSION:
        raise BadRecordError(
            f"written by a newer layby (format {version}, this one reads {FORMAT_VERSION}): update layby",
            intact=True,
            newer=True,
        )


def _no_constant(name: str) -> NoReturn:
    """Refuse NaN and infinity, which the JSON standard does not have."""
    raise ValueError(f"{name} is no JSON number")
