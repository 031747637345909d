"""``layby gas``: the gases of an exhaust, what they say together and what they cannot say."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import asdict

from engine.errors import LaybyError, did_you_mean, shown
from engine.gases import Sample, analyse
from engine.gases.analysis import Where
from engine.gases.telling import told
from tui.commands.printing import print_json

OK = 0
NAMES = {"co": "%", "co2": "%", "o2": "%", "hc": "ppm", "no": "ppm", "lambda": "", "sensor": "", "trim": "%"}
BOUNDS = {
    "co": (0.0, 15.0), "co2": (0.0, 20.0), "o2": (-0.3, 22.0), "hc": (0.0, 20_000.0), "no": (0.0, 5000.0),
    "lambda": (0.5, 3.0), "sensor": (0.0, 2.0), "trim": (-100.0, 99.3),
}  # fmt: skip
"""What is possible at all; outside it a value is refused."""
PROPANE = 0.52
"""Hexane per propane, typical; the analyser prints its own."""


class GasError(LaybyError):
    """Gases that cannot be used."""


def run(arguments: argparse.Namespace) -> int:
    """Analyse what was given at idle and at 2500 rpm."""
    given = {"idle": arguments.idle, "2500": arguments.fast}
    if not any(given.values()):
        raise GasError("no gases: give --idle and --fast with co= co2= o2= hc=, no= if it is measured")
    where: Where = "before" if arguments.before else "after"
    found = {
        state: analyse(_sample(values, arguments.hc_as), fuel=arguments.fuel, where=where)
        for state, values in given.items()
        if values
    }
    if arguments.json:
        print_json(
            {"fuel": arguments.fuel, "where": where, "states": {s: asdict(a) for s, a in found.items()}}
        )
        return OK
    for state, analysis in found.items():
        name = "idle" if state == "idle" else "2500 rpm"
        print(f"{name}, {where} the catalyst")
        for head, line in told(analysis):
            print(f"  {head:11} {line}")
    print(
        "Rules of thumb of the trade; the maker's data and local limits come first. No roadworthiness test."
    )
    return OK


def _sample(assignments: Sequence[str], hc_as: str) -> Sample:
    numbers: dict[str, float] = {}
    for text in assignments:
        name, _, value = text.partition("=")
        if name not in NAMES:
            raise GasError(
                f"{shown(name)} is no gas{did_you_mean(name, NAMES)}: write {' '.join(NAMES)}, each =value"
            )
        try:
            number = float(value.replace(",", ".").removesuffix(NAMES[name]).strip())
        except ValueError:
            raise GasError(
                f"{name}={shown(value)[1:-1]}: write a number in {NAMES[name] or 'plain figures'}"
            ) from None
        low, high = BOUNDS[name]
        if not low <= number <= high:
            raise GasError(f"{name} = {number:g} {NAMES[name]} is impossible: between {low:g} and {high:g}")
        numbers[name] = number
    missing = [name for name in ("co", "co2", "o2", "hc") if name not in numbers]
    if missing:
        raise GasError(f"missing: {', '.join(missing)}; lambda needs CO, CO2, O2 and HC together")
    hc = numbers["hc"] * {"hexane": 1.0, "propane": PROPANE, "carbon": 1.0 / 6.0}[hc_as]
    return Sample(
        numbers["co"], numbers["co2"], numbers["o2"], hc, numbers.get("no"), numbers.get("lambda"),
        numbers.get("sensor"), numbers.get("trim"),
    )  # fmt: skip
