"""Source: Cantera 3 (reference library), equilibrium and heats with the data of `gri30.yaml`."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import cantera as ct
import pytest

from engine.car.catalyst import FUEL_HEAT, Conversion, convert, heat_rise
from engine.car.exhaust import blend, cylinder_gas, dry, frozen
from engine.car.settled import Flow
from engine.car.zirconia_cell import cell_volts
from engine.formulas.fuel_types import Fuel
from engine.formulas.mixture import lambda_from_gas

FROZEN = 1721.0
SPECIES = ("H2", "H", "O", "O2", "OH", "H2O", "CO", "CO2", "N", "NO", "N2", "AR", "HO2", "C")
LAMBDAS = (0.85, 0.88, 0.9, 0.95, 0.97, 0.99, 1.0, 1.01, 1.03, 1.05, 1.1, 1.15, 1.2)


@lru_cache(maxsize=1)
def _gas() -> Any:
    wanted = [one for one in ct.Species.list_from_file("gri30.yaml") if one.name in SPECIES]
    return ct.Solution(thermo="ideal-gas", species=wanted)


def _equilibrium(lambda_: float, fuel: Fuel, kelvin: float) -> Any:
    gas = _gas()
    oxygen = fuel.oxygen_need * lambda_
    air = oxygen / 0.2095
    gas.TPX = (
        kelvin,
        101325,
        {
            "C": 1,
            "H": fuel.h_c,
            "O": fuel.o_c or 1e-30,
            "O2": oxygen,
            "N2": 0.7808 * air,
            "AR": 0.0097 * air,
        },
    )
    gas.equilibrate("TP", rtol=1e-12)
    return gas


@pytest.mark.parametrize("lambda_", LAMBDAS)
@pytest.mark.parametrize("ethanol", [0.0, 5.0, 10.0, 85.0])
def test_burnt_gas_is_that_of_equilibrium_frozen_at_1721_kelvin(lambda_: float, ethanol: float) -> None:
    fuel = blend(ethanol)
    gas = _equilibrium(lambda_, fuel, FROZEN)
    water = 1.0 - gas["H2O"].X[0]
    ours = dry(frozen(lambda_, fuel))
    for name, shown in (("CO", ours.co), ("CO2", ours.co2), ("O2", ours.o2)):
        assert shown == pytest.approx(100.0 * gas[name].X[0] / water, abs=0.15), name


@pytest.mark.parametrize("lambda_", LAMBDAS)
def test_lambda_of_the_gas_of_a_real_charge_comes_back(lambda_: float) -> None:
    # the exhaust gas balance published in 1979, with the constants of the fuel that was burnt
    for misfire in (0.0, 0.05):
        gas = dry(cylinder_gas(lambda_, blend(5.0), misfire, 0.006, 500.0))
        found = lambda_from_gas(gas.co, gas.co2, gas.o2, gas.hc, gas.no, fuel="e5")["lambda"]
        assert found == pytest.approx(lambda_, abs=0.004)
        assert gas.lambda_ == pytest.approx(lambda_, abs=0.008)  # with the usual constants of the instrument


@pytest.mark.parametrize("lambda_", [0.9, 0.93, 0.95, 0.97, 0.98, 1.02, 1.03, 1.05, 1.1])
@pytest.mark.parametrize("tip_c", [600.0, 700.0, 800.0])
def test_cell_volts_are_those_of_equilibrium(lambda_: float, tip_c: float) -> None:
    gas = _equilibrium(lambda_, blend(5.0), tip_c + 273.15)
    volts = ct.gas_constant / 1e3 * (tip_c + 273.15) / (4.0 * 96485.33) * math.log(0.2095 / gas["O2"].X[0])
    assert cell_volts(lambda_, tip_c) == pytest.approx(volts, abs=0.005)


@pytest.mark.parametrize(
    ("co", "h2", "celsius"),
    [(1.0, 0.0, 400.0), (0.5, 0.0, 400.0), (2.0, 0.0, 600.0), (1.0, 0.333, 400.0)],
)
def test_catalyst_heat_of_carbon_monoxide_and_hydrogen(co: float, h2: float, celsius: float) -> None:
    before = Flow(co=co, co2=13.0, h2=h2, h2o=13.0, o2=2.0, inert=100.0 - 28.0 - co - h2)
    after = convert(before, blend(5.0), Conversion(1.0, 1.0, 0.0))
    gas = _gas()
    gas.TPX = (
        celsius + 273.15,
        101325,
        {"CO": co, "CO2": 13, "H2": h2, "H2O": 13, "O2": 2, "N2": before.inert},
    )
    enthalpy, moles = gas.enthalpy_mole, 100.0
    gas.TPX = (
        celsius + 273.15,
        101325,
        {
            "CO": after.co,
            "CO2": after.co2,
            "H2": after.h2,
            "H2O": after.h2o,
            "O2": after.o2,
            "N2": after.inert,
        },
    )
    left = sum((after.co, after.co2, after.h2, after.h2o, after.o2, after.inert))
    gas.HP = enthalpy * moles / left / gas.mean_molecular_weight, 101325
    assert heat_rise(before, after, celsius) == pytest.approx(gas.T - celsius - 273.15, rel=0.01)


@pytest.mark.parametrize(
    ("co", "h2", "celsius", "rise"),
    [
        (1.0, 0.0, 400.0, 82.89),
        (0.5, 0.0, 400.0, 41.70),
        (2.0, 0.0, 600.0, 155.60),
        (1.0, 0.333, 400.0, 106.56),
    ],
)
def test_catalyst_heat_of_the_reference_sheet(co: float, h2: float, celsius: float, rise: float) -> None:
    # values worked out with the same library for 13 % CO2 and 13 % H2O, oxygen enough
    before = Flow(co=co, co2=13.0, h2=h2, h2o=13.0, o2=2.0, inert=100.0 - 28.0 - co - h2)
    after = convert(before, blend(5.0), Conversion(1.0, 1.0, 0.0))
    assert heat_rise(before, after, celsius) == pytest.approx(rise, rel=0.01)


def test_heat_of_unburnt_fuel_is_between_propane_and_benzene_per_carbon_atom() -> None:
    # lower heating values, handbook: propane 2044 kJ/mol, benzene 3169 kJ/mol
    assert 3169e3 / 6.0 < FUEL_HEAT < 2044e3 / 3.0
