# ruff: noqa: E501 - one slip a line keeps the tables readable
"""Schemas of the definition files: what they accept, and how they refuse in plain words."""

from __future__ import annotations

import ast
import dataclasses
import json
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft7Validator
from referencing import Registry
from referencing.jsonschema import DRAFT7

from engine import catalogue, tree
from engine.errors import Problem, did_you_mean, shown, where
from engine.schema_check import SCHEMAS, check_schema, vocabulary
from engine.schema_files import fits
from engine.yaml_text import read_yaml

HERE = Path(__file__).parent
TREES = HERE.parent.parent / "trees"
EXAMPLE = (HERE / "fixtures" / "example-rich.yaml").read_text(encoding="utf-8")


def problems_of(text: str, schema: str = "tree") -> tuple[Problem, ...]:
    document = read_yaml(text, "f.yaml")
    return tuple(sorted(document.problems + check_schema(document, schema)))


@pytest.mark.parametrize("path", sorted((TREES / "schema").glob("*.json")), ids=lambda path: path.stem)
def test_every_shipped_schema_is_draft_07(path: Path) -> None:
    """Checked against the draft-07 metaschema that comes with jsonschema (json-schema.org/draft-07)."""
    schema = json.loads(path.read_text(encoding="utf-8"))

    Draft7Validator.check_schema(schema)
    assert schema["$schema"] == "http://json-schema.org/draft-07/schema#"
    assert schema["$id"] == path.name
    assert schema["title"]
    assert schema["description"]


def test_every_schema_that_is_shipped_can_be_checked_against() -> None:
    shipped = {path.name.removesuffix(".schema.json") for path in (TREES / "schema").glob("*.json")}

    assert shipped == {*SCHEMAS, "common"}


@pytest.mark.parametrize("path", sorted((TREES / "schema").glob("*.json")), ids=lambda path: path.stem)
def test_every_key_an_editor_offers_is_explained(path: Path) -> None:
    common = json.loads((TREES / "schema" / "common.schema.json").read_text(encoding="utf-8"))
    schema = json.loads(path.read_text(encoding="utf-8"))

    unexplained = []
    for key, part in _properties(schema):
        target = part.get("$ref", "").rpartition("/")[2]
        explained = part.get("description") or common["definitions"].get(target, {}).get("description")
        if not explained and "not" not in part:
            unexplained.append(key)
    assert unexplained == []


def _properties(schema: Any) -> list[tuple[str, dict[str, Any]]]:
    """Return every key under the `properties` of a schema, but not those of conditions."""
    found: list[tuple[str, dict[str, Any]]] = []
    if isinstance(schema, list):
        return [entry for part in schema for entry in _properties(part)]
    if not isinstance(schema, dict):
        return []
    for keyword, part in schema.items():
        if keyword in ("if", "then", "else", "enum"):
            continue
        if keyword == "properties":
            found += list(part.items())
            found += [entry for inner in part.values() for entry in _properties(inner)]
        else:
            found += _properties(part)
    return found


def test_the_example_of_the_format_is_a_tree() -> None:
    assert problems_of(EXAMPLE) == ()


@pytest.mark.parametrize(
    "path", sorted(p for p in TREES.glob("*/*.yaml") if p.parent.name != "demo"), ids=lambda path: path.stem
)
def test_every_shipped_file_fits_its_schema(path: Path) -> None:
    schema = path.stem if path.parent.name == "catalogue" else "tree"
    document = read_yaml(path.read_bytes(), path.name)

    assert [str(problem) for problem in document.problems + check_schema(document, schema)] == []


