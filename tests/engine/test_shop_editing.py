"""Edits from the step at hand: what is written, what is kept, and what a walk makes of it."""

from __future__ import annotations

import errno
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine import shop_editing
from engine.answers_file import read_answers
from engine.headless import walk_headless
from engine.journal import disk
from engine.library import load_library
from engine.local_lines import step_digest
from engine.review import check
from engine.shop_editing import Edited, pin_note, set_limit, set_weight
from engine.shop_starter import write_starter
from engine.shop_text import with_entry
from engine.tree import Binding
from engine.yaml_text import read_yaml
from tests.engine.made import situation

ON = "2026-03-01"
LPG: dict[str, Any] = {"veh_fuel": {"is": "lpg"}}


def said(edited: Edited) -> list[str]:
    return [str(problem) for problem in edited.problems]


def errors_of_check(folder: Path) -> list[str]:
    return [str(problem) for problem in check([folder]) if problem.level != "hint"]


# ----------------------------------------------------------------- the three commonest

CAR = b"""\
veh_banks: 1
stft_b1_idle: -1
ltft_b1_idle: -6
stft_b1_2500: 0
ltft_b1_2500: 0
"""


def walked(folder: Path | None, tree: str, source: bytes = CAR, **facts: str) -> dict[str, Any]:
    library = load_library(folder)
    answers = read_answers(source, "car.yaml", library.catalogue, [f"{k}={v}" for k, v in facts.items()])
    assert answers.problems == ()
    walk, outcome = walk_headless(library, tree, answers)
    outcome["judged"] = walk.state.path
    return outcome


def judged_on(outcome: dict[str, Any], limit: str) -> dict[str, Any]:
    return next(event for event in outcome["judged"] if limit in event["limits"])


def test_a_limit_for_one_engine_changes_the_verdict_of_that_engine_alone(tmp_path: Path) -> None:
    name = "trim_rich_watch"
    engine: dict[str, Any] = {"veh_engine_litres": {"at_least": 1.5, "at_most": 1.7}}
    edited = set_limit(tmp_path, name, -12, "%", cars=engine, by="A. Lead", on=ON, reason="runs rich")
    assert said(edited) == []
    assert (edited.path, edited.line) == (tmp_path / "figures.yaml", 6)
    assert errors_of_check(tmp_path) == []
    own, other = (walked(tmp_path, "rich-running", veh_engine_litres=litres) for litres in ("1.6", "2.0"))
    shipped = walked(None, "rich-running", veh_engine_litres="1.6")
    judged = [judged_on(one, name) for one in (own, other, shipped)]
    general = load_library().catalogue.limits[name].value
    assert [event["limits"][name]["value"] for event in judged] == [-12, general, general]
    verdicts = [event["verdict"] for event in judged]
    assert verdicts[0] != verdicts[1] == verdicts[2]
    library = load_library(tmp_path)
    line = library.limit_line(name, situation(library.catalogue, {"veh_engine_litres": 1.6}))
    assert line is not None
    assert (line.place, line.source.words) == (
        "shop/figures.yaml:6",
        "this shop (A. Lead, 2026-03-01: runs rich)",
    )


def test_a_weight_with_its_reason_changes_the_suspects(tmp_path: Path) -> None:
    edited = set_weight(tmp_path, "purge_stuck_open", 20, by="A. Lead", on=ON, reason="eleven of thirteen")
    assert said(edited) == []
    assert errors_of_check(tmp_path) == []
    before, after = (
        {s["fault"]: s["p"] for s in walked(folder, "rich-running")["suspects"]}
        for folder in (None, tmp_path)
    )
    assert after["purge_stuck_open"] > before.get("purge_stuck_open", 0.0)
    [line] = load_library(tmp_path).local
    assert (line.place, line.reason) == ("shop/figures.yaml:6", "eleven of thirteen")


