"""Cars that hesitate, each with one fault, walked from the customer's words to the end.

The readings are scenarios of our own, computed from the fault's signature with the scatter of instruments and
engine. What counts: the right fault on the right side, or an honest open end with the fault among the first
three suspects; never a wrong part called proven. Every car is walked twice: with everything on the van, and
with a meter and a code reader.
"""

from __future__ import annotations

import pytest

from tests.jobs.hesitation.kits import Kit, assert_meets, files, table, walked

FOLDER, TREE = "hesitation", "hesitation"
KITS: tuple[Kit, ...] = ("full", "meter-and-reader")
MUST = table(
    {
        "healthy-car": ("no_fault_found", None, "not-found-here", "open"),
        "healthy-one-bank": ("no_fault_found", None, "not-found-here", "open"),
        "healthy-turbo": ("no_fault_found", None, "not-found-here", "open"),
        "weak-pump": ("fuel_pump_weak", None, "proven", "open"),
        "weak-pump-no-code": ("fuel_pump_weak", None, "proven", "open"),
        "weak-pump-returnless": ("fuel_pump_weak", None, "probable", "open"),
        "weak-pump-turbo": ("fuel_pump_weak", None, "probable", "open"),
        "blocked-fuel-filter": ("fuel_filter_blocked", None, "proven", "open"),
        "blocked-fuel-filter-no-adaptor": ("fuel_filter_blocked", None, "probable", "open"),
        "starved-pump": ("bad_ground", None, "probable", "probable"),
        "dirty-air-meter": ("maf_under", None, "probable", "probable"),
        "dirty-air-meter-spare-tried": ("maf_under", None, "probable", "probable"),
        "lazy-sensor": ("o2_up_lazy", "b1s1", "proven", "probable"),
        "lazy-sensor-no-code": ("o2_up_lazy", "b1s1", "proven", "probable"),
        "blocked-exhaust": ("cat_blocked", "b1", "probable", "open"),
        "blocked-exhaust-other-bank": ("cat_blocked", "b2", "probable", "open"),
        "blocked-exhaust-sensor-seized": ("cat_blocked", "b1", "probable", "open"),
        "dirty-throttle": ("throttle_dirty", None, "probable", "probable"),
        "dirty-throttle-cable": ("throttle_dirty", None, "probable", "probable"),
        "blocked-air-filter": ("air_filter_blocked", None, "probable", "probable"),
        "boost-leak": ("boost_leak", None, "probable", "open"),
        "bad-fuel": ("fuel_contaminated", None, "probable", "open"),
        "bad-fuel-by-its-trims": ("fuel_contaminated", None, "probable", "open"),
        "too-much-ethanol": ("fuel_ethanol_excess", None, "probable", "probable"),
        "recirculation-open": ("egr_stuck_open", None, "proven", "proven"),
        "cam-late": ("cam_crank_correlation", None, "probable", "probable"),
        "pedal-tracks": ("pedal_track_disagree", None, "proven", "proven"),
        "low-voltage": ("low_voltage", None, "probable", "probable"),
        "worn-plugs": ("ign_plug", "b1", "probable", "probable"),
        "weak-coil": ("ign_coil", None, "open", "open"),
        "manifold-sensor-low": ("map_wrong", None, "probable", "probable"),
        "air-leak": ("vac_leak_small", None, "probable", "open"),
    }
)


def test_every_readings_file_has_a_verdict_it_must_reach() -> None:
    assert files(FOLDER) == MUST.keys()


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("car", MUST)
def test_the_car_comes_to_its_fault_or_to_an_honest_end(car: str, kit: Kit) -> None:
    assert_meets(walked(FOLDER, TREE, car, kit), MUST[car], kit)


def test_the_air_path_by_hand_comes_before_every_instrument() -> None:
    steps = walked(FOLDER, TREE, "healthy-car", "full").steps
    order = ["codes", "air-path", "sweep", "throttle", "snap", "trims", "pull", "fuel", "exhaust", "spark"]
    assert [step for step in steps if step in order] == order


def test_missing_air_sends_to_the_exhaust_and_missing_fuel_to_the_gauge() -> None:
    blocked = walked(FOLDER, TREE, "blocked-exhaust", "full")
    assert "fuel" not in blocked.steps
    assert "exhaust" in blocked.steps
    lean = walked(FOLDER, TREE, "weak-pump", "full")
    assert "exhaust" not in lean.steps
    assert {"under-load", "feed", "filter-drop", "dead-head"} <= set(lean.steps)


def test_no_pump_is_bought_before_filter_and_feed_were_asked() -> None:
    steps = walked(FOLDER, TREE, "weak-pump", "full").steps
    assert steps.index("feed") < steps.index("filter-drop") < steps.index("dead-head")


def test_the_gauge_is_off_before_anything_is_concluded() -> None:
    for car in ("weak-pump", "blocked-fuel-filter", "starved-pump"):
        done = walked(FOLDER, TREE, car, "full")
        assert done.steps[-1] == "gauge-off"
        assert done.walk.state.left == {}


def test_bad_fuel_forbids_driving() -> None:
    assert walked(FOLDER, TREE, "bad-fuel", "full").outcome["drive"] == "do-not-drive"


def test_a_cam_out_of_time_is_not_started_again() -> None:
    assert walked(FOLDER, TREE, "cam-late", "meter-and-reader").outcome["drive"] == "do-not-drive"


@pytest.mark.parametrize(
    ("car", "result"),
    [("weak-pump", "fixed"), ("dirty-air-meter", "fixed"), ("dirty-air-meter-spare-tried", "failed")],
)
def test_the_same_numbers_prove_the_repair(car: str, result: str) -> None:
    assert walked(FOLDER, TREE, car, "full").outcome["proof"]["result"] == result
