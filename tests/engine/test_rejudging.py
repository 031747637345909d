"""A job judged again: the same under the same files, and where it parts under others."""

from __future__ import annotations

import pytest

from engine.errors import LaybyError
from engine.library import Library, load_library
from engine.rejudging import rejudge
from tests.engine.jobs_made import TO_PURGE, Clock, answer, begin, concluded
from tests.engine.small_trees import small_library

TREE = "trees/symptoms/small-rich.yaml"
LIMITS = "trees/catalogue/limits.yaml"


def changed(file: str, old: str, new: str) -> Library:
    files = dict(small_library().files)
    text = files[file].decode()
    assert text.count(old) == 1, old
    files[file] = text.replace(old, new).encode()
    return load_library(files=files)


def test_the_same_files_give_no_difference(tmp_path):
    with concluded(tmp_path) as job:
        before = job.journal.path.read_bytes()
        result = rejudge(job.walk, job.walk.library)

        assert result.is_same
        assert result.parted_at is None
        assert result.before == result.after == job.walk.path_lines()
        assert result.conclusion_before == result.conclusion_after == "purge"
        assert result.lost == ()
        assert job.journal.path.read_bytes() == before


def test_a_repair_on_the_way_comes_out_the_same(tmp_path):
    with begin(tmp_path) as job:
        answer(job, (*TO_PURGE[:5], ("visual_intake", ("hose_off",))))
        job.walk.repair_done("refitted")
        fine = tuple((f"{kind}_b1_{at}", 0.5) for at in ("idle", "2500") for kind in ("stft", "ltft"))
        answer(job, fine)
        assert job.walk.state.concluded["id"] == "nothing"

        assert rejudge(job.walk, job.walk.library).is_same


def test_corrections_and_proofs_come_out_the_same(tmp_path):
    clock = Clock()
    with begin(tmp_path, clock=clock) as job:
        walk = job.walk
        answer(job, TO_PURGE)
        clock.now += 20 * 60
        walk.correct(walk.state.live_takes("pinch_purge_dtrim")[0].number, 15.5)
        job.advance()
        walk.correct(walk.state.live_takes("ltft_b1_idle")[0].number, -9.9)
        answer(job, TO_PURGE[5:])
        clock.now += 40 * 60
        walk.repaired("renewed")
        job.advance()
        answer(job, (("stft_b1_idle", 0.0), ("ltft_b1_idle", 0.5)))
        result = rejudge(walk, walk.library)

        assert walk.state.proof["result"] == "fixed"
        assert result.is_same
        assert result.lost == ()


def test_readings_that_outlived_their_time_between_two_steps_are_judged_as_they_were(tmp_path):
    clock = Clock()
    with begin(tmp_path, clock=clock) as job:
        answer(job, TO_PURGE[:5])
        clock.now += 3 * 60 * 60
        answer(job, TO_PURGE[5:])

        assert rejudge(job.walk, job.walk.library).is_same


def test_a_changed_limit_shows_the_step_where_it_parted(tmp_path):
    general = small_library().catalogue.limits["trim_rich"]
    assert general.value == -10
    text = small_library().files[LIMITS].decode()
    start = text.index("  trim_rich:")
    entry = text[start : text.index("\n  ", text.index("source", start))]
    library = changed(LIMITS, entry, entry.replace("-10", "-25"))
    assert library.catalogue.limits["trim_rich"].value == -25
    with concluded(tmp_path) as job:
        result = rejudge(job.walk, library)

        assert result.parted_at == 2
        assert result.before[2] == ("Read the trims", "Rich at idle on bank 1")
        assert result.after[2:] != result.before[2:]
        assert not result.is_same
        assert result.conclusion_after != "purge"
        assert job.walk.library.catalogue.label("pinch_purge_dtrim") in result.lost


def test_a_changed_verdict_parts_there_and_comes_together_again(tmp_path):
    library = changed(TREE, "verdict: Nothing to see", "verdict: Nothing found by eye")
    with concluded(tmp_path) as job:
        result = rejudge(job.walk, library)

    assert result.parted_at == 3
    assert result.after[3] == ("Look at the hoses", "Nothing found by eye")
    assert result.after[4:] == result.before[4:]
    assert result.conclusion_after == "purge"


def test_an_unfinished_job_compares_as_far_as_it_went(tmp_path):
    with begin(tmp_path) as job:
        answer(job, TO_PURGE[:5])
        result = rejudge(job.walk, job.walk.library)

    assert result.is_same
    assert len(result.before) == 3
    assert result.conclusion_before is None


def test_a_tree_that_is_gone_is_said_in_one_line(tmp_path):
    files = {name: text for name, text in small_library().files.items() if name != TREE}
    with concluded(tmp_path) as job, pytest.raises(LaybyError, match="small-rich") as caught:
        rejudge(job.walk, load_library(files=files))
    assert "\n" not in str(caught.value)


def test_an_answer_the_new_trees_no_longer_ask_for_is_named(tmp_path):
    library = changed(
        TREE,
        "verdict: Safe to work\n        grade: ok\n        exit: codes",
        "verdict: Safe to work\n        grade: ok\n        exit: trims",
    )
    with concluded(tmp_path) as job:
        result = rejudge(job.walk, library)
        label = job.walk.library.catalogue.label("complaint_seen")

    assert result.parted_at == 1
    assert result.lost == (label,)
