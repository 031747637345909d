"""The mixture: lambda from the exhaust gas, lambda and air-fuel ratio, corrections for diluted samples."""

from __future__ import annotations

from engine.formulas.declaring import Argument, Formula, FormulaError, Result, Results, Value
from engine.formulas.fuel_types import FUELS, fuel_argument

WATER_GAS = 3.5
"""CO and H2O over CO2 and H2 at the temperature where the composition freezes (about 1720 K)."""
CARBON_ATOMS = {"hexane": 6.0, "propane": 6.0, "carbon": 1.0}
"""Carbon atoms per molecule of the HC reading; propane is turned into hexane first."""
LEAST_CO2 = 1.0
LEAST_CARBON = 6.0
MOST_CARBON = 20.0
CARBON_MASS, HYDROGEN_MASS, OXYGEN_MASS = 12.011, 1.008, 15.999
AIR_PER_OXYGEN = 28.9647 / 0.2095
"""Grams of dry air that bring one mole of oxygen."""


def lambda_from_gas(
    co: float,
    co2: float,
    o2: float,
    hc: float = 0.0,
    no: float = 0.0,
    fuel: str = "petrol",
    hc_as: str = "hexane",
    pef: float = 0.52,
) -> Results:
    """Return lambda from dry exhaust gas readings by the carbon, hydrogen and oxygen balance.

    Args:
        co: carbon monoxide, % vol.
        co2: carbon dioxide, % vol, 1 or more.
        o2: oxygen, % vol; the zero may have drifted to -0.3.
        hc: hydrocarbons, ppm of what *hc_as* says.
        no: nitric oxide, ppm; 0 for a four-gas analyser.
        fuel: the fuel.
        hc_as: what the HC display is in: hexane, propane or single carbon atoms.
        pef: hexane per propane as printed on the analyser, used with propane.

    Raises:
        FormulaError: CO2 below 1 %, or CO + CO2 below 6 % or above 20 %.
    Source: J. Brettschneider, Bosch Technische Berichte 6 (1979) no. 4, 177-186 (citation and structure
        seen in published text); fuel constants from memory of UN Regulation 83, 5.3.7.3. K = 3.5; six
        carbon atoms per hexane.
    """
    _whole_sample(co, co2)
    if co2 < LEAST_CO2:
        raise FormulaError(f"co2 is {co2:g} %: below {LEAST_CO2:g} % the balance is not meaningful")
    atoms = FUELS[fuel]
    hydrocarbons = hc * (pef if hc_as == "propane" else 1.0) * CARBON_ATOMS[hc_as] / 1e4
    carbon = co + co2
    bound = (atoms.h_c / 4.0) * WATER_GAS / (WATER_GAS + co / co2) - atoms.o_c / 2.0
    oxygen = co2 + co / 2.0 + o2 + no / 2e4 + bound * carbon
    return {"lambda": oxygen / (atoms.oxygen_need * (carbon + hydrocarbons))}


def _whole_sample(co: float, co2: float) -> None:
    if co + co2 < LEAST_CARBON:
        raise FormulaError(
            f"co + co2 is {co + co2:g} %: below {LEAST_CARBON:g} % the sample is not valid (diluted)"
        )
    if co + co2 > MOST_CARBON:
        raise FormulaError(f"co + co2 is {co + co2:g} %: no exhaust gas has more than {MOST_CARBON:g} %")


def co_corrected(co: float, co2: float, fuel: str = "petrol") -> Results:
    """Return CO of the undiluted sample, % vol; unchanged when the sample is not diluted.

    Args:
        co: carbon monoxide, % vol.
        co2: carbon dioxide, % vol.
        fuel: decides what CO + CO2 counts as undiluted: 15 % petrol, 13.5 % lpg, 11.5 % cng.

    Raises:
        FormulaError: CO + CO2 below 6 % or above 20 %.
    Source: from memory of UN Regulation 83, idle test annex; 6 % from memory of 40 CFR 51 subpart S.
    """
    _whole_sample(co, co2)
    return {"co": co * max(FUELS[fuel].whole_carbon / (co + co2), 1.0)}


def dilution_limit(fuel: str = "petrol") -> Results:
    """Return the least CO + CO2 in % of an undiluted sample: 0.91 x the fuel's greatest dry CO2.

    Source: the greatest CO2 derived from the fuel's atoms; the factor 0.91 is common practice.
    """
    return {"limit": 0.91 * FUELS[fuel].greatest_co2}


def stoich_afr(fuel: str | None = None, h_c: float | None = None, o_c: float | None = None) -> Results:
    """Return the stoichiometric air-fuel ratio by mass.

    Args:
        fuel: a fuel by name, or
        h_c: hydrogen atoms per carbon atom, with
        o_c: oxygen atoms per carbon atom (none when left out).

    Raises:
        FormulaError: neither or both ways given, or more oxygen than the fuel can burn with.
    Source: derived from atomic weights; air 20.95 % oxygen, 28.9647 g/mol, from memory of ISO 2533.
    """
    if (fuel is None) == (h_c is None):
        raise FormulaError("give either fuel, or h_c and o_c of any fuel of carbon, hydrogen and oxygen")
    if fuel is not None and o_c is not None:
        raise FormulaError("o_c belongs to h_c: leave it out when a fuel is named")
    hydrogen = FUELS[fuel].h_c if fuel is not None else (h_c or 0.0)
    oxygen = FUELS[fuel].stoich_o_c if fuel is not None else (o_c or 0.0)
    need = 1.0 + hydrogen / 4.0 - oxygen / 2.0
    if need <= 0.0:
        raise FormulaError(f"o_c is {oxygen:g}: a fuel with so much oxygen needs no air; write less")
    return {"afr": need * AIR_PER_OXYGEN / (CARBON_MASS + HYDROGEN_MASS * hydrogen + OXYGEN_MASS * oxygen)}