EVERY_EXIT = """\
format: 1
tree: every-form
kind: procedure
title: Every form of condition and exit
start: first
entries: [second]
takes: sensor
for: [b1s1, b2s1]
outcomes: [good, fail-bad]
steps:
  first:
    title: First
    do: Do it.
    why: Because.
    only_if: {veh_turbo: {is: fitted}, lambda_idle: {above: 1.02}}
    skip: second
    judge:
      - {when: {a_<sensor>: {below: low, at_least: -5}}, verdict: V, grade: ok, exit: {next: second}}
      - {when: {not: {any: [{a: {has: [x]}}, {all: [{b: {is_not: y}}, {c: {one_of: [1, z]}}]}]}}, verdict: V, grade: watch, exit: second}
      - {when: {dtc_any: {has_any: [P0300-P0312, "group:rich", P0172]}}, verdict: V, grade: likely, exit: {tree: lean-running, at: look}}
      - {when: {dtc_any: {has_none: P0300}, d: {has_other_than: [ok]}}, verdict: V, grade: fail, exit: {tree: lean-running}}
      - {when: {found: [heater-good]}, verdict: V, grade: ok, side: from_codes, exit: {return: good}}
      - {when: {found: {findings: [heater-good], side: <twin>}}, verdict: V, grade: ok, exit: {return: {outcome: fail-bad, conclusion: bad}}}
      - {when: {e: {is: [ok]}}, verdict: V, grade: ok, harm: true, also: [vac_leak], exit: {conclude: bad, side: <other>}}
      - {otherwise: true, covers_rest: true, verdict: V, grade: ok, exit: {refer: The maker holds this.}}
    cannot:
      say: Not done.
      weigh: {vac_leak: 0.5}
      exit: {refer: {say: Another tree., tree: hesitation}}
  second:
    title: Second
    do: Do it.
    why: Because.
    each: sensor
    judge:
      - otherwise: true
        each: bank
        verdict: V
        grade: inconclusive
        exit: {call: sensor-heater, with: {sensor: <each>}, then: {good: first, otherwise: {conclude: returned}}}
    cannot:
      say: Not done.
      exit: {repair: {say: Clean it., next: first, times: 2}}
conclusions:
  bad:
    faults: [vac_leak]
    strength: probable
    because: So it is.
    direction: reads_lean
"""


def test_every_form_of_condition_and_exit_is_accepted() -> None:
    assert problems_of(EVERY_EXIT) == ()


