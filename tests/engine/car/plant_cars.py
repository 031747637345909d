"""Engines for the tests: short ways to change one, and random ones."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

from engine.car.parameters import Engine
from engine.car.reference_cars import ONE_BANK, TURBO, TWO_BANKS

STATES = ("idle", "2500", "load")


def with_air(engine: Engine, **changes: Any) -> Engine:
    return replace(engine, air=replace(engine.air, **changes))


def with_fuel(engine: Engine, **changes: Any) -> Engine:
    return replace(engine, fuel=replace(engine.fuel, **changes))


def with_cooling(engine: Engine, **changes: Any) -> Engine:
    return replace(engine, cooling=replace(engine.cooling, **changes))


def with_electrics(engine: Engine, **changes: Any) -> Engine:
    return replace(engine, electrics=replace(engine.electrics, **changes))


def with_bank(engine: Engine, **changes: Any) -> Engine:
    """Change bank 1."""
    return replace(engine, banks=(replace(engine.banks[0], **changes), *engine.banks[1:]))


def with_sensor(engine: Engine, **changes: Any) -> Engine:
    """Change the upstream sensor of bank 1."""
    return with_bank(engine, upstream=replace(engine.banks[0].upstream, **changes))


def with_catalyst(engine: Engine, **changes: Any) -> Engine:
    return with_bank(engine, catalyst=replace(engine.banks[0].catalyst, **changes))


def with_cylinder(engine: Engine, number: int, **changes: Any) -> Engine:
    cylinders = list(engine.cylinders)
    cylinders[number - 1] = replace(cylinders[number - 1], **changes)
    return replace(engine, cylinders=tuple(cylinders))


def random_engine(seed: int) -> Engine:
    """Return an engine of some size at some place with about three things wrong, none beyond use."""
    draw = random.Random(f"plant:{seed}")
    engine = draw.choice((TWO_BANKS, ONE_BANK, TURBO))
    engine = replace(
        engine,
        litres=engine.litres * draw.uniform(0.7, 1.5),
        altitude_m=draw.choice((0.0, 0.0, 600.0, 1800.0)),
        ambient_c=draw.uniform(-5.0, 35.0),
        fuelling_error=draw.gauss(0.015, 0.015),
    )
    size = engine.litres**0.5
    changes = (
        lambda car: with_air(
            car,
            leaks=(
                (draw.choice(("manifold", "pcv", "booster", "gasket_b1")), draw.uniform(0.3, 1.4) * size),
            ),
        ),
        lambda car: with_air(car, meter_gain_high=draw.uniform(0.8, 1.1)),
        lambda car: with_air(car, map_offset_kpa=draw.uniform(-5.0, 5.0)),
        lambda car: with_fuel(car, regulator_kpa=car.fuel.regulator_kpa * draw.uniform(0.85, 1.2)),
        lambda car: with_fuel(car, ethanol_pct=float(draw.choice((0, 10, 20, 50)))),
        lambda car: with_fuel(car, purge_leak_mm=draw.uniform(0.0, 0.8) * size),
        lambda car: with_bank(car, exhaust_leak_mm=draw.uniform(0.0, 2.0)),
        lambda car: with_bank(car, exhaust_restriction=draw.uniform(1.0, 4.0)),
        lambda car: with_sensor(car, shift=draw.uniform(-0.04, 0.04)),
        lambda car: with_sensor(car, diffusion_s=draw.uniform(0.1, 0.4)),
        lambda car: with_cylinder(
            car, draw.randint(1, 4), spark_miss_idle=draw.random(), spark_miss_2500=draw.random()
        ),
        lambda car: with_cylinder(car, draw.randint(1, 4), injector_flow=draw.uniform(0.7, 1.1)),
        lambda car: with_cylinder(car, draw.randint(1, 4), compression_kpa=draw.uniform(500.0, 1250.0)),
        lambda car: with_catalyst(car, active=draw.uniform(0.2, 1.0), store_g=draw.uniform(0.002, 0.1)),
    )
    for change in draw.sample(changes, draw.randint(0, 4)):
        engine = change(engine)
    return engine
