"""Every fault of the catalogue is concluded by a symptom tree, by a way that takes some minutes."""

from __future__ import annotations

from functools import cache

import pytest

from engine.fault_coverage import FaultCoverage, fault_coverage
from engine.library import load_library
from engine.tree import Strength


@cache
def covered() -> dict[str, FaultCoverage]:
    return {one.fault: one for one in fault_coverage(load_library())}


@pytest.mark.parametrize("fault", sorted(load_library().catalogue.faults.faults))
def test_no_fault_is_without_a_conclusion(fault: str) -> None:
    assert covered()[fault].ways, f"{fault}: no symptom tree concludes it"


@pytest.mark.parametrize("fault", ["cat_worn", "cat_sooted", "cat_blocked"])
def test_shortest_way_comes_first_and_takes_minutes(fault: str) -> None:
    ways = covered()[fault].ways
    minutes = [way.minutes for way in ways]
    assert minutes == sorted(minutes)
    assert 1 < minutes[0] < 240
    assert "catalyst" in {way.tree for way in ways}


def test_a_way_names_the_tree_that_holds_its_conclusion() -> None:
    library = load_library()
    for one in covered().values():
        for way in one.ways:
            held = [
                named for named in library.trees[way.ends_in].conclusions.values() if way.conclusion in named
            ]
            assert held
            assert one.fault == held[0][way.conclusion].faults[0]
            assert held[0][way.conclusion].strength is way.strength
            assert way.strength in (Strength.PROVEN, Strength.PROBABLE)