SLIPS = [
    # what stands in the example, what is written instead, where it is reported, words of the report
    ("format: 1", "format: 2", "2:9", "this layby reads format 1"),
    ("format: 1", 'format: "1"', "2:9", "found '1', expected a whole number"),
    ("format: 1", "format: true", "2:9", "found true, expected a whole number"),
    ("format: 1\n", "", "2:1", "format: is missing here"),
    ("tree: example-rich", "tree: Example Rich", "3:7", "small letters and digits, joined by single hyphens"),
    ("tree: example-rich", 'tree: "example-rich\\n"', "3:7", "joined by single hyphens"),
    ("kind: symptom", "kind: sympton", "4:7", "allowed: symptom, procedure (did you mean 'symptom'?)"),
    ("kind: symptom", "kind: procedure", "2:1", "outcomes: is missing here"),
    ("start: look-over", "outcomes: [a]\nstart: look-over", "7:1", "belongs to a procedure"),
    ("start: look-over", "takes: bank\nstart: look-over", "7:1", "belongs to a procedure"),
    ("title: Runs", "titel: Runs", "5:1", "unknown key 'titel' (did you mean 'title'?)"),
    ("title: Runs rich (worked example)", "title:", "5:7", "found nothing, expected a text"),
    ("title: Runs rich (worked example)", "title: ''", "5:8", "the text is empty"),
    ("title: Runs rich (worked example)", "title: 5", "5:8", 'put quotes around it: "5"'),
    ("title: Runs rich (worked example)", "title: [a]", "5:8", "found a list, expected a text"),
    ("complaints: [smells", "complaints: [smells of petrol, smells", "6:32", "stands twice in this list"),
    ("start: look-over", "start: look-over\nowner: me", "8:1", "unknown key 'owner'; allowed here: entries, takes"),
    ("steps:\n", "setps:\n", "8:1", "unknown key 'setps' (did you mean 'steps'?)"),
    ("  look-over:\n", "  Look_over:\n", "9:3", "the key 'Look_over': an id is small letters"),
    ("    title: Look before measuring\n", "", "9:3", "title: is missing here"),
    ("    why: A look", "    wy: A look", "13:5", "unknown key 'wy' (did you mean 'why'?)"),
    ("right: leans}", "rihgt: leans}", "14:103", "unknown key 'rihgt' (did you mean 'right'?)"),
    ("choices: [richens, leans, neither]", "choices: [leans]", "14:76", "has 1 entries, at least 2"),
    ("[C-HOT, C-MOVE]", "[HOT, C-MOVE]", "15:16", "a caution is written C-NAME"),
    ("[C-HOT, C-MOVE]", "[C-HOT, C-HOT]", "15:23", "'C-HOT' stands twice in this list"),
    ("[C-HOT, C-MOVE]", "C-HOT", "15:15", "expected a list: write [C-HOT]"),
    ("wait: 30 s", "wait: 30", "16:11", "a wait is a number and s, min or h: 30 s"),
    ("wait: 30 s", "wait: half a minute", "16:11", "a wait is a number and s, min or h: 30 s"),
    ("leaves: [brake-hose-clamped]", "leaves: [brake hose clamped]", "17:14", "joined by single hyphens"),
    ("readings: [air_filter_state", "readings: [Air filter", "18:16", "small letters, digits and _"),
    ("[air_filter_state, visual_intake]", "{air_filter_state, visual_intake}", "18:15", "expected a list"),
    ("stft_<each>_idle,", "stft_<bnk>_idle,", "43:16", "<each> <bank> <other> <sensor> or <twin>"),
    ("each: bank  ", "each: banks ", "44:11", "allowed: bank, sensor (did you mean 'bank'?)"),
    ("      - when: {visual_intake: {has_any", "      - wen: {visual_intake: {has_any", "21:9", "unknown key 'wen' (did you mean 'when'?)"),
    ("{has_any: [hose_off, hose_split]}", "{has_eny: [hose_off]}", "21:32", "(did you mean 'has_any'?)"),
    ("{has_any: [hose_off, hose_split]}", "[hose_off]", "21:31", "found a list, expected a map of keys"),
    ("{has_any: [hose_off, hose_split]}", "{}", "21:16", "the map is empty"),
    ("{has_any: [hose_off, hose_split]}", "hose_off", "21:31", "found 'hose_off', expected a map of keys"),
    ("{at_most: trim_rich}", "{at_most: -10 %}", "46:42", "a bare number in the reading's unit, without the unit"),
    ("{at_most: trim_rich}", "{at_most: [1]}", "46:42", "found a list, expected a text or a number"),
    ("{at_most: trim_rich}", "{at_most}", "46:40", "found nothing, expected a text or a number"),
    ("        verdict: Hose off or split\n", "", "21:9", "verdict: is missing here"),
    ("grade: likely", "grade: likly", "48:16", "(did you mean 'likely'?)"),
    ("grade: likely", "grade: bad", "48:16", "allowed: ok, watch, likely, fail, inconclusive"),
    ("        grade: likely\n", "", "46:9", "grade: is missing here"),
    ("side: <each>", "side: left", "50:15", "a side is b1, b2, b1s1"),
    ("injector_leaking: 3", "injector_leaking: 300", "51:56", "a weight lies between 0.02 and 50"),
    ("injector_leaking: 3", "injector_leaking: 0", "51:56", "a weight lies between 0.02 and 50"),
    ("injector_leaking: 3", "injector_leaking: much", "51:56", "found 'much', expected a number"),
    ("injector_leaking: 3", "Injector leaking: 3", "51:38", "a name is small letters, digits, _ and -"),
    ("exit: {conclude: purge-open}", "exit: {concude: purge-open}", "79:16", "unknown key 'concude' (did you mean 'conclude'?)"),
    ("exit: {conclude: purge-open}", "exit: {}", "79:9", "exactly one of next:, conclude:, tree:, call:, return:"),
    ("exit: {conclude: purge-open}", "exit: {conclude: purge-open, next: purge}", "79:9", "only one of next: and conclude:"),
    ("exit: {conclude: purge-open}", "exit: {next: purge, side: b1}", "79:29", "side: stands only together with conclude:"),
    ("exit: {conclude: purge-open}", "exit: {next: purge, at: look}", "79:29", "at: stands only together with tree:"),
    ("exit: {conclude: purge-open}", "exit: {call: x}", "79:16", "call: stands only together with then:"),
    ("exit: {conclude: purge-open}", "exit: 5", "79:15", "found 5, expected a text or a map of keys"),
    ("exit: {conclude: purge-open}", "exit: [purge]", "79:15", "found a list, expected a text or a map of keys"),
    ("exit: {conclude: purge-open}", "exit: go on", "79:15", "a step's name is small letters and digits"),
    ("exit: {conclude: purge-open}", "exit: {return: {outcom: x}}", "79:25", "unknown key 'outcom' (did you mean 'outcome'?)"),
    ("exit: {conclude: purge-open}", "exit: {refer: ''}", "79:23", "the text is empty"),
    ("        exit: {conclude: purge-open}\n", "", "74:9", "exit: is missing here"),
    ("with: {bank: <each>}", "with: {bnk: <each>}", "54:18", "unknown key 'bnk' (did you mean 'bank'?)"),
    ("say: Refit or renew the hose.", "say: Refit, then test.", "25:32", "a comma inside braces ends a text"),
    ("forget: [trims], ", "forget: trims, ", "25:59", "expected a list: write [trims]"),
    (", next: read-trims}", "}", "25:11", "next: is missing here"),
    ("do: Warm the engine up and", "do:\n      Note: warm up and", "41:7", 'a colon in an unquoted text makes a map: write "Note: warm up'),
    ("verdict: Not rich at idle\n        grade: inconclusive", "verdict: Not rich\n        grade: ok", "58:16", "unless the rule says covers_rest: true"),
    ("      - otherwise: true\n        verdict: Not", "      - otherwise: yes\n        verdict: Not", "56:20", "found 'yes', expected true or false"),
    ("      - otherwise: true\n        verdict: Not", "      - otherwise: false\n        verdict: Not", "56:20", "write otherwise: true"),
    ("      - otherwise: true\n        verdict: Not", "      - verdict: Not", "56:9", "exactly one of when: or otherwise: belongs here"),
    ("{found: [intake-looks-good]}", "{found: intake-looks-good}", "84:28", "found 'intake-looks-good', expected a list or a map of keys"),
    ("{found: [intake-looks-good]}", "{found: {findings: [a], sid: b1}}", "84:44", "(did you mean 'side'?)"),
    ("faults: [fuel_reg_high]", "faults: []", "98:13", "name at least one fault; only not-found-here"),
    ("strength: proven\n", "strength: certain\n", "107:15", "allowed: proven, probable, not-found-here"),
    ("drive: with-care ", "drive: with_care ", "103:12", "(did you mean 'with-care'?)"),
    ("measure: [tt_b1_idle, fuelp_koeo]", "measure: []", "102:22", "the list has 0 entries, at least 1"),
    ("conclusions:\n", "conclusions: none\nrest:\n", "96:14", "found 'none', expected a map of keys"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "place", "fragment"), SLIPS)
