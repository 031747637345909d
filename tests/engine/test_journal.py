from __future__ import annotations

import json
import os
import stat
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.errors import LaybyError
from engine.journal import Event, Journal, JournalError
from engine.journal.records import HEADER_LIMIT, RECORD_LIMIT, encode, scan

AT = "2026-01-31T09:15:00+01:00"
POSIX_ONLY = pytest.mark.skipif(os.name != "posix", reason="file modes are a POSIX matter")


def begin(folder: Path, *events: Event, token: str = "t0") -> Path:
    """Write a journal with *events* after its header and close it."""
    with Journal.create(folder, header={"car": "hatchback"}, at=AT, token=token) as journal:
        journal.append_many(events)
    return journal.path


def taken(number: int) -> Event:
    return {"kind": "taken", "reading": "stft_b1_idle", "value": number}


def test_what_was_appended_is_read_back(tmp_path: Path) -> None:
    with Journal.create(tmp_path / "jobs", header={"car": "hatchback"}, at=AT) as journal:
        assert journal.append(taken(1)) == 1
        assert journal.append_many([taken(2), taken(3)]) == (2, 3)
        assert journal.append_many([]) == ()
        assert journal.count == 4
    opened = Journal.open(journal.path)
    with opened.journal:
        assert opened.events == (
            {"kind": "opened", "job": journal.path.stem, "at": AT, "car": "hatchback"},
            taken(1),
            taken(2),
            taken(3),
        )
        assert opened.notices == ()
        assert not opened.read_only
        assert opened.journal.append(taken(4)) == 4


