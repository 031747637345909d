"""``layby trial``: many cars with hidden faults through the trees."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from engine.errors import LaybyError, did_you_mean, shown
from engine.library import Library, load_library, shipped_files, shop_files
from engine.trial.cars import CarsOfFile, CarSource, DrawnCars, cars_of_file
from engine.trial.comparing import Parted, parted
from engine.trial.lazy import CarResult, PathStep
from engine.trial.running import Plan, Trial, run_trial
from engine.trial.table import table_of
from engine.trial.versions import files_of
from engine.trial.worth import against_best, against_parts
from tui.commands.printing import print_json
from tui.commands.trial_words import lines_of_table, lines_of_worth

OK = 0
BAR = 30
LISTED = 40
"""Cars that came out differently and are listed in words; all are in the JSON."""


def run(arguments: argparse.Namespace) -> int:
    """Walk the cars and print the table."""
    own = {**shipped_files(), **shop_files(arguments.shop)} if arguments.shop else None
    library = load_library(arguments.shop)
    library.tree(arguments.tree)
    source, cars = _source(arguments, library)
    versions = (own, files_of(arguments.against)) if arguments.against else (own,)
    for version in versions:
        load_library(files=version).tree(arguments.tree)  # so that what is wrong in it is said here
    trial = run_trial(Plan(source, cars, arguments.tree, versions), arguments.jobs, _progress())
    data = _data(arguments, library, source, trial, versions)
    if arguments.json:
        print_json(data)
    else:
        print("\n".join(_lines(data)))
    return OK


def _source(arguments: argparse.Namespace, library: Library) -> tuple[CarSource, int]:
    if arguments.cars < 1 or (arguments.jobs is not None and arguments.jobs < 1):
        raise LaybyError("--cars and --jobs are 1 or more")
    if arguments.source is not None:
        file = cars_of_file(arguments.source)
        return file, min(arguments.cars, len(file.lines))
    known = library.catalogue.faults.faults
    faults = _names(arguments.faults, known, "fault")
    kit = _names(arguments.kit, library.catalogue.instruments, "instrument")
    return DrawnCars(arguments.seed, faults, arguments.many, kit), arguments.cars


def _names(said: str | None, known: Any, what: str) -> tuple[str, ...] | None:
    if said is None:
        return None
    names = tuple(name.strip() for name in said.split(",") if name.strip())
    for name in names:
        if name not in known:
            raise LaybyError(f"no {what} {shown(name)}{did_you_mean(name, known)}")
    return names


def _progress() -> Callable[[int, int], None] | None:
    """Return what draws a bar, on a terminal only."""
    if not sys.stderr.isatty():
        return None

    def draw(done: int, of: int) -> None:
        filled = BAR * done // max(of, 1)
        end = "\n" if done >= of else ""
        sys.stderr.write(f"\r[{'#' * filled}{'.' * (BAR - filled)}] {done} of {of} cars{end}")
        sys.stderr.flush()

    return draw


def _data(
    arguments: argparse.Namespace,
    library: Library,
    source: CarSource,
    trial: Trial,
    versions: Sequence[Any],
) -> dict[str, Any]:
    these = trial.results[0]
    data: dict[str, Any] = {
        "tree": arguments.tree,
        "seed": None if isinstance(source, CarsOfFile) else arguments.seed,
        **table_of(library, these),
    }
    best = against_best(library, source, these)
    data["against_best_order"] = asdict(best) if best is not None else None
    data["against_parts"] = asdict(against_parts(library, these))
    if len(trial.results) > 1:
        other = load_library(files=versions[1])
        differing = parted(these, trial.results[1])
        data["against"] = {
            "version": arguments.against,
            "table": table_of(other, trial.results[1]),
            "differently": [_parted(one) for one in differing],
        }
    data["each"] = [_plain(result) for result in these]
    data["time"] = {
        "milliseconds_a_car": sum(r.milliseconds for r in these) / max(len(these), 1),
        "seconds": trial.seconds,
    }
    return data


def _plain(result: CarResult) -> dict[str, Any]:
    plain = asdict(replace(result, milliseconds=0.0))
    del plain["milliseconds"]
    return {**plain, "score": result.score.value}


def _parted(found: Parted) -> dict[str, Any]:
    return {
        "number": found.one.number,
        "car": found.one.name,
        "hidden": [list(pair) for pair in found.one.hidden],
        "at": found.at,
        "here": _step(found.here),
        "there": _step(found.there),
        "these": {"ended": found.one.ended, "strength": found.one.strength, "score": found.one.score.value},
        "against": {
            "ended": found.other.ended,
            "strength": found.other.strength,
            "score": found.other.score.value,
        },
    }


def _step(step: PathStep | None) -> str | None:
    return f"{step.tree}/{step.step}: {step.verdict}" if step is not None else None


def _lines(data: dict[str, Any]) -> list[str]:
    lines = lines_of_table(data)
    lines += lines_of_worth(data)
    if "against" in data:
        lines += _lines_against(data)
    time = data["time"]
    lines.append("")
    lines.append(f"{time['milliseconds_a_car']:.1f} ms of processor a car; {time['seconds']:.1f} s in all")
    return lines


def _lines_against(data: dict[str, Any]) -> list[str]:
    against = data["against"]
    found = against["differently"]
    lines = ["", f"Against {Path(against['version']).name}: {len(found)} of {data['cars']} cars differ"]
    for name, now in data["scores"].items():
        then = against["table"]["scores"][name]
        if now["cars"] != then["cars"]:
            lines.append(f"  {now['cars'] - then['cars']:+6d}  {name}  ({then['cars']} -> {now['cars']})")
    for one in found[:LISTED]:
        hidden = " + ".join(fault for fault, _ in one["hidden"]) or "no fault"
        lines.append(f"  car {one['car']} ({hidden})")
        for label, end, step in (("now", "these", "here"), ("then", "against", "there")):
            how = one[end]
            lines.append(f"    {label}: {how['ended']} ({how['strength'] or 'open'}): {how['score']}")
            lines.append(f"      parted at {one[step] or 'the end'}")
    if len(found) > LISTED:
        lines.append(f"  and {len(found) - LISTED} more: --json lists them")
    return lines
