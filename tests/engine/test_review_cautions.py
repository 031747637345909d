"""A shipped step whose readings ask for a caution is reported as soon as that caution is taken away."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from engine.library import Library, load_library
from engine.review.safety import review_safety
from engine.review.ways import ways_of


@cache
def library() -> Library:
    return load_library()


def without(tree_id: str, step_id: str, caution: str) -> list[str]:
    """Review a tree in which one step lost one caution; what is said of that step."""
    tree = library().tree(tree_id)
    steps = {
        binding: {
            name: replace(step, cautions=tuple(one for one in step.cautions if one != caution))
            if name == step_id
            else step
            for name, step in named.items()
        }
        for binding, named in tree.steps.items()
    }
    found = review_safety(ways_of(replace(tree, steps=steps)), library().catalogue)
    return [str(problem) for problem in found if f"steps.{step_id}.cautions" in str(problem)]


@pytest.mark.parametrize(
    ("tree", "step", "caution"),
    [
        ("catalyst-efficiency", "reload", "C-CAT"),
        ("catalyst-efficiency", "reload", "C-ROAD"),
        ("catalyst-efficiency", "heat", "C-HOT"),
        ("catalyst-efficiency", "rear", "C-PROP"),
        ("catalyst-efficiency", "gas", "C-PROBE"),
        ("exhaust-restriction", "behind", "C-THREAD"),
        ("exhaust-restriction", "gauge", "C-HOT"),
        ("catalyst", "joints", "C-SMOKE"),
        ("catalyst", "codes", "C-CLEAR"),
        ("catalyst", "oil", "C-COOL"),
        ("failed-emissions", "how-cold", "C-COOL"),
        ("upstream-sensor", "volts", "C-BATT"),
    ],
)
def test_a_caution_taken_away_is_missed(tree: str, step: str, caution: str) -> None:
    assert without(tree, step, "C-NONE") == []
    assert any(f"add {caution} to cautions:" in line for line in without(tree, step, caution))
