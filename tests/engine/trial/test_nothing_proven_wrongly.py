"""Simulated cars whose fault looks like another one: nothing wrong is ever proven.

Each list holds faults that once were proven as something else: a deaf input as an open wire, a feed inside
the sensor as a dead element, a poisoned sensor as an aged one. The cars are drawn by the model.
"""

from __future__ import annotations

import pytest

from engine.car.drawing import KITS
from engine.library import load_library
from engine.trial.cars import DrawnCars
from engine.trial.lazy import walk_car
from engine.trial.scoring import Score

LIBRARY = load_library()
FULL = next(iter(KITS))
CARS = 25


@pytest.mark.parametrize(
    ("faults", "named"),
    [
        (("ecu_suspected",), "ecu_suspected"),
        (("o2_sig_short_pwr",), "o2_sig_short_pwr"),
        (("o2_up_contam_ash", "o2_up_contam_additive"), "o2_up_contam_ash"),
        (("o2_down_faulty", "o2_up_stuck_rich"), "o2_down_faulty"),
    ],
)
def test_a_fault_that_looks_like_another_is_never_proven_as_that(faults: tuple[str, ...], named: str) -> None:
    source = DrawnCars(3, faults, 1, FULL)
    found = [
        walk_car(LIBRARY, "triage", source.car(LIBRARY.catalogue, number), number, 0.0)
        for number in range(CARS)
    ]

    wrong = [(one.number, one.conclusion) for one in found if one.score is Score.WRONG_PROVEN]
    assert wrong == []
    assert any(named in one.conclusion for one in found), "no car came to the fault itself"
