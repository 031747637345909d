"""Source: textbook compressible flow of a perfect gas (from memory): holes, by Mach number."""

from __future__ import annotations

import math

import pytest

from engine.car.breathing import LEAK_CD, breathed, hole_flow

GAMMA, GAS = 1.4, 287.05


def _by_mach(diameter: float, inside: float, outside: float, celsius: float) -> float:
    """Return g/s through a nozzle by the Mach number in its throat, times the discharge coefficient."""
    throat = max(inside, outside / ((GAMMA + 1.0) / 2.0) ** (GAMMA / (GAMMA - 1.0)))
    mach = math.sqrt(2.0 / (GAMMA - 1.0) * ((outside / throat) ** ((GAMMA - 1.0) / GAMMA) - 1.0))
    kelvin = (celsius + 273.15) / (1.0 + (GAMMA - 1.0) / 2.0 * mach * mach)
    density = throat * 1e3 / GAS / kelvin
    return (
        LEAK_CD * math.pi / 4.0 * diameter**2 * 1e-6 * density * mach * math.sqrt(GAMMA * GAS * kelvin) * 1e3
    )


@pytest.mark.parametrize("inside", [20.0, 33.0, 53.0, 60.0, 70.0, 85.0, 95.0, 100.0])
@pytest.mark.parametrize("diameter", [1.0, 2.0, 5.0])
def test_hole_choked_and_not(diameter: float, inside: float) -> None:
    assert hole_flow(diameter, inside, 101.325, 20.0) == pytest.approx(
        _by_mach(diameter, inside, 101.325, 20.0), rel=1e-4
    )


def test_charge_pipe_blows_out_as_much_as_the_same_hole_would_draw_in() -> None:
    assert hole_flow(3.0, 190.0, 101.0, 20.0) == pytest.approx(-_by_mach(3.0, 101.0, 190.0, 20.0), rel=1e-4)


@pytest.mark.parametrize(
    ("efficiency", "rpm", "kpa", "celsius", "flow"),
    [(0.85, 750, 35, 25, 4.34515), (0.85, 2500, 30, 30, 12.20995), (0.9, 2500, 85, 30, 36.62984)],
)
def test_speed_density(efficiency: float, rpm: float, kpa: float, celsius: float, flow: float) -> None:
    # ideal gas law, worked examples for 2 L; exhaust at intake pressure leaves the efficiency as it is
    assert breathed(2.0, rpm, kpa, celsius, kpa, efficiency) == pytest.approx(flow, rel=1e-5)
