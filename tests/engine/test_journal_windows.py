"""Two windows, two processes, two copies of one job."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from engine.journal import (
    Journal,
    JournalError,
    compare_tails,
    copies_with_more,
    disk,
    find_copies,
)
from engine.journal.records import encode
from tests.engine.test_journal import AT, begin, taken
from tests.engine.test_journal_damage import ROOT, fail_with

HOLDER = """
import sys
from pathlib import Path
from engine.journal import Journal
journal = Journal.open(Path(sys.argv[1])).journal
print(journal.read_only, flush=True)
for line in sys.stdin:
    print(journal.append({"kind": "note", "text": line.strip()}), flush=True)
"""


def test_a_second_process_follows_the_one_that_writes(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(path)],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as holder:  # fmt: skip
        assert holder.stdin is not None
        assert holder.stdout is not None
        assert holder.stdout.readline() == "False\n"
        opened = Journal.open(path)
        with opened.journal as follower:
            assert opened.read_only
            assert "another window is writing this job" in opened.notices[0]
            assert follower.follow() == []
            with pytest.raises(JournalError, match="another window"):
                follower.append(taken(2))
            for seq, text in ((2, "hose"), (3, "clamp")):
                holder.stdin.write(f"{text}\n")
                holder.stdin.flush()
                assert holder.stdout.readline() == f"{seq}\n"
                assert follower.follow() == [{"kind": "note", "text": text}]
            assert follower.count == 4
        holder.stdin.close()
    with Journal.open(path).journal as journal:
        assert not journal.read_only


def test_two_windows_of_one_process_are_two_windows(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    writer, reader = Journal.open(path), Journal.open(path)
    with writer.journal, reader.journal:
        assert (writer.read_only, reader.read_only) == (False, True)
        writer.journal.append_many([taken(2), taken(3)])
        assert reader.journal.follow() == [taken(2), taken(3)]
        assert writer.journal.follow() == []


def test_a_new_job_is_locked_from_its_first_moment(tmp_path: Path) -> None:
    with Journal.create(tmp_path, header={}, at=AT) as journal:
        opened = Journal.open(journal.path)
        with opened.journal:
            assert opened.read_only


def test_following_waits_for_the_end_of_a_line(tmp_path: Path) -> None:
    path = begin(tmp_path)
    line = encode(taken(1), 1)
    with Journal.open(path, write=False).journal as reader, path.open("ab", buffering=0) as file:
        file.write(line[:30])
        assert reader.follow() == []
        file.write(line[30:])
        assert reader.follow() == [taken(1)]


def test_following_says_when_the_file_is_another_or_damaged(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    whole = path.read_bytes()
    with Journal.open(path, write=False).journal as reader:
        path.write_bytes(whole + encode(taken(2), 2) + b"junk\n" + encode(taken(4), 4))
        assert reader.follow() == [taken(2)]
        with pytest.raises(JournalError, match=r":4: .*open the job again"):
            reader.follow()
        path.write_bytes(whole)
        with pytest.raises(JournalError, match="changed by another program"):
            reader.follow()


@pytest.mark.skipif(sys.platform == "win32", reason="replaces flock")
def test_where_nothing_can_be_locked_jobs_are_only_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = begin(tmp_path, taken(1))
    monkeypatch.setattr("fcntl.flock", fail_with(errno.ENOLCK))
    opened = Journal.open(path)
    with opened.journal:
        assert opened.read_only
        assert "LAYBY_DATA" in opened.notices[0]
    with pytest.raises(JournalError, match="could not be begun"):
        Journal.create(tmp_path, header={}, at=AT)


@pytest.mark.parametrize(
    ("number", "says"), [(errno.EROFS, "the disk is read-only"), (errno.EACCES, "not permitted")]
)
def test_a_job_that_cannot_be_written_is_only_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, says: str
) -> None:
    path = begin(tmp_path, taken(1))
    system_open = os.open

    def refuse_writing(path: Path, flags: int, mode: int = 0o777) -> int:
        if flags & os.O_RDWR:
            raise OSError(number, os.strerror(number))
        return system_open(path, flags, mode)

    monkeypatch.setattr(os, "open", refuse_writing)
    opened = Journal.open(path)
    with opened.journal:
        assert len(opened.events) == 2
        assert says in opened.notices[0]


def copies(folder: Path) -> tuple[Path, Path]:
    """Return two copies of one journal, three events each."""
    path = begin(folder, taken(1), taken(2))
    copy = path.with_name(f"{path.stem} (copy of van 2).layby")
    copy.write_bytes(path.read_bytes())
    return path, copy


def extend(path: Path, *numbers: int) -> None:
    with Journal.open(path).journal as journal:
        journal.append_many([taken(number) for number in numbers])


def test_tails_show_what_each_copy_has_alone(tmp_path: Path) -> None:
    path, copy = copies(tmp_path)
    extend(path, 3, 4)
    extend(copy, 3, 5, 6)
    tails = compare_tails(path, copy)
    assert tails.common == 4
    assert tails.only_a == (taken(4),)
    assert tails.only_b == (taken(5), taken(6))
    assert tails.have_parted


def test_a_copy_that_only_continues_has_not_parted(tmp_path: Path) -> None:
    path, copy = copies(tmp_path)
    extend(copy, 3)
    with copy.open("ab") as file:
        file.write(b"torn")
    tails = compare_tails(path, copy)
    assert (tails.common, tails.only_a, tails.only_b) == (3, (), (taken(3),))
    assert not tails.have_parted
    assert copies_with_more(path) == (copy,)
    assert copies_with_more(copy) == ()


def test_numbers_of_other_types_are_other_events(tmp_path: Path) -> None:
    path, copy = copies(tmp_path)
    for file, value in ((path, 1), (copy, True)):
        with Journal.open(file).journal as journal:
            journal.append({"kind": "taken", "value": value})
    assert compare_tails(path, copy).common == 3


def test_copies_are_grouped_by_job_whatever_their_name(tmp_path: Path) -> None:
    path, copy = copies(tmp_path)
    marked = path.with_name(f"{path.name}.conflict-2")
    marked.write_bytes(path.read_bytes())
    begin(tmp_path, token="t1")
    (tmp_path / "junk.layby").write_bytes(b"junk")
    path.with_name(f"{path.name}.torn-1").write_bytes(path.read_bytes())
    assert find_copies(tmp_path) == {path.stem: tuple(sorted([path, copy, marked]))}
    assert find_copies(tmp_path / "none") == {}


def test_replacing_is_tried_again_only_as_often_as_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source, target = tmp_path / "a", tmp_path / "b"
    replace = Path.replace
    refusals = [PermissionError(13, "in use"), PermissionError(13, "in use")]

    def busy(self: Path, other: Path) -> Path:
        if refusals:
            raise refusals.pop()
        return replace(self, other)

    monkeypatch.setattr(Path, "replace", busy)
    source.write_bytes(b"new")
    with pytest.raises(PermissionError):
        disk.replace_patiently(source, target, ())
    disk.replace_patiently(source, target, (0.0, 0.0))
    assert target.read_bytes() == b"new"
