"""A job on disk: begun, interrupted anywhere, gone on with, looked at from a second window."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from engine.asking import Ask, Ended
from engine.errors import LaybyError
from engine.folding import DERIVED
from engine.job import Job, JobCard
from engine.job_files import list_jobs
from engine.journal import JournalError
from engine.library import load_library, shipped_files
from tests.engine.jobs_made import CARD, TO_PURGE, Clock, answer, begin, concluded
from tests.engine.small_trees import RICH, VOLTS, small_library

ROOT = Path(__file__).parents[2]


def reopen(path: Path, *, write: bool = True) -> Job:
    return Job.open(path, clock=Clock(), write=write)


# ---------------------------------------------------------------------- round trip


def test_a_job_reopened_stands_where_it_was_left(tmp_path):
    with begin(tmp_path) as job:
        answer(job, TO_PURGE[:5])
        stop, walk = job.advance(), job.walk
    with reopen(job.journal.path) as again:
        assert again.walk.events == walk.events
        assert again.walk.path_lines() == walk.path_lines()
        assert again.card == job.card
        assert again.card["job"] == job.journal.path.stem
        assert again.card["car"] == CARD.car
        assert again.notices == ()
        assert again.advance() == stop
        answer(again, TO_PURGE[5:])
        assert again.walk.state.concluded["id"] == "purge"


def test_an_ended_job_reopened_changes_not_one_byte(tmp_path, monkeypatch):
    with concluded(tmp_path) as job:
        assert isinstance(job.advance(), Ended)
    before = job.journal.path.read_bytes()

    def forbidden(*_args, **_more):
        raise AssertionError("judged while opening")

    for module in ("engine.walking.judge", "engine.asking.judge"):
        monkeypatch.setattr(module, forbidden)
    with reopen(job.journal.path) as again:
        assert isinstance(again.advance(), Ended)
        assert again.walk.state.concluded == job.walk.state.concluded
    assert job.journal.path.read_bytes() == before


def test_the_card_is_made_inert(tmp_path):
    card = JobCard(car="\x1b[31mred\x1b[0m car", complaint="a\nb\u202e", demo=True, learner=True)
    with begin(tmp_path, card=card) as job:
        assert job.card["car"] == "red car"
        assert job.card["complaint"] == "a b"
        assert job.card["demo"] is True
        assert job.card["learner"] is True
    assert b"\\u001b" not in job.journal.path.read_bytes()


@pytest.mark.parametrize(
    ("tree", "side", "said"),
    [("small-rihc", None, "small-rich"), ("needs-side", None, "side"), ("needs-side", "b7", "side")],
)
def test_what_cannot_begin_leaves_no_file(tmp_path, tree, side, said):
    files = {**small_library().files, "trees/procedures/needs-side.yaml": NEEDS_SIDE}
    library = load_library(files=files)
    with pytest.raises(LaybyError, match=said) as caught:
        Job.begin(tmp_path, library, CARD, clock=Clock(), tree=tree, side=side)

    assert "\n" not in str(caught.value)
    assert list(tmp_path.iterdir()) == []


NEEDS_SIDE = (
    VOLTS.replace("small-volts", "needs-side").replace(
        "start: rest", "takes: bank\nfor: [b1, b2]\nstart: rest"
    )
).encode()


def test_a_failing_disk_while_beginning_leaves_no_file(tmp_path, monkeypatch):
    from engine.journal import Journal

    def full(*_args):
        raise JournalError("not recorded, the write failed: no space")

    monkeypatch.setattr(Journal, "append_many", full)
    with pytest.raises(JournalError, match="no space"):
        begin(tmp_path)
    assert list(tmp_path.iterdir()) == []


# -------------------------------------------------------------------- interruptions


def whole_job(tmp_path: Path) -> tuple[list[bytes], tuple[tuple[str, str], ...]]:
    with concluded(tmp_path / "whole") as job:
        lines = job.journal.path.read_bytes().splitlines(keepends=True)
        return lines, job.walk.path_lines()


def folder_for(tmp_path: Path, number: int) -> Path:
    """Make a folder of its own for each cut, as copies beside one another would be told apart."""
    folder = tmp_path / str(number)
    folder.mkdir()
    return folder


def test_cut_after_any_record_it_goes_on_to_the_same_end(tmp_path):
    lines, path = whole_job(tmp_path)
    for kept in range(3, len(lines) + 1):
        file = folder_for(tmp_path, kept) / "cut.layby"
        file.write_bytes(b"".join(lines[:kept]))
        with reopen(file) as job:
            if not any(take.reading == "veh_banks" for take in job.walk.state.takes):
                job.walk.take("veh_banks", 1.0)
            assert isinstance(answer(job, TO_PURGE), Ended)
            assert job.walk.path_lines() == path, kept
            assert job.walk.state.concluded["id"] == "purge"
            assert len(job.walk.state.takes) == len(TO_PURGE) + 1
        with reopen(file) as job:
            assert job.walk.path_lines() == path, kept


def test_cut_inside_any_record_drops_only_that_record(tmp_path):
    lines, path = whole_job(tmp_path)
    for kept in range(3, len(lines)):
        file = folder_for(tmp_path, kept) / "torn.layby"
        file.write_bytes(b"".join(lines[:kept]) + lines[kept][: len(lines[kept]) // 2])
        with reopen(file) as job:
            assert len(job.notices) == 1
            assert f":{kept + 1}:" in job.notices[0]
            if not any(take.reading == "veh_banks" for take in job.walk.state.takes):
                job.walk.take("veh_banks", 1.0)
            answer(job, TO_PURGE)
            assert job.walk.path_lines() == path, kept
        assert len(list(file.parent.glob("torn.layby.torn-*"))) == 1


@pytest.mark.parametrize("kept", [1, 2])
def test_a_job_cut_before_its_first_question_says_so(tmp_path, kept):
    lines, _ = whole_job(tmp_path)
    file = tmp_path / "early.layby"
    file.write_bytes(b"".join(lines[:kept]))

    with pytest.raises(JournalError, match=r"early\.layby.*begin the job anew"):
        reopen(file)


ANSWERING = """
import sys, time
from pathlib import Path
from tests.engine.jobs_made import begin
job = begin(Path(sys.argv[1]))
print("begun", job.journal.path, flush=True)
job.advance()
number = 0
while True:
    number += 1
    job.walk.take("ambient", float(number % 40), typed=str(number))
    print("taken", number, flush=True)
    if number % 7 == 0:
        job.advance()
