"""Trees from text: the worked example, every kind of slip with its line, and files mangled at random."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.catalogue import Catalogue, Caution, Drive, Left
from engine.condition_loading import ConditionLoader, Known, Scope
from engine.errors import Problem
from engine.expansion import fill_places, fill_prose, fill_slots, members
from engine.library import assemble, assemble_documents, shipped_files
from engine.loading import TreeSource, load_trees, signature_of
from engine.loading.steps import slug
from engine.parts import Part, Report
from engine.tree import (
    BINDINGS,
    AllOf,
    AnyOf,
    Binding,
    Call,
    ChoiceIs,
    Compare,
    Conclude,
    Found,
    Next,
    Not,
    Refer,
    Repair,
    Return,
    Tree,
)
from engine.yaml_text import read_yaml
from tests.engine import made
from tests.engine.broken_definitions import OVERLAY, paths, with_changed

FIXTURES = Path(__file__).parent / "fixtures"

PROCEDURE = """
format: 1
tree: fuel-delivery
kind: procedure
title: Fuel delivery
takes: bank
outcomes: [pressure_good, pressure_high]
start: gauge
steps:
  gauge:
    title: Gauge
    do: Fit the gauge.
    why: It tells.
    readings: ["trim_<bank>"]
    judge:
      - when: {"trim_<bank>": {above: high}}
        verdict: High
        grade: fail
        exit: {return: {outcome: pressure_high, conclusion: too-high}}
      - otherwise: true
        covers_rest: true
        verdict: Good
        grade: ok
        exit: {return: pressure_good}
    cannot: {say: No gauge., exit: {return: pressure_good}}
conclusions:
  too-high:
    faults: [regulator]
    strength: probable
    because: It read {trim_<bank>}.
    side: <bank>
"""

TREE = """
format: 1
tree: sample
kind: symptom
title: A sample
complaints: [runs badly]
start: look
steps:
  look:
    title: Look
    do: Look around.
    why: It is cheap.
    predict: {ask: What then, choices: [a, b], right: b}
    cautions: [C-HOT]
    wait: 2 min
    leaves: [clamp]
    readings: [hose, car]
    judge:
      - when: {hose: {has_any: [off]}}
        verdict: Hose off on <bank>
        grade: fail
        exit: {repair: {say: Refit it., forget: [trims, hose], next: look, times: 2}}
      - when: {any: [{hose: {is: [ok]}}, {not: {found: [seen-good]}}], car: {is_not: lpg}}
        verdict: Fine
        grade: ok
        finding: [seen-good]
        weigh: {regulator: 0.5}
        exit: read
      - otherwise: true
        verdict: Something
        grade: inconclusive
        exit: {refer: {say: Not held here., tree: other}}
    cannot: {say: Covered., exit: read, weigh: {regulator: 1.5}}
  read:
    title: Read
    do: Read the trims.
    why: They tell.
    undoes: [clamp]
    each: bank
    readings: ["trim_<each>"]
    judge:
      - when: {"trim_<each>": {at_least: low, below: 40}}
        verdict: Lean on <each>
        grade: likely
        means: It adds {trim_<each>} on <each>.
        side: <each>
        exit:
          call: fuel-delivery
          with: {bank: <each>}
          then: {pressure_high: {conclude: returned}, otherwise: {conclude: open}}
      - otherwise: true
        verdict: Not lean
        grade: inconclusive
        exit: {conclude: open}
    cannot: {say: No reader., exit: {conclude: open}}
conclusions:
  open:
    faults: []
    strength: not-found-here
    because: Nothing on <bank>.