def test_a_weight_for_some_cars_changes_the_suspects_of_those_alone(tmp_path: Path) -> None:
    engine: dict[str, Any] = {"veh_engine_litres": {"at_most": 1.7}}
    edited = set_weight(tmp_path, "purge_stuck_open", 20, cars=engine, on=ON, reason="eleven of thirteen")
    assert said(edited) == []
    own, other = (
        next(s["p"] for s in walked(tmp_path, "rich-running", veh_engine_litres=litres)["suspects"]
             if s["fault"] == "purge_stuck_open")
        for litres in ("1.6", "2.0")
    )  # fmt: skip
    assert own > 3 * other


def test_a_note_stands_on_its_step_with_its_origin(tmp_path: Path) -> None:
    edited = pin_note(tmp_path, "rich-running", "gas", 'Mind: the "old" probe # leaks.', by="A. Lead", on=ON)
    assert said(edited) == []
    assert edited.path == tmp_path / "rich-running.yaml"
    assert errors_of_check(tmp_path) == []
    [note] = load_library(tmp_path).tree("rich-running").step("gas", Binding()).notes
    assert (note.text, note.by, note.on) == ('Mind: the "old" probe # leaks.', "A. Lead", ON)
    assert (note.origin.file, note.origin.line) == ("shop/rich-running.yaml", edited.line)
    text = edited.path.read_text(encoding="utf-8")
    assert text.startswith("# yaml-language-server: $schema=file:///")


# ------------------------------------------------------------------- what is kept

BY_HAND = """\
# What we know.  \r
format: 1\r
extends: catalogue\r
\r
limits:   # figures\r
# the old meter reads low\r
- {limit: trim_rich, value: -12, by: B, on: "2025-01-01",\r
   reason: "reads # low"}   # see the book\r
- limit: trim_lean   # gas cars\r
  cars: {veh_fuel: {is: lpg}}\r
  value: 13\r
  by: B\r
  on: "2025-01-01"\r
  reason: >-\r
    two lines\r
    of reason\r
  # to be looked at again\r
\r
# weights come here\r
weights:\r
  - {fault: purge_stuck_open, times: 2, by: B, on: "2025-01-01", reason: often}"""


def by_hand(folder: Path) -> Path:
    path = folder / "own.yaml"
    path.write_bytes(BY_HAND.encode())
    return path


def test_an_appended_line_leaves_every_other_byte(tmp_path: Path) -> None:
    path = by_hand(tmp_path)
    edited = set_limit(tmp_path, "trim_rich", -11, cars=LPG, by="A", on=ON, reason="gas")
    assert said(edited) == []
    new = (
        "- limit: trim_rich\r\n  cars: {veh_fuel: {is: lpg}}\r\n  value: -11\r\n  by: A\r\n"
        '  on: "2026-03-01"\r\n  reason: gas\r\n'
    )
    place = BY_HAND.index("  # to be looked at again")
    assert path.read_bytes().decode() == BY_HAND[:place] + new + BY_HAND[place:]
    assert edited.line == BY_HAND[:place].count("\n") + 1


def test_a_replaced_line_leaves_every_other_byte(tmp_path: Path) -> None:
    path = by_hand(tmp_path)
    edited = set_limit(tmp_path, "trim_lean", 12.5, cars=LPG, on=ON, reason="new: meter")
    assert said(edited) == []
    start, end = BY_HAND.index("- limit: trim_lean"), BY_HAND.index("  # to be looked at again")
    new = (
        "- limit: trim_lean\r\n  cars: {veh_fuel: {is: lpg}}\r\n  value: 12.5\r\n"
        '  on: "2026-03-01"\r\n  reason: "new: meter"\r\n'
    )
    assert path.read_bytes().decode() == BY_HAND[:start] + new + BY_HAND[end:]


def test_a_last_line_without_its_end_gets_one(tmp_path: Path) -> None:
    path = by_hand(tmp_path)
    assert set_weight(tmp_path, "fuel_reg_high", 3, on=ON, reason="seen").done
    assert path.read_bytes().decode().startswith(BY_HAND + "\r\n  - fault: fuel_reg_high\r\n    times: 3\r\n")


