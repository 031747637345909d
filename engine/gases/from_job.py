"""The gases a job holds, as samples."""

from __future__ import annotations

from collections.abc import Mapping

from engine.gases.analysis import Sample
from engine.situation import Point, Situation

STATES = ("idle", "2500")
GASES = ("co", "co2", "o2", "hc", "no", "lambda")
_FUELS = {"petrol": "petrol", "lpg": "lpg", "cng": "cng", "flex": "e85"}


def reading_of(gas: str, state: str) -> str:
    """Return the id of the reading of one gas at one engine state."""
    return f"gas_{gas}_{state}"


def fuel_of(situation: Situation) -> str:
    """Return the fuel of the formulas for the car's fuel; petrol when nobody said."""
    return _FUELS.get(str(Point(situation).answer("veh_fuel") or "petrol"), "petrol")


def samples_of(situation: Situation) -> Mapping[str, Sample | None]:
    """Return a sample for each engine state, None where CO, CO2, O2 or HC is missing."""
    return {state: _sample(Point(situation), state) for state in STATES}


def _sample(point: Point, state: str) -> Sample | None:
    numbers = {gas: _number(point, reading_of(gas, state)) for gas in GASES}
    co, co2, o2, hc = (numbers[gas] for gas in ("co", "co2", "o2", "hc"))
    if co is None or co2 is None or o2 is None or hc is None:
        return None
    if point.answer("kit_hc_scale") == "propane":
        hc *= 0.52  # hexane per propane, typical; the analyser prints its own
    return Sample(
        co, co2, o2, hc, numbers["no"], numbers["lambda"],
        _mean(point, f"lam_b1_{state}", f"lam_b2_{state}"), _mean(point, f"tt_b1_{state}", f"tt_b2_{state}"),
    )  # fmt: skip


def _number(point: Point, name: str) -> float | None:
    return point.number(name) if point.situation.has(name) else None


def _mean(point: Point, *names: str) -> float | None:
    known = [value for name in names if (value := _number(point, name)) is not None]
    return sum(known) / len(known) if known else None
