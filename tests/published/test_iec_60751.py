"""Source: IEC 60751 platinum law (from memory): W(t) = 1 + 3.9083e-3 t - 5.775e-7 t2."""

from __future__ import annotations

import pytest

from engine.formulas.electrical import platinum_ratio
from tests.published.asking import ask


@pytest.mark.parametrize(
    ("temp", "ohms"), [(0, 100.00), (100, 138.51), (200, 175.86), (400, 247.09), (600, 313.71), (850, 390.48)]
)
def test_resistance_of_a_100_ohm_thermometer(temp: float, ohms: float) -> None:
    assert 100 * platinum_ratio(temp) == pytest.approx(ohms, abs=0.006)


def test_ratio_of_700_to_20_degrees() -> None:
    assert platinum_ratio(700) / platinum_ratio(20) == pytest.approx(3.20319, rel=2e-6)


def test_a_hot_heater_brought_back_to_20_degrees() -> None:
    assert ask("heater_ohms_at_20", ohms=17.4616, temp=600.0) == pytest.approx(6.0, rel=1e-5)
    assert ask("heater_ohms_at_20", ohms=6.0, temp=20.0) == pytest.approx(6.0, rel=1e-12)