"""


def test_killed_at_any_moment_no_acknowledged_take_is_lost(tmp_path):
    rng = random.Random(20261125)
    for attempt in range(6):
        folder = tmp_path / str(attempt)
        command = [sys.executable, "-c", ANSWERING, str(folder)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as process:
            assert process.stdout is not None
            first = process.stdout.readline()
            time.sleep(rng.uniform(0.0, 0.15))
            os.kill(process.pid, signal.SIGKILL)
            rest = process.stdout.read()
        assert first.startswith("begun")
        acknowledged = [line.split()[1] for line in rest.splitlines() if line.startswith("taken")]
        if rest and not rest.endswith("\n"):  # a half-printed number was never acknowledged
            acknowledged.pop()
        with reopen(Path(first.split(maxsplit=1)[1].strip())) as job:
            kept = [take.typed for take in job.walk.state.takes if take.reading == "ambient"]
            assert kept[: len(acknowledged)] == acknowledged
            assert len(kept) <= len(acknowledged) + 1
            assert not job.read_only
            assert isinstance(answer(job, TO_PURGE), Ended)


def test_a_full_disk_refuses_the_take_and_the_next_one_counts(tmp_path, monkeypatch):
    job = begin(tmp_path)
    job.advance()
    keep = job.journal.append_many

    def full(_events):
        raise JournalError("not recorded: no space left")

    monkeypatch.setattr(job.journal, "append_many", full)
    with pytest.raises(JournalError, match="no space"):
        job.walk.take("scene_safe", "safe")
    assert not job.walk.state.live_takes("scene_safe")

    monkeypatch.setattr(job.journal, "append_many", keep)
    answer(job, TO_PURGE)
    with job, reopen(job.journal.path, write=False) as again:
        assert again.walk.path_lines() == job.walk.path_lines()


# ------------------------------------------------------------ second window, damage


def test_a_second_window_follows_and_cannot_change(tmp_path):
    with begin(tmp_path) as job:
        answer(job, TO_PURGE[:3])
        with reopen(job.journal.path) as other:
            assert other.read_only
            assert "another window" in other.notices[0]
            assert not other.follow()
            stop = answer(job, TO_PURGE[3:5])
            assert other.follow()
            assert other.walk.path_lines() == job.walk.path_lines()
            assert other.advance() == stop
            answer(job, TO_PURGE[5:])
            assert other.follow()
            assert other.walk.state.concluded == job.walk.state.concluded
            before = job.journal.path.read_bytes()
            with pytest.raises(JournalError, match="not recorded"):
                other.walk.note("from the second window")
            with pytest.raises(JournalError, match="not recorded"):
                other.walk.repaired("done")
            other.advance()
            assert other.walk.state.repairs == []
            assert job.journal.path.read_bytes() == before


def test_the_second_window_may_write_once_the_first_is_closed(tmp_path):
    with begin(tmp_path) as job:
        pass
    with reopen(job.journal.path) as other:
        assert not other.read_only


def test_a_damaged_job_opens_up_to_the_damage_and_names_the_line(tmp_path):
    lines, path = whole_job(tmp_path)
    judged = [i for i, line in enumerate(lines) if b'"kind":"judged"' in line]
    bad = judged[3]
    file = tmp_path / "damaged.layby"
    changed = lines[bad].replace(b'"kind":"judged"', b'"kind":"jugded"')
    file.write_bytes(b"".join([*lines[:bad], changed, *lines[bad + 1 :]]))
    before = file.read_bytes()

    with reopen(file) as job:
        assert job.read_only
        assert f"damaged.layby:{bad + 1}:" in job.notices[0]
        assert job.walk.path_lines() == path[:3]
        job.advance()
        with pytest.raises(JournalError, match=f"line {bad + 1}"):
            job.walk.take("visual_intake", ("ok",))
    assert file.read_bytes() == before


def test_an_event_of_another_program_is_refused_with_a_line(tmp_path):
    with begin(tmp_path) as job:
        job.journal.append({"kind": "taken", "reading": "scene_safe"})
    with pytest.raises(JournalError) as caught:
        reopen(job.journal.path)
    assert "\n" not in str(caught.value)
    assert str(job.journal.path) in str(caught.value)


# --------------------------------------------------------- definitions, the start page


def test_a_job_keeps_the_trees_it_was_begun_with(tmp_path):
    files = dict(small_library().files)
    files["trees/symptoms/small-rich.yaml"] = RICH.replace("Safe to work", "Nothing comes this way").encode()
    job = Job.begin(tmp_path, load_library(files=files), CARD, clock=Clock(), tree="small-rich")
    with job:
        answer(job, TO_PURGE[:1])
    with reopen(job.journal.path) as again:
        assert dict(again.walk.library.files) == files
        assert again.walk.library.digest != small_library().digest
        answer(again, TO_PURGE[1:])
        assert again.walk.path_lines()[0] == ("A safe place", "Nothing comes this way")
        assert again.walk.state.concluded is not None


def test_a_job_with_the_shipped_trees_shares_the_loaded_library(tmp_path):
    with Job.begin(tmp_path, load_library(), CARD, clock=Clock()) as job:
        stop = job.advance()
        assert isinstance(stop, Ask)
    with reopen(job.journal.path) as again:
        assert again.advance() == stop
        assert dict(again.walk.library.files) == dict(shipped_files())


def test_the_start_page_sees_where_each_job_stands(tmp_path):
    with begin(tmp_path) as job:
        answer(job, TO_PURGE[:3])
        card = list_jobs(tmp_path).cards[0]
        assert card.last["at_step"] == "Read the trims"
        assert card.last["status"] == "open"
        assert card.last["entries"] == 4
        assert card.header["car"] == CARD.car

        answer(job, TO_PURGE[3:])
        last = list_jobs(tmp_path).cards[0].last
        assert last["status"] == "concluded"
        assert last["at_step"] == job.walk.state.concluded["labels"][0]

        job.walk.repaired("renewed")
        assert isinstance(job.advance(), Ask)
        assert list_jobs(tmp_path).cards[0].last["status"] == "to be proved"
        job.walk.due("Friday")
        job.advance()
        assert list_jobs(tmp_path).cards[0].last["due"] == "Friday"

        answer(job, (("stft_b1_idle", 0.0), ("ltft_b1_idle", 1.0)))
        assert list_jobs(tmp_path).cards[0].last["status"] == "fixed"


def test_unproven_and_open_ends_are_told_apart(tmp_path):
    with concluded(tmp_path / "a") as job:
        job.walk.repaired("renewed")
        for line in job.advance().lines:
            job.walk.cannot(line.reading.id, "dark")
        job.advance()
        assert list_jobs(tmp_path / "a").cards[0].last["status"] == "unproven"
    with begin(tmp_path / "b") as other:
        answer(other, (("scene_safe", "not_safe"),))
        assert list_jobs(tmp_path / "b").cards[0].last["status"] == "open end"


def test_a_position_is_written_only_when_it_changed(tmp_path):
    with begin(tmp_path) as job:
        job.advance()
        size = job.journal.path.stat().st_size
        job.advance()
        job.advance()
        assert job.journal.path.stat().st_size == size


def test_every_event_a_job_writes_is_known_to_the_fold_or_its_own(tmp_path):
    with concluded(tmp_path) as job:
        kinds = {event["kind"] for event in job.walk.events}
    assert kinds <= DERIVED | {"started", "taken"}
