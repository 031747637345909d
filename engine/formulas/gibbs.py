"""Equilibrium constants of CO2 and H2O breaking up, from thermodynamic polynomials."""

from __future__ import annotations

import math
from typing import Literal, TypeAlias

GAS_CONSTANT = 8.314462618
"""J/(mol K), CODATA 2018."""
SPLIT_KELVIN = 1000.0
"""Below it the first set of coefficients holds, above it the second."""

Species: TypeAlias = Literal["H2", "O2", "H2O", "CO", "CO2"]
Coefficients: TypeAlias = tuple[float, float, float, float, float, float, float]

# Source: seven-coefficient polynomials of the NASA form (cp, enthalpy and entropy over R), published with the
# GRI-Mech 3.0 thermodynamic data; 300 to 3500 K.
_POLYNOMIALS: dict[Species, tuple[Coefficients, Coefficients]] = {
    "H2": (
        (
            2.34433112,
            0.00798052075,
            -1.9478151e-05,
            2.01572094e-08,
            -7.37611761e-12,
            -917.935173,
            0.683010238,
        ),
        (
            3.3372792,
            -4.94024731e-05,
            4.99456778e-07,
            -1.79566394e-10,
            2.00255376e-14,
            -950.158922,
            -3.20502331,
        ),
    ),
    "O2": (
        (
            3.78245636,
            -0.00299673416,
            9.84730201e-06,
            -9.68129509e-09,
            3.24372837e-12,
            -1063.94356,
            3.65767573,
        ),
        (
            3.28253784,
            0.00148308754,
            -7.57966669e-07,
            2.09470555e-10,
            -2.16717794e-14,
            -1088.45772,
            5.45323129,
        ),
    ),
    "H2O": (
        (
            4.19864056,
            -0.0020364341,
            6.52040211e-06,
            -5.48797062e-09,
            1.77197817e-12,
            -30293.7267,
            -0.849032208,
        ),
        (3.03399249, 0.00217691804, -1.64072518e-07, -9.7041987e-11, 1.68200992e-14, -30004.2971, 4.9667701),
    ),
    "CO": (
        (3.57953347, -0.00061035368, 1.01681433e-06, 9.07005884e-10, -9.04424499e-13, -14344.086, 3.50840928),
        (
            2.71518561,
            0.00206252743,
            -9.98825771e-07,
            2.30053008e-10,
            -2.03647716e-14,
            -14151.8724,
            7.81868772,
        ),
    ),
    "CO2": (
        (
            2.35677352,
            0.00898459677,
            -7.12356269e-06,
            2.45919022e-09,
            -1.43699548e-13,
            -48371.9697,
            9.90105222,
        ),
        (3.85746029, 0.00441437026, -2.21481404e-06, 5.23490188e-10, -4.72084164e-14, -48759.166, 2.27163806),
    ),
}


def gibbs_over_rt(species: Species, kelvin: float) -> float:
    """Return the standard Gibbs energy over RT of a species at 1 atm (elements at 298.15 K as zero).

    Args:
        species: one of the five.
        kelvin: temperature, 300 to 3500 K.
    """
    a1, a2, a3, a4, a5, a6, a7 = _POLYNOMIALS[species][kelvin > SPLIT_KELVIN]
    t = kelvin
    enthalpy = a1 + t * (a2 / 2 + t * (a3 / 3 + t * (a4 / 4 + t * a5 / 5))) + a6 / t
    entropy = a1 * math.log(t) + t * (a2 + t * (a3 / 2 + t * (a4 / 3 + t * a5 / 4))) + a7
    return enthalpy - entropy


def splitting_constants(kelvin: float) -> tuple[float, float]:
    """Return the constants of CO2 = CO + O2/2 and H2O = H2 + O2/2, atm^0.5."""
    half_oxygen = gibbs_over_rt("O2", kelvin) / 2.0
    carbon = gibbs_over_rt("CO", kelvin) + half_oxygen - gibbs_over_rt("CO2", kelvin)
    hydrogen = gibbs_over_rt("H2", kelvin) + half_oxygen - gibbs_over_rt("H2O", kelvin)
    return math.exp(-carbon), math.exp(-hydrogen)
