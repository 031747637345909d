"""Source: JCGM 100:2008 (GUM), from memory: limits as rectangular distributions, combined uncertainty."""

from __future__ import annotations

import math

import numpy as np
import pytest

from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask

GAS = {"co": 0.10, "co2": 15.2, "o2": 0.50, "hc": 40.0}


def test_limit_of_a_meter_as_standard_uncertainty() -> None:
    # 0.5 % of reading and 2 counts of 0.01 V at 12.60 V
    meter = {"reading": 12.60, "percent": 0.5, "counts": 2.0, "resolution": 0.01}
    assert ask("instrument_limit", "limit", **meter) == pytest.approx(0.0830, abs=1e-12)
    assert ask("instrument_limit", "u", **meter) == pytest.approx(0.04792, abs=5e-6)


def test_a_negative_reading_has_the_same_limit() -> None:
    meter = {"percent": 0.5, "counts": 2.0, "resolution": 0.01}
    assert ask("instrument_limit", "limit", reading=-12.6, **meter) == ask(
        "instrument_limit", "limit", reading=12.6, **meter
    )


def _sensitivity(name: str, step: float) -> float:
    up = ask("lambda_from_gas", **{**GAS, name: GAS[name] + step})
    down = ask("lambda_from_gas", **{**GAS, name: GAS[name] - step})
    return (up - down) / (2 * step)


SENSITIVITIES = {
    "co": (1e-3, -0.02985),
    "co2": (1e-3, -0.001207),
    "o2": (1e-3, 0.04587),
    "hc": (1e-1, -3.988e-05),
}


@pytest.mark.parametrize("name", SENSITIVITIES)
def test_sensitivities_of_lambda(name: str) -> None:
    step, expected = SENSITIVITIES[name]
    assert _sensitivity(name, step) == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        ({"co": 0.03, "co2": 0.76, "o2": 0.1, "hc": 10.0}, 0.002759),  # class 0 analyser
        ({"co": 0.06, "co2": 0.76, "o2": 0.1, "hc": 12.0}, 0.002905),  # class I analyser
    ],
)
def test_uncertainty_of_lambda(limits: dict[str, float], expected: float) -> None:
    assert ask("lambda_from_gas", **GAS) == pytest.approx(1.01851, abs=5e-6)
    parts = [
        _sensitivity(name, SENSITIVITIES[name][0]) * limit / math.sqrt(3) for name, limit in limits.items()
    ]
    assert math.hypot(*parts) == pytest.approx(expected, rel=5e-4)


def test_the_same_by_sampling_the_readings() -> None:
    # JCGM 101: propagate the distributions themselves; the bare function takes readings a little out of range
    limits = {"co": 0.06, "co2": 0.76, "o2": 0.1, "hc": 12.0}
    draws = np.random.default_rng(1).uniform(-1, 1, (4000, 4))
    found = []
    for draw in draws:
        shifted = {
            name: GAS[name] + limits[name] * float(one) for name, one in zip(limits, draw, strict=True)
        }
        results = formula("lambda_from_gas").sampled(**shifted)
        assert results is not None
        found.append(float(results["lambda"]))
    assert np.std(found) == pytest.approx(0.002909, rel=0.03)


@pytest.mark.parametrize(
    ("given_values", "named"),
    [
        ({}, "percent missing"),
        ({"reading": 12.6}, "percent missing"),
        ({"percent": 0.5}, "reading missing"),
        ({"reading": 12.6, "percent": 0.5, "counts": 2.0}, "resolution missing"),
        ({"reading": 12.6, "percent": 0.5, "resolution": 0.01}, "counts missing"),
        ({"reading": 2.6, "percent": 1.0, "class": 1.6, "span": 7.0}, "do not go together"),
        ({"class": 1.6}, "span missing"),
        ({"span": 7.0}, "class missing"),
    ],
)
def test_incomplete_data_of_an_instrument_are_refused(given_values: dict[str, float], named: str) -> None:
    with pytest.raises(FormulaError) as refusal:
        formula("instrument_limit").compute(**given_values)
    assert named in str(refusal.value)
