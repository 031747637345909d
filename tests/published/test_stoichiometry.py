"""Source: IUPAC atomic weights and dry air of ISO 2533 (both from memory); blends worked out by volume."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask, ask_lambda


@pytest.mark.parametrize(
    ("h_c", "o_c", "expected"),
    [
        (18 / 8, 0.0, 15.1289), (8 / 7, 0.0, 13.5044), (8 / 3, 0.0, 15.6764), (10 / 4, 0.0, 15.4612),
        (4.0, 0.0, 17.2357), (3.0, 0.5, 9.0032), (1.85, 0.0, 14.5721), (1.7261, 0.0176, 14.0175),
        (1.89, 0.016, 14.2870), (1.93, 0.033, 13.9932), (2.74, 0.385, 9.8577),
        # CH1.855 petrol (745 kg/m3) with 0, 5, 10, 20, 50, 85 and 100 % ethanol (789.3 kg/m3) by volume
        (1.8550, 0.0, 14.5793), (1.8922, 0.0163, 14.2848), (1.9308, 0.0331, 13.9920),
        (2.0126, 0.0688, 13.4116), (2.3012, 0.1948, 11.7107), (2.7520, 0.3917, 9.7994),
    ],
)  # fmt: skip
def test_air_fuel_ratio_by_atoms(h_c: float, o_c: float, expected: float) -> None:
    assert ask("stoich_afr", h_c=h_c, o_c=o_c) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("fuel", "expected"),
    [
        ("petrol", 14.0175), ("e5", 14.2870), ("e10", 13.9932), ("e20", 13.4116), ("e50", 11.7107),
        ("e85", 9.8577), ("e100", 9.0032), ("cng", 17.2357),
    ],
)  # fmt: skip
def test_air_fuel_ratio_by_name(fuel: str, expected: float) -> None:
    assert ask("stoich_afr", fuel=fuel) == pytest.approx(expected, rel=1e-4)


def test_lpg_lies_between_propane_and_butane() -> None:
    assert 15.4612 < ask("stoich_afr", fuel="lpg") < 15.6764


def test_lambda_and_air_fuel_ratio() -> None:
    assert ask("lambda_from_afr", afr=14.13, fuel="e10") == pytest.approx(1.00986, rel=1e-4)
    assert ask_lambda("afr_from_lambda", 0.88, stoich=14.7) == pytest.approx(12.936, rel=1e-6)


@given(st.floats(0.5, 3), st.sampled_from(["petrol", "e10", "e85", "lpg"]))
def test_there_and_back(lambda_: float, fuel: str) -> None:
    afr = ask_lambda("afr_from_lambda", lambda_, fuel=fuel)
    assert ask("lambda_from_afr", afr=afr, fuel=fuel) == pytest.approx(lambda_, rel=1e-12)


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"o_c": 0.1},
        {"fuel": "e10", "h_c": 1.9},
        {"fuel": "e10", "o_c": 0.1},
        {"h_c": 0.0, "o_c": 2.0},
        {"fuel": "e7"},
    ],
)
def test_a_fuel_that_is_not_clear_is_refused(values: dict[str, float | str]) -> None:
    with pytest.raises(FormulaError, match="stoich_afr"):
        formula("stoich_afr").compute(**values)