def test_the_same_note_twice_is_one_line_and_a_new_file_keeps_out_of_the_way(tmp_path: Path) -> None:
    (tmp_path / "rich-running.yaml").write_text("format: 1\nextends: triage\n", encoding="utf-8")
    first, again = (pin_note(tmp_path, "rich-running", "gas", "Wait.", on=ON) for _ in range(2))
    assert first.path == again.path == tmp_path / "rich-running-2.yaml"
    assert first.line == again.line
    assert len(load_library(tmp_path).local) == 1


def test_a_new_line_goes_behind_what_is_about_the_same_thing(tmp_path: Path) -> None:
    by_hand(tmp_path)
    (tmp_path / "figures.yaml").write_text("format: 1\nextends: catalogue\n", encoding="utf-8")
    edited = set_limit(tmp_path, "trim_lean", 11, on=ON, reason="for all")
    assert edited.path == tmp_path / "own.yaml"
    assert [problem.level for problem in edited.problems] == ["warning"]
    assert "also in place of shop/own.yaml:9 (veh_fuel is lpg)" in said(edited)[0]


def test_the_starter_takes_every_edit(tmp_path: Path) -> None:
    path = write_starter(tmp_path, ON, "2027-03-01")
    before = path.read_text(encoding="utf-8")
    assert pin_note(tmp_path, "rich-running", "gas", "Wait.", by="A", on=ON).path == path
    assert set_weight(
        tmp_path, "fuel_reg_high", 2, tree="rich-running", at="read-trims", on=ON, reason="seen"
    ).done
    assert all(line in path.read_text(encoding="utf-8") for line in before.splitlines(keepends=True))
    assert errors_of_check(tmp_path) == []


def test_what_layby_writes_knows_the_step_it_was_written_for(tmp_path: Path) -> None:
    edited = pin_note(tmp_path, "rich-running", "gas", "Wait.", on=ON)
    shipped = load_library().files["trees/symptoms/rich-running.yaml"]
    data: Any = read_yaml(shipped, "").data
    text = edited.path.read_text(encoding="utf-8")
    digest = step_digest(data["steps"]["gas"])
    assert digest in text
    edited.path.write_text(text.replace(digest, "deadbeef"), encoding="utf-8")
    assert any("has changed since this was written" in line for line in errors_of_check(tmp_path))


# -------------------------------------------------------------------------- refused

REFUSED: tuple[tuple[Callable[[Path], Edited], str], ...] = (
    (lambda f: set_limit(f, "trim_laen", 14, on=ON, reason="r"), "unknown limit 'trim_laen' (did you mean"),
    (lambda f: set_limit(f, "trim_lean", 14, "bar", on=ON, reason="r"), "bar is not a share"),
    (lambda f: set_limit(f, "trim_lean", -14, on=ON, reason="r"), "the shipped figure is 10.0 %: write 14"),
    (lambda f: set_limit(f, "trim_lean", float("nan"), on=ON, reason="r"), "expected a number"),
    (lambda f: set_limit(f, "trim_lean", 14, on="May", reason="r"), "a day is written"),
    (lambda f: set_limit(f, "trim_lean", 14, on=ON, reason=" "), "reason: is missing here"),
    (
        lambda f: set_limit(f, "trim_lean", 14, cars={"veh_fule": {"is": "lpg"}}, on=ON, reason="r"),
        "veh_fule",
    ),
    (lambda f: set_weight(f, "purge_stuck_opn", 2, on=ON, reason="r"), "unknown fault 'purge_stuck_opn'"),
    (lambda f: set_weight(f, "purge_stuck_open", 99, on=ON, reason="r"), "a weight lies between"),
    (lambda f: set_weight(f, "purge_stuck_open", float("inf"), on=ON, reason="r"), "a weight lies between"),
    (lambda f: pin_note(f, "rich-running", "gsa", "x", on=ON), "unknown step 'gsa' (did you mean 'gas'?)"),
    (lambda f: pin_note(f, "rich-runing", "gas", "x", on=ON), "unknown tree 'rich-runing' (did you mean"),
    (lambda f: pin_note(f, "rich-running", "gas", "  ", on=ON), "the text is empty"),
)


