"""Source: SAE J2012 / ISO 15031-6, from memory; not looked up."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formulas.registry import FormulaError, formula


@pytest.mark.parametrize(
    ("data", "code"),
    [
        ("01 71", "P0171"), ("01 33", "P0133"), ("04 20", "P0420"), ("24 2F", "P242F"), ("41 23", "C0123"),
        ("92 34", "B1234"), ("C1 00", "U0100"), ("D6 0F", "U160F"), ("0171", "P0171"), ("34 00", "P3400"),
        ("c1 00", "U0100"),
    ],
)  # fmt: skip
def test_two_bytes_make_a_code(data: str, code: str) -> None:
    assert formula("trouble_code").compute(bytes=data) == {"code": code}


@pytest.mark.parametrize(
    ("data", "named"),
    [
        ("0000", "no code"),
        ("00 00", "no code"),
        ("01", "1 given"),
        ("01 71 04", "3 given"),
        ("0G71", "pairs"),
    ],
)
def test_what_is_no_code_is_refused(data: str, named: str) -> None:
    with pytest.raises(FormulaError, match=named):
        formula("trouble_code").compute(bytes=data)


@given(st.integers(1, 0xFFFF))
def test_every_code_leads_back_to_its_bytes(raw: int) -> None:
    code = str(formula("trouble_code").compute(bytes=f"{raw:04X}")["code"])
    assert "PCBU".index(code[0]) << 14 | int(code[1:], 16) == raw
