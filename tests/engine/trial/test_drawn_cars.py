"""Drawn practice cars reach the trial: the fault asked for, the van's kit, and a sound car as a sound one."""

from __future__ import annotations

from engine.library import load_library
from engine.trial.cars import NO_FAULT, DrawnCars

CATALOGUE = load_library().catalogue


def test_seed_number_faults_and_kit_decide_the_car():
    source = DrawnCars(7, ("maf_over",), 1, ("MM", "CR"))
    car = source.car(CATALOGUE, 11)

    assert [hidden.fault for hidden in car.hidden] == ["maf_over"]
    assert 0.25 <= car.hidden[0].severity <= 1.0
    assert car.name == "7/11"
    assert car.taker.take("stft_b1_idle") == source.car(CATALOGUE, 11).taker.take("stft_b1_idle")
    assert car.taker.take("gas_co_idle") is None
    assert source.car(CATALOGUE, 12).facts != car.facts


def test_two_faults_at_once_are_two_different_ones():
    hidden = DrawnCars(1, None, 2).car(CATALOGUE, 3).hidden

    assert len({fault.fault for fault in hidden}) == 2


def test_a_car_drawn_without_a_fault_hides_none():
    assert DrawnCars(1, (NO_FAULT,)).car(CATALOGUE, 0).hidden == ()