"""


@cache
def catalogue() -> Catalogue:
    base = made.catalogue(
        readings=(
            made.reading("trim_b1", unit="%", reject=(-100.0, 99.0)),
            made.reading("trim_b2", unit="%"),
            made.choice_reading("hose", "ok", "off", "split", kind="many", not_looked=("covered",)),
            made.choice_reading("car", "petrol", "lpg"),
            made.reading("dtc_stored", kind="codes"),
        ),
        limits=(
            made.limit("low", 10.0, unit="%"),
            made.limit("high", 20.0, unit="%"),
            made.limit("volts", 1.0, unit="V"),
        ),
        worked_values=(),
        faults=(made.fault("regulator", side="bank"),),
        findings=("seen-good",),
    )
    values = {field.name: getattr(base, field.name) for field in fields(base) if field.init}
    values["reading_groups"] = {"trims": ("trim_b1", "trim_b2")}
    values["cautions"] = {"C-HOT": Caution("C-HOT", "BURNS.", "It burns.", None)}
    values["left"] = {"clamp": Left("clamp", "a clamp", "clamp in the box")}
    values["words"] = {"b1": "bank 1", "b2": "bank 2"}
    return Catalogue(**values)


def load(text: str, *others: str) -> tuple[dict[str, Tree], tuple[Problem, ...]]:
    sources: dict[str, TreeSource] = {}
    for number, one in enumerate((text, *others, PROCEDURE)):
        document = read_yaml(one, "t.yaml" if number == 0 else f"other{number}.yaml")
        assert not document.problems, document.problems
        signature = signature_of(document)
        assert signature is not None
        sources.setdefault(signature.id, TreeSource(document, signature))
    return load_trees(sources, catalogue())


def test_everything_of_a_tree_is_loaded() -> None:
    trees, problems = load(TREE)
    assert problems == ()
    tree = trees["sample"]
    assert (tree.kind, tree.start, tree.complaints) == ("symptom", "look", ("runs badly",))
    assert tree.step_ids == ("look", "read")
    assert set(tree.steps) == set(BINDINGS)
    look = tree.step("look", Binding())
    assert (look.wait, look.leaves, look.cautions) == (120.0, ("clamp",), ("C-HOT",))
    assert look.predict is not None
    assert look.predict.right == "b"
    first, second, last = look.rules
    assert first.when == ChoiceIs("hose", "has_any", ("off",))
    assert first.exit == Repair("Refit it.", ("trims", "hose"), "look", 2)
    assert second.when == AllOf(
        (
            AnyOf((ChoiceIs("hose", "is", ("ok",)), Not(Found(("seen-good",))))),
            ChoiceIs("car", "is_not", ("lpg",)),
        )
    )
    assert second.exit == Next("read")
    assert second.weigh == (("regulator", 0.5),)
    assert last.when is None
    assert last.exit == Refer("Not held here.", "other")
    assert look.cannot is not None
    assert look.cannot.weigh == (("regulator", 1.5),)
    assert look.origin.line == 9
    assert first.origin.line == 19


def test_a_step_with_each_is_written_out_rule_by_rule() -> None:
    trees, _ = load(TREE)
    read = trees["sample"].step("read", Binding())
    assert read.readings == ("trim_b1", "trim_b2")
    assert [rule.id for rule in read.rules] == ["lean-on", "lean-on-2", "not-lean"]
    one, two, _ = read.rules
    assert one.when == AllOf((Compare("trim_b1", "at_least", "low"), Compare("trim_b1", "below", 40.0)))
    assert (two.side, two.verdict, two.means) == ("b2", "Lean on bank 2", "It adds {trim_b2} on bank 2.")
    assert isinstance(two.exit, Call)
    assert two.exit.arguments == (("bank", "b2"),)
    assert two.exit.exit_for("pressure_good") == Conclude("open")
    assert one.origin == two.origin


def test_steps_without_placeholders_are_one_object_for_all_sides() -> None:
    trees, _ = load(TREE)
    tree = trees["sample"]
    first, second = Binding("b1", "b1s1"), Binding("b2", "b2s1")
    assert tree.step("read", first) is tree.step("read", second)
    assert tree.step("look", first).rules[0].verdict == "Hose off on bank 1"
    assert tree.step("look", second).rules[0].verdict == "Hose off on bank 2"
    assert tree.conclusion("open", second).because == "Nothing on bank 2."
    assert tree.step("look", first) is tree.step("look", Binding("b1", "b1s2"))


def test_a_procedure_is_written_for_the_sides_it_is_for() -> None:
    trees, _ = load(TREE)
    procedure = trees["fuel-delivery"]
    assert procedure.takes == "bank"
    assert procedure.takes_for == ("b1", "b2")
    step = procedure.step("gauge", Binding.of("b2"))
    assert step.readings == ("trim_b2",)
    assert step.rules[0].exit == Return("pressure_high", "too-high")
    assert procedure.step("gauge", Binding("b2", "b2s2")) is step
    conclusion = procedure.conclusion("too-high", Binding.of("b1"))
    assert (conclusion.side, conclusion.because) == ("b1", "It read {trim_b1}.")
    assert (conclusion.repair, conclusion.drive) == ("Renew it.", Drive.WITH_CARE)


PURGE = """
format: 1
readings:
  purge_clamp_result:
    label: what the trims do with the purge hose clamped
    kind: one
    choices: {trims_recover: they recover, no_change: nothing}
    tool: [CR]
    minutes: 2
    state: idle
    takes: latest
    keeps: day
