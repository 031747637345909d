"""What crashes, full disks and flipped bits leave behind, and what becomes of it."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from engine.journal import Event, Journal, JournalError
from engine.journal.records import encode
from tests.engine.test_journal import AT, begin, taken

ROOT = Path(__file__).parents[2]
AWKWARD: Event = {"kind": "note", "text": "λ 0,98\n\u2028 line"}


def torn_files(path: Path) -> list[Path]:
    return sorted(path.parent.glob(f"{path.name}.torn-*"))


def reopen_and_append(path: Path, events: int) -> tuple[str, ...]:
    """Open for writing, expect *events*, append one, and read it back; return the notices."""
    opened = Journal.open(path)
    with opened.journal:
        assert not opened.read_only
        assert len(opened.events) == events
        assert opened.journal.append(taken(99)) == events
    again = Journal.open(path)
    with again.journal:
        assert again.events == (*opened.events, taken(99))
        assert again.notices == ()
    return opened.notices


def test_every_crash_prefix_of_an_append_recovers_and_takes_the_next(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    whole, line = path.read_bytes(), encode(AWKWARD, 2)
    for cut in range(len(line)):
        path.write_bytes(whole + line[:cut])
        notices = reopen_and_append(path, 2)
        kept = torn_files(path)
        if cut == 0:
            assert (notices, kept) == ((), [])
            continue
        assert [file.read_bytes() for file in kept] == [line[:cut]]
        assert len(notices) == 1
        assert f"{path}:3: the last line was never finished" in notices[0]
        assert kept[0].name in notices[0]
        kept[0].unlink()


def test_every_crash_prefix_of_several_keeps_the_whole_ones(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    whole, lines = path.read_bytes(), [encode(taken(2), 2), encode(AWKWARD, 3)]
    for cut in range(sum(map(len, lines))):
        path.write_bytes(whole + b"".join(lines)[:cut])
        reopen_and_append(path, 2 + (cut >= len(lines[0])))


@pytest.mark.parametrize("begun", [0, 1, 30])
@pytest.mark.parametrize("zeros", [1, 4096])
def test_tails_filled_with_nul_are_torn(tmp_path: Path, begun: int, zeros: int) -> None:
    path = begin(tmp_path, taken(1))
    tail = encode(AWKWARD, 2)[:begun] + b"\0" * zeros
    path.write_bytes(path.read_bytes() + tail)
    assert "never finished" in reopen_and_append(path, 2)[0]
    assert torn_files(path)[0].read_bytes() == tail


def test_torn_tails_are_numbered_and_none_is_written_over(tmp_path: Path) -> None:
    path = begin(tmp_path)
    for tail in (b"one", b"two", b"three"):
        path.write_bytes(path.read_bytes() + tail)
        Journal.open(path).journal.close()
    assert [file.read_bytes() for file in torn_files(path)] == [b"one", b"two", b"three"]
    assert [file.name.rpartition("-")[2] for file in torn_files(path)] == ["1", "2", "3"]


def test_a_reader_leaves_the_torn_tail_where_it_is(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    content = path.read_bytes() + b"half"
    path.write_bytes(content)
    opened = Journal.open(path, write=False)
    with opened.journal:
        assert len(opened.events) == 2
        assert "left out" in opened.notices[0]
    assert path.read_bytes() == content
    assert torn_files(path) == []


def test_a_tail_that_cannot_be_set_aside_is_not_cut_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = begin(tmp_path, taken(1))
    content = path.read_bytes() + b"half"
    path.write_bytes(content)
    monkeypatch.setattr(os, "write", fail_with(errno.ENOSPC))
    opened = Journal.open(path)
    with opened.journal:
        assert opened.read_only
        assert len(opened.events) == 2
        assert "the disk is full" in opened.notices[0]
    assert path.read_bytes() == content
    assert torn_files(path) == []


def test_a_record_fused_to_a_torn_one_is_damage_not_a_torn_tail(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    content = path.read_bytes() + encode(taken(2), 2)[:25] + encode(taken(3), 3)
    path.write_bytes(content)
    opened = Journal.open(path)
    opened.journal.close()
    assert opened.read_only
    assert f"{path}:3: two lines have run together" in opened.notices[0]
    assert path.read_bytes() == content


def test_any_flipped_bit_before_the_last_line_is_damage_with_its_line(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1), taken(2), taken(3))
    whole = path.read_bytes()
    starts = [0]
    for line in whole.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    for place in range(starts[1], starts[3]):
        number = 2 if place < starts[2] else 3
        damaged = bytearray(whole)
        damaged[place] ^= 1 << place % 8
        path.write_bytes(damaged)
        opened = Journal.open(path)
        with opened.journal:
            assert opened.read_only
            assert len(opened.events) == number - 1
            assert f"{path}:{number}: " in opened.notices[0]
            assert "nothing was changed" in opened.notices[0]
            with pytest.raises(JournalError, match=f"line {number}"):
                opened.journal.append(taken(9))
            assert opened.journal.follow() == []
        assert path.read_bytes() == damaged
    assert torn_files(path) == []


@pytest.mark.parametrize("seq", [0, 1, 3, -1])
def test_a_wrong_sequence_number_is_damage_even_in_the_last_line(tmp_path: Path, seq: int) -> None:
    path = begin(tmp_path, taken(1))
    content = path.read_bytes() + encode(taken(2), seq)
    path.write_bytes(content)
    opened = Journal.open(path)
    with opened.journal:
        assert opened.read_only
        assert len(opened.events) == 2
        assert f"{path}:3: sequence number {seq} where 2 belongs" in opened.notices[0]
    assert path.read_bytes() == content


def fail_with(number: int) -> Callable[..., int]:
    def fail(*_: object) -> int:
        raise OSError(number, os.strerror(number))

    return fail


def test_a_full_disk_records_nothing_and_the_next_append_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = begin(tmp_path, taken(1))
    before = path.read_bytes()
    write = os.write
    with Journal.open(path).journal as journal:
        for failing in (fail_with(errno.ENOSPC), lambda fd, data: write(fd, data[:20])):
            monkeypatch.setattr(os, "write", failing)
            with pytest.raises(JournalError, match="the disk is full: free some space"):
                journal.append(taken(2))
            assert path.read_bytes() == before
            assert not journal.read_only
        monkeypatch.undo()
        assert journal.append(taken(2)) == 2
    assert reopen_and_append(path, 3) == ()


def test_an_interrupt_between_write_and_flush_takes_the_line_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(_: int) -> None:
        raise KeyboardInterrupt

    path = begin(tmp_path, taken(1))
    with Journal.open(path).journal as journal:
        monkeypatch.setattr(os, "fsync", interrupted)
        with pytest.raises(KeyboardInterrupt):
            journal.append(taken(2))
        monkeypatch.undo()
        assert journal.append(taken(2)) == 2
    assert reopen_and_append(path, 3) == ()


def test_after_a_failed_flush_the_session_only_reads(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = begin(tmp_path, taken(1))
    with Journal.open(path).journal as journal:
        monkeypatch.setattr(os, "fsync", fail_with(errno.EIO))
        with pytest.raises(JournalError, match="flush failed: the disk reports a fault"):
            journal.append(taken(2))
        monkeypatch.undo()
        assert journal.read_only
        with pytest.raises(JournalError, match="close the job and open it again"):
            journal.append(taken(2))
    assert reopen_and_append(path, 2) == ()


def test_a_job_that_cannot_be_flushed_is_not_begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "fsync", fail_with(errno.EIO))
    with pytest.raises(JournalError, match="could not be begun"):
        Journal.create(tmp_path, header={}, at=AT)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="needs a file size limit of the system")
def test_a_real_short_write_is_taken_back(tmp_path: Path) -> None:
    # The system itself writes short here: a file size limit in the middle of a line.
    run_python(
        """
        import resource, sys
        from pathlib import Path
        from engine.journal import Journal, JournalError
        event = {"kind": "taken", "value": "x" * 100}
        with Journal.create(Path(sys.argv[1]), header={}, at="2026-01-31T09:15:00Z") as journal:
            hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
            resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
            try:
                for _ in range(100):
                    journal.append(event)
            except JournalError as error:
                assert "not recorded" in str(error), error
            else:
                raise AssertionError("the limit did not hold")
            count = journal.count
            resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
            assert journal.append(event) == count
        """,
        tmp_path,
    )
    assert len(list(tmp_path.iterdir())) == 1
    (path,) = tmp_path.iterdir()
    assert reopen_and_append(path, path.read_bytes().count(b"\n")) == ()


def test_a_file_changed_or_replaced_by_another_program_is_noticed(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    with Journal.open(path).journal as journal:
        with path.open("ab") as other:
            other.write(encode(taken(2), 2))
        content = path.read_bytes()
        with pytest.raises(JournalError, match="changed by another program"):
            journal.append(taken(3))
        assert journal.read_only
    assert path.read_bytes() == content
    with Journal.open(path).journal as journal:
        copy = path.with_name("copy")
        copy.write_bytes(content)
        copy.replace(path)
        with pytest.raises(JournalError, match="moved or replaced"):
            journal.append(taken(3))
    assert path.read_bytes() == content


def run_python(code: str, *arguments: object) -> None:
    """Run *code* in a process of its own and expect it to end well."""
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code), *map(str, arguments)],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


WRITER = """
import sys
from collections.abc import Callable
from pathlib import Path
from engine.journal import Journal
journal = Journal.open(Path(sys.argv[1])).journal
while True:
    seq = journal.append({"kind": "taken", "value": "x" * 300, "n": journal.count})
    sys.stdout.write(f"{seq}\\n")
    sys.stdout.flush()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_what_was_acknowledged_survives_a_killed_writer(tmp_path: Path) -> None:
    path = begin(tmp_path)
    for round_ in range(6):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None
        first = int(writer.stdout.readline())
        time.sleep(0.003 * round_ + 0.0007)
        os.kill(writer.pid, signal.SIGKILL)
        # A line without its end was cut by the kill: what it acknowledged is not known whole.
        said = [line for line in writer.stdout.read().splitlines(keepends=True) if line.endswith("\n")]
        writer.wait()
        writer.stdout.close()
        last_acknowledged = int(said[-1]) if said else first
        opened = Journal.open(path)
        opened.journal.close()
        assert not opened.read_only
        assert len(opened.events) > last_acknowledged
        assert [event["n"] for event in opened.events[1:]] == list(range(1, len(opened.events)))
