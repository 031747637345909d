"""Source: readings of real roadworthiness tests, open data repository `maanteeamet/opendata` (MIT licence).

File `LIIKLUSREGISTER/tüp_heitmed.csv`, commit 1506de9: gases and the instrument's own lambda at raised idle.
"""

from __future__ import annotations

import pytest

from tests.published.asking import ask

ROWS = [
    (0.03, 15.2, 0.11, 62, 1.000, 1.0018),
    (0.09, 15.0, 0.10, 15, 1.000, 1.0014),
    (0.291, 14.9, 0.05, 54, 0.991, 0.9918),
    (0.00, 14.2, 2.10, 0, 1.103, 1.1039),
    (0.05, 14.1, 1.20, 35, 1.056, 1.0565),
    (0.70, 10.2, 1.65, 59, 1.070, 1.0745),
    (1.45, 14.6, 0.10, 139, 0.957, 0.9593),
    (2.60, 13.2, 0.05, 888, 0.900, 0.8980),
    (4.62, 12.8, 0.10, 1092, 0.848, 0.8505),
]


@pytest.mark.parametrize(("co", "co2", "o2", "hc", "instrument", "worked"), ROWS)
def test_lambda_agrees_with_what_the_instrument_printed(
    co: float, co2: float, o2: float, hc: float, instrument: float, worked: float
) -> None:
    found = ask("lambda_from_gas", co=co, co2=co2, o2=o2, hc=hc)
    assert found == pytest.approx(instrument, abs=0.005)
    assert found == pytest.approx(worked, abs=6e-5)
