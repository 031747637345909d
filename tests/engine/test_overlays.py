"""Every wrong edit of a shop's file is explained at its line; of two lines the later holds."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from engine.library import PASSED, Library, load_library, shop_files
from engine.local_lines import LineKind, LocalLine, age_words, note_words, step_digest
from engine.review import check
from engine.situation import Situation
from engine.tree import Binding
from tests.engine.made import situation

SIGNED = 'by: A. Lead, on: "2026-03-01", reason: seen here'
"""End of a line that is right."""

WRONG: tuple[tuple[str, str, str, str], ...] = (
    (
        "limits",
        "limit: trim_laen, value: 14",
        "error",
        "unknown limit 'trim_laen' (did you mean 'trim_lean'?)",
    ),
    (
        "limits",
        "limit: trim_lean, value: -14",
        "error",
        "found -14, and the shipped figure is 10.0 %: write 14",
    ),
    (
        "limits",
        "limit: fuel_pressure_none, value: 0.5",
        "warning",
        "the shipped figure is 50 kPa: is it in kPa?",
    ),
    (
        "limits",
        "limit: trim_rich, value: -12, cars: {veh_fule: {is: lpg}}",
        "error",
        "unknown reading 'veh_fule'",
    ),
    (
        "limits",
        "limit: trim_rich, value: -12, cars: {veh_fuel: {is: gas}}",
        "error",
        "is no answer of veh_fuel",
    ),
    (
        "makers",
        "reading: spec_fuel_presure, cars: {veh_fuel: {is: lpg}}, value: 300",
        "error",
        "unknown reading",
    ),
    (
        "makers",
        "reading: veh_banks, cars: {veh_fuel: {is: lpg}}, value: 2",
        "error",
        "no limit takes 'veh_banks'",
    ),
    ("makers", "reading: spec_fuel_pressure, cars: {veh_fuel: {is: lpg}}, value: -3", "error", "found -3:"),
    ("weights", "fault: purge_stuck_opn, times: 2", "error", "unknown fault 'purge_stuck_opn' (did you mean"),
    (
        "weights",
        "fault: purge_stuck_open, times: 2, at: gsa",
        "error",
        "unknown step 'gsa' (did you mean 'gas'?)",
    ),
    ("weights", "fault: purge_stuck_open, times: 2, at: gas/sooot", "error", "'gas' has no rule 'sooot'"),
    (
        "weights",
        "fault: o2_up_lazy, times: 2, at: seen",
        "error",
        "no verdict of 'seen' speaks of o2_up_lazy",
    ),
    (
        "weights",
        "fault: fuel_reg_high, times: 2, at: read-trims, cars: {veh_fuel: {is: lpg}}",
        "error",
        "a weight at a step holds for every car",
    ),
    ("weights", 'fault: purge_stuck_open, times: 2, until: "2026-02-01"', "warning", "ended on 2026-02-01"),
    ("notes", "at: gsa, text: Look twice.", "error", "unknown step 'gsa' (did you mean 'gas'?)"),
    ("notes", "at: gas/sooot, text: Look twice.", "error", "'gas' has no rule 'sooot'"),
    (
        "notes",
        'at: gas, text: Look twice., base: "00000000"',
        "warning",
        "the shipped step 'gas' has changed since",
    ),
    (
        "warn",
        "at: gas, cautions: [C-CO, C-HOTT]",
        "error",
        "unknown caution 'C-HOTT' (did you mean 'C-HOT'?)",
    ),
    ("moves", "step: gas, before: gsa", "error", "unknown step 'gsa' (did you mean 'gas'?)"),
    (
        "limits",
        "limit: trim_up_b1, value: -3, cars: {veh_fuel: {is: lpg}}",
        "error",
        "follows another quantity",
    ),
)
"""Section, line, level, what is said; each is written on a line of its own into one file."""

WRONG_SHAPE: tuple[tuple[str, str, str], ...] = (
    ("limits", "limit: trim_lean, value: 14 %", "found '14 %', expected a number"),
    ("limits", "limit: trim_lean, valu: 14", "(did you mean 'value'?)"),
    ("limits", "limits: trim_lean, value: 14", "(did you mean 'limit'?)"),
    ("weights", "fault: purge_stuck_open, times: 200", "a weight lies between 0.02 and 50"),
    ("weights", "fault: purge_stuck_open", "times: is missing here"),
    ("notes", "at: gas, text: ''", "the text is empty"),
    ("notes", "at: Gas cans, text: Look twice.", "a place is written step or step/rule-id"),
    ("notes", "at: gas, text: Look twice., base: yes", "base: is written by layby"),
    ("warn", "at: gas, cautions: [HOT]", "a caution is written C-NAME"),
    ("moves", "step: gas", "before: is missing here"),
    ("removes", "step: gas", "unknown key 'removes'"),
)


def file_of(rows: list[tuple[str, str]], extends: str = "rich-running") -> tuple[str, dict[int, str]]:
    """Return a file of entries, one a line, and the entry that stands on each line."""
    lines, where = ["format: 1", f"extends: {extends}"], {}
    for section in dict.fromkeys(section for section, _ in rows):
        lines.append(f"{section}:")
        for own, entry in rows:
            if own == section:
                lines.append(f"  - {{{entry}, {SIGNED}}}")
                where[len(lines)] = entry
    return "\n".join(lines) + "\n", where


def found_in(folder: Path, rows: list[tuple[str, str]]) -> dict[str, list[str]]:
    """Return what check says of each entry."""
    text, where = file_of(rows)
    own = folder / "own.yaml"
    own.write_text(text, encoding="utf-8")
    said: dict[str, list[str]] = {entry: [] for entry in where.values()}
    for problem in check([own]):
        entry = where.get(problem.line) or where[problem.line + 1]
        said[entry].append(f"{problem.level}: {problem.message}")
    return said


@pytest.fixture(scope="module")
def wrong_names(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    return found_in(tmp_path_factory.mktemp("names"), [row[:2] for row in WRONG])


@pytest.fixture(scope="module")
def wrong_shapes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    return found_in(tmp_path_factory.mktemp("shapes"), [row[:2] for row in WRONG_SHAPE])


@pytest.mark.parametrize(("_", "entry", "level", "message"), WRONG, ids=[row[1][:50] for row in WRONG])
def test_a_wrong_name_or_figure_is_explained_at_its_line(
    wrong_names: dict[str, list[str]], _: str, entry: str, level: str, message: str
) -> None:
    [said] = wrong_names[entry]
    assert said.startswith(level)
    assert message in said


@pytest.mark.parametrize(("_", "entry", "message"), WRONG_SHAPE, ids=[row[1][:50] for row in WRONG_SHAPE])
def test_a_wrong_shape_is_explained_at_its_line(
    wrong_shapes: dict[str, list[str]], _: str, entry: str, message: str
) -> None:
    assert any(message in line for line in wrong_shapes[entry]), wrong_shapes[entry]


def test_a_file_for_every_tree_holds_only_figures(tmp_path: Path) -> None:
    rows = [("notes", "at: gas, text: Look."), ("weights", "fault: fuel_reg_high, times: 2, at: gas")]
    text, _ = file_of(rows, "catalogue")
    own = tmp_path / "own.yaml"
    own.write_text(text, encoding="utf-8")
    said = [(problem.line, problem.message) for problem in check([own])]
    assert [line for line, _ in said] == [3, 6]
    assert "notes: belongs to one tree" in said[0][1]
    assert "at: names a step of one tree" in said[1][1]


@pytest.mark.parametrize("section", ["limits", "notes", "weights", "warn", "moves", "makers"])
def test_a_file_without_extends_is_told_so(tmp_path: Path, section: str) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(f"format: 1\n{section}:\n  - {{at: gas}}\n", encoding="utf-8")
    assert str(check([own])[0]) == f"{own}:1:1: error: extends: is missing here"


def test_what_an_editor_keeps_beside_a_file_is_not_read(tmp_path: Path) -> None:
    (tmp_path / "own.yaml").write_text(f"format: 1\n{limit(12)}", encoding="utf-8")
    (tmp_path / ".#own.yaml").symlink_to("somebody@somewhere.1")
    (tmp_path / "._own.yaml").write_bytes(b"\0\5\26\7")
    assert list(shop_files(tmp_path)) == ["shop/own.yaml"]


# ------------------------------------------------------------------------ stacking


def shop(folder: Path, **files: str) -> Library:
    for name, text in files.items():
        (folder / f"{name}.yaml").write_text(f"format: 1\n{text}", encoding="utf-8")
    return load_library(folder, today=date(2026, 3, 10))


def car(library: Library, **facts: str | float) -> Situation:
    return situation(library.catalogue, facts)


def weight(fault: str, times: float, more: str = "") -> str:
    return f"extends: catalogue\nweights:\n  - {{fault: {fault}, times: {times}{more}, {SIGNED}}}\n"


def limit(figure: float, more: str = "") -> str:
    return f"extends: catalogue\nlimits:\n  - {{limit: trim_lean, value: {figure}{more}, {SIGNED}}}\n"


LPG = ", cars: {veh_fuel: {is: lpg}}"


def test_a_weight_for_some_cars_is_a_factor_of_their_priors(tmp_path: Path) -> None:
    own = shop(tmp_path, a=weight("purge_stuck_open", 2), b=weight("purge_stuck_open", 6, LPG))
    prior = load_library().catalogue.faults.faults["purge_stuck_open"].prior
    assert own.catalogue.faults.faults["purge_stuck_open"].prior == 2 * prior
    assert own.prior_factors(car(own, veh_fuel="lpg")) == {"purge_stuck_open": 3.0}
    assert own.prior_factors(car(own, veh_fuel="petrol")) == {}
    assert own.prior_factors(car(own)) == {}, "a car of which nothing is known is no gas car"
    line = own.prior_lines(car(own, veh_fuel="lpg"))["purge_stuck_open"]
    assert (line.place, line.change) == ("shop/b.yaml:4", "prior weight 15 -> 90 (x 6)")


def test_a_later_weight_for_every_car_stands_in_place_of_all_before(tmp_path: Path) -> None:
    own = shop(tmp_path, a=weight("purge_stuck_open", 6, LPG), b=weight("purge_stuck_open", 2))
    assert own.prior_factors(car(own, veh_fuel="lpg")) == {}
    first, second = own.local
    assert first.overruled_by == second.origin
    assert second.in_force


def test_of_two_weights_in_a_verdict_the_later_holds(tmp_path: Path) -> None:
    rule = "read-trims/both-rich-equal"
    before, after = (
        f"extends: rich-running\nweights:\n  - {{fault: fuel_reg_high, times: {times}, at: {at}, {SIGNED}}}\n"
        for times, at in ((8, rule), (0.5, "read-trims"))
    )
    own = shop(tmp_path, a=before, b=after)
    shipped, now = (
        {one.id: dict(one.weigh) for one in library.tree("rich-running").step("read-trims", Binding()).rules}
        for library in (load_library(), own)
    )
    name = rule.partition("/")[2]
    assert now[name]["fuel_reg_high"] == 0.5 * shipped[name]["fuel_reg_high"]
    assert own.local[0].overruled_by == own.local[1].origin


def test_the_later_limit_holds_and_its_line_is_known(tmp_path: Path) -> None:
    own = shop(tmp_path, a=limit(12), b=limit(14, LPG), c=limit(15, LPG))
    gas, petrol = car(own, veh_fuel="lpg"), car(own, veh_fuel="petrol")
    lines = [own.limit_line("trim_lean", one) for one in (gas, petrol)]
    assert [line.place for line in lines if line] == ["shop/c.yaml:4", "shop/a.yaml:4"]
    assert [line.overruled_by is None for line in own.local] == [True, False, True]
    assert own.limit_line("trim_rich", gas) is None
    limits = own.catalogue.limits["trim_lean"]
    assert (limits.value, limits.cases[0][1]) == (12.0, 15.0)


def test_a_makers_figure_for_some_cars_sets_every_limit_that_follows_it(tmp_path: Path) -> None:
    text = f"extends: catalogue\nmakers:\n  - {{reading: spec_fuel_pressure, value: 400{LPG}, {SIGNED}}}\n"
    own = shop(tmp_path, a=text)
    line = own.limit_line("fuel_pressure_high", car(own, veh_fuel="lpg"))
    assert line is not None
    assert (line.kind, line.change) == (LineKind.MAKER, "not to hand -> 400 kPa")
    assert line.source.words == "this shop (maker's figure, A. Lead, 2026-03-01: seen here)"
    assert own.catalogue.limits["fuel_pressure_high"].cases[0][1] == pytest.approx(440.0)


# --------------------------------------------------------------------- ends and ages


def test_a_weight_that_has_ended_is_not_used_and_a_job_keeps_to_its_own_day(tmp_path: Path) -> None:
    text = weight("purge_stuck_open", 2, ', until: "2026-03-09"')
    prior = load_library().catalogue.faults.faults["purge_stuck_open"].prior
    (tmp_path / "own.yaml").write_text(f"format: 1\n{text}", encoding="utf-8")
    last_day = load_library(tmp_path, today=date(2026, 3, 9))
    day_after = load_library(tmp_path, today=date(2026, 3, 10))
    assert PASSED not in last_day.files
    assert last_day.digest != day_after.digest
    for library, times in ((last_day, 2), (day_after, 1)):
        pinned = load_library(files=dict(library.files))
        assert pinned.digest == library.digest
        for one in (library, pinned):
            assert one.catalogue.faults.faults["purge_stuck_open"].prior == times * prior
            assert one.local[0].ended is (times == 1)


AGES = (
    ("2026-03-10", "today"),
    ("2026-03-09", "yesterday"),
    ("2026-03-01", "9 days old"),
    ("2026-02-10", "4 weeks old"),
    ("2025-03-10", "12 months old"),
    ("2023-03-01", "3 years old"),
    ("2026-03-11", "dated in the future"),
    (None, "age not known"),
    ("2026-02-31", "age not known"),
)


@pytest.mark.parametrize(("on", "words"), AGES)
def test_ages_in_words(on: str | None, words: str) -> None:
    assert age_words(on, date(2026, 3, 10)) == words


def test_a_note_knows_its_origin_and_age_and_an_unsigned_one_is_unagreed(tmp_path: Path) -> None:
    text = 'extends: rich-running\nnotes:\n  - {at: gas, text: Wait., on: "2026-03-01"}\n'
    own = shop(tmp_path, a=text)
    [note] = own.tree("rich-running").step("gas", Binding()).notes
    assert note_words(note, date(2026, 3, 10)) == "this shop, unagreed, 9 days old"
    assert (note.origin.file, note.origin.line) == ("shop/a.yaml", 4)
    line: LocalLine = own.local[0]
    assert (line.by, line.subject, line.change) == (None, "rich-running/gas", "shows: Wait.")


def test_a_step_has_one_digest_whatever_its_layout() -> None:
    assert step_digest({"a": 1, "b": ["x"]}) == step_digest({"b": ["x"], "a": 1})
    assert step_digest({"a": 1}) != step_digest({"a": 2})
