"""Cars whose control unit refuses power, each with one fault, walked from the message to the end.

Scenarios of our own, as for the hesitating cars: the right fault, or an honest open end with the fault among
the first three suspects; never a wrong part called proven. With everything on the van, and with a meter and
a code reader.
"""

from __future__ import annotations

import pytest

from engine.answers_file import read_answers
from engine.headless import walk_headless
from tests.jobs.hesitation.kits import JOBS, Kit, assert_meets, files, table, walked
from tests.jobs.walks import Walked, library

FOLDER, TREE = "reduced_power", "reduced-power"
KITS: tuple[Kit, ...] = ("full", "meter-and-reader")
MUST = table(
    {
        "healthy-car": ("no_fault_found", None, "not-found-here", "open"),
        "healthy-turbo": ("no_fault_found", None, "not-found-here", "open"),
        "pedal-tracks-disagree": ("pedal_track_disagree", None, "proven", "proven"),
        "pedal-tracks-no-code": ("pedal_track_disagree", None, "proven", "proven"),
        "throttle-tracks-disagree": ("tps_track_disagree", None, "proven", "proven"),
        "throttle-tracks-no-code": ("tps_track_disagree", None, "proven", "proven"),
        "five-volt-pulled-down": ("ref_5v_short", None, "proven", "proven"),
        "five-volt-loom-no-code": ("ref_5v_short", None, "proven", "proven"),
        "low-voltage": ("low_voltage", None, "probable", "probable"),
        "bad-ground": ("bad_ground", None, "proven", "proven"),
        "dirty-throttle": ("throttle_dirty", None, "probable", "probable"),
        "boost-leak": ("boost_leak", None, "probable", "open"),
        "overboost": ("overboost", None, "probable", "probable"),
        "overheating": ("overheat_derate", None, "probable", "probable"),
        "overheating-no-code": ("overheat_derate", None, "probable", "probable"),
        "overheating-bare-metal": ("overheat_derate", None, "probable", "probable"),
        "gearbox-asks": ("trans_derate", None, "probable", "probable"),
        "gearbox-asks-no-code": ("trans_derate", None, "probable", "probable"),
        "blocked-exhaust-turbo": ("cat_blocked", "b1", "probable", "open"),
        "weak-pump": ("fuel_pump_weak", None, "proven", "open"),
        "bad-fuel": ("fuel_contaminated", None, "probable", "open"),
    }
)


def walked_with(car: str, *more: str) -> Walked:
    """Walk a car of this folder with some readings replaced."""
    source = (JOBS / FOLDER / "cars" / f"{car}.yaml").read_bytes()
    answers = read_answers(source, f"{car}.yaml", library().catalogue, more)
    assert answers.problems == (), [str(problem) for problem in answers.problems]
    return Walked(*walk_headless(library(), TREE, answers))


def test_every_readings_file_has_a_verdict_it_must_reach() -> None:
    assert files(FOLDER) == MUST.keys()


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("car", MUST)
def test_the_car_comes_to_its_fault_or_to_an_honest_end(car: str, kit: Kit) -> None:
    assert_meets(walked(FOLDER, TREE, car, kit), MUST[car], kit)


def test_volts_come_before_the_supply_and_the_supply_before_its_sensors() -> None:
    steps = walked(FOLDER, TREE, "throttle-tracks-no-code", "full").steps
    order = ["volts", "five-volt", "pedal", "throttle-tracks"]
    assert [step for step in steps if step in order] == order


def test_the_code_for_cut_power_is_never_the_cause() -> None:
    done = walked_with("pedal-tracks-no-code", "dtc_stored=[P2110]")
    assert done.fault == "pedal_track_disagree"


@pytest.mark.parametrize("car", ["overheating", "overheating-no-code", "overheating-bare-metal"])
@pytest.mark.parametrize("kit", KITS)
def test_heat_shown_forbids_driving(car: str, kit: Kit) -> None:
    assert walked(FOLDER, TREE, car, kit).outcome["drive"] == "do-not-drive"


def test_bare_metal_disproves_no_heat() -> None:
    done = walked_with("overheating-bare-metal")
    assert (done.fault, done.outcome["drive"]) == ("overheat_derate", "do-not-drive")


def test_one_cooler_matt_spot_clears_nothing_and_asks_for_a_second() -> None:
    done = walked_with("overheating-bare-metal", "ect_ir_how=matt_spot")
    assert (done.strength, done.outcome["drive"]) == ("open", "do-not-drive")
    assert "second time" in done.outcome["open_end"]["say"]


@pytest.mark.parametrize("shown", ["111.5", "113", "130"])
def test_every_figure_over_the_limit_stops_the_car(shown: str) -> None:
    done = walked_with("healthy-car", "reduced_power_shown=message", f"ect_idle={shown}", "ect_ir=95")
    assert done.outcome["drive"] == "do-not-drive"


def test_no_band_is_laid_on_tracks_whose_design_nobody_knows() -> None:
    done = walked_with("pedal-tracks-no-code", "pedal_design=unknown")
    assert done.fault != "pedal_track_disagree"
    assert done.strength != "proven"


def test_a_track_is_not_condemned_on_a_low_supply() -> None:
    done = walked_with("pedal-tracks-disagree", "ref5v_koeo=4.2", "ref5v_unplug_recovers=yes_sensor")
    assert done.fault == "ref_5v_short"


def test_more_boost_than_asked_ends_the_pulls() -> None:
    done = walked(FOLDER, TREE, "overboost", "full")
    after = done.steps[done.steps.index("boost") + 1 :]
    assert after == ("wastegate",)


def test_nothing_refused_and_nothing_stored_is_a_flat_spot() -> None:
    done = walked(FOLDER, TREE, "healthy-car", "full")
    assert "hesitation" in {entry["tree"] for entry in done.outcome["path"]}


@pytest.mark.parametrize("car", ["five-volt-pulled-down", "overboost"])
def test_the_same_numbers_prove_the_repair(car: str) -> None:
    assert walked(FOLDER, TREE, car, "full").outcome["proof"]["result"] == "fixed"
