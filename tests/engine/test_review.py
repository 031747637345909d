"""The review: for every rule a tree that breaks it and one that does not; and ``check`` over files."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files as resources
from pathlib import Path
from types import MappingProxyType

import pytest

from engine.catalogue import Catalogue, Caution, Finding, Left
from engine.errors import Problem
from engine.library import Library, load_library, shipped_files
from engine.loading import TreeSource, load_trees, signature_of
from engine.review import check, review
from engine.review.evidence import review_tables
from engine.review.safety import NEEDS
from engine.yaml_text import read_yaml
from tests.engine import made
from tests.engine.broken_definitions import OVERLAY

SENSOR_FIRST = ("heater-good", "wiring-good", "sensor-ground-good", "no-exhaust-leak", "no-misfire")


def catalogue() -> Catalogue:
    base = made.catalogue(
        readings=(
            made.reading("volts", reject=(0.0, 20.0), tools=("DOC",)),
            made.choice_reading("look", "good", "bad", tools=("EY",), not_looked=("not_looked",)),
            made.choice_reading("veh_upstream_type", "narrow", "wide", "none", not_looked=("unknown",)),
            made.reading("o2_b1s1_gnd_v", unit="V", state="koeo"),
            made.reading("trim_idle", state="idle", tools=("CR",)),
            made.reading("meter_idle", state="idle", tools=("MM",)),
            made.reading("drive_load", state="road", tools=("CR",)),
            made.reading("fuelp_koeo", state="koeo"),
        ),
        limits=(made.limit("ten", 10.0), made.limit("ten_volts", 10.0, unit="V")),
        faults=(
            made.fault("pump", proven_by=("pump-dead",), exclude_first=("feed-good",)),
            made.fault("o2_up_lazy", side="none", proven_by=("slow",), exclude_first=SENSOR_FIRST),
        ),
        findings=("pump-dead", "feed-good", "carried", "narrow-known", "slow", *SENSOR_FIRST),
    )
    cautions = {
        name: Caution(name, name, name, None) for name in ("C-CO", "C-MOVE", "C-ROAD", "C-FUEL", "C-ELEC")
    }
    return replace(
        base,
        cautions=cautions,
        left={"clamp": Left("clamp", "a clamp", "clamp in the box")},
        findings={**base.findings, "carried": Finding("carried", "carried", "none", None, False)},
        faults=replace(base.faults, proven_needs=("carried",)),
    )


CATALOGUE = catalogue()
PROOF = "proof: {measure: [volts], expect: {volts: {above: ten}}}"
HEAD = "format: 1\ntree: sample\nkind: symptom\ntitle: Sample\nstart: first\nsteps:\n"


def step(
    name: str, rules: str, *, more: str = "", cannot: str = "cannot: {say: No., exit: {refer: open}}"
) -> str:
    lines = (f"  {name}:", "    title: T", "    do: D.", "    why: W.", f"    {more}", f"    {cannot}")
    return "\n".join(line for line in lines if line.strip()) + f"\n    judge:\n{rules}"


def rule(when: str, exit_: str, extra: str = "grade: ok") -> str:
    condition = "otherwise: true, covers_rest: true" if when == "otherwise" else f"when: {when}"
    return f"      - {{{condition}, verdict: V, {extra}, exit: {exit_}}}\n"


def library(*texts: str, own: Catalogue = CATALOGUE) -> Library:
    sources = {}
    for number, text in enumerate(texts):
        document = read_yaml(text, f"t{number}.yaml")
        assert document.problems == ()
        signature = signature_of(document)
        assert signature is not None
        sources[signature.id] = TreeSource(document, signature)
    trees, problems = load_trees(sources, own)
    assert problems == (), "\n".join(map(str, problems))
    origins = {name: tree.origin for name, tree in trees.items()}
    return Library(own, MappingProxyType(trees), MappingProxyType(origins), "", MappingProxyType({}))


def found(*texts: str) -> list[Problem]:
    return [problem for problem in review(library(*texts)) if problem.level != "hint"]


def says(problems: list[Problem], message: str) -> bool:
    return any(message in problem.message for problem in problems)


GOOD = HEAD + step(
    "first",
    rule("{volts: {above: ten}}", "{conclude: bad}", "grade: fail, finding: [pump-dead, feed-good, carried]")
    + rule("otherwise", "{refer: open}"),
    more="readings: [volts]",
)
GOOD += f"conclusions:\n  bad: {{faults: [pump], strength: proven, because: B., {PROOF}}}\n"


def test_a_good_tree_has_nothing_wrong() -> None:
    assert found(GOOD) == []


def test_what_no_path_leads_to_is_reported() -> None:
    text = GOOD.replace("conclusions:\n", step("lost", rule("otherwise", "{refer: x}")) + "conclusions:\n")
    text += f"  never: {{faults: [pump], strength: probable, because: B., {PROOF}}}\n"
    problems = found(text)
    assert [problem.where for problem in problems] == ["steps.lost", "conclusions.never"]
    assert says(problems, "no path leads to this step")
    assert says(problems, "no path leads to this conclusion")


def test_a_dead_end_and_a_circle_are_reported() -> None:
    ring = (
        HEAD
        + step("first", rule("otherwise", "second"), cannot="")
        + step("second", rule("otherwise", "first"), cannot="")
    )
    problems = found(ring)
    assert says(problems, "dead end")
    assert says(problems, "a circle in which nothing is asked: first -> second -> first")


@pytest.mark.parametrize(
    ("way", "more"),
    [("first", "readings: [volts]"), ("{repair: {say: Fix., next: first, forget: [volts]}}", "how: H.")],
)
def test_a_circle_with_a_reading_or_a_repair_is_none(way: str, more: str) -> None:
    text = HEAD + step(
        "first", rule("{volts: {above: ten}}", "second") + rule("otherwise", "{refer: x}"), more=more
    )
    text += step("second", rule("otherwise", way))
    assert not says(found(text), "a circle")


def test_a_step_that_may_not_be_possible_needs_a_way_on() -> None:
    assert says(
        found(GOOD.replace("    cannot: {say: No., exit: {refer: open}}\n", "")), "nothing is said for when"
    )


def test_a_gap_names_values() -> None:
    text = GOOD.replace(rule("otherwise", "{refer: open}"), rule("{volts: {below: ten}}", "{refer: open}"))
    [problem] = found(text)
    assert problem.message == "no rule answers volts = 10: add a rule, or otherwise:"


def test_a_shadowed_rule_is_named() -> None:
    text = GOOD.replace(
        rule("otherwise", "{refer: open}"),
        rule("{volts: {above: 12}}", "first") + rule("otherwise", "{refer: x}"),
    )
    [problem] = found(text)
    assert problem.message.startswith("the rule 'v-2' never decides")


def test_bare_numbers_are_for_a_shops_own_trees_only() -> None:
    text = GOOD.replace("above: ten}}, verdict", "above: 10}}, verdict")
    assert found(text) == []
    made_library = library(text)
    tree = made_library.trees["sample"]
    document = read_yaml(text, "trees/symptoms/sample.yaml")
    signature = signature_of(document)
    assert signature is not None
    trees, _ = load_trees({"sample": TreeSource(document, signature)}, CATALOGUE)
    shipped = replace(made_library, trees={"sample": trees["sample"]})
    assert tree.origin.file == "t0.yaml"
    assert [p.where for p in review(shipped) if "a bare number" in p.message] == ["steps.first.judge"]


def test_what_is_left_behind_must_be_undone_later() -> None:
    leaving = GOOD.replace("readings: [volts]", "leaves: [clamp]\n    readings: [volts]")
    assert says(found(leaving), "leaves 'clamp' behind, and no step after it undoes it")
    undone = leaving.replace("because: B.,", "because: B., undoes: [clamp],")
    assert not says(found(undone), "leaves 'clamp'")


def test_a_conclusion_needs_its_proof() -> None:
    assert says(found(GOOD.replace(f", {PROOF}", "")), "no proof of the repair")


# ------------------------------------------------------------------------ cautions


@pytest.mark.parametrize(
    ("reading", "caution"),
    [
        ("trim_idle", "C-CO"), ("meter_idle", "C-MOVE"), ("drive_load", "C-ROAD"), ("fuelp_koeo", "C-FUEL"),
        ("o2_b1s1_gnd_v", "C-ELEC"),
    ],
)  # fmt: skip
def test_a_step_shows_the_cautions_its_readings_need(reading: str, caution: str) -> None:
    bare = GOOD.replace("readings: [volts]", f"readings: [volts, {reading}]")
    assert says(found(bare), f"add {caution} to cautions:")
    shown = bare.replace(
        "readings: [volts", "cautions: [C-CO, C-MOVE, C-ROAD, C-FUEL, C-ELEC]\n    readings: [volts"
    )
    assert not says(found(shown), "to cautions:")


def test_every_caution_the_review_asks_for_is_in_the_catalogue() -> None:
    shipped = load_library().catalogue
    assert {need.caution for need in NEEDS} <= shipped.cautions.keys()
    for need in NEEDS:
        assert any(need.readings.fullmatch(name) for name in shipped.readings), need.caution


# --------------------------------------------------------------- circuit tests

ASK = step(
    "first",
    "%s",
    more="readings: [veh_upstream_type]",
)
JOIN = step(
    "join",
    rule("{o2_b1s1_gnd_v: {above: ten_volts}}", "{refer: x}") + rule("otherwise", "{refer: x}"),
    more="cautions: [C-ELEC]\n    readings: [o2_b1s1_gnd_v]",
)
NARROW = rule("{veh_upstream_type: {is: narrow}}", "join", "grade: ok, finding: [narrow-known]")
OPEN = rule("otherwise", "{refer: x}")


def joined(rules: str, join: str = JOIN) -> str:
    return HEAD + ASK % rules + join


def test_only_a_known_narrow_sensor_is_joined_or_fed() -> None:
    message = "joins or feeds the sensor's wires"
    assert not says(found(joined(NARROW + OPEN)), message)
    assert says(found(joined(NARROW + rule("otherwise", "join"))), message)
    assert says(found(joined(rule("{veh_upstream_type: {one_of: [narrow, wide]}}", "join") + OPEN)), message)
    unsure = joined(NARROW + OPEN).replace("exit: {refer: open}", "exit: join", 1)
    assert says(found(unsure), message)


def test_ruling_out_wide_band_or_a_step_for_narrow_only_is_a_guard() -> None:
    message = "joins or feeds the sensor's wires"
    excluded = joined(
        rule("{veh_upstream_type: {one_of: [wide, none]}}", "{refer: x}") + rule("otherwise", "join")
    )
    assert not says(found(excluded), message)
    gated = JOIN.replace(
        "cautions:", "only_if: {veh_upstream_type: {is: narrow}}\n    skip: end\n    cautions:"
    )
    assert not says(found(joined(rule("otherwise", "join"), gated + step("end", OPEN))), message)


def test_a_finding_made_only_for_narrow_sensors_is_a_guard() -> None:
    message = "joins or feeds the sensor's wires"
    known = step("branch", rule("{found: [narrow-known]}", "join") + OPEN)
    guarded = joined(NARROW.replace("exit: join", "exit: branch") + rule("otherwise", "branch"), known + JOIN)
    assert not says(found(guarded), message)
    lax = guarded.replace("{otherwise: true", "{otherwise: true, finding: [narrow-known]", 1)
    assert says(found(lax), message)


# -------------------------------------------------------------------- never-rules


def test_proven_must_be_provable_on_some_path() -> None:
    assert says(
        found(GOOD.replace("pump-dead, feed-good", "pump-dead")),
        "no step of any tree makes the finding feed-good",
    )
    assert says(
        found(GOOD.replace("finding: [pump-dead, feed-good, carried]", "finding: [feed-good, carried]")),
        "pump-dead",
    )


def test_findings_of_different_paths_do_not_add_up() -> None:
    """Two findings that no single path makes together cannot prove anything."""
    one = rule("{volts: {above: ten}}", "{conclude: bad}", "grade: fail, finding: [pump-dead, carried]")
    two = rule("{look: {is: bad}}", "{conclude: bad}", "grade: fail, finding: [feed-good, carried]")
    text = HEAD + step("first", one + two + OPEN, more="readings: [volts, look]")
    text += f"conclusions:\n  bad: {{faults: [pump], strength: proven, because: B., {PROOF}}}\n"
    assert says(found(text), "cannot be proven: no path to it makes")


PROCEDURE = """
format: 1
tree: feed
kind: procedure
title: Feed
outcomes: [good, lost]
start: first
steps:
""" + step(
    "first",
    rule("{volts: {above: ten}}", "{return: good}", "grade: ok, finding: [feed-good]")
    + rule("otherwise", "{return: lost}"),
    more="readings: [volts]",
    cannot="cannot: {say: No., exit: {return: lost}}",
)


@pytest.mark.parametrize(("outcome", "proven"), [("good", True), ("lost", False)])
def test_what_a_procedure_finds_counts_for_the_outcome_it_was_found_with(outcome: str, proven: bool) -> None:
    call = f"{{call: feed, then: {{{outcome}: {{conclude: bad}}, otherwise: {{refer: x}}}}}}"
    text = HEAD + step(
        "first",
        rule("{look: {is: bad}}", call, "grade: fail, finding: [pump-dead, carried]") + OPEN,
        more="readings: [look]",
    )
    text += f"conclusions:\n  bad: {{faults: [pump], strength: proven, because: B., {PROOF}}}\n"
    assert says(found(text, PROCEDURE), "cannot be proven") == (not proven)


def test_no_sensor_is_condemned_without_all_that_comes_first() -> None:
    assert list(review_tables(CATALOGUE)) == []
    fault = CATALOGUE.faults.faults["o2_up_lazy"]
    for finding in SENSOR_FIRST:
        left = tuple(name for name in SENSOR_FIRST if name != finding)
        faults = {"o2_up_lazy": replace(fault, exclude_first=left)}
        weaker = replace(CATALOGUE, faults=replace(CATALOGUE.faults, faults=faults))
        [(name, message)] = review_tables(weaker)
        assert name == "o2_up_lazy"
        assert finding in message
    faults = {"o2_up_lazy": replace(fault, proven_by=())}
    unwitnessed = replace(CATALOGUE, faults=replace(CATALOGUE.faults, faults=faults))
    assert ["without an independent witness" in message for _, message in review_tables(unwitnessed)] == [
        True
    ]


def test_the_shipped_tables_condemn_no_sensor_too_lightly() -> None:
    assert list(review_tables(load_library().catalogue)) == []


def test_a_fault_no_tree_names_is_a_hint() -> None:
    hints = [problem for problem in review(library(GOOD)) if problem.level == "hint"]
    assert [problem.where for problem in hints] == ["faults.o2_up_lazy"]


# ------------------------------------------------------------------------- check


def test_the_shipped_files_have_no_errors() -> None:
    assert [str(problem) for problem in check() if problem.level == "error"] == []


def test_given_files_are_checked_against_the_shipped_catalogue(tmp_path: Path) -> None:
    good = tmp_path / "own.yaml"
    text = (
        GOOD.replace("readings: [volts]", "cautions: [C-BATT]\n    readings: [volts]")
        .replace("[volts]", "[batt_v_koeo]")
        .replace("volts:", "batt_v_koeo:")
        .replace("above: ten", "above: 12")
    )
    text = text.replace("pump]", "fuel_pump_weak]").replace("strength: proven", "strength: probable")
    text = text.replace("grade: fail, finding: [pump-dead, feed-good, carried]", "grade: fail")
    good.write_text(text, encoding="utf-8")
    assert check([good]) == ()
    bad = tmp_path / "bad.yaml"
    bad.write_text(
        text.replace("start: first", "start: frist").replace("title: Sample", "titel: Sample"),
        encoding="utf-8",
    )
    problems = check([bad])
    assert {problem.file for problem in problems} == {str(bad)}
    assert any("titel" in problem.message for problem in problems)
    assert any("unknown step 'frist' (did you mean 'first'?)" in problem.message for problem in problems)
    assert len(problems) == 2


def test_a_folder_and_a_missing_file(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text("format: 1\ntree: [\n", encoding="utf-8")
    problems = check([tmp_path, tmp_path / "none.yaml"])
    assert {Path(problem.file).name for problem in problems} == {"a.yaml", "none.yaml"}
    assert says(list(problems), "no such file")
    empty = tmp_path / "empty"
    empty.mkdir()
    assert says(list(check([empty])), "no .yaml file in this folder")


def test_a_changed_copy_of_a_shipped_tree_stands_for_it(tmp_path: Path) -> None:
    name = "trees/symptoms/rich-running.yaml"
    copy = tmp_path / "rich-running.yaml"
    copy.write_bytes(shipped_files()[name].replace(b"start: ", b"start: zz-", 1))
    problems = check([copy])
    assert [problem.file for problem in problems] == [str(copy)]
    assert "unknown step" in problems[0].message


def test_an_overlay_answers_for_what_it_brings_about(tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(OVERLAY, encoding="utf-8")
    before = {problem for problem in check() if problem.level != "hint"}
    assert [str(problem) for problem in check([own]) if problem.level != "hint"] == []
    tree = load_library().tree("rich-running")
    target = next(name for name in tree.step_ids if name not in (tree.start, *tree.entries))
    cut = OVERLAY.replace("exit: gas", "exit: {refer: the end}").replace("before: gas", f"before: {target}")
    own.write_text(cut, encoding="utf-8")
    problems = [problem for problem in check([own]) if problem.level != "hint"]
    assert any(problem.message == "no path leads to this step" for problem in problems)
    assert {problem.file for problem in problems} == {"trees/symptoms/rich-running.yaml"}
    assert before.isdisjoint(problems)


def test_the_folder_of_all_shipped_files_is_taken_as_it_is() -> None:
    trees = Path(str(resources("trees")))
    serious = [problem for problem in check([trees]) if problem.level == "error"]
    assert [str(problem) for problem in serious] == []
