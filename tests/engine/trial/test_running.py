"""Trials of cars whose fault is known: scored, repaired, compared, the same in any number of processes."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import pytest

from engine.errors import LaybyError
from engine.library import load_library, shipped_files
from engine.trial.cars import CarsOfFile, Hidden, TrialCar, cars_of_file
from engine.trial.comparing import parted
from engine.trial.lazy import AskedOfCar, walk_car
from engine.trial.running import Plan, run_trial
from engine.trial.scoring import Score
from engine.trial.table import table_of
from engine.trial.worth import against_best, against_parts
from tests.engine.trial.made_cars import HIDDEN, cars


def untimed(results):
    return [replace(result, milliseconds=0.0) for result in results]


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    return cars(tmp_path_factory.mktemp("cars"))


@pytest.fixture(scope="module")
def results(source):
    return run_trial(Plan(source, len(HIDDEN), "triage"), jobs=1).results[0]


def test_the_cars_of_the_jobs_are_found(results):
    by_name = {result.name: result for result in results}

    for name in ("purge-stuck-open", "dripping-injector", "heater-open"):
        assert by_name[name].score is Score.RIGHT, by_name[name]
    assert by_name["healthy"].score in (Score.HEALTHY, Score.HEALTHY_OPEN)
    assert all(result.score is not Score.WRONG_PROVEN for result in results)


def test_the_same_in_two_processes_and_in_one(source, results):
    many = CarsOfFile(source.file, source.lines * 5)
    told = []
    both = run_trial(Plan(many, len(many.lines), "triage"), jobs=2, report=lambda *at: told.append(at))

    assert untimed(both.results[0][: len(HIDDEN)]) == untimed(results)
    assert told[-1] == (len(many.lines), len(many.lines))


def test_files_of_a_version_reach_other_processes(source, results):
    many = CarsOfFile(source.file, source.lines[:1] * 21)
    versions = (None, MappingProxyType(dict(shipped_files())))
    trial = run_trial(Plan(many, 21, "triage", versions), jobs=2)

    assert untimed(trial.results[0]) == untimed(trial.results[1])
    assert parted(*trial.results) == ()


def test_an_edit_is_shown_at_the_step_where_the_paths_part(source, results):
    files = dict(shipped_files())
    name = "trees/catalogue/faults.yaml"
    files[name] = files[name].replace(
        b"proven_needs: [complaint-carried]", b"proven_needs: [complaint-carried, second-opinion-agrees]"
    )
    trial = run_trial(Plan(source, len(HIDDEN), "triage", (None, files)), jobs=1)
    found = parted(*trial.results)

    weaker = [one for one in found if one.one.strength == "proven" and one.other.strength == "probable"]
    assert weaker
    assert all(one.at == len(one.one.path) and one.here is None for one in weaker)


def test_the_table(results):
    library = load_library()
    table = table_of(library, results)

    assert sum(share["cars"] for share in table["scores"].values()) == len(results)
    assert table["confusion"]["purge_stuck_open"] == {"purge_stuck_open": 1}
    assert table["minutes"]["mean"] <= table["minutes"]["most"]
    assert "seen" not in table["steps_never_reached"].get("triage", ())
    assert table["condemned_without_proof"]["not_the_cause"] <= table["condemned_without_proof"]["parts"]


def test_no_walk_is_under_the_floor_of_the_best_order(source, results):
    found = against_best(load_library(), source, results)
    assert found is not None
    assert found.best_minutes is not None
    assert 0.0 < found.best_minutes <= found.tree_minutes


def test_parts_fitted_by_popularity_cost_what_they_cost(results):
    found = against_parts(load_library(), results)

    assert found.cars == 4
    assert found.fitted > 0.0
    assert 0.0 <= found.cured <= 1.0


class Repairable:
    """Dirt on the air meter that cleaning cures."""

    def __init__(self, readings, after):
        self.readings, self.after, self.taken = readings, after, []

    def take(self, reading, number=0):
        self.taken.append((reading, number))
        return self.readings.get(reading)

    def repaired(self, faults):
        return Repairable(self.after if "dirt" in faults else self.readings, self.after)


def test_a_reading_is_taken_once_and_only_when_asked():
    taker = Repairable({"stft_b1_idle": 3.0}, {})
    asked = AskedOfCar(TrialCar("x", (Hidden("maf_over"),), {"veh_banks": 1.0}, taker))

    assert list(asked) == ["veh_banks"]
    assert taker.taken == []
    assert "stft_b1_idle" in asked
    assert asked["stft_b1_idle"][0].answer == 3.0
    assert "map_idle" not in asked
    assert "map_idle" not in asked
    assert taker.taken == [("stft_b1_idle", 0), ("map_idle", 0)]


def test_a_repair_that_decides_is_made_and_measured_again(source):
    library = load_library()
    car = source.car(library.catalogue, 0)
    faults = library.catalogue.faults
    changed = {
        name: replace(fault, decided_by_repair=True) if name == "purge_stuck_open" else fault
        for name, fault in faults.faults.items()
    }
    catalogue = replace(library.catalogue, faults=replace(faults, faults=MappingProxyType(changed)))
    result = walk_car(replace(library, catalogue=catalogue), "triage", car, 0, 0.0)

    assert result.decided_by_repair
    assert result.proof in ("fixed", "unproven")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("[1]", "JSON object"),
        ("{", "one JSON object a line"),
        ('{"fault": "no_such"}', "no fault"),
        ('{"fault": null, "readings": {"no_such": 1}}', "no_such"),
        ('{"fault": null, "readings": 3}', "write a map"),
    ],
)
def test_a_line_that_is_no_car_is_one_clear_line(line, says, tmp_path):
    path = tmp_path / "cars.jsonl"
    path.write_text(line, "utf-8")

    with pytest.raises(LaybyError, match=says) as caught:
        cars_of_file(path).car(load_library().catalogue, 0)
    assert "car 1" in str(caught.value)
