"""Cars with one fault, made from a healthy car's readings and what the fault changes, at any severity.

The figures are scenarios of our own: common practice of the trade for how far a fault moves a reading, scaled
by severity, with the scatter of instruments and engine drawn from a seed that belongs to the car.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Literal

from engine.answers_file import read_answers
from engine.headless import walk_headless
from tests.jobs.walks import Walked, library

Kit = Literal["full", "meter-and-reader", "codes-only"]
KITS: tuple[Kit, ...] = ("full", "meter-and-reader", "codes-only")
BASES = Path(__file__).parent / "hesitation" / "cars"
METER_AND_READER = frozenset({"CR", "MM", "EY", "DOC"})
NO_LIVE_DATA = frozenset({"MM", "EY", "DOC"})
TRIM_MOST, TRIM_LEAST, LONG_SHARE = 35.0, -25.0, 0.85
SCATTER = {"stft": 0.8, "ltft": 0.4}


@dataclass(frozen=True, slots=True)
class Car:
    """A fault: total trims idle, 2500, load of each bank, and the other readings it moves."""

    fault: str
    side: str | None = None
    b1: tuple[float, float, float] = (1.5, 1.5, 1.5)
    b2: tuple[float, float, float] = (1.5, 1.5, 1.5)
    moves: Mapping[str, str | float] | None = None
    base: str = "healthy-car"


def _lines(base: str) -> dict[str, str]:
    text = (BASES / f"{base}.yaml").read_text(encoding="utf-8")
    pairs = (line.split(":", 1) for line in text.splitlines() if line and line[0] not in "# ")
    return {name: value.strip() for name, value in pairs}


def source_of(car: Car, severity: float, seed: int = 1) -> bytes:
    """Return the readings file of a car at a severity; 1 is the ordinary size of the fault."""
    drawn = random.Random(f"{car.fault}{severity}{seed}")
    lines = _lines(car.base)
    for name, value in (car.moves or {}).items():
        if isinstance(value, str):
            lines[name] = value
            continue
        healthy = float(lines.get(name, "0"))
        moved = healthy + (value - healthy) * severity
        lines[name] = f"{max(0.0, moved) if value >= 0 else moved:.3f}"
    for bank, trims in (("b1", car.b1), ("b2", car.b2)):
        for state, total in zip(("idle", "2500", "load"), trims, strict=True):
            if f"stft_{bank}_{state}" not in lines:
                continue
            scaled = min(TRIM_MOST, max(TRIM_LEAST, 1.5 + (total - 1.5) * severity))
            long = min(25.0, scaled * LONG_SHARE)
            lines[f"ltft_{bank}_{state}"] = f"{long + drawn.gauss(0, SCATTER['ltft']):.2f}"
            lines[f"stft_{bank}_{state}"] = f"{scaled - long + drawn.gauss(0, SCATTER['stft']):.2f}"
    return "".join(f"{name}: {value}\n" for name, value in lines.items()).encode()


def _kept(name: str, kit: Kit) -> bool:
    if kit == "full" or name.startswith("veh_"):
        return True
    tools = set(library().catalogue.readings[name].tools)
    if name.startswith("spec_"):
        return False
    if kit == "meter-and-reader":
        return not tools or bool(tools & METER_AND_READER)
    return name.startswith("dtc_") or not tools or (bool(tools & NO_LIVE_DATA) and tools != {"CR", "EY"})


@cache
def _walk(tree: str, source: bytes, kit: Kit) -> Walked:
    more = {"full": (), "meter-and-reader": ("kit_tools=[CR, MM]",), "codes-only": ("kit_tools=[CR, MM]",)}[
        kit
    ]
    answers = read_answers(source, "car.yaml", library().catalogue, more)
    assert answers.problems == (), [str(problem) for problem in answers.problems]
    kept = {name: takes for name, takes in answers.answers.items() if _kept(name, kit)}
    return Walked(*walk_headless(library(), tree, replace(answers, answers=kept)))


def walked(tree: str, car: Car, kit: Kit = "full", severity: float = 1.0) -> Walked:
    """Walk a tree with a car's readings, as far as the kit takes them."""
    return _walk(tree, source_of(car, severity), kit)


def assert_right(done: Walked, car: Car, *, full: bool) -> None:
    """Fail unless a walk ends at the fault, or openly; never at another part called proven."""
    named = done.fault
    if named is None:
        assert len(done.outcome["open_end"]["say"]) > 40
        assert not full or car.fault in done.leading, (done.leading, done.steps[-8:])
        return
    assert named == car.fault, (named, done.strength, done.leading, done.steps[-12:])
    if car.side is not None:
        assert done.side == car.side, done.side
