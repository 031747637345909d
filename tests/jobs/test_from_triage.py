"""Cars that hesitate or are held back, from the first look of triage to their end."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.answers_file import read_answers
from engine.headless import walk_headless
from engine.library import load_library

HERE = Path(__file__).parent
CARS = [
    ("hesitation", "weak-pump", "fuel_pump_weak"),
    ("hesitation", "weak-pump-no-code", "fuel_pump_weak"),
    ("hesitation", "blocked-fuel-filter", "fuel_filter_blocked"),
    ("hesitation", "dirty-air-meter", "maf_under"),
    ("hesitation", "lazy-sensor", "o2_up_lazy"),
    ("hesitation", "blocked-exhaust", "cat_blocked"),
    ("hesitation", "dirty-throttle", "throttle_dirty"),
    ("reduced_power", "pedal-tracks-disagree", "pedal_track_disagree"),
    ("reduced_power", "five-volt-pulled-down", "ref_5v_short"),
    ("reduced_power", "low-voltage", "low_voltage"),
    ("reduced_power", "boost-leak", "boost_leak"),
    ("reduced_power", "overheating", "overheat_derate"),
]


@pytest.mark.parametrize(("folder", "car", "fault"), CARS, ids=[car for _, car, _ in CARS])
def test_the_fault_is_found_from_the_first_look(folder: str, car: str, fault: str) -> None:
    found = next((HERE / folder).rglob(f"{car}.yaml"))
    complaint = "hesitation" if folder == "hesitation" else "reduced_power"
    source = found.read_bytes()
    facts = [] if b"complaint:" in source else [f"complaint={complaint}"]
    library = load_library()
    _, outcome = walk_headless(library, "triage", read_answers(source, found.name, library.catalogue, facts))

    assert outcome["conclusion"] is not None, outcome["open_end"]
    assert outcome["conclusion"]["faults"][0] == fault
