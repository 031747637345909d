"""The catalyst: what it burns and reduces with the oxygen at hand, and the heat that makes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from engine.car.exhaust import true_lambda
from engine.car.settled import Flow
from engine.formulas.fuel_types import Fuel
from engine.formulas.gibbs import GAS_CONSTANT, Species, gibbs_over_rt
from engine.formulas.zirconia import ZERO_CELSIUS

FUEL_HEAT = 601e3
"""J set free by burning petrol of one mole of carbon: 43.2 MJ/kg x 13.9 g (handbook value, from memory)."""
REDUCES_BELOW = 1.004
"""Lambda above which NO passes (common practice)."""
_NITROGEN = (
    (3.298677, 1.4082404e-3, -3.963222e-6, 5.641515e-9, -2.444854e-12),
    (2.92664, 1.4879768e-3, -5.68476e-7, 1.0097038e-10, -6.753351e-15),
)
"""cp/R of nitrogen below and above 1000 K: GRI-Mech 3.0 thermodynamic data."""


@dataclass(frozen=True, slots=True)
class Conversion:
    """Share of each gas the catalyst converts when the oxygen suffices, 0 to 1."""

    burning: float
    hydrocarbons: float
    nitric: float


@lru_cache(maxsize=64)
def enthalpy(species: Species, kelvin: float) -> float:
    """Return the enthalpy of a species, J/mol, elements at 298.15 K as zero.

    Source: derived: Gibbs-Helmholtz, H = -R T^2 d(G/RT)/dT, on published thermodynamic data.
    """
    slope = (gibbs_over_rt(species, kelvin + 0.5) - gibbs_over_rt(species, kelvin - 0.5)) / 1.0
    return -GAS_CONSTANT * kelvin * kelvin * slope


@lru_cache(maxsize=64)
def _heats(celsius: float) -> tuple[float, float, tuple[float, ...]]:
    """Return the heat of burning a mole of CO and of H2, J, and cp of CO, CO2, H2, H2O, O2, N2, J/(mol K)."""
    kelvin = celsius + ZERO_CELSIUS
    half = enthalpy("O2", kelvin) / 2.0
    carbon = enthalpy("CO", kelvin) + half - enthalpy("CO2", kelvin)
    water = enthalpy("H2", kelvin) + half - enthalpy("H2O", kelvin)
    named: tuple[Species, ...] = ("CO", "CO2", "H2", "H2O", "O2")
    capacities = [(enthalpy(name, kelvin + 40.0) - enthalpy(name, kelvin - 40.0)) / 80.0 for name in named]
    poly = _NITROGEN[kelvin > 1000.0]
    capacities.append(GAS_CONSTANT * sum(a * kelvin**power for power, a in enumerate(poly)))
    return carbon, water, tuple(capacities)


def heat_rise(before: Flow, after: Flow, celsius: float) -> float:
    """Return by how many K the gas warms between two compositions, no heat lost.

    Args:
        before: gas at the inlet.
        after: gas at the outlet, of the same charge.
        celsius: inlet temperature, degC; heats and capacities are taken there, then half a rise higher.
    """
    rise = 0.0
    for _ in range(2):
        carbon, water, cp = _heats(float(round(celsius + rise / 2.0, -1)))
        heat = (
            carbon * (before.co - after.co)
            + water * (before.h2 - after.h2)
            + FUEL_HEAT * (before.fuel - after.fuel)
        )
        gases = (after.co, after.co2, after.h2, after.h2o, after.o2, after.inert + after.no)
        rise = heat / sum(moles * capacity for moles, capacity in zip(gases, cp, strict=True))
    return rise


def convert(gas: Flow, fuel: Fuel, share: Conversion) -> Flow:
    """Return the gas behind the catalyst; every atom that goes in comes out.

    NO is reduced by CO first, then CO, H2 and hydrocarbons burn, all short alike when the oxygen runs out.
    """
    nitric = share.nitric * gas.no if true_lambda(gas, fuel) <= REDUCES_BELOW else 0.0
    nitric = min(nitric, gas.co)
    co = gas.co - nitric
    wanted = share.burning * (co + gas.h2) / 2.0 + share.hydrocarbons * gas.fuel * fuel.oxygen_need
    part = min(1.0, gas.o2 / wanted) if wanted > 0.0 else 0.0
    burnt_co, burnt_h2 = part * share.burning * co, part * share.burning * gas.h2
    burnt_fuel = part * share.hydrocarbons * gas.fuel
    return Flow(
        co=co - burnt_co,
        co2=gas.co2 + nitric + burnt_co + burnt_fuel,
        h2=gas.h2 - burnt_h2,
        h2o=gas.h2o + burnt_h2 + burnt_fuel * fuel.h_c / 2.0,
        o2=gas.o2 - part * wanted,
        inert=gas.inert + nitric / 2.0,
        no=gas.no - nitric,
        fuel=gas.fuel - burnt_fuel,
    )