def test_a_slip_in_a_tree_is_reported_where_it_is_in_plain_words(
    old: str, new: str, place: str, fragment: str
) -> None:
    assert old in EXAMPLE
    problems = problems_of(EXAMPLE.replace(old, new, 1))

    assert [f"{p.line}:{p.column}" for p in problems if fragment in p.message] == [place]


@pytest.mark.parametrize(("old", "new", "place", "fragment"), SLIPS)
def test_one_slip_makes_at_most_three_lines(old: str, new: str, place: str, fragment: str) -> None:
    problems = problems_of(EXAMPLE.replace(old, new, 1))

    assert 1 <= len(problems) <= 3
    assert len({str(problem) for problem in problems}) == len(problems)
    assert list(problems) == sorted(problems)


def test_a_mistyped_key_is_not_also_called_missing() -> None:
    [problem] = problems_of(EXAMPLE.replace("    why: A look", "    wyh: A look"))

    assert str(problem) == "f.yaml:13:5: error: steps.look-over.wyh: unknown key 'wyh' (did you mean 'why'?)"


def test_all_faults_of_a_tree_come_in_one_go() -> None:
    text = EXAMPLE.replace("title: Runs", "titel: Runs").replace("grade: likely", "grade: likly")
    problems = problems_of(text.replace("wait: 30 s", "wait: 30").replace("kind: symptom", "kind: 12:30"))

    assert [p.line for p in problems] == [4, 5, 16, 48]


def test_places_count_list_entries_from_one() -> None:
    [problem] = problems_of(EXAMPLE.replace("grade: likely", "grade: likly"))

    assert problem.where == "steps.read-trims.judge[1].grade"


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("", "the file holds nothing"),
        ("just words\n", "found 'just words', expected a map of keys"),
        ("- a\n- b\n", "found a list, expected a map of keys"),
        ("5\n", "found 5, expected a map of keys"),
    ],
)
def test_a_file_that_is_no_map_is_said_to_be_none(text: str, fragment: str) -> None:
    [problem] = problems_of(text)

    assert (problem.line, problem.column) == (1, 1)
    assert fragment in problem.message


def test_nothing_is_called_missing_in_a_file_that_could_not_be_read_to_its_end() -> None:
    problems = problems_of("format: 1\ntree: a\n? [x]\n: y\nkind: [b\n")

    assert all("missing" not in problem.message for problem in problems)


