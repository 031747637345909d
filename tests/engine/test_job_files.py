from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import platformdirs
import pytest

from engine import job_files
from engine.job_files import DataFolders, JobFilesError, data_folder, find_job, list_jobs, open_job
from engine.journal import Journal
from tests.engine.test_journal import begin, taken
from tests.engine.test_journal_damage import ROOT, fail_with
from tests.engine.test_journal_windows import copies, extend


def test_the_data_folder_is_the_one_asked_for_then_the_variable_then_the_systems(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("LAYBY_DATA", "/van/data")
    assert data_folder(Path("/stick")) == Path("/stick")
    assert data_folder() == Path("/van/data")
    monkeypatch.setenv("LAYBY_DATA", " ")
    assert data_folder() == Path(platformdirs.user_data_dir("layby", appauthor=False))
    assert data_folder().name == "layby"


def test_no_home_is_one_clear_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def homeless(*_: object, **__: object) -> str:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("LAYBY_DATA", raising=False)
    monkeypatch.setattr(platformdirs, "user_data_dir", homeless)
    with pytest.raises(JobFilesError, match="name a folder with LAYBY_DATA"):
        data_folder()


def test_platformdirs_is_imported_only_when_asked() -> None:
    code = "import sys, engine.job_files as j; assert not {'platformdirs', 'textual'} & {*sys.modules}"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, timeout=60)


def test_folders_are_made_once_and_for_their_owner_alone(tmp_path: Path) -> None:
    folders = DataFolders(tmp_path / "data")
    folders.prepare()
    folders.prepare()
    assert {path.name for path in folders.root.iterdir()} == {"jobs", "shop"}
    assert folders.settings == folders.root / "settings.json"
    if os.name == "posix":
        for folder in (folders.root, folders.jobs, folders.shop):
            assert stat.S_IMODE(folder.stat().st_mode) == 0o700


@pytest.mark.parametrize(
    ("number", "says"), [(errno.EROFS, "the disk is read-only"), (errno.EACCES, "not permitted")]
)
def test_a_home_that_cannot_be_written_is_one_clear_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, says: str
) -> None:
    monkeypatch.setattr(Path, "mkdir", lambda *_, **__: fail_with(number)())
    with pytest.raises(JobFilesError, match=f"{says}.*LAYBY_DATA") as caught:
        DataFolders(tmp_path / "data").prepare()
    assert "\n" not in str(caught.value)


def test_a_file_in_the_place_of_the_folder_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("")
    with pytest.raises(JobFilesError, match="a file stands where a folder belongs"):
        DataFolders(tmp_path / "data").prepare()
    with pytest.raises(JobFilesError, match="a file stands where a folder belongs"):
        list_jobs(tmp_path / "data")


def test_jobs_are_listed_newest_first_and_the_unreadable_are_told(tmp_path: Path) -> None:
    paths = [begin(tmp_path, taken(1), token=f"t{number}") for number in range(3)]
    for path, modified in zip(paths, (200, 300, 100), strict=True):
        os.utime(path, (0, modified))
    (tmp_path / "junk.layby").write_bytes(b"")
    (tmp_path / "folder.layby").mkdir()
    (tmp_path / "notes.txt").write_text("not a job")
    jobs = list_jobs(tmp_path)
    assert [card.path for card in jobs.cards] == [paths[1], paths[0], paths[2]]
    assert len(jobs.notices) == 2
    assert "folder.layby" in jobs.notices[0]
    assert "junk.layby" in jobs.notices[1]
    assert list_jobs(tmp_path / "none").cards == ()


def named(folder: Path, name: str) -> Path:
    path = folder / f"{name}.layby"
    path.write_bytes(b"")
    return path


def test_a_job_is_found_by_path_id_start_or_part(tmp_path: Path) -> None:
    rich = named(tmp_path, "20260131T081500Z-rich-aa11")
    lean = named(tmp_path, "20260131T091500Z-lean-bb22")
    assert find_job(tmp_path / "elsewhere", str(rich)) == rich
    assert find_job(tmp_path, rich.stem) == rich
    assert find_job(tmp_path, rich.name) == rich
    assert find_job(tmp_path, "20260131T09") == lean
    assert find_job(tmp_path, " LEAN ") == lean
    assert find_job(tmp_path, "aa11") == rich


