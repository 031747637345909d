"""When a conclusion is not named because the evidence weighs against it."""

from __future__ import annotations

import pytest

from engine.concluding import contradicting
from engine.suspects import Suspect


def suspects(**shares: float) -> tuple[Suspect, ...]:
    ranked = sorted(shares.items(), key=lambda pair: -pair[1])
    return tuple(Suspect(None if name == "outside" else name, name, None, p, ()) for name, p in ranked)


def event(strength: str, *faults: str) -> dict[str, object]:
    return {"strength": strength, "faults": list(faults), "decided": strength == "proven"}


@pytest.mark.parametrize(
    ("concluded", "weights", "against"),
    [
        (event("probable", "pump"), {"pump": 0.5, "leak": 0.3}, None),
        (event("probable", "pump"), {"pump": 0.2, "leak": 0.3}, None),
        (event("probable", "pump"), {"pump": 0.1, "leak": 0.3}, "leak"),
        (event("probable", "lazy", "leak"), {"lazy": 0.1, "leak": 0.3}, None),
        (event("proven", "pump"), {"pump": 0.1, "leak": 0.8}, None),
        (event("not-found-here"), {"leak": 0.5}, "leak"),
        (event("not-found-here"), {"leak": 0.2}, None),
        (event("not-found-here", "no_fault_found"), {"no_fault_found": 0.5}, None),
        (event("probable", "pump"), {"outside": 0.9, "pump": 0.05}, None),
    ],
)
def test_what_outweighs_a_conclusion(concluded, weights, against):
    found = contradicting(concluded, suspects(**weights))

    assert (found.fault if found else None) == against
