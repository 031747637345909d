"""``layby reach`` and ``layby rejudge``."""

from __future__ import annotations

import json
import time

import pytest

from engine.job import Job, JobCard
from engine.job_files import DataFolders
from engine.library import load_library
from tests.engine.small_trees import small_library
from tui.cli import main


def test_what_a_meter_and_a_reader_can_decide(capsys):
    assert main(["reach", "rich-running", "--kit", "MM,CR", "--minutes", "25", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    decided = {entry["fault"]: entry["strength"] for entry in found["decidable"]}

    assert decided["purge_stuck_open"] == "proven"
    assert "injector_leaking" not in decided


def test_less_time_decides_less_and_a_missing_instrument_is_named(capsys):
    main(["reach", "rich-running", "--minutes", "5", "--missing"])
    short = capsys.readouterr().out

    assert "Without " in short
    assert "proven    tank purge valve" not in short


@pytest.mark.parametrize("argv", [["reach", "no-such-tree"], ["reach", "triage", "--kit", "XX"]])
def test_what_is_not_there_is_one_line(argv, capsys):
    assert main(argv) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_the_same_files_judge_the_same_and_other_files_say_where_they_part(tmp_path, capsys):
    folders = DataFolders(tmp_path)
    folders.prepare()
    with Job.begin(
        folders.jobs, small_library(), JobCard("car", "smokes"), clock=time.time, tree="small-rich"
    ) as job:
        job.walk.take("scene_safe", "safe")
        job.advance()
        name = job.journal.path.stem
    assert main(["--data", str(tmp_path), "rejudge", name, "--pinned"]) == 0
    assert "the same" in capsys.readouterr().out
    assert "small-rich" not in load_library().trees
    assert main(["--data", str(tmp_path), "rejudge", name]) == 2
