"""All named formulas, found by name."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from types import MappingProxyType

from engine.errors import shown
from engine.formulas import (
    air,
    atmosphere,
    battery,
    catalyst,
    electrical,
    fuel,
    mixture,
    obd,
    plain,
    thermistor,
    throttle,
    trims,
    uncertainty,
    zirconia,
)
from engine.formulas.declaring import SAME, Argument, Formula, FormulaError, Result, Results, Value

__all__ = [
    "FORMULAS", "SAME", "Argument", "Formula", "FormulaError", "Result", "Results", "Value",
    "formula", "names",
]  # fmt: skip

_SUBJECTS = (
    trims, air, mixture, zirconia, electrical, fuel, thermistor, throttle, battery, atmosphere, catalyst, obd,
    uncertainty, plain,
)  # fmt: skip

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {one.name: one for subject in _SUBJECTS for one in subject.FORMULAS}
)
"""Every formula by name, in the order of the subjects."""


def names() -> tuple[str, ...]:
    """Return the names of all formulas."""
    return tuple(FORMULAS)


def formula(name: str) -> Formula:
    """Return the formula with this name.

    Raises:
        FormulaError: no such formula; the line gives the nearest names.
    """
    found = FORMULAS.get(name)
    if found is not None:
        return found
    near = difflib.get_close_matches(name[:40].lower(), FORMULAS, n=3, cutoff=0.45)
    hint = f"did you mean {' or '.join(near)}?" if near else f"there are {', '.join(FORMULAS)}"
    raise FormulaError(f"no formula {shown(name)}: {hint}")
