"""What a list of jobs reads of each, and the definition files inside a job."""

from __future__ import annotations

import base64
import hashlib
import os
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.journal import (
    Journal,
    JournalError,
    pack_definitions,
    read_card,
    unpack_definitions,
)
from engine.journal.card import TAIL
from engine.journal.definitions import DEFINITIONS_LIMIT
from engine.journal.records import HEADER_LIMIT
from tests.engine.test_journal import begin, taken


def position(step: str) -> dict[str, object]:
    return {"kind": "position", "step": step}


def test_a_card_shows_header_last_position_and_count(tmp_path: Path) -> None:
    path = begin(tmp_path, position("a"), taken(1), position("b"), taken(2))
    os.utime(path, (1000, 2000))
    card = read_card(path)
    assert card.header["car"] == "hatchback"
    assert card.last == position("b")
    assert (card.job, card.count, card.modified) == (path.stem, 5, 2000.0)
    assert read_card(path, kinds={"taken"}).last == taken(2)
    assert read_card(path, kinds={"concluded"}).last is None


def test_words_of_a_kind_inside_a_text_are_not_that_kind(tmp_path: Path) -> None:
    fake = {"kind": "note", "text": '"kind":"position"', "inner": {"kind": "position"}}
    assert read_card(begin(tmp_path, position("a"), fake)).last == position("a")


@pytest.mark.parametrize("size", [100, HEADER_LIMIT, TAIL * 2 - 400, TAIL * 3])
def test_a_long_job_is_read_at_both_ends_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int
) -> None:
    path = begin(tmp_path, {"kind": "note", "text": "x" * size}, position("late"), taken(1))
    read = 0
    system_read = os.read

    def counted(descriptor: int, most: int) -> bytes:
        nonlocal read
        data = system_read(descriptor, most)
        read += len(data)
        return data

    monkeypatch.setattr(os, "read", counted)
    card = read_card(path)
    assert (card.last, card.count) == (position("late"), 4)
    assert 0 < read <= HEADER_LIMIT + TAIL


def test_a_position_too_far_back_is_not_shown(tmp_path: Path) -> None:
    filler = [{"kind": "note", "text": "x" * 1000}] * (TAIL // 1000 + 1)
    card = read_card(begin(tmp_path, position("early"), *filler))
    assert (card.last, card.count) == (None, len(filler) + 2)


def test_a_card_needs_no_lock_and_passes_over_a_torn_tail(tmp_path: Path) -> None:
    path = begin(tmp_path, position("a"))
    with Journal.open(path).journal, path.open("ab") as file:
        file.write(b'00000000 {"v":1,"seq":2,"kind":"position"')
        file.flush()
        assert read_card(path).last == position("a")
        file.write(b"\n")
        file.flush()
        assert read_card(path).last == position("a")


@pytest.mark.parametrize("content", [b"", b"half", b"junk\n", b"\xff\n\n"])
def test_a_card_of_no_job_is_refused_in_one_line(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.layby"
    path.write_bytes(content)
    with pytest.raises(JournalError, match=r"x\.layby"):
        read_card(path)


FILES = {"symptoms/rich.yaml": b"tree: rich\n", "catalogue/limits.yaml": "λ\r\n".encode(), "e": b""}


def test_definitions_come_out_as_they_went_in(tmp_path: Path) -> None:
    path = begin(tmp_path, pack_definitions(FILES))
    opened = Journal.open(path)
    opened.journal.close()
    assert unpack_definitions(opened.events[1]) == FILES


def test_the_order_of_files_does_not_matter() -> None:
    backwards = dict(reversed(FILES.items()))
    assert pack_definitions(FILES) == pack_definitions(backwards)


def test_each_file_carries_its_sha_256() -> None:
    # SHA-256 of "abc" and of nothing: FIPS 180-4 example values; from memory.
    entries = pack_definitions({"abc": b"abc", "none": b""})["files"]
    assert [entry["sha256"] for entry in entries] == [
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    ]


@given(st.dictionaries(st.from_regex(r"[a-z]{1,8}(/[a-z]{1,8})?", fullmatch=True), st.binary()))
def test_any_files_survive(files: dict[str, bytes]) -> None:
    assert unpack_definitions(pack_definitions(files)) == files


@pytest.mark.parametrize("name", ["", "/etc/x", "../x", "a/../../x", "a\\b", "c:x", "a\0b"])
def test_a_path_that_leads_elsewhere_is_refused_both_ways(name: str) -> None:
    with pytest.raises(JournalError, match="write a path like"):
        pack_definitions({name: b"x"})
    event = pack_definitions({"x": b"x"})
    event["files"][0]["name"] = name
    with pytest.raises(JournalError, match="write a path like"):
        unpack_definitions(event)


def test_a_bomb_is_not_unpacked() -> None:
    packed = base64.b64encode(zlib.compress(b"\0" * (DEFINITIONS_LIMIT + 1), 9)).decode()
    digest = hashlib.sha256(b"\0" * 10).hexdigest()
    for size in (DEFINITIONS_LIMIT + 1, 10, -1, 10**30):
        files = [{"name": "a", "size": size, "sha256": digest}]
        with pytest.raises(JournalError, match="definition files"):
            unpack_definitions({"kind": "definitions", "files": files, "packed": packed})


def test_too_many_definitions_are_not_packed() -> None:
    with pytest.raises(JournalError, match="at most"):
        pack_definitions({"a": bytes(DEFINITIONS_LIMIT + 1)})


@pytest.mark.parametrize(
    "change",
    [
        {"packed": "no base64!"},
        {"packed": ""},
        {"packed": base64.b64encode(b"no zlib").decode()},
        {"packed": base64.b64encode(zlib.compress(b"y")).decode()},
        {"packed": base64.b64encode(zlib.compress(b"xx")).decode()},
        {"packed": base64.b64encode(zlib.compress(b"x") + b"more").decode()},
        {"packed": base64.b64encode(zlib.compress(b"x")[:-2]).decode()},
        {"packed": 3},
        {"files": None},
        {"files": [{"name": "x"}]},
        {"files": []},
    ],
)
def test_definitions_that_are_not_what_they_say_are_refused(change: dict[str, object]) -> None:
    with pytest.raises(JournalError, match="definition file"):
        unpack_definitions(pack_definitions({"x": b"x"}) | change)
