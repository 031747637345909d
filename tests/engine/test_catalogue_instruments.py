"""The instruments: every tool known, accuracy for every number, and no better than the classes allow."""

from __future__ import annotations

from fnmatch import fnmatchcase
from typing import Any

import pytest

from engine.formulas.registry import formula
from tests.engine.catalogue_files import document, readings

READ_ON = {"CR", "MM", "OS", "CL", "GA", "FG", "VG", "BG", "IR", "CG"}
"""Instruments with a display; the others only accompany a reading, or need no accuracy to be chosen."""


def accuracy(instrument: str, reading: str) -> dict[str, Any] | None:
    """Return the first entry of an instrument that fits a reading."""
    for entry in document("instruments")["instruments"][instrument].get("accuracy", []):
        if any(fnmatchcase(reading, pattern) for pattern in entry.get("for", [])):
            return dict(entry)
        if "for" not in entry and entry["unit"] == readings()[reading]["unit"]:
            return dict(entry)
    return None


def test_every_tool_is_an_instrument_and_every_instrument_is_used() -> None:
    used = {tool for entry in readings().values() for tool in entry["tool"]}
    used |= {tool for entry in readings().values() for tool in entry.get("reject_by_tool", {})}
    assert used == set(document("instruments")["instruments"])
    on_the_van = set(readings()["kit_tools"]["choices"])
    assert on_the_van == set(document("instruments")["instruments"]) - {"EY", "DOC"}


def test_every_number_has_an_accuracy_on_every_display_it_is_read_from() -> None:
    for name, entry in readings().items():
        if entry["kind"] != "num":
            continue
        for tool in {entry["tool"][0]} | (set(entry["tool"]) & READ_ON):
            assert accuracy(tool, name) is not None, f"{tool} has no accuracy for {name}"


def test_every_accuracy_entry_for_named_readings_is_reached() -> None:
    for tool, instrument in document("instruments")["instruments"].items():
        taken = [
            name for name, entry in readings().items() if tool in entry["tool"] and entry["kind"] == "num"
        ]
        reached = [accuracy(tool, name) for name in taken]
        for entry in instrument.get("accuracy", []):
            assert "for" not in entry or entry in reached, f"{tool}: {entry}"


def test_set_up_minutes_are_the_agreed_ones() -> None:
    setup = {name: entry["setup"] for name, entry in document("instruments")["instruments"].items()}
    assert setup == {
        "CR": 2, "MM": 1, "CL": 1, "IR": 1, "OS": 4, "GA": 6, "FG": 10, "VG": 3, "BG": 16, "SM": 9, "CG": 14,
        "PR": 3, "SB": 2, "EY": 0, "DOC": 0,
    }  # fmt: skip
    assert document("instruments")["states"] == {
        "warm-up": 10, "2500": 1, "road": 6, "reload": 25, "cool": 30, "crank": 1,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("reading", "fixed", "end"),
    [
        ("gas_co_idle", 0.06, 5),
        ("gas_co2_idle", 0.5, 16),
        ("gas_hc_2500", 12, 2000),
        ("gas_o2_2500", 0.1, 21),
    ],
)
def test_analyser_is_nowhere_taken_as_better_than_class_one(reading: str, fixed: float, end: float) -> None:
    """OIML R 99 (from memory), class I: the greater of a fixed limit and 5 % of the value, over its range."""
    entry = accuracy("GA", reading)
    assert entry is not None
    for step in range(101):
        value = end * step / 100
        allowed = max(fixed, 0.05 * value)
        assert entry["plus_minus"] + entry["percent"] / 100 * value >= allowed - 1e-4 * end
    assert entry["plus_minus"] == fixed
    assert entry["plus_minus"] + entry["percent"] / 100 * end == pytest.approx(0.05 * end, rel=1e-4)


@pytest.mark.parametrize(
    ("tool", "reading", "span"),
    [("FG", "fuelp_koeo", 700), ("FG", "fuelp_deadhead", 1000), ("VG", "vacuum_idle", 100),
     ("BG", "bp_b1_idle", 40), ("CG", "comp_low", 2000)],
)  # fmt: skip
def test_gauges_are_of_class_one_point_six(tool: str, reading: str, span: float) -> None:
    """EN 837-1: the class is the permissible error in percent of the span."""
    entry = accuracy(tool, reading)
    assert entry is not None
    assert entry["percent"] == 0
    assert entry["plus_minus"] == pytest.approx(formula("instrument_limit").compute(
        **{"class": 1.6, "span": span})["limit"])  # fmt: skip
