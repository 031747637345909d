"""Drawn cars reach the trial by the interface of the practice car, whatever draws them."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace

from engine.library import load_library
from engine.trial import cars
from engine.trial.cars import DrawnCars, Hidden


@dataclass
class Observer:
    catalogue: object
    car: object

    def take(self, reading, number=0):
        return 1.0

    def repaired(self, faults):
        return self


def test_seed_number_faults_and_kit_reach_what_draws_the_car(monkeypatch):
    asked = {}

    def draw_car(catalogue, seed, number, **how):
        asked.update(how, seed=seed, number=number)
        fault = SimpleNamespace(fault="maf_over", side=None, direction="high", severity=0.5, cylinder=None)
        return SimpleNamespace(facts={"veh_banks": 1.0}, faults=(fault,))

    practice = (SimpleNamespace(draw_car=draw_car), SimpleNamespace(Observer=Observer))
    monkeypatch.setattr(cars, "_practice_cars", lambda: practice)
    car = DrawnCars(7, ("maf_over",), 2, ("MM",)).car(load_library().catalogue, 11)

    assert asked == {"seed": 7, "number": 11, "faults": ("maf_over",), "many": 2, "kit": ("MM",)}
    assert car.hidden == (Hidden("maf_over", None, "high", 0.5),)
    assert car.name == "7/11"
    assert car.facts == {"veh_banks": 1.0}
    assert car.taker.take("maf_idle") == 1.0
