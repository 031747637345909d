"""Practice cars for the tests: the reference cars by their facts, without scatter, and how to read them."""

from __future__ import annotations

from functools import cache

from engine.car.drawing import PracticeCar, make_car
from engine.car.faults import put_in
from engine.car.hidden import HiddenFault
from engine.car.observing import Observer
from engine.car.sound import EVEN, sound_engine
from engine.catalogue import Catalogue
from engine.library import load_library
from engine.measured import Answer

FULL_KIT = ("BG", "CG", "CL", "CR", "FG", "GA", "IR", "MM", "OS", "PR", "SB", "SM", "VG")
_KIT: dict[str, Answer] = {"kit_tools": FULL_KIT, "kit_reader_rate": 10.0, "kit_temp_tool": "contact"}
SIX: dict[str, Answer] = {
    **_KIT,
    "veh_engine_litres": 3.0,
    "veh_cylinders": 6.0,
    "veh_banks": 2.0,
    "veh_upstream_type": "narrow",
    "veh_downstream_type": "narrow",
    "veh_air_metering": "both",
    "veh_fuel_system": "port_return",
    "veh_induction": "na",
    "veh_throttle": "electronic",
    "veh_gearbox": "automatic",
    "veh_egr": "external",
    "veh_o2_bias_v": 0.45,
    "veh_smart_charging": "no",
    "veh_first_registered": 201006.0,
}
"""3.0 L six, two banks, air meter and manifold sensor, fuel return, switching sensors."""
FOUR: dict[str, Answer] = {
    **SIX,
    "veh_engine_litres": 1.6,
    "veh_cylinders": 4.0,
    "veh_banks": 1.0,
    "veh_air_metering": "map",
    "veh_fuel_system": "port_returnless",
}
"""1.6 L four, one bank, manifold sensor only, no fuel return."""
TURBO: dict[str, Answer] = {
    **FOUR,
    "veh_air_metering": "both",
    "veh_upstream_type": "wide",
    "veh_fuel_system": "direct",
    "veh_induction": "turbo",
}
"""1.6 L four, turbo, direct injection, wide-band upstream."""
CARS = {"six": SIX, "four": FOUR, "turbo": TURBO}


@cache
def catalogue() -> Catalogue:
    return load_library().catalogue


def hidden(
    fault: str,
    side: str | None = None,
    *,
    cylinder: int | None = None,
    direction: str | None = None,
    severity: float = 1.0,
) -> HiddenFault:
    return HiddenFault(fault, side, cylinder, direction, severity)


def car_with(*faults: HiddenFault, car: str = "six", scatter: int | None = None) -> PracticeCar:
    """Return a reference car with faults in it; *scatter* numbers a car of the make less even."""
    facts = CARS[car]
    drawn = make_car(facts, faults, FULL_KIT, seed=scatter or 0)
    if scatter is not None:
        return drawn
    even = sound_engine(facts, EVEN)
    engine = put_in(even, facts, faults, EVEN).engine
    return PracticeCar(0, 0, facts, faults, drawn.complaint, FULL_KIT, engine, even)


def true_values(*faults: HiddenFault, car: str = "six") -> Observer:
    """Return what reads the true values of an even reference car."""
    return Observer(catalogue(), car_with(*faults, car=car), noise=False)
