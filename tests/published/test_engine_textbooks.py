"""Source: engine and injection textbooks (from memory): ideal gas, Bernoulli, the four-stroke cycle."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask


@pytest.mark.parametrize(
    ("ve", "litres", "rpm", "pressure", "temp", "flow"),
    [
        (85, 2.0, 750, 35, 25, 4.34515), (85, 2.0, 2500, 30, 30, 12.20995), (90, 2.0, 2500, 85, 30, 36.62984),
        (100, 2.0, 6000, 100, 20, 118.8372),
    ],
)  # fmt: skip
def test_air_flow(ve: float, litres: float, rpm: float, pressure: float, temp: float, flow: float) -> None:
    engine = {"litres": litres, "rpm": float(rpm), "pressure": float(pressure), "temp": float(temp)}
    assert ask("air_flow", ve=float(ve), **engine) == pytest.approx(flow, rel=2e-6)
    assert ask("volumetric_efficiency", maf=flow, **engine) == pytest.approx(ve, rel=2e-6)


@pytest.mark.parametrize(
    ("maf", "litres", "rpm", "pressure", "temp", "ve"),
    [(110, 2.0, 6000, 101.325, 20, 91.353), (45, 1.6, 4000, 99, 25, 72.941), (2.5, 2.0, 750, 35, 25, 48.905)],
)
def test_volumetric_efficiency(
    maf: float, litres: float, rpm: float, pressure: float, temp: float, ve: float
) -> None:
    engine = {"litres": litres, "rpm": float(rpm), "pressure": float(pressure), "temp": float(temp)}
    assert ask("volumetric_efficiency", maf=float(maf), **engine) == pytest.approx(ve, rel=1e-5)


def test_one_filling_is_what_the_gas_law_says() -> None:
    # one cylinder filling of 2 L in two revolutions: moles by pV = nRT with SciPy's constant
    moles = 100e3 * 2e-3 / (constants.R * 293.15)
    expected = moles * 28.9647 * 1000 / 120
    assert ask("air_flow", ve=100.0, litres=2.0, rpm=1000.0, pressure=100.0, temp=20.0) == pytest.approx(
        expected, rel=1e-4
    )


def test_injector_flow_by_bernoulli() -> None:
    assert ask("injector_flow", flow=200.0, dp1=300.0, dp2=350.0) == pytest.approx(216.0247, abs=5e-5)
    # 210 instead of 300 kPa: fuelling -16.3340 %, trim needed +19.5229 %
    share = ask("injector_flow", flow=1.0, dp1=300.0, dp2=210.0)
    assert 100 * (share - 1) == pytest.approx(-16.3340, abs=5e-5)
    assert 100 * (1 / share - 1) == pytest.approx(19.5229, abs=5e-5)


@pytest.mark.parametrize(
    ("gauge", "baro", "manifold", "dp"), [(235, 101, 36, 300), (380, 101, 36, 445), (380, 101, 95, 386)]
)
def test_pressure_over_the_injector(gauge: float, baro: float, manifold: float, dp: float) -> None:
    assert ask("injector_pressure", gauge=float(gauge), baro=float(baro), map=float(manifold)) == dp


def test_flow_ratio_of_a_fixed_rail() -> None:
    assert ask("injector_flow", flow=1.0, dp1=386.0, dp2=445.0) == pytest.approx(1.07371, rel=1e-5)


@pytest.mark.parametrize(("pulse", "rpm", "duty"), [(2.5, 750, 1.5625), (12, 6000, 60)])
def test_injector_duty(pulse: float, rpm: float, duty: float) -> None:
    assert ask("injector_duty", pulse=float(pulse), rpm=float(rpm)) == pytest.approx(duty, rel=1e-12)


def test_ohms_law_for_a_heater() -> None:
    assert ask("heater_load", "current", volts=12.6, ohms=6.0) == pytest.approx(2.1, rel=1e-6)
    assert ask("heater_load", "power", volts=12.6, ohms=6.0) == pytest.approx(26.46, rel=1e-6)
    assert ask("heater_load", "current", volts=13.8, ohms=14.0, duty=40.0) == pytest.approx(0.98571, rel=1e-5)
    assert ask("heater_load", "power", volts=13.8, ohms=14.0, duty=40.0) == pytest.approx(5.44114, rel=1e-6)
    assert ask("joint_resistance", drop=0.35, current=1.9) == pytest.approx(0.18421, rel=3e-5)


def test_a_joint_in_series_takes_its_share() -> None:
    # 12.40 V, heater 6.2 ohm, joint 1.5 ohm: 1.61039 A, 9.98442 V left at the heater
    current = ask("heater_load", "current", volts=12.40, ohms=6.2 + 1.5)
    assert current == pytest.approx(1.61039, rel=5e-6)
    assert ask("joint_resistance", drop=12.40 - current * 6.2, current=current) == pytest.approx(
        1.5, rel=1e-12
    )


@given(short=st.floats(-25, 25), long=st.floats(-25, 25))
def test_sum_and_product_of_trims_differ_by_their_product(short: float, long: float) -> None:
    apart = ask("combined_trim", short=short, long=long) - ask("total_trim", short=short, long=long)
    assert apart == pytest.approx(short * long / 100, abs=1e-9)


@pytest.mark.parametrize(
    ("short", "long", "total", "combined"),
    [(10, 15, 25, 26.5), (-8.59375, 4.6875, -3.90625, -4.30908), (20.3125, 12.5, 32.8125, 35.35156)],
)
def test_trims(short: float, long: float, total: float, combined: float) -> None:
    assert ask("total_trim", short=float(short), long=float(long)) == pytest.approx(total, abs=1e-9)
    assert ask("combined_trim", short=float(short), long=float(long)) == pytest.approx(combined, abs=5e-6)


def test_misfires_per_hundred_cycles() -> None:
    assert ask("misfire_rate", count=5.0, revolutions=1000.0) == pytest.approx(1.0)
    with pytest.raises(FormulaError, match="500"):
        formula("misfire_rate").compute(count=5.0, revolutions=400.0)
    with pytest.raises(FormulaError, match="250 times at most"):
        formula("misfire_rate").compute(count=251.0, revolutions=500.0)
