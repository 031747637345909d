"""The proof of a repair as a step of its own."""

from __future__ import annotations

from engine.asking import Ask, Ended
from engine.proving import FAILED, FIXED, UNPROVEN, expanded, proof_step
from engine.tree import Binding, Grade, Next
from engine.walking import Walk
from tests.engine.small_trees import small_library
from tests.engine.test_walking import Clock, begin, give, to_conclusion


def conclusion(name: str):
    return small_library().tree("small-rich").conclusion(name, Binding())


def test_the_step_asks_what_the_tree_says_and_has_three_ways_out():
    step = proof_step(conclusion("purge"))

    assert step is not None
    assert "tt_b1_idle" in step.readings
    assert [(rule.id, rule.grade, rule.exit) for rule in step.rules] == [
        (FIXED, Grade.OK, Next(FIXED)),
        (FAILED, Grade.FAIL, Next(FAILED)),
    ]
    assert step.rules[1].when is None
    assert step.cannot is not None
    assert step.cannot.exit == Next(UNPROVEN)


def test_a_conclusion_without_proof_has_no_step():
    assert proof_step(conclusion("nothing")) is None


def test_worked_values_are_written_out_as_readings_of_this_car():
    walk = Walk(small_library())
    walk.start("small-rich")
    walk.take("veh_banks", 1.0)
    names = expanded(
        walk.library.catalogue, ("tt_b1_idle", "tt_b2_idle", "veh_banks"), walk.state.situation()
    )

    assert sorted(names) == ["ltft_b1_idle", "stft_b1_idle"]


def test_proof_readings_are_never_taken_over_from_before():
    clock = Clock()
    walk = begin(clock)
    to_conclusion(walk)
    walk.repaired("renewed")
    stop = walk.advance()

    assert isinstance(stop, Ask)
    assert stop.proof
    assert all(line.stale is None for line in stop.lines)
    assert not walk.state.live_takes("stft_b1_idle")


def test_a_proof_between_its_limits_is_doubtful_and_stays_unproven():
    walk = begin(Clock())
    to_conclusion(walk)
    walk.repaired("renewed")
    walk.advance()
    high = walk.library.catalogue.limits["trim_proof_high"].value
    assert high is not None
    stop = give(walk, ltft_b1_idle=high / 2, stft_b1_idle=high / 2)

    assert isinstance(stop, Ended)
    assert walk.state.proof["result"] == "unproven"
    assert walk.state.concluded is not None


def test_a_second_repair_is_proved_by_its_own_readings():
    walk = begin(Clock())
    to_conclusion(walk)
    walk.repaired("cleaned")
    walk.advance()
    for line in walk.advance().lines:
        walk.cannot(line.reading.id, "no time")
    walk.advance()
    assert walk.state.proof["result"] == "unproven"

    walk.repaired("renewed")
    stop = walk.advance()
    assert stop.proof
    give(walk, ltft_b1_idle=0.0, stft_b1_idle=0.0)
    assert walk.state.proof["result"] == "fixed"
