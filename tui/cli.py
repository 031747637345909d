"""The ``layby`` command. Nothing here imports Textual before a screen is wanted."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from engine.errors import LaybyError

FUEL_NAMES = ("petrol", "e5", "e10", "e20", "e50", "e85", "e100", "lpg", "cng")
OK, FINDINGS, BAD_INPUT = 0, 1, 2
"""Exit codes: done; ``check`` found something; what was given cannot be used."""


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line and where help is."""

    def error(self, message: str) -> None:  # type: ignore[override]
        """End with exit code 2 and one line."""
        self.exit(BAD_INPUT, f"{self.prog}: {message} (see {self.prog} --help)\n")


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of all commands."""
    parser = _Parser(
        prog="layby",
        description=(
            "Find the fault on a petrol car at the roadside: complaint, measurements in order, verdicts,\n"
            "the fault with its evidence, may it be driven, repair, proof, report.\n"
            "Without a command: the screen."
        ),
        formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog="example: layby --demo",
    )
    parser.add_argument("--version", action="store_true", help="print the version and end")
    parser.add_argument("--data", type=Path, metavar="DIR", help="folder of the jobs (else LAYBY_DATA)")
    parser.add_argument("--shop", type=Path, metavar="DIR", help="folder of the shop's own files")
    parser.add_argument("--demo", action="store_true", help="begin with the demonstration job")
    parser.add_argument("--no-mouse", action="store_true", help="keyboard only")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)
    _add_walk(commands)
    _add_check(commands)
    _add_report(commands)
    _add_work(commands)
    _add_trace(commands)
    _add_trial(commands)
    _add_gas(commands)
    _add_map(commands)
    _add_catalogue(commands)
    _add_shop(commands)
    _add_reach(commands)
    _add_rejudge(commands)
    return parser


_Commands = argparse._SubParsersAction


def _command(commands: _Commands[_Parser], name: str, summary: str, example: str) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=summary,
        description=summary,
        epilog=f"example:\n  {example}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def _add_walk(commands: _Commands[_Parser]) -> None:
    walk = _command(
        commands,
        "walk",
        "walk a tree without a screen, with the readings of a file",
        "layby walk --tree triage --readings car.yaml --car banks=2 --json",
    )
    walk.add_argument("--tree", required=True, metavar="ID", help="where to begin, e.g. triage")
    walk.add_argument("--readings", required=True, type=Path, metavar="FILE", help="map of reading id: value")
    walk.add_argument("--car", action="append", default=[], metavar="KEY=VALUE", help="a fact about the car")
    walk.add_argument(
        "--shop", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="folder of the shop"
    )
    walk.add_argument("--json", action="store_true", help="print the outcome as JSON")


def _add_check(commands: _Commands[_Parser]) -> None:
    check = _command(
        commands,
        "check",
        "check trees, catalogues and the shop's own files; one finding a line",
        "layby check my-shop/",
    )
    check.add_argument(
        "paths", nargs="*", type=Path, metavar="PATH", help="files or folders; else what ships"
    )


def _add_report(commands: _Commands[_Parser]) -> None:
    report = _command(
        commands, "report", "write a job as a document", "layby report 20261125 --format html --out job.html"
    )
    report.add_argument("job", metavar="JOB", help="id, the start of one, or the file")
    report.add_argument("--format", choices=("md", "html", "json"), default="md", help="default: md")
    report.add_argument("--out", type=Path, metavar="FILE", help="write here instead of printing")


def _add_work(commands: _Commands[_Parser]) -> None:
    work = _command(
        commands,
        "work",
        "work out a formula of the trade: values, unit, range, source",
        "layby work lambda_from_gas co=0.5 co2=14.7 o2=0.5 hc=100",
    )
    work.add_argument("formula", nargs="?", metavar="FORMULA", help="its name; without one, all are listed")
    work.add_argument("values", nargs="*", metavar="NAME=VALUE", help="with a unit if you like: temp=600degC")
    work.add_argument("--json", action="store_true", help="print the results as JSON")


def _add_trial(commands: _Commands[_Parser]) -> None:
    trial = _command(
        commands,
        "trial",
        "walk many cars with hidden faults through the trees, and say what the trees get right",
        "layby trial --cars 500 --seed 7\n  layby trial --against HEAD~1",
    )
    trial.add_argument("--tree", default="triage", metavar="ID", help="where to begin (default: triage)")
    trial.add_argument("--cars", type=int, default=2000, metavar="N", help="how many (default: 2000)")
    trial.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed, the same cars")
    trial.add_argument("--faults", metavar="ID,ID", help="only cars with one of these")
    trial.add_argument("--many", type=int, choices=(0, 1, 2), default=1, help="faults a car (default: 1)")
    trial.add_argument("--kit", metavar="TOOLS", help="instruments on the van, as MM,CR; else any")
    trial.add_argument(
        "--from",
        dest="source",
        type=Path,
        metavar="FILE",
        help="cars of a file instead, one JSON object a line: fault, side, readings, after_repair",
    )
    trial.add_argument("--against", metavar="REV|DIR", help="the same cars through another version too")
    trial.add_argument("--jobs", type=int, metavar="N", help="processes (default: one a core)")
    trial.add_argument("--shop", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="shop's files")
    trial.add_argument("--json", action="store_true", help="print everything as JSON")


def _add_trace(commands: _Commands[_Parser]) -> None:
    trace = _command(
        commands,
        "trace",
        "measure a recorded oxygen sensor signal: numbers, verdict for each limit, drawing",
        "layby trace upstream.csv --column 'B1S1 (V)'",
    )
    trace.add_argument("file", type=Path, metavar="FILE", help="columns of time and volts, as text")
    trace.add_argument(
        "--column", action="append", default=[], metavar="NAME", help="a column of volts, by name or number"
    )
    trace.add_argument("--rate", type=float, metavar="N", help="samples a second of a file without times")
    trace.add_argument("--json", action="store_true", help="print numbers and verdicts as JSON")


def _add_gas(commands: _Commands[_Parser]) -> None:
    gas = _command(
        commands,
        "gas",
        "say what the gases of an exhaust tell together, and what they cannot",
        "layby gas --idle co=0.4 co2=14.2 o2=0.8 hc=120 --fast co=0.1 co2=15 o2=0.3 hc=40 no=60",
    )
    words = "co= co2= o2= in %%, hc= no= in ppm; lambda= of the analyser, sensor= lambda, trim= %%"
    gas.add_argument("--idle", nargs="+", default=[], metavar="GAS=VALUE", help=words)
    gas.add_argument("--fast", nargs="+", default=[], metavar="GAS=VALUE", help="the same at 2500 rpm")
    gas.add_argument("--fuel", choices=FUEL_NAMES, default="petrol", help="default: petrol")
    gas.add_argument("--hc-as", choices=("hexane", "propane", "carbon"), default="hexane", help="HC scale")
    gas.add_argument(
        "--before", action="store_true", help="the probe is ahead of the catalyst, or none fitted"
    )
    gas.add_argument("--json", action="store_true", help="print as JSON")


def _add_map(commands: _Commands[_Parser]) -> None:
    drawn = _command(
        commands,
        "map",
        "show a tree as a picture: its steps and where each verdict leads",
        "layby map rich-running --format svg > rich-running.svg",
    )
    drawn.add_argument("tree", metavar="TREE", help="its name, e.g. triage")
    drawn.add_argument("--format", choices=("text", "dot", "svg"), default="text", help="default: text")
    drawn.add_argument(
        "--shop", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="folder of the shop"
    )


def _add_catalogue(commands: _Commands[_Parser]) -> None:
    for name, what, example in (
        ("readings", "readings and worked values", "layby readings trim"),
        ("faults", "faults", "layby faults injector"),
    ):
        command = _command(commands, name, f"search the {what} by label, id, unit or tool", example)
        command.add_argument("word", nargs="?", default="", metavar="WORD", help="part of what is sought")
        command.add_argument("--json", action="store_true", help="print as JSON")
        if name == "faults":
            command.add_argument(
                "--coverage", action="store_true", help="fault by tree, with the shortest way in minutes"
            )


def _add_reach(commands: _Commands[_Parser]) -> None:
    command = _command(
        commands,
        "reach",
        "say what can be decided with some instruments in some minutes",
        "layby reach rich-running --kit MM,CR --minutes 20",
    )
    command.add_argument("tree", metavar="TREE", help="where the job begins, e.g. triage")
    command.add_argument("--kit", default="MM,CR", metavar="TOOLS", help="MM meter, CR reader, GA analyser …")
    command.add_argument("--minutes", type=float, default=60.0, help="how long there is (default: 60)")
    command.add_argument("--missing", action="store_true", help="and what each missing instrument costs")
    command.add_argument("--shop", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="shop's files")
    command.add_argument("--json", action="store_true", help="print as JSON")


def _add_rejudge(commands: _Commands[_Parser]) -> None:
    command = _command(
        commands, "rejudge", "judge a job's entries again and show what differs", "layby rejudge 20261125"
    )
    command.add_argument("job", metavar="JOB", help="id, the start of one, or the file")
    command.add_argument("--pinned", action="store_true", help="by the files it was begun with")
    command.add_argument("--shop", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="shop's files")


def _add_shop(commands: _Commands[_Parser]) -> None:
    shop = _command(
        commands,
        "shop",
        "list the shop's own lines, begin its first file, or list names to use in it",
        "layby shop new my-shop\n  layby shop list my-shop\n  layby shop limits trim\n"
        "  layby shop steps rich-running",
    )
    actions = ("list", "new", "limits", "steps")
    shop.add_argument("action", nargs="?", choices=actions, default="list", help="default: list")
    shop.add_argument("word", nargs="?", metavar="FOLDER|WORD|TREE", help="else the data folder's shop")
    shop.add_argument(
        "--shop", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="folder of the shop"
    )
    shop.add_argument("--json", action="store_true", help="print the list as JSON")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    if isinstance(sys.stdout, io.TextIOWrapper):  # a sign the output does not know is no reason to stop
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        code = _run(build_parser().parse_args(argv))
        sys.stdout.flush()
        return code
    except LaybyError as error:
        print(error, file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:  # the reader of a pipe went away; nothing is lost
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OK
    except KeyboardInterrupt:
        return 130


def _run(arguments: argparse.Namespace) -> int:
    if arguments.version:
        from importlib.metadata import PackageNotFoundError, version

        try:
            print(f"layby {version('layby-roadside')}")
        except PackageNotFoundError:  # run from its folder
            print("layby, not installed")
        return OK
    return _handler(arguments.command)(arguments)


def _handler(command: str | None) -> Callable[[argparse.Namespace], int]:
    """Import only what the command needs."""
    match command:
        case "walk":
            from tui.commands.walk import run
        case "check":
            from tui.commands.check import run
        case "report":
            from tui.commands.report import run
        case "work":
            from tui.commands.work import run
        case "gas":
            from tui.commands.gas import run
        case "trial":
            from tui.commands.trial import run
        case "trace":
            from tui.commands.trace import run
        case "reach":
            from tui.commands.reach import run
        case "rejudge":
            from tui.commands.rejudge import run
        case "map":
            from tui.commands.map import run
        case "readings" | "faults":
            from tui.commands.catalogue import run
        case "shop":
            from tui.commands.shop import run
        case _:
            from tui.commands.screen import run
    return run


if __name__ == "__main__":
    raise SystemExit(main())
