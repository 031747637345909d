"""The `layby` command: what it prints, its exit codes, and one clear line for whatever is wrong."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from xml.etree import ElementTree

import pytest

from engine.folding import DERIVED
from engine.library import load_library
from tests.engine.jobs_made import concluded
from tui.cli import main

ROOT = Path(__file__).parents[2]
CARS = ROOT / "tests" / "jobs" / "cars"
COMMANDS = ("walk", "check", "report", "work", "trace", "gas", "map", "readings", "faults")
KEYS = {
    "tree", "outcome", "conclusion", "suspects", "path", "not_measured", "assumed", "flagged", "unused",
    "minutes", "proof",
}  # fmt: skip
MAY_BE_THERE = {"returned", "open_end", "also", "drive"}

Said = tuple[int, str, str]


@pytest.fixture(autouse=True)
def _data(tmp_path, monkeypatch):
    monkeypatch.setenv("LAYBY_DATA", str(tmp_path / "data"))


@pytest.fixture
def say(capsys):
    """Run the command in this process and return exit code, output and errors."""

    def run(*arguments: str | Path) -> Said:
        try:
            code = main([str(argument) for argument in arguments])
        except SystemExit as end:
            code = int(end.code or 0)
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return run


def outside(*arguments: str | Path, feed: str | None = None, **environment: str) -> Said:
    """Run the command as a process of its own, without a terminal."""
    done = subprocess.run(
        [sys.executable, "-m", "tui.cli", *map(str, arguments)], capture_output=True, text=True,
        encoding="utf-8", cwd=ROOT, env={**os.environ, **environment}, timeout=120,
        **({"input": feed} if feed is not None else {"stdin": subprocess.DEVNULL}),
    )  # fmt: skip
    assert "Traceback" not in done.stdout + done.stderr
    return done.returncode, done.stdout, done.stderr


def one_line(err: str) -> str:
    """Return what stands on standard error, which must be one line."""
    lines = err.splitlines()
    assert len(lines) == 1, err
    return lines[0]


def readings(tmp_path: Path, text: str | bytes, name: str = "car.yaml") -> Path:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


# ------------------------------------------------------------------------------ help


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_helps_with_an_example_that_it_understands(say, command):
    code, out, err = say(command, "--help")

    assert (code, err) == (0, "")
    example = next(line.strip() for line in out.splitlines() if line.strip().startswith("layby "))
    assert example.split()[1] == command


def test_help_of_all_names_every_command(say):
    code, out, _ = say("--help")

    assert code == 0
    assert all(f"\n    {command}" in out for command in COMMANDS)


@pytest.mark.parametrize(
    "arguments",
    [
        ["wlak"],
        ["walk"],
        ["walk", "--tree", "triage"],
        ["report"],
        ["work", "--jsno"],
        ["report", "x", "--format", "pdf"],
    ],
)
def test_a_slip_in_the_command_is_one_line_and_exit_2(say, arguments):
    code, out, err = say(*arguments)

    assert (code, out) == (2, "")
    assert "--help" in one_line(err)


def test_the_version_is_printed(say):
    code, out, _ = say("--version")

    assert code == 0
    assert out.startswith("layby")


# ------------------------------------------------------------------------------ work


def test_a_formula_with_its_range_and_source(say):
    # The trade's number for the total trim is the plain sum: common practice.
    code, out, err = say("work", "total_trim", "short=-8.6", "long=-9.4")

    assert (code, err) == (0, "")
    assert out.splitlines()[0] == "total = -18 %"
    assert "range: " in out
    assert "source: " in out


def test_a_formula_as_json(say):
    code, out, _ = say("work", "heater_load", "volts=12", "ohms=6", "--json")
    data = json.loads(out)

    assert code == 0
    assert set(data) == {"formula", "results", "range", "source"}
    assert data["results"]["current"] == {"value": 2.0, "unit": "A"}
    assert data["results"]["power"] == {"value": 24.0, "unit": "W"}


def test_all_formulas_are_listed(say):
    _, out, _ = say("work")
    _, as_json, _ = say("work", "--json")

    assert "lambda_from_gas" in out
    assert len(json.loads(as_json)) == len(out.splitlines())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["totl_trim"], "total_trim"),
        (["total_trim", "short=1"], "long"),
        (["total_trim", "short=1", "long=x"], "long"),
        (["total_trim", "short=1", "long=2", "wide=3"], "wide"),
        (["total_trim", "short=1", "long=2000"], "99.3"),
        (["total_trim", "short=1", "long=2 bar"], "bar"),
        (["heater_load", "volts=12", "ohms=0"], "ohms"),
        (["obd_value", "pid=zz", "bytes=1A"], "pid"),
        (["nernst_emf", "o2_reference=nan", "o2_exhaust=0.1", "temp=600"], "o2_reference"),
        (["\x1b[31mred"], "red"),
    ],
)
def test_what_a_formula_refuses_is_one_line_and_exit_2(say, arguments, said):
    code, out, err = say("work", *arguments)

    assert (code, out) == (2, "")
    assert said in one_line(err)
    assert "\x1b" not in err


# -------------------------------------------------------------------------- catalogues


@pytest.mark.parametrize(("command", "word"), [("readings", "trim"), ("faults", "injector")])
def test_the_catalogues_are_searched(say, command, word):
    code, out, _ = say(command, word)
    _, as_json, _ = say(command, word, "--json")
    data = json.loads(as_json)

    assert code == 0
    assert len(data) == len(out.splitlines()) > 2
    assert all(entry["id"] in out for entry in data)
    assert all(word in json.dumps(entry).lower() for entry in data)


def test_readings_are_found_by_unit_and_tool(say):
    by_unit = json.loads(say("readings", "kPa", "--json")[1])
    by_tool = json.loads(say("readings", "MM", "--json")[1])

    assert {"fuelp_koeo"} <= {entry["id"] for entry in by_unit}
    assert by_tool
    assert len(json.loads(say("readings", "--json")[1])) > len(by_unit)


def test_nothing_found_says_so(say):
    assert say("faults", "xyzzy")[:2] == (0, "nothing in the faults fits “xyzzy”\n")
    assert say("faults", "xyzzy", "--json")[1] == "[]\n"


# -------------------------------------------------------------------------------- walk


def walked(say, path: Path, *more: str, tree: str = "triage") -> dict:
    code, out, err = say("walk", "--tree", tree, "--readings", path, "--json", *more)
    assert (code, err) == (0, "")
    return json.loads(out)


def test_a_walk_as_json_has_exactly_its_keys(say):
    data = walked(say, CARS / "dripping-injector.yaml")

    assert set(data) >= KEYS
    assert set(data) <= KEYS | MAY_BE_THERE
    assert data["outcome"] == "concluded"
    assert set(data["conclusion"]) == {
        "id", "faults", "side", "cylinder", "direction", "strength", "sure", "drive", "repair", "missing",
    }  # fmt: skip
    for entry in data["path"]:
        assert set(entry) == {"tree", "step", "readings", "work", "verdict", "grade", "sure", "exit"}
        assert all(set(value) == {"value", "unit"} for value in entry["readings"].values())
    assert {frozenset(suspect) for suspect in data["suspects"]} == {frozenset({"fault", "side", "p"})}
    assert sum(suspect["p"] for suspect in data["suspects"]) == pytest.approx(1.0)
    assert data["minutes"] > 0


@pytest.mark.parametrize("text", ["", "{}", "scene_safe: safe"])
def test_a_walk_with_next_to_nothing_ends_open(say, tmp_path, text):
    data = walked(say, readings(tmp_path, text))

    assert data["outcome"] == "open"
    assert data["conclusion"] is None
    assert data["open_end"]["say"]
    assert data["not_measured"]


def test_the_same_walk_prints_the_same_bytes_in_any_process():
    arguments = ("walk", "--tree", "triage", "--readings", CARS / "dripping-injector.yaml", "--json")
    one = outside(*arguments, PYTHONHASHSEED="1")
    two = outside(*arguments, PYTHONHASHSEED="2")

    assert one[0] == 0
    assert one == two


def test_a_walk_in_words(say):
    code, out, err = say("walk", "--tree", "triage", "--readings", CARS / "dripping-injector.yaml")
    data = walked(say, CARS / "dripping-injector.yaml")
    label = load_library().catalogue.faults.faults[data["conclusion"]["faults"][0]].label

    assert (code, err) == (0, "")
    assert f"{label}" in out
    assert "Repair: " in out
    assert "Suspects:" in out
    assert "Driving: " in out
    assert "Minutes: " in out
    assert "{" not in out


def test_json_files_takes_true_false_and_the_car_option(say, tmp_path):
    given = {
        "scene_safe": "safe", "complaint_seen": True, "veh_start_stop": False,
        "stft_b1_idle": {"takes": [-8.0, -9.0, -8.6]}, "ltft_b1_idle": -9.4,
    }  # fmt: skip
    path = readings(tmp_path, json.dumps(given), "car.json")
    data = walked(say, path, "--car", "banks=1", "--car", "veh_air_metering=maf", "--car", "start_stop=true")

    asked = {name: value for entry in data["path"] for name, value in entry["readings"].items()}
    assert asked["complaint_seen"]["value"] == "yes"
    assert "veh_start_stop" not in data["assumed"]
    taken = asked.get("stft_b1_idle")
    assert taken is None or taken["value"] == pytest.approx(-8.533, abs=0.01)
    assert "scene_safe" not in data["assumed"]


def test_an_unlikely_value_is_flagged_and_an_unasked_one_is_unused(say, tmp_path):
    path = readings(tmp_path, "stft_b1_idle: -60\nscene_safe: not_safe\nfuelp_koeo: 2.5 bar\n")
    data = walked(say, path)

    assert data["flagged"] == ["stft_b1_idle"]
    assert "fuelp_koeo" in data["unused"]
    assert "scene_safe" not in data["unused"]


def test_a_procedure_returns_its_outcome(say, tmp_path):
    data = walked(say, readings(tmp_path, ""), "--car", "side=b1s1", tree="upstream-sensor")

    assert data["tree"] == "upstream-sensor"
    assert data["outcome"] == "open"
    assert data["returned"] or data["open_end"]


def test_the_proof_is_taken_from_the_second_map(say, tmp_path):
    source = (CARS / "dripping-injector.yaml").read_text()
    if "after_repair:" not in source:
        source += "\nafter_repair: {}\n"
    before = source.split("after_repair:")[0]
    unproven = walked(say, readings(tmp_path, before + "after_repair: {scene_safe: safe}\n"))
    without = walked(say, readings(tmp_path, before))

    assert without["proof"] is None
    assert unproven["proof"]["result"] in ("unproven", "fixed", "failed")
    assert {k: v for k, v in unproven.items() if k != "proof"} == {
        k: v for k, v in without.items() if k != "proof"
    }


def test_all_that_is_wrong_in_a_file_is_listed_and_nothing_is_walked(say, tmp_path):
    text = "scene_safe: saef\nstft_b1_idel: 3\nfuelp_koeo: 9000000\nltft_b1_idle: [1, 2]\n"
    path = readings(tmp_path, text)
    code, out, err = say(
        "walk", "--tree", "triage", "--readings", path, "--car", "banks=two", "--car", "bnaks"
    )

    assert (code, out) == (2, "")
    lines = err.splitlines()
    assert len(lines) == 6
    for number, wanted in enumerate(("safe", "stft_b1_idle", "kPa", "takes"), 1):
        assert any(line.startswith(f"{path}:{number}:") and wanted in line for line in lines), wanted
    assert sum(line.startswith("--car:") for line in lines) == 2


@pytest.mark.parametrize(
    "content",
    [
        b"\x00\x01\x02\xff\xfe",
        b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
        b"a: [1,",
        b'{"a": }',
        b"- 1\n- 2\n",
        b"5",
        b"a: &x 1\nb: *x\n",
        b"scene_safe: safe\nscene_safe: safe\n",
        b"[" * 5000,
        b"a: 1\n---\nb: 2\n",
        b"a:\n\t- b\n",
    ],
)
def test_a_file_that_is_no_map_of_readings_is_refused_with_its_place(say, tmp_path, content):
    path = readings(tmp_path, content)
    code, out, err = say("walk", "--tree", "triage", "--readings", path)

    assert (code, out) == (2, "")
    assert err
    assert all(line.startswith(f"{path}:") for line in err.splitlines()), err
    assert all(line.isprintable() for line in err.splitlines())


@pytest.mark.parametrize("name", ["missing.yaml", ".", "missing/car.yaml", "a" * 300])
def test_a_file_that_cannot_be_read_is_one_line(say, tmp_path, name):
    code, out, err = say("walk", "--tree", "triage", "--readings", tmp_path / name)

    assert (code, out) == (2, "")
    assert "cannot be read" in one_line(err)


@pytest.mark.skipif(os.name == "nt", reason="named pipes and modes are different there")
def test_an_unreadable_file_is_one_line(tmp_path):
    path = readings(tmp_path, "scene_safe: safe\n")
    path.chmod(0)
    try:
        path.read_bytes()
    except PermissionError:
        code, _, err = outside("walk", "--tree", "triage", "--readings", path)
        assert code == 2
        assert "cannot be read" in one_line(err)
    else:  # the administrator reads everything
        assert outside("walk", "--tree", "triage", "--readings", path)[0] == 0


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--tree", "rich-runing"], "rich-running"),
        (["--tree", "upstream-sensor"], "side="),
        (["--tree", "upstream-sensor", "--car", "side=b1"], "side="),
        (["--tree", "triage", "--car", "side=nonsense"], "side"),
        (["--tree", "triage", "--car", "=3"], "no reading is called"),
        (["--tree", "triage", "--car", "colour=red"], "colour"),
        (["--tree", "triage", "--car", "banks=-1"], "veh_banks"),
        (["--tree", "triage", "--shop", "/no/such/folder"], "folder"),
    ],
)
def test_what_a_walk_refuses_is_one_line(say, tmp_path, more, said):
    code, out, err = say("walk", "--readings", readings(tmp_path, ""), *more)

    assert (code, out) == (2, "")
    assert said in one_line(err)


def test_the_shop_folder_of_the_data_folder_counts(say, tmp_path):
    shop = tmp_path / "data" / "shop"
    shop.mkdir(parents=True)
    (shop / "broken.yaml").write_text("format: 1\nextends: triage\nnonsense: 1\n")
    code, _, err = say("walk", "--tree", "triage", "--readings", readings(tmp_path, ""))

    assert code == 2
    assert "shop/broken.yaml:3:1:" in err


# ------------------------------------------------------------------------------- check


def test_check_lists_what_is_wrong_one_a_line_and_ends_with_1(say, tmp_path):
    path = readings(tmp_path, "format: 1\ntree: mine\nkind: symptom\ntitel: x\n", "mine.yaml")
    code, out, err = say("check", path)

    assert code == 1
    assert out
    for line in out.splitlines():
        assert line.startswith(f"{path}:")
        assert line.split(": ")[1] in ("error", "warning", "hint")
    assert "did you mean 'title'?" in out
    assert one_line(err).endswith("findings")


@pytest.mark.parametrize("name", ["missing.yaml", "folder", "binary.yaml"])
def test_check_of_what_cannot_be_checked_says_so_at_its_place(say, tmp_path, name):
    path = tmp_path / name
    if name == "folder":
        path.mkdir()
    elif name == "binary.yaml":
        path.write_bytes(bytes(range(256)))
    code, out, _ = say("check", path)

    assert code == 1
    assert all(line.startswith(f"{path}:") for line in out.splitlines())
    assert out


# ------------------------------------------------------------------------------ report


def test_a_job_is_reported_in_every_form(say, tmp_path):
    with concluded(tmp_path / "data" / "jobs") as job:
        name = job.journal.path.stem
    for form, start in (("md", "# grey hatchback"), ("html", "<!doctype html>"), ("json", "{\n")):
        code, out, err = say("report", name[:20], "--format", form)
        assert (code, err) == (0, "")
        assert out.startswith(start)
        file = tmp_path / f"job.{form}"
        code, nothing, _ = say("report", job.journal.path, "--format", form, "--out", file)
        assert (code, nothing) == (0, "")
        assert file.read_text(encoding="utf-8") == out


def test_a_report_is_read_only_even_while_the_job_is_open(say, tmp_path):
    with concluded(tmp_path / "data" / "jobs") as job:
        before = job.journal.path.read_bytes()
        code, out, err = say("report", job.journal.path)
        assert (code, err) == (0, "")
        assert "purge" in out
        job.walk.note("still writing")
        assert job.journal.path.read_bytes().startswith(before)
        assert {event["kind"] for event in job.walk.events} <= DERIVED | {"started", "taken", "note"}


def test_a_damaged_job_is_reported_up_to_the_damage(say, tmp_path):
    with concluded(tmp_path / "data" / "jobs") as job:
        path = job.journal.path
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*lines[:12], b"rubbish\n", *lines[13:]]))
    code, out, err = say("report", path)

    assert code == 0
    assert f"{path}:13:" in one_line(err)
    assert "not finished" in out


@pytest.mark.parametrize("text", ["", "nothing", "../..", "\x1b[31m", "x" * 400])
def test_no_such_job_is_one_line(say, text):
    code, out, err = say("report", text)

    assert (code, out) == (2, "")
    assert "\x1b" not in one_line(err)


@pytest.mark.parametrize("content", [b"", b"rubbish", bytes(range(256)), b"{}\n"])
def test_a_file_that_is_no_job_is_one_line(say, tmp_path, content):
    code, _, err = say("report", readings(tmp_path, content, "x.layby"))

    assert code == 2
    assert "x.layby" in one_line(err)


def test_a_report_that_cannot_be_written_is_one_line(say, tmp_path):
    with concluded(tmp_path / "data" / "jobs") as job:
        path = job.journal.path
    code, _, err = say("report", path, "--out", tmp_path / "no" / "such" / "folder.md")

    assert code == 2
    assert "cannot be written" in one_line(err)


# --------------------------------------------------------------------------------- map


def test_every_tree_is_drawn_whole_in_every_form(say):
    for name, tree in load_library().trees.items():
        steps = next(iter(tree.steps.values())).values()
        code, text, err = say("map", name)
        assert (code, err) == (0, "")
        assert all(step.title in text for step in steps), name

        dot = say("map", name, "--format", "dot")[1]
        assert dot.startswith("digraph tree {")
        assert all(f'"{step.id}" [label=' in dot for step in steps), name
        drawn = ElementTree.fromstring(say("map", name, "--format", "svg")[1])
        titles = {element.text for element in drawn.iter("{http://www.w3.org/2000/svg}title")}
        assert {step.title for step in steps} <= titles, name
        assert text == say("map", name)[1]


def test_a_map_of_no_tree_is_one_line(say):
    code, out, err = say("map", "rich-runing")

    assert (code, out) == (2, "")
    assert "did you mean 'rich-running'?" in one_line(err)


# --------------------------------------------------------------- pipes, terminals, signs


def test_a_closed_pipe_ends_quietly():
    code = "import sys; from tui.cli import main; sys.exit(main(['readings']))"
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.readline()
        process.stdout.close()
        assert process.stderr.read() == ""
        assert process.wait(timeout=60) == 0


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_output_that_cannot_show_every_sign_still_works(encoding):
    def run(*arguments: str) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            [sys.executable, "-m", "tui.cli", *arguments], capture_output=True, cwd=ROOT, check=True,
            env={**os.environ, "PYTHONIOENCODING": encoding},
        )  # fmt: skip

    for arguments in (["readings", "Ω"], ["work", "joint_resistance", "drop=0.5", "current=2"]):
        words = (
            outside(*arguments, PYTHONIOENCODING=encoding, PYTHONUTF8="0") if encoding != "latin-1" else None
        )
        assert words is None or (words[0] == 0 and words[1])
    assert isinstance(json.loads(run("readings", "Ω", "--json").stdout.decode(encoding)), list)


def test_no_terminal_no_screen():
    for environment in ({}, {"NO_COLOR": "1"}, {"TERM": "dumb"}):
        code, out, err = outside(**environment)
        assert (code, out) == (2, "")
        assert "terminal" in one_line(err)
        assert "layby walk" in err


def test_no_command_prints_colours_into_a_pipe():
    environment: Mapping[str, str] = {"FORCE_COLOR": "1", "CLICOLOR_FORCE": "1"}
    for arguments in (["--help"], ["work", "total_trim", "short=1", "long=2"], ["faults", "purge"]):
        assert "\x1b" not in outside(*arguments, **environment)[1]


def test_nothing_but_the_screen_imports_textual():
    code = (
        "import sys\nfrom tui.cli import main\n"
        f"main(['walk', '--tree', 'triage', '--readings', {str(CARS / 'dripping-injector.yaml')!r}])\n"
        "heavy = {'textual', 'rich', 'numpy', 'jsonschema', 'pint', 'scipy'} & set(sys.modules)\n"
        "sys.exit(','.join(sorted(heavy)) or 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT)

    assert done.stderr.strip() == ""
    assert done.returncode == 0
