"""What the formulas know of each fuel: its atoms, and the limits that follow from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.formulas.declaring import Argument

INERT_PER_OXYGEN = (1.0 - 0.2095) / 0.2095
"""Moles of nitrogen and argon that come with one mole of oxygen of dry air (from memory of ISO 2533)."""


@dataclass(frozen=True, slots=True)
class Fuel:
    """One fuel as atoms per carbon atom."""

    name: str
    h_c: float
    o_c: float
    stoich_o_c: float
    """O/C for the stoichiometric ratio; differs from *o_c* only where a regulation rounds it."""
    whole_carbon: float
    """CO + CO2 in % that the dilution correction takes for undiluted exhaust gas."""

    @property
    def oxygen_need(self) -> float:
        """Moles of oxygen that burn one mole of carbon with its hydrogen: 1 + H/C/4 - O/C/2."""
        return 1.0 + self.h_c / 4.0 - self.o_c / 2.0

    @property
    def greatest_co2(self) -> float:
        """Dry CO2 in % of complete combustion without excess air."""
        return 100.0 / (1.0 + self.oxygen_need * INERT_PER_OXYGEN)


def _fuel(name: str, h_c: float, o_c: float, stoich_o_c: float | None = None, whole: float = 15.0) -> Fuel:
    return Fuel(name, h_c, o_c, o_c if stoich_o_c is None else stoich_o_c, whole)


FUELS: Mapping[str, Fuel] = {
    fuel.name: fuel
    for fuel in (
        _fuel("petrol", 1.7261, 0.0176),  # widely used default, from memory
        _fuel("e5", 1.89, 0.016),  # e5, e10, e85, lpg, cng: from memory of UN Regulation 83
        _fuel("e10", 1.93, 0.033),
        _fuel(
            "e20", 2.0126, 0.0688
        ),  # e20, e50, e100: CH1.855 petrol (745 kg/m3) and ethanol (789.3) by volume
        _fuel("e50", 2.3012, 0.1948),
        _fuel(
            "e85", 2.74, 0.39, stoich_o_c=0.385
        ),  # 0.39 is 0.385 rounded by the regulation's lambda formula
        _fuel("e100", 3.0, 0.5),
        _fuel("lpg", 2.53, 0.0, whole=13.5),
        _fuel("cng", 4.0, 0.0, whole=11.5),
    )
}


def fuel_argument(default: str | None = "petrol") -> Argument:
    """Return the argument ``fuel``; without a default it may be left out."""
    return Argument(
        "fuel", "", "the fuel", "text", default=default, choices=tuple(FUELS), optional=default is None
    )
