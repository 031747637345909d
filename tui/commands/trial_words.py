"""The table of a trial in words."""

from __future__ import annotations

from typing import Any

ROWS = 25
"""Faults of the confusion table shown in words; all are in the JSON."""
ENDS = 4
"""Ends shown of each."""


def lines_of_table(data: dict[str, Any]) -> list[str]:
    """Return the shares, the confusion table and what was never reached."""
    source = "" if data["seed"] is None else f", seed {data['seed']}"
    lines = [f"{data['cars']} cars from {data['tree']}{source}", ""]
    for name, share in data["scores"].items():
        lines.append(f"  {share['cars']:6d}  {_percent(share)}  {name}")
    known = data["known_faults"]
    lines += [
        "",
        f"Right among single faults that a tree can name: {_percent(known)} of the cars that have one",
        f"Right and proven: {data['right_and_proven']}",
        _minutes(data),
        _condemned(data["condemned_without_proof"]),
        _repairs(data["repairs"]),
        "",
        "Hidden fault, and how its cars ended:",
    ]
    rows = list(data["confusion"].items())
    for fault, ends in rows[:ROWS]:
        shown = ", ".join(f"{name} {count}" for name, count in list(ends.items())[:ENDS])
        more = f", {len(ends) - ENDS} other ends" if len(ends) > ENDS else ""
        lines.append(f"  {fault} ({sum(ends.values())}): {shown}{more}")
    if len(rows) > ROWS:
        lines.append(f"  and {len(rows) - ROWS} more: --json lists them")
    missed = data["steps_never_reached"]
    if missed:
        lines += ["", "Steps that no car came to:"]
        lines += [
            f"  {tree}: {len(steps)} ({', '.join(steps[:5])}{_dots(steps)})" for tree, steps in missed.items()
        ]
    if data["faults_no_tree_names"]:
        names = data["faults_no_tree_names"]
        lines += [
            "",
            f"Faults that no tree can name ({len(names)}): {', '.join(names[:12])}{_dots(names, 12)}",
        ]
    return lines


def _percent(share: dict[str, Any]) -> str:
    return f"{100 * share['share']:5.1f} % ({100 * share['low']:.1f} to {100 * share['high']:.1f})"


def _dots(names: list[str], most: int = 5) -> str:
    return " …" if len(names) > most else ""


def _minutes(data: dict[str, Any]) -> str:
    spent = data["minutes"]
    most = f"nine in ten under {spent['ninetieth']:.0f}, most {spent['most']:.0f}"
    return f"Minutes: mean {spent['mean']:.1f}, {most}"


def _condemned(found: dict[str, int]) -> str:
    return f"Parts named without proof: {found['parts']}, of which not the cause: {found['not_the_cause']}"


def _repairs(made: dict[str, int]) -> str:
    return (
        f"Repairs that decide, made and measured again: {made['made']}; fixed {made['fixed']}, "
        f"not fixed {made['failed']}, not measurable {made['unproven']}"
    )


def lines_of_worth(data: dict[str, Any]) -> list[str]:
    """Return minutes and hours against the best order and against fitting parts."""
    lines = [""]
    best = data["against_best_order"]
    if best is not None:
        about = f"the {len(best['faults'])} most frequent faults ({best['cars']} cars)"
        if best["best_minutes"] is None:
            lines.append(f"Best possible order over {about}: too many ways to work out")
        else:
            lines.append(
                f"No order of these tests over {about} takes less than {best['best_minutes']:.1f} minutes, "
                f"knowing that it is one of them; the trees, which do not, take {best['tree_minutes']:.1f}"
            )
    parts = data["against_parts"]
    lines.append(
        f"Hours for tests and wrong parts a car: {parts['tested']:.2f} tested first, {parts['fitted']:.2f} "
        f"fitting what fails most often, one part after the other, which cures {100 * parts['cured']:.0f} %"
    )
    return lines
