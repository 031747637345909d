"""Source: textbook compressible flow of a perfect gas through an orifice (from memory); peak by SciPy."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from engine.formulas.air import CHOKED, CRITICAL_RATIO
from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask


def _subsonic(ratio: float) -> float:
    return math.sqrt(2 * 1.4 / 0.4 * (ratio ** (2 / 1.4) - ratio ** (2.4 / 1.4)))


def test_the_choked_flow_is_the_greatest_of_the_subsonic_expression() -> None:
    peak = minimize_scalar(
        lambda ratio: -_subsonic(ratio), bounds=(0.3, 0.9), method="bounded", options={"xatol": 1e-10}
    )
    assert pytest.approx(peak.x, abs=1e-6) == CRITICAL_RATIO
    assert pytest.approx(-peak.fun, abs=1e-9) == CHOKED
    assert pytest.approx(0.528282, abs=5e-7) == CRITICAL_RATIO
    assert pytest.approx(0.684731, abs=5e-7) == CHOKED


@pytest.mark.parametrize(
    ("hole", "manifold", "flow"),
    [(1.5, 35, 0.33812), (3.0, 35, 1.35249), (3.0, 60, 1.34027), (3.0, 85, 1.01993), (5.0, 95, 1.87270)],
)
def test_flow_through_a_hole(hole: float, manifold: float, flow: float) -> None:
    assert ask("leak_flow", hole=hole, map=manifold, baro=101.325, temp=20.0, cd=0.8) == pytest.approx(
        flow, rel=2e-5
    )


def test_flow_by_the_textbook_expression_in_si_units() -> None:
    area = math.pi / 4 * 0.004**2
    expected = 0.7 * area * 95e3 / math.sqrt(287.05 * 303.15) * _subsonic(80 / 95) * 1e3
    assert ask("leak_flow", hole=4.0, map=80.0, baro=95.0, temp=30.0, cd=0.7) == pytest.approx(
        expected, rel=1e-12
    )


@given(manifold=st.floats(5, 101))
def test_flow_never_grows_when_the_vacuum_falls(manifold: float) -> None:
    assert ask("leak_flow", hole=3.0, map=manifold + 0.3) <= ask("leak_flow", hole=3.0, map=manifold) + 1e-12


def test_no_vacuum_no_flow_and_boost_is_refused() -> None:
    assert ask("leak_flow", hole=3.0, map=101.325) == 0.0
    with pytest.raises(FormulaError, match="blows out"):
        formula("leak_flow").compute(hole=3.0, map=150.0)


@pytest.mark.parametrize(
    ("trim1", "air1", "trim2", "air2", "additive", "proportional"),
    [(15.640, 2.16188, 4.413, 7.66188, 0.3381, 0.0), (17.65, 2.5, 17.65, 30.0, 0.0, 17.65)],
)
def test_two_operating_points_part_the_leak_from_the_scale(
    trim1: float, air1: float, trim2: float, air2: float, additive: float, proportional: float
) -> None:
    points = {"trim1": trim1, "air1": air1, "trim2": trim2, "air2": air2}
    assert ask("leak_from_trims", "additive", **points) == pytest.approx(additive, abs=5e-5)
    assert ask("leak_from_trims", "proportional", **points) == pytest.approx(proportional, abs=5e-3)


def test_a_leak_of_a_millimetre_and_a_half_is_found_again() -> None:
    points = {"trim1": 15.640, "air1": 2.16188, "trim2": 4.413, "air2": 7.66188}
    assert ask("leak_from_trims", "hole", **points) == pytest.approx(1.5, abs=0.001)


@given(hole=st.floats(0.2, 10), manifold=st.floats(20, 95), scale=st.floats(-20, 20), air=st.floats(2, 5))
def test_hole_to_trims_to_hole(hole: float, manifold: float, scale: float, air: float) -> None:
    leak = ask("leak_flow", hole=hole, map=manifold)
    trims = [scale + 100 * leak / flow for flow in (air, 4 * air)]
    if max(trims) > 99:
        return
    points = {"trim1": trims[0], "air1": air, "trim2": trims[1], "air2": 4 * air, "map": manifold}
    assert ask("leak_from_trims", "hole", **points) == pytest.approx(hole, rel=1e-6)
    assert ask("leak_from_trims", "proportional", **points) == pytest.approx(scale, abs=1e-6)


def test_fuel_that_is_added_needs_no_hole() -> None:
    # 0.030 g/s fuel vapour and 0.10 g/s air from the purge: trims -13.96 and -4.24 %
    found = formula("leak_from_trims").compute(trim1=-13.96, air1=2.4, trim2=-4.24, air2=7.9)
    assert float(found["additive"]) < 0
    assert found["hole"] == 0.0


def test_one_point_twice_is_refused() -> None:
    with pytest.raises(FormulaError, match="two different air flows"):
        formula("leak_from_trims").compute(trim1=10.0, air1=3.0, trim2=5.0, air2=3.0)
    with pytest.raises(FormulaError, match="without vacuum"):
        formula("leak_from_trims").compute(trim1=10.0, air1=3.0, trim2=5.0, air2=9.0, map=101.325)
