"""Source: JCGM 100:2008, the guide to the expression of uncertainty: worked figures, on takes that combine.

All figures are from memory of the document; the clause stands beside each check.
"""

from __future__ import annotations

import math

import pytest

from engine.catalogue import Accuracy, Instrument, Reading, Source
from engine.measured import Take, Value, combine
from tests.engine.made import reading

FROM_MEMORY = Source("from-memory", "JCGM 100:2008")

TEMPERATURES = (
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
)  # fmt: skip
"""JCGM 100:2008, table 1: twenty observations of a temperature, in °C."""


def taken(
    what: Reading, numbers: tuple[float, ...], *, percent: float = 0.0, plus_minus: float = 0.0,
    resolution: float = 0.0, scatter: float = 0.0,
) -> Value:  # fmt: skip
    accuracy = Accuracy((), what.unit, percent, plus_minus, resolution, scatter, FROM_MEMORY)
    takes = [Take(i, what.id, number, f"{number}", "MM", 0.0) for i, number in enumerate(numbers)]
    return combine(what, takes, {"MM": Instrument("MM", "meter", 1.0, (accuracy,))})


def test_mean_and_its_deviation_of_repeated_observations() -> None:
    """JCGM 100:2008, 4.4.3: mean 100.145 °C, standard deviation of the mean 0.333 °C."""
    value = taken(reading("temperature", unit="°C"), TEMPERATURES)

    assert value.number == pytest.approx(100.145, abs=5e-4)
    assert value.own == pytest.approx(0.333, abs=5e-4)
    assert value.shared == 0.0


def test_limits_without_other_knowledge_count_as_rectangular() -> None:
    """JCGM 100:2008, 4.4.5: 96 °C to 104 °C and nothing else known gives u = 2.3 °C."""
    value = taken(reading("temperature", unit="°C"), (100.0,), plus_minus=4.0)

    assert value.uncertainty == pytest.approx(2.3, abs=0.05)


def test_resolution_of_an_indicating_device() -> None:
    """JCGM 100:2008, F.2.2.1: a last digit of 1 brings u = 0.29."""
    value = taken(reading("anything"), (5.0,), resolution=1.0)

    assert value.own == pytest.approx(0.29, abs=0.005)
    assert value.shared == 0.0


def test_voltmeter_by_its_maker_specification() -> None:
    """JCGM 100:2008, 4.3.7 example 2 and 5.1.5: 14e-6 of the reading and 2e-6 of the 1 V range at 0.928571 V.

    The half-width is 15 µV and its u 8.7 µV; with 12 µV from the repeated observations u_c is 15 µV.
    """
    value = taken(reading("volts", unit="V"), (0.928571,), percent=14e-4, plus_minus=2e-6, scatter=12e-6)

    assert value.shared * math.sqrt(3.0) == pytest.approx(15e-6, abs=0.05e-6)
    assert value.shared == pytest.approx(8.7e-6, abs=0.05e-6)
    assert value.uncertainty == pytest.approx(15e-6, abs=0.3e-6)
