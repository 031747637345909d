"""Proof of repair: the readings that condemned the part, taken again, against what they must now show."""

from __future__ import annotations

from collections.abc import Sequence

from engine.catalogue import Catalogue
from engine.situation import Situation, quantities
from engine.tree import Cannot, Conclusion, Grade, Next, Rule, Step

FIXED, FAILED, UNPROVEN = "fixed", "failed", "unproven"


def proof_step(conclusion: Conclusion) -> Step | None:
    """Return the step that proves a conclusion's repair, or None when the tree holds no proof."""
    proof = conclusion.proof
    if proof is None:
        return None

    def rule(name: str, verdict: str, grade: Grade, *, otherwise: bool) -> Rule:
        return Rule(
            id=name,
            when=None if otherwise else proof.expect,
            covers_rest=otherwise,
            verdict=verdict,
            grade=grade,
            means=None,
            side=None,
            weigh=(),
            findings=(),
            also=(),
            harm=False,
            exit=Next(name),
            origin=conclusion.origin,
        )

    return Step(
        id="proof",
        title="Prove the repair",
        do="Take the same readings again, in the same state as before.",
        how=None,
        why="A repair is done when the number that condemned the part is back, not when the part is in.",
        predict=None,
        cautions=("C-MOVE", "C-HOT", "C-CO"),
        wait=None,
        leaves=(),
        undoes=(),
        readings=(*proof.measure, *quantities(proof.expect)),
        optional=(),
        only_if=None,
        skip=None,
        rules=(
            rule(FIXED, "The readings are back: fixed", Grade.OK, otherwise=False),
            rule(FAILED, "The readings are not back: not fixed", Grade.FAIL, otherwise=True),
        ),
        cannot=Cannot("Not measured: repaired, but not proved.", Next(UNPROVEN)),
        notes=(),
        origin=conclusion.origin,
    )


def expanded(catalogue: Catalogue, names: Sequence[str], situation: Situation) -> tuple[str, ...]:
    """Return the readings that these readings and worked values rest on and that this car has, in order."""
    found: dict[str, None] = {}
    for name in names:
        for base in sorted(catalogue.base_readings(name)):
            if base in catalogue.readings and situation.has(base) and _is_taken_anew(catalogue, base):
                found[base] = None
    return tuple(found)


def _is_taken_anew(catalogue: Catalogue, reading: str) -> bool:
    return catalogue.readings[reading].keeps not in ("ever", "saved", "job")