def test_the_closer_match_wins(tmp_path: Path) -> None:
    short = named(tmp_path, "rich")
    longer = named(tmp_path, "rich-idle")
    named(tmp_path, "very-rich-idle")
    assert find_job(tmp_path, "rich") == short
    assert find_job(tmp_path, "rich-") == longer


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2026", "several jobs match '2026': 20260101-a, 20260102-a"),
        ("20260101-b", "no job matches '20260101-b'.*nearest: 20260101-a"),
        ("zzz", "2 jobs are there"),
        ("", "no job is named"),
        (".layby", "no job is named"),
        ("x" * 5000 + ".layby", "no job matches"),
        ("nul\x00\x1b[31m.layby", "no job matches"),
        ("../20260101-a", "no job matches"),
    ],
)
def test_none_or_several_is_one_clear_line(tmp_path: Path, text: str, says: str) -> None:
    named(tmp_path, "20260101-a")
    named(tmp_path, "20260102-a")
    with pytest.raises(JobFilesError, match=says) as caught:
        find_job(tmp_path, text)
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 600


def test_a_long_list_of_candidates_is_cut(tmp_path: Path) -> None:
    for number in range(8):
        named(tmp_path, f"job-{number}")
    with pytest.raises(JobFilesError, match="job-0, job-1, job-2, job-3, job-4 and 3 more"):
        find_job(tmp_path, "job")


def test_a_copy_that_holds_less_is_only_read(tmp_path: Path) -> None:
    path, copy = copies(tmp_path)
    extend(copy, 3)
    behind, ahead = open_job(path), open_job(copy)
    with behind.journal, ahead.journal:
        assert (behind.read_only, ahead.read_only) == (True, False)
        assert copy.name in behind.notices[-1]
        assert ahead.notices == ()
        assert len(behind.events) == 3


def test_copies_that_parted_are_both_only_read(tmp_path: Path) -> None:
    path, copy = copies(tmp_path)
    extend(path, 3)
    extend(copy, 4)
    for file, other in ((path, copy), (copy, path)):
        opened = open_job(file)
        opened.journal.close()
        assert opened.read_only
        assert other.name in opened.notices[-1]
    other.unlink()
    opened = open_job(file)
    opened.journal.close()
    assert not opened.read_only


def test_settings_are_replaced_in_one_step_and_read_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = DataFolders(tmp_path / "data").settings
    assert job_files.read_settings(path) == {}
    job_files.write_settings(path, {"units": {"pressure": "bar"}, "confidence": 0.95, "name": "λ"})
    first = path.read_bytes()
    assert job_files.read_settings(path)["name"] == "λ"
    job_files.write_settings(path, {"name": "λ", "confidence": 0.95, "units": {"pressure": "bar"}})
    assert path.read_bytes() == first
    for call in ("write", "fsync"):
        monkeypatch.setattr(os, call, fail_with(errno.ENOSPC))
        with pytest.raises(JobFilesError, match="the disk is full"):
            job_files.write_settings(path, {})
        monkeypatch.undo()
        assert path.read_bytes() == first
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize("content", [b"{", b"[]", b"\xff", b"[" * 100_000, b" " * (1024 * 1024) + b"{}"])
def test_settings_that_are_none_are_one_clear_line(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "settings.json"
    path.write_bytes(content)
    with pytest.raises(JobFilesError, match=r"settings\.json.*correct it or delete it"):
        job_files.read_settings(path)


def test_settings_json_does_not_know_are_refused(tmp_path: Path) -> None:
    with pytest.raises(JobFilesError, match="JSON"):
        job_files.write_settings(tmp_path / "settings.json", {"a": float("nan")})
    assert list(tmp_path.iterdir()) == []


def test_who_the_customer_is_can_be_deleted_and_the_job_stays(tmp_path: Path) -> None:
    path = begin(tmp_path, taken(1))
    before = path.read_bytes()
    assert job_files.read_customer(path) == {}
    job_files.write_customer(path, {"name": "A. Customer"})
    file = job_files.customer_file(path)
    assert file.name == f"{path.stem}.customer.json"
    assert job_files.read_customer(path) == {"name": "A. Customer"}
    if os.name == "posix":
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert [card.path for card in list_jobs(tmp_path).cards] == [path]
    assert job_files.delete_customer(path)
    assert not job_files.delete_customer(path)
    assert not file.exists()
    assert path.read_bytes() == before
    with Journal.open(path).journal as journal:
        assert not journal.read_only
