"""What a verdict shows of a figure the shop set for some cars."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.library import load_library
from engine.situation import Point
from tests.engine.made import situation

SIGNED = 'by: A. Lead, on: "2026-03-01", reason: seen here'


def test_a_limit_for_some_cars_shows_its_own_source(tmp_path: Path) -> None:
    entry = f"{{limit: trim_lean, value: 14, cars: {{veh_fuel: {{is: lpg}}}}, {SIGNED}}}"
    text = f"format: 1\nextends: catalogue\nlimits:\n  - {entry}\n"
    (tmp_path / "own.yaml").write_text(text, encoding="utf-8")
    catalogue = load_library(tmp_path).catalogue
    gas, petrol = (
        Point(situation(catalogue, {"veh_fuel": fuel})).limit("trim_lean") for fuel in ("lpg", "petrol")
    )
    assert gas is not None
    assert petrol is not None
    assert (gas.value, gas.source_words) == (14, "this shop (A. Lead, 2026-03-01: seen here)")
    assert (petrol.value, petrol.source_words) == (10, "rule of thumb")


def test_a_makers_figure_the_shop_knows_is_to_hand(tmp_path: Path) -> None:
    entry = f"{{reading: spec_fuel_pressure, value: 400, cars: {{veh_fuel: {{is: lpg}}}}, {SIGNED}}}"
    text = f"format: 1\nextends: catalogue\nmakers:\n  - {entry}\n"
    (tmp_path / "own.yaml").write_text(text, encoding="utf-8")
    catalogue = load_library(tmp_path).catalogue
    facts: dict[str, str | float] = {"veh_fuel": "lpg"}
    used = Point(situation(catalogue, facts)).limit("fuel_pressure_high")
    assert used is not None
    assert [used.low, used.high] == pytest.approx([440.0, 440.0])
    assert used.not_to_hand is None
    assert used.source_words == "this shop (maker's figure, A. Lead, 2026-03-01: seen here)"
    typed = Point(situation(catalogue, facts | {"spec_fuel_pressure": 300.0})).limit("fuel_pressure_high")
    assert typed is not None
    assert typed.value == pytest.approx(330.0), "what is read at the car wins"
    assert typed.by_maker