CATALOGUE = {
    "readings": """\
format: 1
words: {b1: bank 1, idle: at idle, "2500": at 2500 rpm}
groups: {trims: ["stft_*", ltft_b1_idle]}
readings:
  "stft_{b1,b2}_{idle,2500}":
    {label: "short-term trim, <1>, <2>", kind: num, unit: "%", reject: [-100, 99.3], usual: [-12, null],
     tool: [CR], minutes: 2, state: "<2>", takes: mean, keeps: half-hour, lost_by_repair: true,
     reject_by_tool: {MM: [0, 1]}, reject_if: [{when: {veh_turbo: {is: fitted}}, reject: [0, 400]}]}
  leak_seen:
    {label: leak seen, kind: many, choices: {none: nothing, not_done: {label: not done, not_looked: true}},
     usual: none, tool: [EY], minutes: 1, row: looks, state: off, takes: latest, keeps: day, assumed: none,
     has: {veh_air_metering: [maf, both]}}
  dtc_stored: {label: stored codes, kind: codes, tool: [CR], minutes: 1, state: koeo, takes: latest, keeps: saved}
""",
    "worked": """\
format: 1
worked:
  "tt_{b1,b2}_idle":
    {label: "total trim, <1>", unit: "%", formula: total_trim, with: {short: "stft_<1>_idle", long: 5}, result: total}
  slope:
    label: slope
    unit: "%"
    either:
      - {formula: difference, with: {a: x, b: {from: y, else: 20}}}
    has: {veh_air_metering: [maf]}
""",
    "faults": """\
format: 1
outside: {label: something else, prior: 12, share: 0.02}
proven_needs: [complaint-carried]
faults:
  injector_leaking: {label: injector drips, system: fuel, side: bank, prior: 9, repair: Clean it., minutes: null,
    parts: medium, proof: trims, if_left: Thins the oil., drive: with-care, directions: [reads_lean],
    proven_by: [swap-followed], exclude_first: [pressure-good], decided_by_repair: false}
""",
    "findings": """\
format: 1
findings: {heater-good: {label: good, side: sensor}, stop: {label: leak, drive: do-not-drive, ends_with_repair: true}}
left: {hose-clamped: {label: hose clamped, undone: clamp in the box}}
""",
    "limits": """\
format: 1
limits:
  trim_rich: {label: rich limit, value: -10, unit: "%", source: {kind: common-practice, of: trade band, seen: false}}
  high: {label: highest, unit: kPa, value: 330, cases: [{when: {veh_fuel: {is: direct}}, value: 500}],
    maker: {reading: spec_fuel_pressure, times: 1.1, plus: 0}, widen: 15, source: {kind: published, of: x}}
  held: {label: held, unit: kPa, relative: {reading: fuelp_koeo, times: 0.8}, source: {kind: derived, of: y}}
  crank: {label: cranking, unit: V, value: 8.5, at: {reading: ambient, points: [[-18, 8.5], [21, 9.6]]},
    source: {kind: from-memory, of: z}}
""",
    "codes": """\
format: 1
groups: {rich: {label: too rich, rank: 4, weigh: {injector_leaking: 3}}}
codes: {P0172: {means: rich bank 1, groups: [rich], side: b1}, P0300-P0312: {means: misfire}}
""",
    "instruments": """\
format: 1
states: {warm-up: 10, "2500": 1}
instruments:
  CR: {label: code reader, setup: 2, accuracy: [
    {for: ["stft_*"], percent: 0, plus_minus: 0, resolution: 0.8, scatter: 1, source: {kind: derived, of: scaling}},
    {unit: V, percent: 0, plus_minus: 0.02, resolution: 0.005, scatter: 0, source: {kind: derived, of: x}}]}
""",
    "cautions": """\
format: 1
cautions: {C-HOT: {line: "BURNS: hot parts.", say: Let it cool., only_if: {veh_turbo: {is: fitted}}}}
""",
    "overlay": """\
format: 1
extends: hesitation
limits: [{limit: trim_rich, cars: {veh_taxi: {is: yes}}, value: -8, by: A. B., on: "2026-05-31", reason: eleven jobs}]
makers: [{reading: spec_fuel_pressure, cars: {veh_make: {is: x}}, value: 350, by: A, on: "2026-05-31", reason: plate}]
weights: [{fault: injector_leaking, times: 4, at: look/first, by: A, on: "2026-05-31", reason: 11 of 13}]
notes: [{at: look-over, text: Clip is behind the bracket., by: A, on: "2026-05-31", reason: saves ten minutes}]
warn: [{at: look-over, cautions: [C-HOT, shop-fan], by: A, on: "2026-05-31", reason: fan starts by itself}]
moves: [{step: purge, before: look-over, by: A, on: "2026-05-31", reason: quicker here}]
steps:
  shop-ground: {before: look-over, by: A, on: "2026-05-31", reason: salt, title: Grounds, do: Look., why: Salt.,
    judge: [{otherwise: true, verdict: V, grade: inconclusive, exit: look-over}]}
add:
  cautions: {shop-fan: {line: "CUTS: fan.", say: Fan., by: A, on: "2026-05-31", reason: seen}}
  limits: {shop-low: {label: low, unit: V, value: 11, source: {kind: shop, of: us}, by: A, on: "2026-05-31", reason: r}}
""",
}  # fmt: skip


