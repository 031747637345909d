"""Source: JCGM 106:2012, conformance probability (from memory), and SciPy's normal distribution beside it."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask


@pytest.mark.parametrize(
    ("given_values", "expected", "within"),
    [
        ({"value": -5.47, "u": 0.05, "upper": -5.40}, 0.91924, 5e-6),  # the guide's own example: about 0.92
        ({"value": 509.7, "u": 8.6, "lower": 490.0}, 0.98901, 5e-6),  # the guide's own example: about 0.99
        ({"value": 12.60, "u": 0.04792, "lower": 12.50}, 0.9815, 5e-5),
        ({"value": 0.18, "u": 0.06 / 3**0.5, "upper": 0.20}, 0.7181, 5e-5),
        ({"value": 0.10, "u": 0.06 / 3**0.5, "upper": 0.20}, 0.99805, 5e-6),
        ({"value": 2.60, "u": 0.06466, "lower": 2.50}, 0.9390, 5e-5),
        ({"value": 1.018, "u": 0.0029, "lower": 0.97, "upper": 1.03}, 0.999982, 5e-7),
        ({"value": 0.172035, "u": 0.017, "upper": 0.20}, 0.95, 5e-5),  # guard band of 1.645 u
        ({"value": 0.166, "u": 0.017, "upper": 0.20}, 0.97725, 5e-6),  # guard band of 2 u
    ],
)
def test_conformance_probability(given_values: dict[str, float], expected: float, within: float) -> None:
    assert ask("conformity", **given_values) == pytest.approx(expected, abs=within)


@given(
    value=st.floats(-100, 100), u=st.floats(1e-3, 50), lower=st.floats(-100, 100), upper=st.floats(-100, 100)
)
def test_like_scipy_in_both_tails(value: float, u: float, lower: float, upper: float) -> None:
    assume(lower <= upper)
    for limits in ({"lower": lower}, {"upper": upper}, {"lower": lower, "upper": upper}):
        low, high = limits.get("lower", float("-inf")), limits.get("upper", float("inf"))
        left, right = (low - value) / u, (high - value) / u
        expected = norm.sf(left) - norm.sf(right) if left > 0 else norm.cdf(right) - norm.cdf(left)
        assert ask("conformity", value=value, u=u, **limits) == pytest.approx(expected, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize(
    ("given_values", "named"),
    [
        ({"value": 1.0, "u": 0.1}, "at least one limit"),
        ({"value": 1.0, "u": 0.0, "upper": 2.0}, "u is 0.0"),
        ({"value": 1.0, "u": -0.1, "upper": 2.0}, "u is -0.1"),
        ({"value": 1.0, "u": 0.1, "lower": 3.0, "upper": 2.0}, "lower is 3, above upper"),
        ({"value": float("inf"), "u": 0.1, "upper": 2.0}, "value is inf"),
    ],
)
def test_refusals(given_values: dict[str, float], named: str) -> None:
    with pytest.raises(FormulaError) as refusal:
        formula("conformity").compute(**given_values)
    assert named in str(refusal.value)
