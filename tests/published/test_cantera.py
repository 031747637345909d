"""Source: Cantera 3 (reference library), chemical equilibrium with the thermodynamic data of `gri30.yaml`."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import cantera as ct
import pytest

from engine.formulas.fuel_types import FUELS, Fuel
from engine.formulas.gibbs import gibbs_over_rt
from engine.formulas.mixture import WATER_GAS
from engine.formulas.zirconia import equilibrium_oxygen
from tests.published.asking import ask, ask_lambda

FROZEN = 1721.0
"""Kelvin at which CO x H2O / (CO2 x H2) is 3.5."""
SPECIES = ("H2", "H", "O", "O2", "OH", "H2O", "CO", "CO2", "N", "NO", "N2", "AR", "HO2", "C")
PETROL_LIKE = (26 / 15, 0.0)
"""H/C and O/C of iso-octane and toluene in equal moles."""


@lru_cache(maxsize=1)
def _gas() -> Any:
    """Return a gas without hydrocarbons, which mimics frozen exhaust."""
    wanted = [one for one in ct.Species.list_from_file("gri30.yaml") if one.name in SPECIES]
    return ct.Solution(thermo="ideal-gas", species=wanted)


def _equilibrium(lambda_: float, h_c: float, o_c: float, kelvin: float) -> Any:
    gas = _gas()
    oxygen = (1 + h_c / 4 - o_c / 2) * lambda_
    air = oxygen / 0.2095
    gas.TPX = (
        kelvin,
        101325,
        {"C": 1, "H": h_c, "O": o_c or 1e-30, "O2": oxygen, "N2": 0.7808 * air, "AR": 0.0097 * air},
    )
    gas.equilibrate("TP", rtol=1e-12)
    return gas


def _dry(lambda_: float, h_c: float, o_c: float, kelvin: float) -> dict[str, float]:
    """Return dry exhaust gas as an analyser reads it: % of CO, CO2 and O2, ppm of NO."""
    gas = _equilibrium(lambda_, h_c, o_c, kelvin)
    dry = 1 - gas["H2O"].X[0]
    share = {name: float(gas[name].X[0] / dry) for name in ("CO", "CO2", "O2", "NO")}
    return {
        "co": 100 * share["CO"],
        "co2": 100 * share["CO2"],
        "o2": 100 * share["O2"],
        "no": 1e6 * share["NO"],
    }


def _recovered(gas: dict[str, float], h_c: float, o_c: float) -> float:
    """Return lambda by the balance for a fuel outside the list, as the formula does for one inside."""
    co, co2, o2, no = gas["co"], gas["co2"], gas["o2"], gas["no"]
    bound = (h_c / 4) * WATER_GAS / (WATER_GAS + co / co2) - o_c / 2
    return (co2 + co / 2 + o2 + no / 2e4 + bound * (co + co2)) / ((1 + h_c / 4 - o_c / 2) * (co + co2))


@pytest.mark.parametrize("true", [0.85, 0.9, 0.95, 0.97, 0.99, 1.0, 1.01, 1.03, 1.05, 1.1, 1.15, 1.2])
@pytest.mark.parametrize("fuel", ["petrol", "e5", "e10", "e85", "lpg", "cng"])
def test_lambda_is_recovered_from_gas_frozen_where_the_constant_is_3_5(fuel: str, true: float) -> None:
    gas = _dry(true, FUELS[fuel].h_c, FUELS[fuel].o_c, FROZEN)
    assert ask("lambda_from_gas", fuel=fuel, **gas) == pytest.approx(true, abs=1e-3)


@pytest.mark.parametrize(
    ("true", "co", "co2", "o2", "error_of_default"),
    [
        (0.85, 5.702, 11.836, 0.000, -0.0010),
        (0.90, 3.734, 13.122, 0.000, -0.0006),
        (0.95, 1.831, 14.380, 0.000, -0.0003),
        (1.05, 0.014, 14.796, 1.028, +0.0001),
        (1.10, 0.009, 14.086, 1.970, +0.0004),
        (1.20, 0.006, 12.849, 3.614, +0.0011),
    ],
)
def test_default_petrol_constants_fit_a_petrol_like_blend(
    true: float, co: float, co2: float, o2: float, error_of_default: float
) -> None:
    gas = _dry(true, *PETROL_LIKE, FROZEN)
    assert gas["co"] == pytest.approx(co, rel=5e-3, abs=1e-3)
    assert gas["co2"] == pytest.approx(co2, rel=5e-3)
    assert gas["o2"] == pytest.approx(o2, rel=5e-3, abs=1e-3)
    assert ask("lambda_from_gas", **gas) == pytest.approx(true + error_of_default, abs=2e-4)
    assert _recovered(gas, *PETROL_LIKE) == pytest.approx(true, abs=5e-4)


@pytest.mark.parametrize(
    ("true", "kelvin", "error"),
    [(0.90, 900.0, 0.0537), (0.95, 900.0, 0.0280), (1.05, 900.0, 0.0004), (0.85, 1500.0, 0.0093)],
)
def test_rich_gas_behind_a_hot_catalyst_reads_too_lean(true: float, kelvin: float, error: float) -> None:
    gas = _dry(true, *PETROL_LIKE, kelvin)
    assert ask("lambda_from_gas", **gas) == pytest.approx(true + error, abs=1e-3)


@pytest.mark.parametrize(
    ("fuel", "true", "error"),
    [("e10", 1.1, 0.0027), ("e85", 0.9, 0.0075), ("lpg", 1.1, 0.0143), ("cng", 1.1, 0.0400)],
)
def test_petrol_constants_on_another_fuel_err_by_a_known_amount(fuel: str, true: float, error: float) -> None:
    gas = _dry(true, FUELS[fuel].h_c, FUELS[fuel].o_c, FROZEN)
    assert ask("lambda_from_gas", **gas) == pytest.approx(true + error, abs=1e-3)


# ------------------------------------------------------------------------------------------- sensor voltage

LAMBDAS = (
    0.8,
    0.85,
    0.9,
    0.93,
    0.95,
    0.97,
    0.98,
    0.99,
    0.995,
    0.999,
    1.001,
    1.005,
    1.01,
    1.02,
    1.03,
    1.05,
    1.1,
    1.3,
    1.5,
)


@pytest.mark.parametrize("fuel", ["petrol", "e85", "cng"])
@pytest.mark.parametrize("temp", [300.0, 350.0, 500.0, 600.0, 700.0, 800.0, 900.0])
def test_sensor_voltage_at_equilibrium(fuel: str, temp: float) -> None:
    for lambda_ in LAMBDAS:
        gas = _equilibrium(lambda_, FUELS[fuel].h_c, FUELS[fuel].o_c, temp + 273.15)
        # the residual oxygen of a rich gas is far below what a mole fraction keeps; take it from potentials
        oxygen = math.exp(2 * _log_half_oxygen(gas, lambda_))
        expected = 1e3 * ct.gas_constant * (temp + 273.15) / (4 * ct.faraday) * math.log(0.2095 / oxygen)
        assert ask_lambda("sensor_voltage", lambda_, temp=temp, fuel=fuel) == pytest.approx(
            expected, abs=2.0
        ), lambda_


def _log_half_oxygen(gas: Any, lambda_: float) -> float:
    """Return ln of the root of the oxygen pressure in atm, from CO and CO2 when rich."""
    if lambda_ > 1:
        return 0.5 * math.log(gas["O2"].X[0] * gas.P / 101325)
    standard = dict(zip(gas.species_names, gas.standard_gibbs_RT, strict=True))
    constant = standard["CO"] + standard["O2"] / 2 - standard["CO2"]
    # standard_gibbs_RT is at the gas's own pressure of 1 atm
    return float(-constant) + math.log(gas["CO2"].X[0] / gas["CO"].X[0])


TABLE = """
0.900 1058.4 955.9 863.1
0.930 1045.9 940.1 844.2
0.950 1035.1 926.0 827.1
0.970 1019.6 905.3 802.0
0.980 1007.9 889.3 782.5
0.990 988.5 862.5 749.7
0.995 969.5 836.1 717.3
0.999 926.0 775.3 642.6
1.001 93.6 131.2 161.3
1.005 72.1 101.0 124.1
1.010 62.8 88.0 108.2
1.020 53.6 75.1 92.4
1.030 48.3 67.7 83.2
1.050 41.7 58.4 71.8
1.100 33.0 46.2 56.8
"""


@pytest.mark.parametrize("row", TABLE.strip().splitlines())
def test_voltage_table_of_a_petrol_of_1_85_hydrogen(row: str) -> None:
    lambda_, *expected = (float(figure) for figure in row.split())
    fuel = Fuel("CH1.85", 1.85, 0.0, 0.0, 15.0)
    for temp, millivolts in zip((350.0, 600.0, 800.0), expected, strict=True):
        scale = 1e3 * 8.314462618 * (temp + 273.15) / (4 * 96485.33212)
        own = scale * math.log(0.2095 / equilibrium_oxygen(lambda_, temp, fuel))
        assert own == pytest.approx(millivolts, abs=0.2)
        assert ask_lambda("sensor_voltage", lambda_, temp=temp) == pytest.approx(millivolts, abs=2.0)


@pytest.mark.parametrize("temp", [350.0, 600.0, 800.0])
def test_exactly_at_lambda_1_the_voltage_lies_between(temp: float) -> None:
    assert 300 < ask_lambda("sensor_voltage", 1.0, temp=temp) < 400


@pytest.mark.parametrize("species", ["H2", "O2", "H2O", "CO", "CO2"])
@pytest.mark.parametrize("kelvin", [573.15, 873.15, 1000.0, 1173.15])
def test_gibbs_energies(species: Any, kelvin: float) -> None:
    gas = _gas()
    gas.TP = kelvin, 101325
    expected = dict(zip(gas.species_names, gas.standard_gibbs_RT, strict=True))[species]
    assert gibbs_over_rt(species, kelvin) == pytest.approx(expected, abs=1e-4)


# ---------------------------------------------------------------------------------------------- stoichiometry


@pytest.mark.parametrize(
    ("species", "h_c", "o_c"), [("C3H8", 8 / 3, 0.0), ("CH4", 4.0, 0.0), ("CH3OH", 4.0, 1.0)]
)
def test_stoichiometric_air_fuel_ratio(species: str, h_c: float, o_c: float) -> None:
    gas = ct.Solution("gri30.yaml")
    expected = gas.stoich_air_fuel_ratio(species, "O2:0.2095, N2:0.7808, AR:0.0097", basis="mole")
    assert ask("stoich_afr", h_c=h_c, o_c=o_c) == pytest.approx(expected, rel=1e-4)
