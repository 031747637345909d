"""The procedures by themselves: what fuel delivery and exhaust restriction bring back."""

from __future__ import annotations

import pytest

from engine.answers_file import Answers, read_answers
from engine.asking import Ask, Ended
from engine.headless import walk_headless
from engine.walking import Walk
from tests.jobs.hesitation.kits import JOBS
from tests.jobs.walks import Walked, library


def returned(procedure: str, car: str, *more: str, without: tuple[str, ...] = ()) -> Walked:
    """Walk a procedure for bank 1 with a car's readings, some replaced and some left out."""
    lines = (JOBS / "hesitation" / "cars" / f"{car}.yaml").read_text("utf-8").splitlines()
    kept = [line for line in lines if not line.startswith(tuple(f"{name}:" for name in without))]
    answers = read_answers("\n".join(kept).encode(), car, library().catalogue, more)
    assert answers.problems == (), [str(problem) for problem in answers.problems]
    return Walked(*walk_headless(library(), procedure, answers, side="b1"))


@pytest.mark.parametrize(
    ("car", "more", "outcome"),
    [
        ("healthy-car", (), "delivery-good"),
        ("healthy-one-bank", (), "delivery-good"),
        ("healthy-turbo", (), "delivery-good"),
        ("weak-pump", (), "pump-weak"),
        ("weak-pump-returnless", (), "pump-weak"),
        ("weak-pump-turbo", (), "pump-weak"),
        ("blocked-fuel-filter", (), "filter-blocked"),
        ("starved-pump", (), "feed-fault"),
        ("healthy-car", ("fuelp_koeo=390",), "pressure-high"),
        ("healthy-car", ("fuel_leak_seen=drip",), "inconclusive"),
    ],
)
def test_fuel_delivery_brings_back(car: str, more: tuple[str, ...], outcome: str) -> None:
    assert returned("fuel-delivery", car, *more).outcome["returned"] == outcome


@pytest.mark.parametrize("leak", ["drip", "damp"])
def test_a_fuel_leak_keeps_the_car_off_the_road(leak: str) -> None:
    done = returned("fuel-delivery", "weak-pump", f"fuel_leak_seen={leak}")
    assert "under-load" not in done.steps
    assert "fuelp_load" not in done.asked
    assert done.outcome["drive"] == "do-not-drive"


def test_a_smell_of_fuel_is_tested_standing() -> None:
    done = returned("fuel-delivery", "weak-pump", "fuel_leak_seen=smell")
    assert "under-load" not in done.steps
    assert "volume" in done.steps


@pytest.mark.parametrize("car", ["healthy-car", "healthy-one-bank"])
def test_without_a_way_to_drive_the_volume_speaks(car: str) -> None:
    done = returned("fuel-delivery", car, without=("fuelp_load",))
    assert done.outcome["returned"] == "delivery-good"
    assert "volume" in done.steps


def test_pump_and_filter_not_told_apart_condemn_neither() -> None:
    apart = ("fuelp_filter_drop", "fuelp_deadhead", "fuel_pump_amps")
    done = returned("fuel-delivery", "weak-pump", without=apart)
    assert done.outcome["returned"] == "pressure-low"
    assert {"fuel_pump_weak", "fuel_filter_blocked"} == set(done.leading[:2])


@pytest.mark.parametrize("system", ["port_returnless", "direct"])
def test_only_a_rubber_return_is_ever_pinched(system: str) -> None:
    done = returned("fuel-delivery", "weak-pump", f"fuel_system={system}", without=("fuelp_deadhead",))
    assert "fuelp_deadhead" not in done.asked


@pytest.mark.parametrize(
    ("car", "outcome"),
    [
        ("healthy-car", "free"),
        ("healthy-one-bank", "free"),
        ("blocked-exhaust", "blocked"),
        ("blocked-exhaust-other-bank", "blocked"),
        ("blocked-exhaust-sensor-seized", "blocked"),
    ],
)
def test_exhaust_restriction_brings_back(car: str, outcome: str) -> None:
    assert returned("exhaust-restriction", car).outcome["returned"] == outcome


def test_a_glowing_exhaust_stops_everything() -> None:
    done = returned("exhaust-restriction", "blocked-exhaust", "visual_exhaust=[glowing]")
    assert done.outcome["drive"] == "do-not-drive"
    assert done.asked == {"visual_exhaust"}


def test_one_free_bank_of_two_does_not_free_the_exhaust() -> None:
    gone = ("bp_b2_idle", "bp_b2_2500", "vacuum_idle", "vacuum_2500")
    done = returned("exhaust-restriction", "healthy-car", without=gone)
    assert done.outcome["returned"] == "suspect"


def test_the_port_is_closed_again_before_it_goes_on() -> None:
    done = returned("exhaust-restriction", "blocked-exhaust")
    assert done.walk.state.left == {}
    assert done.steps.index("gauge") < done.steps.index("close-port")


def must_be_undone(answers: Answers) -> dict[str, tuple[str, ...]]:
    """Walk fuel delivery as a screen does, and return what each step wants undone before it."""
    walk = Walk(library())
    walk.start("fuel-delivery", None)
    wanted: dict[str, tuple[str, ...]] = {}
    while not isinstance(stop := walk.advance(), Ended):
        assert isinstance(stop, Ask)
        wanted.setdefault(stop.step.id, stop.must_undo)
        for item in stop.must_undo:
            walk.undo_left(item)
        for line in stop.lines:
            takes = answers.answers.get(line.reading.id, ())
            for take in takes:
                walk.take(line.reading.id, take.answer)
            if not takes:
                walk.cannot(line.reading.id, "not measured")
    return wanted


def test_a_gauge_made_fast_and_dry_may_be_driven_with_and_no_other() -> None:
    source = (JOBS / "hesitation" / "cars" / "weak-pump.yaml").read_bytes()
    wanted = must_be_undone(read_answers(source, "weak-pump.yaml", library().catalogue))
    assert wanted["under-load"] == ()
    assert wanted["filter-drop"] == ()


def test_nobody_makes_a_pull_with_a_gauge_on_that_it_does_not_need() -> None:
    gone = ("fuelp_load", "fuel_flow_ml_30s", "fuelp_filter_drop", "fuelp_deadhead")
    with_gauge = returned("fuel-delivery", "weak-pump", without=gone)
    assert "fuelp_koeo" in with_gauge.asked
    assert "o2_b1s1_wot" not in with_gauge.asked
    without = returned("fuel-delivery", "weak-pump", without=(*gone, "fuelp_koeo"))
    assert "o2_b1s1_wot" in without.asked


def test_no_pressure_at_all_is_no_road_job() -> None:
    done = returned("fuel-delivery", "weak-pump", "fuelp_koeo=10")
    assert not {"under-load", "full-throttle"} & set(done.steps)
    assert done.outcome["returned"] in ("pump-weak", "pressure-low")