def test_a_line_is_checksum_blank_json_and_line_feed(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    first, second, rest = path.read_bytes().split(b"\n")
    assert rest == b""
    assert second[:9] == b"%08x " % zlib.crc32(second[9:])
    assert second[9:] == b'{"v":1,"seq":1,"kind":"taken","reading":"stft_b1_idle","value":1}'
    assert json.loads(first[9:])["seq"] == 0


def test_the_checksum_is_the_crc_32_of_the_standards() -> None:
    # CRC-32 of "123456789" is CBF43926: check value of the catalogue of parametrised CRC algorithms
    # for the CRC of ISO/IEC 13239 and IEEE 802.3; from memory. A line of ours is built on it.
    assert zlib.crc32(b"123456789") == 0xCBF43926
    line = encode({"kind": "note", "text": "123456789"}, 7)
    assert int(line[:8], 16) == zlib.crc32(b'{"v":1,"seq":7,"kind":"note","text":"123456789"}')


def test_same_events_make_the_same_bytes(tmp_path: Path) -> None:
    one, two = (begin(tmp_path / name, taken(1), taken(2)) for name in ("a", "b"))
    assert one.name == two.name == "20260131T081500Z-t0.layby"
    assert one.read_bytes() == two.read_bytes()


def test_names_are_unique_and_carry_time_and_hint(tmp_path: Path) -> None:
    names = set()
    for _ in range(20):
        with Journal.create(tmp_path, header={}, at=AT, name_hint="../Über Rich & lean") as journal:
            names.add(journal.path.name)
    assert len(names) == 20
    assert all(name.startswith("20260131T081500Z-ber-rich-lean-") for name in names)
    assert {path.name for path in tmp_path.iterdir()} == names


def test_a_taken_name_is_not_written_over(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    before = path.read_bytes()
    with pytest.raises(JournalError, match="no job can be begun here"):
        begin(tmp_path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("at", ["yesterday", "2026-01-31T09:15:00", ""])
def test_a_time_without_offset_is_refused(tmp_path: Path, at: str) -> None:
    with pytest.raises(JournalError, match="time"):
        Journal.create(tmp_path, header={}, at=at)
    assert list(tmp_path.iterdir()) == []


@POSIX_ONLY
def test_files_and_new_folders_are_for_their_owner_alone(tmp_path: Path) -> None:
    path = begin(tmp_path / "data" / "jobs", taken(1))
    path.write_bytes(path.read_bytes()[:-1])
    Journal.open(path).journal.close()
    aside = path.with_name(f"{path.name}.torn-1")
    assert {stat.S_IMODE(file.stat().st_mode) for file in (path, aside)} == {0o600}
    for folder in (path.parent, path.parent.parent):
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700


WHOLE = tuple(encode(taken(seq), seq) for seq in range(3))
SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(),
    st.sampled_from(["a\nb", "a\r\nb", "\u2028\u2029\x85", "\x00", "\ud83d", "\x1b[31m", "λ 0.98 Ω"]),
)
VALUES = st.recursive(
    SCALARS, lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner), max_leaves=5
)
KEYS = st.text().filter(lambda key: key not in {"v", "seq", "kind"})
EVENTS = st.builds(lambda kind, rest: {"kind": kind, **rest}, st.text(), st.dictionaries(KEYS, VALUES))


@settings(max_examples=60, deadline=None)
@given(st.lists(EVENTS, max_size=3))
def test_every_event_survives_the_round_trip(events: list[Event]) -> None:
    data = b"".join(encode(event, seq) for seq, event in enumerate(events))
    assert data.count(b"\n") == len(events)
    found = scan(data)
    assert repr(found.events) == repr(tuple(events))  # repr keeps 1, 1.0 and True apart
    assert (found.end, found.problem) == (len(data), None)


JUNK = st.lists(st.sampled_from([b"\n", b"\0", b" ", b"0", b"{", *WHOLE]) | st.binary(max_size=9))


@given(JUNK)
def test_no_bytes_make_reading_fail(junk: list[bytes]) -> None:
    found = scan(WHOLE[0] + b"".join(junk))
    assert found.events[0] == taken(0)
    assert found.events == tuple(map(taken, range(len(found.events))))


@pytest.mark.parametrize(
    ("event", "says"),
    [
        ({}, "no kind"),
        ({"kind": 3}, "no kind"),
        ({"kind": "x", "seq": 4}, "'v' or 'seq'"),
        ({"kind": "x", "v": 4}, "'v' or 'seq'"),
        ({"kind": "x", "value": float("nan")}, "JSON"),
        ({"kind": "x", "value": float("inf")}, "JSON"),
        ({"kind": "x", "value": {1, 2}}, "JSON"),
        ({"kind": "x", "value": "y" * RECORD_LIMIT}, "at most"),
    ],
)
def test_what_cannot_be_written_is_refused_and_leaves_nothing(
    tmp_path: Path, event: Event, says: str
) -> None:
    with Journal.create(tmp_path, header={}, at=AT) as journal:
        before = journal.path.read_bytes()
        with pytest.raises(JournalError, match=says):
            journal.append_many([taken(1), event])
        assert journal.path.read_bytes() == before
        assert journal.append(taken(1)) == 1


@pytest.mark.parametrize("header", [{"kind": "other"}, {"car": "x" * HEADER_LIMIT}, {"v": 1}])
def test_a_header_that_could_not_be_read_back_is_not_written(tmp_path: Path, header: Event) -> None:
    with pytest.raises(JournalError):
        Journal.create(tmp_path, header=header, at=AT)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (encode({"kind": "opened"}, 0)[:-1], "never finished"),
        (encode({"kind": "opened"}, 0)[:20], "never finished"),
        (b"\0" * 512, "never finished"),
        (b"tree: triage\n", "no layby job"),
        (b"x" * (HEADER_LIMIT + 5), "no record"),
        (encode({"kind": "taken"}, 0), "'taken' where 'opened' belongs"),
        (encode({"kind": "opened"}, 1), "sequence number 1"),
    ],
)
def test_a_file_without_header_is_refused_in_one_line(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "odd\x1b[31m.layby"
    path.write_bytes(content)
    with pytest.raises(LaybyError, match=says) as caught:
        Journal.open(path)
    line = str(caught.value)
    assert "odd.layby" in line
    assert line.isprintable()
    assert path.read_bytes() == content


@pytest.mark.parametrize("name", ["missing.layby", "folder.layby", "missing/x.layby"])
def test_what_is_no_file_is_refused_in_one_line(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder.layby").mkdir()
    with pytest.raises(JournalError, match=r"no such file|is no file"):
        Journal.open(tmp_path / name)


def newer(seq: int) -> bytes:
    payload = b'{"v":2,"seq":%d,"kind":"opened"}' % seq
    return b"%08x %b\n" % (zlib.crc32(payload), payload)


def test_a_newer_job_is_refused_or_read_as_far_as_it_is_ours(tmp_path: Path) -> None:
    path = tmp_path / "new.layby"
    path.write_bytes(newer(0))
    with pytest.raises(JournalError, match=r"newer layby.*update layby"):
        Journal.open(path)
    path = begin(tmp_path, taken(1))
    content = path.read_bytes() + newer(2)
    path.write_bytes(content)
    opened = Journal.open(path)
    with opened.journal:
        assert opened.read_only
        assert len(opened.events) == 2
        assert "newer layby" in opened.notices[0]
        with pytest.raises(JournalError, match="line 3"):
            opened.journal.append(taken(2))
    assert path.read_bytes() == content


def test_closing_twice_is_harmless_and_ends_writing(tmp_path: Path) -> None:
    journal = Journal.create(tmp_path, header={}, at=AT)
    journal.close()
    journal.close()
    assert journal.read_only
    assert journal.follow() == []
    with pytest.raises(JournalError, match="closed"):
        journal.append(taken(1))