@pytest.mark.parametrize("schema", sorted(CATALOGUE))
def test_every_kind_of_file_in_its_full_shape_is_accepted(schema: str) -> None:
    assert problems_of(CATALOGUE[schema], schema) == ()


CATALOGUE_SLIPS = [
    ("readings", "kind: num", "kind: number", "6:48", "allowed: num, one, many, codes, trace (did you mean 'num'?)"),
    ("readings", 'unit: "%", ', "", "5:3", "unit: is missing here"),
    ("readings", "reject: [-100, 99.3]", "reject: [-100]", "6:72", "has 1 entries, at least 2"),
    ("readings", "reject: [-100, 99.3]", "reject: [-100, high]", "6:79", "found 'high', expected a number or null"),
    ("readings", "choices: {none: nothing, not_done", "choises: {none: nothing, not_done", "10:36", "(did you mean 'choices'?)"),
    ("readings", "keeps: day", "keeps: days", "11:89", "(did you mean 'day'?)"),
    ("readings", "kind: many", "kind: num", "10:35", "a num has no choices"),
    ("readings", '"2500": at', "2500: at", "2:36", 'put quotes around it: "2500"'),
    ("readings", "tool: [CR], minutes: 2", "tool: [cr], minutes: 2", "7:13", "two to four capitals"),
    ("readings", "minutes: 2,", "minutes: two,", "7:27", "found 'two', expected a number"),
    ("worked", "formula: total_trim, with", "formula: total_trim, wiht", "4:64", "(did you mean 'with'?)"),
    ("worked", "    either:", "    formula: x\n    either:", "5:3", "only one of formula: and either:"),
    ("worked", "with: {short:", "width: {short:", "4:64", "unknown key 'width' (did you mean 'with'?)"),
    ("faults", "side: bank", "side: left", "5:65", "allowed: none, bank, upstream, downstream, any-sensor"),
    ("faults", "prior: 9", "prior: 0", "5:78", "it must be above 0"),
    ("faults", "parts: medium", "parts: middling", "6:12", "allowed: none, small, medium"),
    ("findings", "drive: do-not-drive", "drive: do not drive", "2:81", "(did you mean 'do-not-drive'?)"),
    ("findings", "undone: clamp in the box", "undun: clamp", "3:44", "(did you mean 'undone'?)"),
    ("limits", "kind: common-practice", "kind: practice", "3:72", "allowed: published, common-practice"),
    ("limits", "value: -10, ", "", "3:3", "at least one of value:, cases:, relative:, at: or maker:"),
    ("limits", "value: -10", "value: -10 %", "3:41", "found '-10 %', expected a number"),
    ("limits", ", source: {kind: derived, of: y}", "", "6:3", "source: is missing here"),
    ("limits", "[21, 9.6]", "[21]", "7:93", "has 1 entries, at least 2"),
    ("codes", "P0172:", "p0172:", "3:9", "a code is P, C, B or U and four digits"),
    ("codes", "P0300-P0312:", "P0300 - P0312:", "3:64", "a range P0300-P0312"),
    ("codes", "rank: 4", "rank: 4.5", "2:40", "found 4.5, expected a whole number"),
    ("instruments", 'for: ["stft_*"], ', "", "5:5", "at least one of for: or unit: belongs here"),
    ("instruments", "percent: 0, plus_minus: 0,", "percent: 0, plusminus: 0,", "5:35", "(did you mean 'plus_minus'?)"),
    ("cautions", "C-HOT:", "HOT:", "2:12", "a caution is written C-NAME"),
    ("cautions", "hot parts.", "h" * 90, "2:26", "the text has 97 characters, at most 76 fit"),
    ("overlay", "extends: hesitation\n", "", "1:1", "extends: is missing here"),
    ("overlay", ", reason: eleven jobs", "", "3:10", "reason: is missing here"),
    ("overlay", '"2026-05-31", reason: eleven', "2026-05-31, reason: eleven", "3:84", 'put quotes around it: "2026-05-31"'),
    ("overlay", '"2026-05-31", reason: eleven', "May, reason: eleven", "3:84", "a day is written"),
    ("overlay", "shop-ground:", "ground:", "10:3", "an id of the shop's own begins with shop-"),
    ("overlay", "before: look-over, by: A, on: \"2026-05-31\", reason: salt", "reason: salt", "10:3", "before:, by: and on: are missing here"),
    ("overlay", "times: 4", "times: 400", "5:44", "a weight lies between 0.02 and 50"),
    ("overlay", "warn:", "cautions:", "7:1", "unknown key 'cautions'"),
]  # fmt: skip