def _ratio(fuel: str, stoich: float | None) -> float:
    return float(stoich_afr(fuel)["afr"]) if stoich is None else stoich


def lambda_from_afr(afr: float, fuel: str = "petrol", stoich: float | None = None) -> Results:
    """Return lambda of an air-fuel ratio by mass: afr over the stoichiometric ratio.

    Args:
        afr: air-fuel ratio by mass.
        fuel: the fuel, for its stoichiometric ratio.
        stoich: another stoichiometric ratio, such as the 14.7 that many gauges count with.
    Source: definition of lambda.
    """
    return {"lambda": afr / _ratio(fuel, stoich)}


def afr_from_lambda(**values: Value) -> Results:
    """Return the air-fuel ratio by mass of ``lambda`` (with ``fuel`` or ``stoich`` as in lambda_from_afr).

    Source: definition of lambda.
    """
    stoich = values.get("stoich")
    ratio = _ratio(str(values.get("fuel", "petrol")), None if stoich is None else float(stoich))
    return {"afr": float(values["lambda"]) * ratio}


_STOICH = Argument(
    "stoich", "", "another stoichiometric ratio than the fuel's", low=1, high=40, optional=True
)
_CO = Argument("co", "%", "carbon monoxide", low=0, high=15)
_CO2 = Argument("co2", "%", "carbon dioxide", low=0, high=20)

FORMULAS = (
    Formula(
        "lambda_from_gas",
        "lambda from exhaust gas readings",
        (
            _CO,
            _CO2,
            Argument("o2", "%", "oxygen", low=-0.3, high=22),
            Argument("hc", "ppm", "hydrocarbons", low=0, high=20000, default=0.0),
            Argument("no", "ppm", "nitric oxide", low=0, high=5000, default=0.0),
            fuel_argument(),
            Argument(
                "hc_as",
                "",
                "what the HC display counts",
                "text",
                default="hexane",
                choices=tuple(CARBON_ATOMS),
            ),
            Argument(
                "pef", "", "hexane per propane, printed on the analyser", low=0.3, high=0.7, default=0.52
            ),
        ),
        (Result("lambda", "", "air over the air the fuel needs"),),
        "instruments are specified for lambda 0.8 to 1.2; CO2 at least 1 %, CO + CO2 6 to 20 %; before the "
        "catalyst, or behind it when not rich",
        "published: exhaust gas balance of 1979; fuel constants from memory of UN Regulation 83",
        lambda_from_gas,
    ),
    Formula(
        "co_corrected",
        "CO corrected for a diluted sample",
        (_CO, _CO2, fuel_argument()),
        (Result("co", "%", "carbon monoxide of the undiluted gas"),),
        "CO + CO2 6 to 20 %; four-stroke engines; no change from 15 % (petrol), 13.5 % (lpg), 11.5 % (cng)",
        "from memory of UN Regulation 83, idle test annex",
        co_corrected,
    ),
    Formula(
        "dilution_limit",
        "least CO + CO2 of an undiluted sample",
        (fuel_argument(),),
        (
            Result(
                "limit", "%", "CO + CO2 below which the sample is diluted, with O2 above 1 % and normal trims"
            ),
        ),
        "warm engine at steady speed",
        "derived from the fuel's atoms; the share of 0.91 is common practice",
        dilution_limit,
    ),
    Formula(
        "stoich_afr",
        "stoichiometric air-fuel ratio",
        (
            fuel_argument(None),
            Argument("h_c", "", "hydrogen atoms per carbon atom", low=0, high=4, optional=True),
            Argument("o_c", "", "oxygen atoms per carbon atom", low=0, high=2, optional=True),
        ),
        (Result("afr", "", "kilograms of air per kilogram of fuel"),),
        "any fuel of carbon, hydrogen and oxygen; real LPG and natural gas differ by 2 %",
        "derived from atomic weights; composition of air from memory of ISO 2533",
        stoich_afr,
    ),
    Formula(
        "lambda_from_afr",
        "lambda from the air-fuel ratio",
        (Argument("afr", "", "air-fuel ratio by mass", low=1, high=80), fuel_argument(), _STOICH),
        (Result("lambda", "", "air over the air the fuel needs"),),
        "the fuel must be the one burnt; many gauges print lambda x 14.7 whatever the fuel",
        "derived: definition of lambda",
        lambda_from_afr,
    ),
    Formula(
        "afr_from_lambda",
        "air-fuel ratio from lambda",
        (
            Argument("lambda", "", "air over the air the fuel needs", low=0.3, high=5),
            fuel_argument(),
            _STOICH,
        ),
        (Result("afr", "", "kilograms of air per kilogram of fuel"),),
        "the fuel must be the one burnt",
        "derived: definition of lambda",
        afr_from_lambda,
    ),
)
