"""Events of a job begun with an earlier program lack keys that came later; they still fold."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.answers_file import read_answers
from engine.headless import walk_headless
from engine.library import load_library
from engine.walking import Walk

LIBRARY = load_library()
CARS = sorted((Path(__file__).parents[1] / "jobs").rglob("*.yaml"))[:6]


@pytest.mark.parametrize("path", CARS, ids=lambda path: path.stem)
def test_events_without_the_later_keys_give_the_same_place_and_no_milder_drive(path):
    answers = read_answers(path.read_bytes(), path.name, LIBRARY.catalogue)
    walk, _ = walk_headless(LIBRARY, "triage", answers)
    older = [{k: v for k, v in e.items() if k not in ("was_stale", "own_drive")} for e in walk.events]
    again = Walk(LIBRARY)
    again.replay(older)

    assert again.path_lines() == walk.path_lines()
    order = ["may-drive", "with-care", "do-not-drive"]
    assert order.index(again.drive()[0].value) >= order.index(walk.drive()[0].value)