"""


def test_the_example_of_the_design_loads() -> None:
    example = (FIXTURES / "example-rich.yaml").read_bytes()
    extra = {
        "shop/purge.yaml": PURGE.encode(),
        "shop/findings.yaml": b"format: 1\nfindings: {purge-clamp-recovers: {label: trims recover}}\n",
    }
    kept = {name: text for name, text in shipped_files().items() if "/catalogue/" in name}
    procedure = PROCEDURE.replace("trim_<bank>", "tt_<bank>_idle").replace("above: high", "above: trim_lean")
    procedure = procedure.replace('readings: ["tt_', 'readings: ["stft_')
    own = procedure.replace("[regulator]", "[fuel_reg_high]").encode()
    library, problems = assemble({**kept, **extra, "p.yaml": own, "e.yaml": example})
    assert [problem for problem in problems if problem.level == "error"] == []
    tree = library.tree("example-rich")
    trims = tree.step("read-trims", Binding())
    families = ("stft_%s_idle", "ltft_%s_idle", "stft_%s_2500", "ltft_%s_2500")
    assert trims.readings == tuple(name % bank for name in families for bank in ("b1", "b2"))
    assert [rule.side for rule in trims.rules] == ["b1", "b2", None]
    assert trims.rules[1].when == Compare("tt_b2_idle", "at_most", "trim_rich")
    regulator = tree.conclusion("regulator-high", Binding())
    assert regulator.proof is not None
    assert regulator.proof.measure == ("tt_b1_idle", "fuelp_koeo")
    assert tree.conclusion("purge-open", Binding()).repair  # the fault's own words


REFER = "exit: {refer: {say: Not held here., tree: other}}"

# One slip a row: what is replaced, by what, what the message must say; it stands on the line of the slip.
SLIPS: tuple[tuple[str, str, str], ...] = (
    (
        "start: look",
        "start: lok",
        "unknown step 'lok' (did you mean 'look'?)",
    ),
    (
        "exit: read, weigh",
        "exit: reed, weigh",
        "unknown step 'reed' (did you mean 'read'?)",
    ),
    (
        "readings: [hose, car]",
        "readings: [hose, kar]",
        "unknown reading 'kar' (did you mean 'car'?)",
    ),
    (
        "{hose: {has_any: [off]}}",
        "{hsoe: {has_any: [off]}}",
        "unknown reading 'hsoe' (did you mean 'hose'?)",
    ),
    (
        "has_any: [off]",
        "has_any: [of]",
        "'of' is no answer of hose (did you mean 'off'?)",
    ),
    (
        "has_any: [off]",
        "at_most: low",
        "at_most: is for numbers, and hose is a choice of several",
    ),
    (
        "has_any: [off]",
        "has_ani: [off]",
        "unknown test 'has_ani' (did you mean 'has_any'?)",
    ),
    (
        "{is_not: lpg}",
        "{has: lpg}",
        "has: is for several choices, and car has one: use is",
    ),
    (
        "at_least: low",
        "at_least: lwo",
        "unknown limit 'lwo' (did you mean 'low'?)",
    ),
    (
        "at_least: low",
        "at_least: volts",
        "limit 'volts' is in V, trim_b1 in %",
    ),
    (
        "at_least: low",
        "at_least: [1]",
        "found a list, expected the name of a limit or a number",
    ),
    (
        "at_least: low, below: 40",
        "is: low",
        "is: is for choices, and trim_b1 is a number",
    ),
    (
        "found: [seen-good]",
        "found: [seen-god]",
        "unknown finding 'seen-god' (did you mean 'seen-good'?)",
    ),
    (
        "finding: [seen-good]",
        "finding: [seen-god]",
        "unknown finding 'seen-god' (did you mean 'seen-good'?)",
    ),
    (
        "weigh: {regulator: 0.5}",
        "weigh: {regulater: 0.5}",
        "unknown fault 'regulater' (did you mean 'regulator'?)",
    ),
    (
        "weigh: {regulator: 0.5}",
        "weigh: {regulator: 51}",
        "a weight lies between 0.02 and 50",
    ),
    (
        "weigh: {regulator: 0.5}",
        "weigh: {regulator: 0.01}",
        "a weight lies between 0.02 and 50",
    ),
    (
        "cautions: [C-HOT]",
        "cautions: [C-HOTT]",
        "unknown caution 'C-HOTT' (did you mean 'C-HOT'?)",
    ),
    (
        "leaves: [clamp]",
        "leaves: [clmp]",
        "unknown entry of left: 'clmp' (did you mean 'clamp'?)",
    ),
    (
        "right: b",
        "right: c",
        "unknown choice 'c'",
    ),
    (
        "wait: 2 min",
        "wait: soon",
        "expected a time such as 30 s or 5 min",
    ),
    (
        "forget: [trims, hose]",
        "forget: [trms, hose]",
        "unknown reading or group 'trms' (did you mean 'trims'?)",
    ),
    (
        "times: 2",
        "times: 0",
        "expected a whole number from 1 to 9",
    ),
    (
        "next: look, times",
        "next: lok, times",
        "unknown step 'lok' (did you mean 'look'?)",
    ),
    (
        "call: fuel-delivery",
        "call: fuel-delivry",
        "unknown procedure 'fuel-delivry' (did you mean 'fuel-delivery'?)",
    ),
    (
        "call: fuel-delivery",
        "call: sample",
        "'sample' is a symptom tree: write tree:",
    ),
    (
        "with: {bank: <each>}",
        "with: {sensor: <each>}",
        "'fuel-delivery' takes a bank, not a sensor",
    ),
    (
        "with: {bank: <each>}",
        "with: {bank: b1s1}",
        "expected b1 or b2",
    ),
    (
        "pressure_high: {",
        "pressure_hih: {",
        "unknown outcome of fuel-delivery 'pressure_hih' (did you mean 'pressure_high'?)",
    ),
    (
        "{conclude: returned}, otherwise: {conclude: open}",
        "{conclude: open}",
        "nothing is said for pressure_good",
    ),
    (
        "{conclude: returned}",
        "{conclude: opn}",
        "unknown conclusion 'opn' (did you mean 'open'?)",
    ),
    (
        REFER,
        "exit: {conclude: returned}",
        "nothing was brought back here",
    ),
    (
        REFER,
        "exit: {return: x}",
        "only a procedure returns",
    ),
    (
        REFER,
        "exit: {tree: fuel-delivery}",
        "is a procedure: write call:",
    ),
    (
        REFER,
        "exit: {tree: smple}",
        "unknown tree 'smple' (did you mean 'sample'?)",
    ),
    (
        REFER,
        "exit: {tree: sample, at: x}",
        "'sample' has no entry 'x'",
    ),
    (
        REFER,
        "exit: {goto: read}",
        "no exit here",
    ),
    (
        REFER,
        "exit: {next: read, conclude: open}",
        "an exit leads one way",
    ),
    (
        "verdict: Hose off on <bank>",
        "verdict: Hose off on <each>",
        "nothing stands for '<each>' here",
    ),
    (
        "verdict: Hose off on <bank>",
        "verdict: Hose off on <bnak>",
        "unknown placeholder '<bnak>' (did you mean 'bank'?)",
    ),
    (
        "means: It adds {trim_<each>}",
        "means: It adds {trm_b1}",
        "unknown reading quoted in the text: 'trm_b1' (did you mean 'trim_b1'?)",
    ),
    (
        "side: <each>",
        "side: b7",
        "expected a place: b1, b2, b1s1",
    ),
    (
        "grade: inconclusive\n        exit: {refer",
        "grade: ok\n        exit: {refer",
        "graded inconclusive unless it says covers_rest: true",
    ),
    (
        "        grade: ok\n        finding",
        "        grade: okay\n        finding",
        "found 'okay', allowed: ok, watch",
    ),
    (
        "faults: []",
        "faults: [regulatr]",
        "unknown fault 'regulatr' (did you mean 'regulator'?)",
    ),
    (
        "strength: not-found-here",
        "strength: proven",
        "a proven or probable conclusion names its fault",
    ),
    (
        "each: bank",
        "each: banks",
        "found 'banks', allowed: bank, sensor",
    ),
    (
        "hose: {is: [ok]}",
        "dtc_stored: {has: P17}",
        "'P17' is no code: write P0172, P0300-P0312 or group:name",
    ),
    (
        "hose: {is: [ok]}",
        "dtc_any: {has: P0312-P0300}",
        "runs backwards: the lower code comes first",
    ),
    (
        "hose: {is: [ok]}",
        "dtc_any: {has: group:rich}",
        "unknown group of codes 'rich'",
    ),
)


@pytest.mark.parametrize(("old", "new", "message"), SLIPS, ids=[row[1][:30] for row in SLIPS])
def test_a_slip_is_reported_at_its_line(old: str, new: str, message: str) -> None:
    assert old in TREE
    _, problems = load(TREE.replace(old, new, 1))
    [found] = [problem for problem in problems if problem.file == "t.yaml"]
    assert message in found.message
    if "strength" not in old:  # that one is said of the faults, a line above
        assert found.line == TREE[: TREE.index(old)].count("\n") + 1


def test_a_tree_still_to_come_is_a_warning() -> None:
    _, problems = load(TREE.replace(REFER, "exit: {tree: slow-warm-up}"))
    [found] = problems
    assert (found.level, found.message) == (
        "warning", "the tree 'slow-warm-up' is not here yet: the job ends open there",
    )  # fmt: skip


def test_a_missing_title_is_reported_at_its_step() -> None:
    _, problems = load(TREE.replace("title: Read\n", "titel: Read\n"))
    assert [(p.where, p.message) for p in problems] == [("steps.read", "title: is missing here")]


def test_rules_after_otherwise_are_reported() -> None:
    rule = "      - {otherwise: true, verdict: Something, grade: inconclusive, exit: read}\n"
    text = TREE.replace(
        "      - when: {hose: {has_any: [off]}}", rule + "      - when: {hose: {has_any: [off]}}", 1
    )
    _, problems = load(text)
    assert [(p.line, "otherwise: stands last" in p.message) for p in problems] == [(19, True)]


def test_placeholders_need_something_to_stand_for_in_a_procedure() -> None:
    plain = PROCEDURE.replace("takes: bank\n", "").replace("tree: fuel-delivery", "tree: plain")
    _, problems = load(plain)
    assert all("this procedure has no takes:" in problem.message for problem in problems)
    assert {problem.line for problem in problems} >= {13, 15}


def test_all_problems_come_in_one_go_sorted_by_line() -> None:
    text = TREE.replace("start: look", "start: lok").replace("finding: [seen-good]", "finding: [x]")
    _, problems = load(text.replace("call: fuel", "call: feul"))
    places = [problem.where for problem in problems]
    assert places == ["start", "steps.look.judge[2].finding[1]", "steps.read.judge[1].exit.call"]


def test_what_only_another_side_has_makes_a_condition_false() -> None:
    known = Known.of(catalogue())
    document = read_yaml('"rear_<bank>": {below: 1}', "t.yaml")
    quantities = {**known.quantities, "rear_b1": known.quantities["trim_b1"]}
    here = Known(quantities, known.limits, known.findings, known.code_groups)
    sides = ({"bank": "b1"}, {"bank": "b2"})
    report = Report()
    for places, others in ((sides[0], sides[1:]), (sides[1], sides[:1])):
        found = ConditionLoader(here, Scope(places, others)).load(Part.root(document, report))
        wanted = Compare("rear_b1", "below", 1.0) if places["bank"] == "b1" else AnyOf(())
        assert found == wanted
    assert report.problems == []


# ----------------------------------------------------------------------- expansion


def test_families_write_out_every_combination_in_order() -> None:
    assert members("a") == (("a", ()),)
    assert [name for name, _ in members("stft_{b1,b2}_{idle,load}")] == [
        "stft_b1_idle", "stft_b1_load", "stft_b2_idle", "stft_b2_load",
    ]  # fmt: skip
    assert members("{a,b}c")[1] == ("bc", ("b",))


def test_slots_and_places_are_filled() -> None:
    assert fill_slots("x_<2>_<1>_<3>", ("a", "b")) == "x_b_a_<3>"
    assert fill_places("o2_<sensor>_v", {"sensor": "b2s1"}) == "o2_b2s1_v"
    words = {"b1": "bank 1"}
    assert fill_prose("On <bank>: {tt_<bank>_idle} <2", {"bank": "b1"}, words) == "On bank 1: {tt_b1_idle} <2"


def test_a_verdict_gives_a_rule_id() -> None:
    assert slug("Rich at idle on <each>") == "rich-at-idle-on"
    assert slug("It reads {tt_b1_idle}!") == "it-reads"
    assert slug("…") == "rule"


# --------------------------------------------------------------------------- fuzz

JUNK: tuple[Any, ...] = (
    None, True, 0, -1, 1e308, 10**400, "", "x", "<each>", "<sensor>", "{a}", "P0300-P0100", "group:x", [], {},
    [[]], [{}], [None], {"a": {}}, {"any": []}, {"found": 1}, {"is": [1, None]}, "a" * 300, "b9s9",
    {"call": "sensor-heater", "with": {"sensor": 5}, "then": {}}, {"conclude": []}, {"repair": 1},
    {"{a,b}_{c,d}": 1},
)  # fmt: skip


@cache
def _documents() -> dict[str, Any]:
    both = {**shipped_files(), "shop/own.yaml": OVERLAY.encode()}
    return {name: read_yaml(content, name) for name, content in both.items()}


def test_the_shipped_files_and_the_sample_overlay_load() -> None:
    _, problems = assemble_documents(_documents(), {})
    assert [str(problem) for problem in problems if problem.level == "error"] == []


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_no_mangled_file_of_the_shipped_ones_raises(data: st.DataObject) -> None:
    documents = _documents()
    name = data.draw(st.sampled_from(sorted(documents)))
    path = data.draw(st.sampled_from(sorted(paths(documents[name].data), key=str)))
    key = data.draw(st.sampled_from([None, None, "zz", "<each>", "{a", "<1>"]))
    changed = with_changed(documents[name], path, data.draw(st.sampled_from(JUNK)), key=key)
    _, problems = assemble_documents({**documents, name: changed}, {})
    assert all(problem.line >= 1 and "\n" not in str(problem) for problem in problems)


@settings(max_examples=250, deadline=None)
@given(st.data())
def test_no_mangled_tree_raises(data: st.DataObject) -> None:
    document = read_yaml(TREE, "t.yaml")
    for _ in range(data.draw(st.integers(1, 4))):
        path = data.draw(st.sampled_from(sorted(paths(document.data), key=str)))
        key = data.draw(st.sampled_from([None, None, "zz", "<each>"]))
        document = with_changed(document, path, data.draw(st.sampled_from(JUNK)), key=key)
        if not isinstance(document.data, dict):
            return
    signature = signature_of(document)
    if signature is None:
        return
    other = read_yaml(PROCEDURE, "p.yaml")
    called = signature_of(other)
    assert called is not None
    sources = {"fuel-delivery": TreeSource(other, called), signature.id: TreeSource(document, signature)}
    _, problems = load_trees(sources, catalogue())
    assert all(isinstance(problem.message, str) for problem in problems)
