"""The measures, each a function that returns one line."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]

TO_FIRST_PAINT = """
async def stop(pilot):
    pilot.app.exit(time.perf_counter() - start)
print(app.run(headless=True, size=(80, 24), auto_pilot=stop))
"""
BARE_APP = """
import time; start = time.perf_counter()
from textual.app import App
from textual.widgets import Footer, Input, Static
class Bare(App):
    def compose(self):
        yield Static("bare"); yield Input(); yield Footer()
app = Bare()
"""
OUR_APP = """
import pathlib, sys, time; start = time.perf_counter()
from tui.app import LaybyApp
app = LaybyApp(data=pathlib.Path(sys.argv[1]), shop=None, demo=False)
"""


def timed(work: Callable[[], object], times: int, clock: Callable[[], float] = time.perf_counter) -> float:
    """Return the least time of several runs, in seconds."""
    best = float("inf")
    for _ in range(times):
        start = clock()
        work()
        best = min(best, clock() - start)
    return best


def _to_first_paint(code: str, *arguments: str) -> float:
    command = [sys.executable, "-c", code + TO_FIRST_PAINT, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=True, timeout=60)
    return float(done.stdout.strip().splitlines()[-1])


def first_paint() -> str:
    """Our app to its first paint against a bare Textual app."""
    ours, bare = [], []
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(5):  # by turns, so that both meet the same machine
            ours.append(_to_first_paint(OUR_APP, folder))
            bare.append(_to_first_paint(BARE_APP))
    ratio, base = statistics.median(ours) / statistics.median(bare), 1000 * statistics.median(bare)
    return f"{ratio:5.2f} x a bare Textual app ({base:.0f} ms)          budget 1.5"


def _files() -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in sorted((ROOT / "trees").rglob("*.yaml")) if "demo" not in p.parts}


def _over_bare_yaml(ours: Callable[[], object], times: int = 3) -> float:
    """Return processor time over that of `yaml.load` on the same files, run by turns."""
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    files = _files()

    def bare() -> object:
        return [yaml.load(text, Loader=loader) for text in files.values()]

    runs = [(timed(ours, 1, time.process_time), timed(bare, 1, time.process_time)) for _ in range(times)]
    return min(our for our, _ in runs) / min(bare for _, bare in runs)


def load() -> str:
    """All definition files with schema and references against a bare parse."""
    from engine.library import assemble_documents, kind_of_file
    from engine.schema_check import check_schema
    from engine.yaml_text import read_yaml

    files = _files()

    def ours() -> None:
        documents = {name: read_yaml(text, name) for name, text in files.items()}
        for name, document in documents.items():
            check_schema(document, kind_of_file(name, document))
        assemble_documents(documents, files)

    return f"{_over_bare_yaml(ours):5.2f} x yaml.load with the C loader        budget 5"


def load_only() -> str:
    """What the interface does at start: references, no schema."""
    from engine.library import load_library

    files = _files()
    ratio = _over_bare_yaml(lambda: load_library(files=files))
    return f"{ratio:5.2f} x yaml.load with the C loader        no budget"


def review() -> str:
    """The review of all trees against a bare parse."""
    from engine.library import load_library
    from engine.review import review

    library = load_library()
    return (
        f"{_over_bare_yaml(lambda: review(library), 1):5.2f} x yaml.load with the C loader        budget 20"
    )


def append() -> str:
    """One acknowledged event against a bare write and fsync."""
    from engine.journal import Journal

    event = {
        "kind": "taken",
        "reading": "stft_b1_idle",
        "answer": -8.6,
        "unit": "%",
        "typed": "-8.6",
        "at": 1.7e9,
    }
    line = b"x" * 170 + b"\n"
    with tempfile.TemporaryDirectory(dir=ROOT / "tests") as folder:
        journal = Journal.create(Path(folder), header={}, at="2026-01-01T00:00:00+00:00")
        bare = os.open(Path(folder) / "bare", os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o600)

        def bare_write() -> None:
            os.write(bare, line)
            os.fsync(bare)

        ours, theirs = [], []
        for _ in range(300):  # by turns, so that both meet the same disk
            ours.append(timed(lambda: journal.append(event), 1))
            theirs.append(timed(bare_write, 1))
        os.close(bare)
        journal.close()
    ratio = statistics.median(ours) / statistics.median(theirs)
    return f"{ratio:5.2f} x a bare write + fsync ({1e3 * statistics.median(theirs):.2f} ms)      budget 1.5"


def key_to_verdict() -> str:
    """From an entry that completes a step to its verdict and the next question, 200 of them, no screen."""
    from engine.asking import Ask
    from engine.library import load_library
    from engine.walking import Walk
    from tests.bench.answers import usual_answer

    library = load_library()
    times: list[float] = []
    while len(times) < 200:
        walk = Walk(library, clock=time.time)
        walk.start("triage")
        while isinstance(stop := walk.advance(), Ask) and len(times) < 200:
            line, judged = stop.lines[0], len(walk.state.path)
            start = time.perf_counter()
            walk.take(line.reading.id, usual_answer(line.reading))
            walk.advance()
            if len(walk.state.path) > judged:
                times.append(time.perf_counter() - start)
    return (
        f"{1000 * statistics.median(times):5.1f} ms median, {1000 * max(times):.1f} ms worst of 200 verdicts"
    )


def headless_car() -> str:
    """One car through triage without a screen."""
    from engine.answers_file import read_answers
    from engine.headless import walk_headless
    from engine.library import load_library

    library = load_library()
    files = sorted((ROOT / "tests" / "jobs").rglob("*.yaml"))
    answers = [read_answers(f.read_bytes(), f.name, library.catalogue) for f in files]

    def all_cars() -> None:
        for one in answers:
            walk_headless(library, "triage", one)

    each = 1000 * timed(all_cars, 1, time.process_time) / max(len(answers), 1)
    return f"{each:5.1f} ms a car over {len(answers)} cars                budget 24"


def trial_car() -> str:
    """One car of a trial: its readings taken where the walk asks, its walk, its score; one process."""
    import json

    from engine.trial.cars import CarsOfFile
    from engine.trial.running import Plan, run_trial
    from engine.yaml_text import read_yaml

    files = sorted((ROOT / "tests" / "jobs" / "cars").glob("*.yaml"))
    data = [read_yaml(path.read_bytes(), path.name).data for path in files]
    maps = [one for one in data if isinstance(one, dict)]
    lines = tuple(
        json.dumps({"fault": None, "readings": {k: v for k, v in one.items() if k != "after_repair"}})
        for one in maps
    )
    trial = run_trial(Plan(CarsOfFile("tests/jobs/cars", lines), len(lines), "triage"), jobs=1)
    each = sum(result.milliseconds for result in trial.results[0]) / len(lines)
    return f"{each:5.1f} ms a car over {len(lines)} cars                budget 24"


def textual_free() -> str:
    """A walk without a screen imports no Textual."""
    code = "import sys, tui.cli, tui.commands.walk; print('textual' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    return "  no" if done.stdout.strip() == "False" else "  YES: it should not"


MEASURES: dict[str, Callable[[], str]] = {
    "first paint": first_paint,
    "load, schema and references": load,
    "load, references only": load_only,
    "review": review,
    "append to the journal": append,
    "entry to next question": key_to_verdict,
    "a car without a screen": headless_car,
    "a car of a trial": trial_car,
    "walk imports Textual": textual_free,
}
