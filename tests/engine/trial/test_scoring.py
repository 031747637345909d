"""How right an outcome is."""

from __future__ import annotations

import pytest

from engine.library import load_library
from engine.trial.cars import Hidden
from engine.trial.scoring import Score, score


def outcome(*faults, side=None, strength="probable", direction=None):
    suspects = [
        {"fault": name, "side": None, "p": 0.2} for name in ("maf_over", None, "fuel_reg_high", "no_x")
    ]
    found = {"faults": list(faults), "side": side, "strength": strength, "direction": direction}
    return {"conclusion": found, "suspects": suspects}


def open_end(tree=None):
    return {**outcome("x"), "conclusion": None, "open_end": {"say": "…", "tree": tree}}


LEAK = Hidden("injector_leaking", "b1")


@pytest.mark.parametrize(
    ("hidden", "found", "expected"),
    [
        ([LEAK], outcome("injector_leaking", side="b1"), Score.RIGHT),
        ([LEAK], outcome("injector_leaking", side="b2"), Score.WRONG_PROVEN),
        ([LEAK], outcome("purge_stuck_open", "injector_leaking", side="b1"), Score.NEAR),
        ([LEAK], outcome("cat_worn", side="b2"), Score.WRONG),
        ([LEAK], outcome("purge_stuck_open"), Score.WRONG_PROVEN),
        ([LEAK, Hidden("maf_over")], outcome("maf_over"), Score.RIGHT),
        ([LEAK], outcome("no_fault_found"), Score.NOT_FOUND),
        ([LEAK], outcome(strength="not-found-here"), Score.NOT_FOUND),
        ([], outcome("no_fault_found"), Score.HEALTHY),
        ([], outcome("maf_over"), Score.CONDEMNED),
        ([], outcome("maf_over"), Score.WRONG_PROVEN),
        ([], open_end(), Score.HEALTHY_OPEN),
        ([Hidden("fuel_reg_high")], open_end(), Score.OPEN_IN_FIRST),
        ([LEAK], open_end("rough-idle"), Score.REFERRED),
        ([LEAK], open_end(), Score.OPEN),
        ([Hidden("maf_over", direction="high")], outcome("maf_over", direction="reads_high"), Score.RIGHT),
        ([Hidden("maf_over", direction="low")], outcome("maf_over", direction="reads_high"), Score.NEAR),
    ],
)
def test_scores(hidden, found, expected):
    if expected is Score.WRONG_PROVEN:
        found["conclusion"]["strength"] = "proven"

    assert score(load_library().catalogue, hidden, found) is expected
