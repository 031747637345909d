"""The zirconia oxygen sensor: cell voltage, and what the cell gives at equilibrium for a lambda."""

from __future__ import annotations

import math

from engine.formulas.declaring import Argument, Formula, Result, Results, Value
from engine.formulas.fuel_types import FUELS, INERT_PER_OXYGEN, Fuel, fuel_argument
from engine.formulas.gibbs import GAS_CONSTANT, splitting_constants

FARADAY = 96485.33212
"""C/mol, CODATA 2018."""
ZERO_CELSIUS = 273.15
REFERENCE_OXYGEN = 0.2095
"""Oxygen in dry reference air, atm at 1 atm (0.205 to 0.208 when humid)."""
_LOWEST_LOG = -60.0
_HALVINGS = 60


def _millivolts_per_e(temp: float) -> float:
    """Return RT/4F in mV at a tip temperature in degC."""
    return 1e3 * GAS_CONSTANT * (temp + ZERO_CELSIUS) / (4.0 * FARADAY)


def nernst_emf(o2_reference: float, o2_exhaust: float, temp: float) -> Results:
    """Return the voltage of an oxygen concentration cell in mV, and its slope in mV per decade.

    Args:
        o2_reference: oxygen partial pressure on the reference side, atm (a fraction at 1 atm).
        o2_exhaust: equilibrium oxygen partial pressure on the exhaust side, atm.
        temp: temperature of the tip, degC.
    Source: the concentration-cell (Nernst) equation; D. S. Eddy, "Physical principles of the zirconia exhaust
        gas sensor", IEEE Trans. Veh. Technol. (1974), title and abstract seen, year from memory.
    """
    scale = _millivolts_per_e(temp)
    return {"emf": scale * math.log(o2_reference / o2_exhaust), "slope": scale * math.log(10.0)}


def equilibrium_oxygen(lambda_: float, temp: float, fuel: Fuel) -> float:
    """Return the equilibrium oxygen partial pressure of exhaust gas at 1 atm, in atm.

    Per carbon atom the oxygen balance reads 2 O2 - CO - H2 = 2 x need x (lambda - 1), where CO and H2 follow
    from the oxygen pressure by the two splitting constants. The left side grows with that pressure, so its
    logarithm is found by halving. Written this way nothing cancels near lambda 1.

    Args:
        lambda_: air over the air the fuel needs.
        temp: temperature of the tip, degC.
        fuel: the fuel.
    Source: derived; radicals and nitric oxide are left out (under 0.1 mV up to 900 degC).
    """
    split_carbon, split_water = splitting_constants(temp + ZERO_CELSIUS)
    water = fuel.h_c / 2.0
    rest = 1.0 + water + fuel.oxygen_need * lambda_ * INERT_PER_OXYGEN
    wanted = 2.0 * fuel.oxygen_need * (lambda_ - 1.0)

    def excess(log_pressure: float) -> float:
        pressure: float = 10.0**log_pressure
        root = math.sqrt(pressure)
        monoxide = split_carbon / (split_carbon + root)
        hydrogen = water * split_water / (split_water + root)
        return 2.0 * rest * pressure / (1.0 - pressure) - monoxide - hydrogen - wanted

    low, high = _LOWEST_LOG, -0.1
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if excess(middle) < 0.0:
            low = middle
        else:
            high = middle
    return float(10.0 ** ((low + high) / 2.0))


def sensor_voltage(**values: Value) -> Results:
    """Return the voltage in mV a zirconia sensor gives at equilibrium.

    Args:
        **values: ``lambda`` 0.8 to 1.5; ``temp`` of the tip 300 to 900 degC; ``fuel`` (petrol).
    Source: derived: chemical equilibrium at the platinum electrode with published thermodynamic data (see
        ``gibbs``), then the concentration-cell equation.
    """
    temp = float(values["temp"])
    fuel = FUELS[str(values.get("fuel", "petrol"))]
    oxygen = equilibrium_oxygen(float(values["lambda"]), temp, fuel)
    return {"emf": _millivolts_per_e(temp) * math.log(REFERENCE_OXYGEN / oxygen)}


FORMULAS = (
    Formula(
        "nernst_emf",
        "voltage of a zirconia oxygen cell",
        (
            Argument("o2_reference", "", "oxygen fraction of the reference air", low=1e-60, high=1),
            Argument("o2_exhaust", "", "equilibrium oxygen fraction of the exhaust", low=1e-60, high=1),
            Argument("temp", "°C", "temperature of the sensor tip", low=300, high=1000),
        ),
        (
            Result("emf", "mV", "voltage of the cell"),
            Result("slope", "mV/decade", "change for ten times the oxygen"),
        ),
        "tip 300 to 1000 °C; below about 600 °C only a guide: the electrode no longer reaches equilibrium",
        "published: the concentration-cell equation; a paper of 1974 on the exhaust sensor",
        nernst_emf,
    ),
    Formula(
        "sensor_voltage",
        "voltage of a switching oxygen sensor at a lambda",
        (
            Argument("lambda", "", "air over the air the fuel needs", low=0.8, high=1.5),
            Argument("temp", "°C", "temperature of the sensor tip", low=300, high=900),
            fuel_argument(),
        ),
        (Result("emf", "mV", "voltage at equilibrium"),),
        "lambda 0.8 to 1.5, tip 300 to 900 °C; below about 600 °C only a guide; exactly at lambda 1 "
        "the voltage is anything between rich and lean",
        "derived: equilibrium of CO, H2 and O2 from GRI-Mech 3.0 thermodynamic data, then Nernst",
        sensor_voltage,
    ),
)