@pytest.mark.parametrize(("schema", "old", "new", "place", "fragment"), CATALOGUE_SLIPS)
def test_a_slip_in_a_catalogue_or_overlay_is_reported_where_it_is(
    schema: str, old: str, new: str, place: str, fragment: str
) -> None:
    assert old in CATALOGUE[schema]
    problems = problems_of(CATALOGUE[schema].replace(old, new, 1), schema)

    assert [f"{p.line}:{p.column}" for p in problems if fragment in p.message] == [place]


JSON_DATA = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-99, 99)
    | st.floats(-9, 9)
    | st.sampled_from(["a", "b c", "", "P0172"]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(sorted(vocabulary("tree") | {"x", "first"})), inner, max_size=5)
    ),
    max_leaves=15,
)


@given(data=JSON_DATA, schema=st.sampled_from(SCHEMAS))
def test_any_data_is_answered_in_our_own_words_with_a_place_in_the_file(data: object, schema: str) -> None:
    document = read_yaml(json.dumps(data), "f.json")
    problems = document.problems + check_schema(document, schema)

    assert problems
    for problem in problems:
        assert (problem.line, problem.column) >= (1, 1)
        assert str(problem).isprintable()
        assert "is not valid under" not in problem.message
        assert "does not match" not in problem.message


FULL = {**CATALOGUE, "tree": EVERY_EXIT}


@cache
def full_validator(schema: str) -> Draft7Validator:
    """Return jsonschema's own validator over the shipped files, without anything of ours."""
    files = {
        name: json.loads((TREES / "schema" / f"{name}.schema.json").read_text("utf-8"))
        for name in ("common", schema)
    }
    resources = [(f"{name}.schema.json", DRAFT7.create_resource(part)) for name, part in files.items()]
    return Draft7Validator(files[schema], registry=Registry().with_resources(resources))


@given(data=st.data(), schema=st.sampled_from(sorted(FULL)))
@settings(max_examples=300)
def test_the_quick_answer_is_the_full_validators(data: st.DataObject, schema: str) -> None:
    """A right file with one place changed, judged by jsonschema as the outside witness."""
    document = read_yaml(FULL[schema], "f.yaml")
    path = data.draw(st.sampled_from([path for path in document.marks if path]))
    parent: Any = document.data
    for part in path[:-1]:
        parent = parent[part]
    match data.draw(st.sampled_from(["keep", "put", "take out", "rename"])):
        case "put":
            parent[path[-1]] = data.draw(JSON_DATA)
        case "take out":
            del parent[path[-1]]
        case "rename" if isinstance(parent, dict):
            parent[data.draw(st.sampled_from(["x", "X y", *sorted(vocabulary(schema))]))] = parent.pop(
                path[-1]
            )

    assert fits(schema, document.data) == full_validator(schema).is_valid(document.data)


@pytest.mark.parametrize("slip", SLIPS + [row[1:] for row in CATALOGUE_SLIPS])
def test_every_slip_is_refused_by_the_full_validator_too(slip: tuple[str, str, str, str]) -> None:
    old, new, _, _ = slip
    for schema, text in {**CATALOGUE, "tree": EXAMPLE}.items():
        if old in text:
            document = read_yaml(text.replace(old, new, 1), "f.yaml")

            assert (
                fits(schema, document.data) == full_validator(schema).is_valid(document.data) or "\\n" in new
            )


@given(st.binary(max_size=80))
def test_any_bytes_are_answered(source: bytes) -> None:
    document = read_yaml(b"format: 1\n" + source, "f.yaml")

    assert document.problems + check_schema(document, "tree")


def test_a_list_of_thousands_of_wrong_maps_makes_a_hundred_lines() -> None:
    many = ", ".join(f"{{a: {i}}}" for i in range(6000))
    problems = problems_of(EXAMPLE.replace("entries", "x").replace("[C-HOT, C-MOVE]", f"[{many}]", 1))

    assert len(problems) == 101
    assert sum("the rest is not listed" in problem.message for problem in problems) == 1


