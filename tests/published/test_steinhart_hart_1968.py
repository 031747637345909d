"""Source: J. S. Steinhart and S. R. Hart, Deep-Sea Research 15 (1968) 497 (from memory)."""

from __future__ import annotations

import pytest

from tests.published.asking import ask


def test_general_purpose_10_kohm_coefficients() -> None:
    # the coefficient set in general use for 10 kohm thermistors, from memory
    found = ask("steinhart_hart", ohms=10000.0, a=1.129148e-3, b=2.34125e-4, c=8.76741e-8)
    assert found == pytest.approx(24.9997, abs=1e-4)
