"""The demonstration cars: their answers are understood, and their faults are found and proved repaired."""

from __future__ import annotations

import pytest

from engine.asking import Ask, Doubt, RepairOffer
from engine.demo import Demo, demo_of, demos, usual
from engine.entry import Question, Understood, understand
from engine.library import load_library
from engine.walking import Walk


@pytest.mark.parametrize("demo", demos(), ids=lambda demo: demo.name)
def test_every_answer_is_understood(demo: Demo) -> None:
    readings = load_library().catalogue.readings
    for name in (*demo.answers, *demo.after_repair):
        heard = understand(demo.typed(readings[name]), readings[name])
        assert isinstance(heard, Understood | Question), (name, heard)


@pytest.mark.parametrize("demo", demos(), ids=lambda demo: demo.name)
def test_the_fault_is_proven_and_its_repair_too(demo: Demo) -> None:
    walk = Walk(load_library(), clock=lambda: 1000.0)
    walk.start("triage")
    answer_all(walk, demo, after_repair=False)
    assert walk.state.concluded is not None
    assert walk.state.concluded["faults"][0] == "purge_stuck_open"
    assert walk.state.concluded["strength"] == "proven"
    for item in list(walk.state.left):
        walk.undo_left(item)
    walk.repaired("done")
    answer_all(walk, demo, after_repair=True)
    assert walk.state.proof is not None
    assert walk.state.proof["result"] == "fixed"


def answer_all(walk: Walk, demo: Demo, *, after_repair: bool) -> None:
    for _ in range(80):
        match walk.advance():
            case Ask() as ask:
                for item in ask.must_undo:
                    walk.undo_left(item)
                for line in ask.lines:
                    typed = demo.typed(line.reading, after_repair=after_repair)
                    heard = understand(typed, line.reading)
                    if isinstance(heard, Question):
                        heard = heard.candidates[0]
                    assert isinstance(heard, Understood), (line.reading.id, typed, heard)
                    walk.take(line.reading.id, heard.answer)
            case Doubt():
                walk.go_on()
            case RepairOffer():
                walk.decline_repair()
            case _:
                return


def test_what_a_file_does_not_say_is_as_usual() -> None:
    readings = load_library().catalogue.readings
    assert usual(readings["dtc_stored"]) == "none"
    assert usual(readings["oil_state"]) == "ok"
    assert usual(readings["spec_fuel_pressure"]) == ""
    assert understand(usual(readings["batt_v_koeo"]), readings["batt_v_koeo"])


def test_a_car_is_found_by_its_words() -> None:
    assert demo_of(demos()[0].car) is demos()[0]
    assert demo_of("no such car") is None