def test_vocabulary_follows_what_is_shared() -> None:
    assert {"format", "steps", "judge", "at_most", "forget", "covers_rest", "if_left"} <= vocabulary("tree")
    assert {"extends", "by", "on", "reason", "judge"} <= vocabulary("overlay")
    assert "judge" not in vocabulary("limits")
    assert {"relative", "widen", "seen", "at_most"} <= vocabulary("limits")


MODEL = [
    # definition of the schema, the dataclass it becomes, keys only in the file, fields only in the model
    ("step", tree.Step, {"each", "judge"}, {"id", "rules", "notes", "origin"}),
    ("rule", tree.Rule, {"otherwise", "each", "finding"}, {"findings", "origin"}),
    ("conclusion", tree.Conclusion, set(), {"id", "origin"}),
    ("predict", tree.Predict, set(), set()),
    ("fault", catalogue.Fault, set(), {"id"}),
    ("caution_entry", catalogue.Caution, set(), {"id"}),
    ("source", catalogue.Source, set(), set()),
    ("figure", catalogue.MakerFigure, set(), set()),
    ("limit_entry", catalogue.Limit, {"at"}, {"id", "table", "table_of"}),
    ("reading", catalogue.Reading, {"tool"}, {"id", "tools", "usual_choices"}),
]


@pytest.mark.parametrize(
    ("definition", "model", "only_file", "only_model"), MODEL, ids=[entry[0] for entry in MODEL]
)
def test_schema_and_model_use_the_same_words(
    definition: str, model: Any, only_file: set[str], only_model: set[str]
) -> None:
    common = json.loads((TREES / "schema" / "common.schema.json").read_text(encoding="utf-8"))
    keys = set(common["definitions"][definition]["properties"])
    names = {field.name for field in dataclasses.fields(model)}

    assert keys - names == only_file
    assert names - keys == only_model


@pytest.mark.parametrize(
    ("key", "words"),
    [
        (("rule", "grade"), {str(grade) for grade in tree.Grade}),
        (("conclusion", "strength"), {str(strength) for strength in tree.Strength}),
        (("reading", "kind"), set(get_args(catalogue.Kind))),
        (("reading", "takes"), set(get_args(catalogue.Takes))),
        (("reading", "keeps"), set(get_args(catalogue.Keeps))),
    ],
)
def test_schema_and_model_allow_the_same_choices(key: tuple[str, str], words: set[str]) -> None:
    common = json.loads((TREES / "schema" / "common.schema.json").read_text(encoding="utf-8"))

    assert set(common["definitions"][key[0]]["properties"][key[1]]["enum"]) == words


def test_schema_and_model_know_the_same_tests() -> None:
    common = json.loads((TREES / "schema" / "common.schema.json").read_text(encoding="utf-8"))

    assert set(common["definitions"]["test"]["properties"]) == {
        *get_args(tree.Comparison),
        *get_args(tree.ChoiceTest),
    }
    assert set(common["definitions"]["drive"]["enum"]) == {str(drive) for drive in catalogue.Drive}


def test_jsonschema_is_imported_only_for_a_file_that_does_not_fit() -> None:
    code = (
        "import sys; from pathlib import Path; from engine.schema_check import check_schema; "
        "from engine.yaml_text import read_yaml; "
        f"document = read_yaml(Path({str(HERE / 'fixtures' / 'example-rich.yaml')!r}).read_bytes(), 'f'); "
        "assert check_schema(document, 'tree') == (); print(sorted(sys.modules))"
    )
    loaded = ast.literal_eval(
        subprocess.run(
            [sys.executable, "-c", code], check=True, capture_output=True, text=True, cwd=TREES.parent
        ).stdout
    )

    assert "engine.schema_check" in loaded
    assert not {name for name in loaded if name.startswith(("jsonschema", "referencing"))}


def test_what_is_shown_of_a_file_cannot_drive_a_terminal() -> None:
    assert shown("a\x1b[31mb\n") == "'a\\x1b[31mb\\n'"
    assert len(shown("x" * 500)) <= 62
    assert where(("steps", "a\x1bb", 0, "when")) == "steps.a\\x1bb[1].when"
    assert did_you_mean("conclud", ["conclude", "next"]) == " (did you mean 'conclude'?)"
    assert did_you_mean("zzz", ["conclude", "next"]) == ""
