"""Cars of the tests' own jobs as a file of cars."""

from __future__ import annotations

import json
from pathlib import Path

import yaml

from engine.trial.cars import CarsOfFile, cars_of_file

CARS = Path(__file__).parents[2] / "jobs" / "cars"
HIDDEN = {
    "purge-stuck-open": ("purge_stuck_open", None),
    "dripping-injector": ("injector_leaking", "b1"),
    "heater-open": ("o2_heater_open", "b1s1"),
    "weak-fuel-pump": ("fuel_pump_weak", None),
    "healthy": (None, None),
}


def line(name: str, fault: str | None, side: str | None) -> str:
    """Return one of the jobs as a line of a file of cars."""
    readings = yaml.load((CARS / f"{name}.yaml").read_text("utf-8"), Loader=yaml.BaseLoader)
    after = readings.pop("after_repair", {})
    car = {"name": name, "fault": fault, "side": side, "readings": readings, "after_repair": after}
    return json.dumps(car)


def file_of(folder: Path, names: tuple[str, ...] = tuple(HIDDEN)) -> Path:
    """Write a file of cars and return its path."""
    path = folder / "cars.jsonl"
    path.write_text("\n".join(line(name, *HIDDEN[name]) for name in names) + "\n", "utf-8")
    return path


def cars(folder: Path, names: tuple[str, ...] = tuple(HIDDEN)) -> CarsOfFile:
    """Return these jobs as the cars of a trial."""
    return cars_of_file(file_of(folder, names))
