"""What comes out of the cylinders: gas by element balance with water gas frozen, misfire, air."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from engine.car.settled import Flow, Gas
from engine.formulas.fuel_types import INERT_PER_OXYGEN, Fuel
from engine.formulas.gibbs import splitting_constants
from engine.formulas.zirconia import ZERO_CELSIUS, equilibrium_oxygen

FREEZE_KELVIN = 1721.0
"""Temperature at which the gas freezes: there CO x H2O / (CO2 x H2) is 3.5, as the balance formula has it."""
PETROL_H_C, PETROL_DENSITY = 1.855, 745.0
"""Hydrogen per carbon and kg/m3 of the petrol that ethanol is blended into."""
ETHANOL_DENSITY = 789.3
CARBON, HYDROGEN, OXYGEN, AIR = 12.011, 1.008, 15.999, 28.9647
"""Grams per mole."""
AIR_OXYGEN = 0.2095
UNEVEN = 0.06
"""Standard deviation of lambda from place to place in one charge: makes the CO of a stoichiometric engine."""
_NODES = ((0.0, 0.533333), (1.355626, 0.222076), (-1.355626, 0.222076), (2.85697, 0.0112575))
_LEAST, _MOST, _STEP = 0.6, 1.9, 0.005
"""Table of real charges; what is too much fuel for 0.6 leaves unburnt."""


@lru_cache(maxsize=128)
def blend(ethanol: float) -> Fuel:
    """Return petrol with *ethanol* % by volume as atoms.

    Source: derived from CH1.855 petrol of 745 kg/m3 and ethanol of 789.3 kg/m3 (from memory).
    """
    share = ethanol / 100.0
    petrol = (1.0 - share) * PETROL_DENSITY / (CARBON + HYDROGEN * PETROL_H_C)
    alcohol = share * ETHANOL_DENSITY / (CARBON + 3.0 * HYDROGEN + 0.5 * OXYGEN)
    whole = petrol + alcohol
    h_c, o_c = (petrol * PETROL_H_C + 3.0 * alcohol) / whole, 0.5 * alcohol / whole
    return Fuel(f"{ethanol:g} % ethanol", h_c, o_c, o_c, 15.0)


def blend_density(ethanol: float) -> float:
    """Return kg/m3 of petrol with *ethanol* % by volume."""
    return PETROL_DENSITY + (ETHANOL_DENSITY - PETROL_DENSITY) * ethanol / 100.0


def grams_per_carbon(fuel: Fuel) -> float:
    """Return grams of fuel that hold one mole of carbon."""
    return CARBON + HYDROGEN * fuel.h_c + OXYGEN * fuel.o_c


@lru_cache(maxsize=128)
def stoichiometric(fuel: Fuel) -> float:
    """Return grams of air that burn one gram of fuel."""
    return fuel.oxygen_need / AIR_OXYGEN * AIR / grams_per_carbon(fuel)


def frozen(lambda_: float, fuel: Fuel, kelvin: float = FREEZE_KELVIN) -> Flow:
    """Return the burnt gas of one mole of carbon, all mixed, frozen at *kelvin*.

    Source: derived: equilibrium of CO, H2 and O2 with published thermodynamic data, then element balance.
    """
    root = equilibrium_oxygen(lambda_, kelvin - ZERO_CELSIUS, fuel) ** 0.5
    split_carbon, split_water = splitting_constants(kelvin)
    return balance(
        lambda_,
        fuel,
        split_carbon / (split_carbon + root),
        fuel.h_c / 2.0 * split_water / (split_water + root),
    )


def balance(lambda_: float, fuel: Fuel, monoxide: float, hydrogen: float) -> Flow:
    """Return the gas of one mole of carbon with so much CO and H2; the rest follows from the atoms."""
    oxygen = fuel.oxygen_need * (lambda_ - 1.0) + (monoxide + hydrogen) / 2.0
    return Flow(
        co=monoxide,
        co2=1.0 - monoxide,
        h2=hydrogen,
        h2o=fuel.h_c / 2.0 - hydrogen,
        o2=oxygen,
        inert=fuel.oxygen_need * lambda_ * INERT_PER_OXYGEN,
    )


@lru_cache(maxsize=128)
def _table(fuel: Fuel) -> tuple[tuple[float, float], ...]:
    """Return CO and H2 per carbon atom over lambda, averaged over the unevenness of a charge."""
    count = round((_MOST - _LEAST) / _STEP)
    margin = round(3.0 * UNEVEN / _STEP) + 1
    even = [
        (flow.co, flow.h2)
        for flow in (frozen(_LEAST + _STEP * i, fuel) for i in range(-margin, count + margin + 1))
    ]
    table = []
    for place in range(margin, margin + count + 1):
        sums = [0.0, 0.0]
        for node, weight in (*_NODES, (-2.85697, 0.0112575)):
            steps = place + node * UNEVEN / _STEP
            low = int(steps)
            part = steps - low
            for kind in (0, 1):
                sums[kind] += weight * (even[low][kind] * (1.0 - part) + even[low + 1][kind] * part)
        table.append((sums[0], sums[1]))
    return tuple(table)


def burnt(lambda_: float, fuel: Fuel) -> Flow:
    """Return the gas of one mole of carbon burnt in a real, uneven charge."""
    table = _table(fuel)
    steps = (min(max(lambda_, _LEAST), _MOST) - _LEAST) / _STEP
    low = min(int(steps), len(table) - 2)
    part = steps - low
    monoxide = table[low][0] * (1.0 - part) + table[low + 1][0] * part
    hydrogen = table[low][1] * (1.0 - part) + table[low + 1][1] * part
    return balance(max(lambda_, _LEAST), fuel, monoxide, hydrogen)


def cylinder_gas(lambda_: float, fuel: Fuel, misfire: float, unburnt: float, nitric_ppm: float) -> Flow:
    """Return the gas of one mole of carbon: burnt, left over in crevices, lost in missed cycles, with its NO.

    Args:
        lambda_: air over the air its fuel needs.
        fuel: the fuel.
        misfire: share of cycles that do not burn, 0 to 1.
        unburnt: share of the fuel a burning cycle leaves unburnt.
        nitric_ppm: NO of the dry gas of burning cycles at the mixture that makes the most of it, ppm.
    """
    part = max(unburnt * (1.0 + 2.0 * max(0.0, 1.0 - lambda_)), 1.0 - lambda_ / _LEAST)
    gas = burnt(lambda_ / (1.0 - part), fuel)
    works = (1.0 - misfire) * (1.0 - part)
    lost = misfire * fuel.oxygen_need * lambda_
    ratio = (lambda_ - 1.06) / 0.12
    nitric = (
        nitric_ppm * 1e-6 * works * (gas.inert + gas.co2 + gas.o2) * 2.718281828459045 ** (-ratio * ratio)
    )
    nitric = min(nitric, max(works * gas.o2, 0.0))
    return Flow(
        co=works * gas.co,
        co2=works * gas.co2,
        h2=works * gas.h2,
        h2o=works * gas.h2o,
        o2=works * gas.o2 + lost - nitric / 2.0,
        inert=works * gas.inert + lost * INERT_PER_OXYGEN - nitric / 2.0,
        no=nitric,
        fuel=misfire + (1.0 - misfire) * part,
    )


def raw_charge(lambda_: float, fuel: Fuel) -> Flow:
    """Return a charge of one mole of carbon that has not burnt."""
    oxygen = fuel.oxygen_need * lambda_
    return Flow(o2=oxygen, inert=oxygen * INERT_PER_OXYGEN, fuel=1.0)


def add(flows: Iterable[tuple[float, Flow]]) -> Flow:
    """Return the sum of flows, each times its factor."""
    sums = [0.0] * 8
    for factor, flow in flows:
        for place, moles in enumerate(flow):
            sums[place] += factor * moles
    return Flow(*sums)


def air_flow(grams: float) -> Flow:
    """Return dry air as moles."""
    moles = grams / AIR
    return Flow(o2=moles * AIR_OXYGEN, inert=moles * (1.0 - AIR_OXYGEN))


def dry(flow: Flow) -> Gas:
    """Return what an analyser shows of the gas; hydrocarbons as hexane, six carbon atoms each."""
    hexane = flow.fuel / 6.0
    whole = flow.co + flow.co2 + flow.h2 + flow.o2 + flow.inert + flow.no + hexane
    share = 100.0 / whole
    return Gas(
        flow.co * share,
        flow.co2 * share,
        flow.o2 * share,
        flow.h2 * share,
        hexane * share * 1e4,
        flow.no * share * 1e4,
    )


def atoms(flow: Flow, fuel: Fuel) -> tuple[float, float, float, float]:
    """Return the moles of carbon, hydrogen, oxygen and (twice the) inert atoms in a flow."""
    return (
        flow.co + flow.co2 + flow.fuel,
        2.0 * (flow.h2 + flow.h2o) + fuel.h_c * flow.fuel,
        flow.co + 2.0 * flow.co2 + flow.h2o + 2.0 * flow.o2 + flow.no + fuel.o_c * flow.fuel,
        2.0 * flow.inert + flow.no,
    )


def true_lambda(flow: Flow, fuel: Fuel) -> float:
    """Return lambda of a gas from its atoms alone."""
    carbon, _, oxygen, _ = atoms(flow, fuel)
    water = carbon * fuel.h_c / 2.0
    return 1.0 + (oxygen - 2.0 * carbon - water) / (2.0 * fuel.oxygen_need * carbon)
