"""``layby shop``: from nothing to a checked file of the shop's own, and its lines listed."""

from __future__ import annotations

import json
import re
from pathlib import Path
from urllib.parse import urlparse
from urllib.request import url2pathname

import pytest

from tui.cli import main


class Run:
    """Runs a command and keeps what it printed."""

    def __init__(self, capsys: pytest.CaptureFixture[str]) -> None:
        self.capsys = capsys
        self.out = self.err = ""

    def __call__(self, *words: object) -> int:
        code = main([str(word) for word in words])
        self.out, self.err = self.capsys.readouterr()
        return code


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.setenv("LAYBY_DATA", str(tmp_path / "data"))
    return Run(capsys)


def with_every_example(path: Path) -> None:
    """Take the comment signs away, as the starter says."""
    head, body = path.read_text(encoding="utf-8").split("# A note", 1)
    body = re.sub(r"(?m)^# (?=(?:limits|makers|weights|warn):|  )", "", f"# A note{body}")
    path.write_text(head + body, encoding="utf-8")


def test_from_nothing_to_a_checked_file(run: Run, tmp_path: Path) -> None:
    shop = tmp_path / "data" / "shop"
    assert run("shop") == 2
    assert run.err == f"{shop}: nothing of this shop's own yet; layby shop new writes a first file\n"
    assert run("shop", "new") == 0
    [path] = shop.iterdir()
    assert f"written: {path}\n" in run.out
    assert f"layby check {shop}\n" in run.out
    assert run.out.endswith("then: layby shop\n")
    assert run("check", shop) == 0
    assert run("shop") == 0
    assert run.out.startswith(f"{path}:22: note rich-running/gas: shows: Example")
    assert "    unagreed, " in run.out
    assert run.err == f"{shop}: 1 line, 1 unagreed\n"


def test_the_first_line_names_a_schema_that_is_there(run: Run, tmp_path: Path) -> None:
    assert run("shop", "new", tmp_path / "own") == 0
    first = next(iter((tmp_path / "own").iterdir())).read_text(encoding="utf-8").splitlines()[0]
    place = first.partition("$schema=")[2]
    assert place in run.out
    schema = Path(url2pathname(urlparse(place).path))
    assert json.loads(schema.read_text(encoding="utf-8"))["title"] == "layby overlay"
    assert schema.with_name("common.schema.json").is_file()


def test_nothing_is_overwritten(run: Run, tmp_path: Path) -> None:
    assert run("shop", "new", tmp_path) == 0
    [path] = tmp_path.glob("*.yaml")
    path.write_text("mine", encoding="utf-8")
    assert run("shop", "new", tmp_path) == 2
    assert run.err == f"{path}: is there already and stays as it is; edit it, or name another folder\n"
    assert path.read_text(encoding="utf-8") == "mine"


def test_every_example_of_the_starter_is_right(run: Run, tmp_path: Path) -> None:
    run("shop", "new", tmp_path / "own")
    [path] = (tmp_path / "own").iterdir()
    with_every_example(path)
    assert run("check", tmp_path / "own") == 0, run.out
    assert run("shop", "list", tmp_path / "own") == 0
    assert [
        line.split(": ", 1)[1].split(" ")[0] for line in run.out.splitlines() if not line.startswith(" ")
    ] == [
        "note",
        "limit",
        "maker's",
        "weight",
        "caution",
    ]
    assert (
        ": limit trim_rich_watch: -5.0 % -> -8.0 %\n    only where veh_engine_litres at least 1.5" in run.out
    )
    assert "shop lead, " in run.out
    assert ", today: eleven of thirteen vans this year\n    until " in run.out
    assert run("shop", "list", tmp_path / "own", "--json") == 0
    data = json.loads(run.out)
    assert [line["by"] for line in data] == [None, *["shop lead"] * 4]
    assert data[1]["cars"] == "veh_engine_litres at least 1.5 at most 1.7 and veh_fuel_system is port_return"


def test_what_is_not_used_is_said_with_what_stands_in_its_place(run: Run, tmp_path: Path) -> None:
    entry = '{limit: trim_lean, value: %d, by: A, on: "2020-01-01", reason: seen}'
    for name, figure in (("a", 12), ("b", 13)):
        text = f"format: 1\nextends: catalogue\nlimits:\n  - {entry % figure}\n"
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "c.yml").write_text("format: 1\n", encoding="utf-8")
    assert run("shop", "--shop", tmp_path) == 0
    assert f"    not used: {tmp_path / 'b.yaml'}:4 comes later\n" in run.out
    assert run.out.count("not used") == 1
    assert " years old: seen" in run.out
    assert f"{tmp_path / 'c.yml'}: is not read: rename it to c.yaml\n" in run.err


def test_a_wrong_file_is_explained_by_its_own_path(run: Run, tmp_path: Path) -> None:
    text = 'format: 1\nextends: gass\nnotes:\n  - {at: gas, text: T., on: "2020-01-01"}\n'
    (tmp_path / "a.yaml").write_text(text, encoding="utf-8")
    assert run("shop", "list", tmp_path) == 2
    assert run.err.startswith(f"{tmp_path / 'a.yaml'}:2:10: error: extends: unknown tree 'gass'")
    assert "Traceback" not in run.err


def test_names_for_the_file(run: Run) -> None:
    assert run("shop", "limits", "trim_lean") == 0
    assert re.match(r"trim_lean +total trim that counts as lean: 10\.0 %\n", run.out)
    assert run("shop", "limits", "zzz") == 0
    assert run.out == "no limit fits “zzz”\n"
    assert run("shop", "steps", "rich-running") == 0
    assert "    read-trims/both-rich-equal: " in run.out
    assert run("shop", "steps", "rich-runing") == 2
    assert "did you mean 'rich-running'?" in run.err
    assert run("shop", "steps") == 2
    assert "layby shop steps TREE" in run.err
