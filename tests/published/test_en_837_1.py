"""Source: EN 837-1, accuracy classes of pressure gauges (table seen): percent of span."""

from __future__ import annotations

import pytest

from engine.formulas.registry import FormulaError, formula
from tests.published.asking import ask


@pytest.mark.parametrize("accuracy", [0.1, 0.25, 0.6, 1.0, 1.6, 2.5, 4.0])
def test_limit_is_the_class_in_percent_of_the_span(accuracy: float) -> None:
    assert ask("instrument_limit", "limit", **{"class": accuracy, "span": 1000.0}) == pytest.approx(
        10 * accuracy
    )


def test_a_gauge_of_seven_bar() -> None:
    gauge = {"class": 1.6, "span": 7.0}
    assert ask("instrument_limit", "limit", **gauge) == pytest.approx(0.1120, abs=1e-12)
    assert ask("instrument_limit", "u", **gauge) == pytest.approx(0.06466, abs=5e-6)


def test_no_gauge_is_built_in_another_class() -> None:
    with pytest.raises(FormulaError, match=r"0\.1, 0\.25, 0\.6, 1, 1\.6, 2\.5, 4"):
        formula("instrument_limit").compute(**{"class": 1.5, "span": 7.0})