@pytest.mark.parametrize(("edit", "message"), REFUSED, ids=[row[1][:40] for row in REFUSED])
def test_a_wrong_edit_leaves_the_folder_as_it_was(
    tmp_path: Path, edit: Callable[[Path], Edited], message: str
) -> None:
    by_hand(tmp_path)
    edited = edit(tmp_path)
    assert not edited.done
    assert edited.problems
    assert any(message in line for line in said(edited)), said(edited)
    assert [path.name for path in tmp_path.iterdir()] == ["own.yaml"]
    assert (tmp_path / "own.yaml").read_bytes().decode() == BY_HAND


def test_a_file_that_is_already_wrong_is_left_to_its_writer(tmp_path: Path) -> None:
    path = by_hand(tmp_path)
    path.write_bytes(BY_HAND.replace("value: -12", "value: -12: x").encode())
    edited = set_limit(tmp_path, "trim_lean", 12, cars=LPG, on=ON, reason="r")
    assert not edited.done
    assert said(edited)[0].startswith(f"{path}:7:")


def test_a_list_in_brackets_is_left_to_an_editor(tmp_path: Path) -> None:
    text = f'format: 1\nextends: rich-running\nnotes: [{{at: gas, text: Wait., on: "{ON}"}}]\n'
    (tmp_path / "own.yaml").write_text(text, encoding="utf-8")
    edited = pin_note(tmp_path, "rich-running", "gas", "Look.", on=ON)
    assert said(edited) == [
        f"{tmp_path / 'own.yaml'}:3:1: error: notes: no line can be put into this list"
        " as it is written: edit it by hand"
    ]


def test_a_file_changed_meanwhile_is_not_overwritten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = by_hand(tmp_path)
    check_all = shop_editing._validated

    def slow(*arguments: Any) -> Any:
        path.write_bytes(BY_HAND.encode() + b"\r\n# saved in the editor\r\n")
        return check_all(*arguments)

    monkeypatch.setattr(shop_editing, "_validated", slow)
    edited = set_limit(tmp_path, "trim_lean", 12, cars=LPG, on=ON, reason="r")
    assert "was changed meanwhile" in said(edited)[0]
    assert path.read_bytes().endswith(b"# saved in the editor\r\n")


def test_a_disk_that_refuses_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(path: Path, data: bytes) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(disk, "write_new", full)
    edited = pin_note(tmp_path, "rich-running", "gas", "Wait.", on=ON)
    assert not edited.done
    assert "the disk is full" in said(edited)[0]


def test_a_folder_in_place_of_a_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "shop").write_text("no folder", encoding="utf-8")
    edited = pin_note(tmp_path / "shop", "rich-running", "gas", "Wait.", on=ON)
    assert not edited.done
    assert (tmp_path / "shop").read_text(encoding="utf-8") == "no folder"


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60))
def test_any_text_comes_back_as_it_was_typed_or_is_refused_by_the_reader(text: str) -> None:
    before = "format: 1\nextends: gas  # ours\nnotes:\n  - at: x\n    text: |\n      kept\n\n# end\n"
    document = read_yaml(before, "own.yaml")
    spliced = with_entry(before, document, "notes", {"at": "gas", "text": text})
    assert spliced is not None
    after = read_yaml(spliced.text, "own.yaml")
    assert not after.problems
    data: Any = after.data
    assert data["notes"][1] == {"at": "gas", "text": text}
    assert spliced.text.startswith(before[: before.index("\n# end")])
    assert spliced.text.splitlines()[spliced.line - 1] == "  - at: gas"


def test_the_day_is_the_callers(tmp_path: Path) -> None:
    edited = set_weight(
        tmp_path, "fuel_reg_high", 2, until=date(2026, 1, 1).isoformat(), on=ON, reason="for the winter"
    )
    assert edited.done
    assert "ended on 2026-01-01" in said(edited)[0]
