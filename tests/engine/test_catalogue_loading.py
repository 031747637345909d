"""Catalogues from text: families, references, circles; every slip with its line."""

from __future__ import annotations

import pytest

from engine.catalogue import Catalogue, MakerFigure, Range
from engine.catalogue_loading import CATALOGUES, Sources, load_catalogue
from engine.errors import Problem
from engine.library import load_library
from engine.tree import ChoiceIs
from engine.yaml_text import read_yaml

FILES: dict[str, str] = {
    "readings": """
format: 1
words: {b1: bank 1, b2: bank 2, idle: at idle, "2500": at 2500 rpm}
groups:
  trims: ["stft_*"]
readings:
  "stft_{b1,b2}_{idle,2500}":
    {label: "short trim <2>, <1>", kind: num, unit: "%", reject: [-100, 99], usual: [-12, 12], tool: [CR],
     minutes: 2, state: "<2>", takes: mean, keeps: half-hour,
     lost_by_repair: true, has: {car: [petrol]}}
  volts:
    {label: volts, kind: num, unit: V, reject: [0, 20], reject_by_tool: {CR: [0, 16]}, tool: [MM, CR],
     minutes: 1, state: "off", takes: mean, keeps: day,
     reject_if: [{when: {car: {is: lpg}}, reject: [0, 10]}]}
  spec:
    {label: maker's volts, kind: num, unit: V, reject: [0, 20], tool: [CR],
     minutes: 1, state: "off", takes: latest, keeps: ever}
  car:
    label: fuel
    kind: one
    choices: {petrol: petrol, lpg: gas, unknown: {label: not known, not_looked: true}}
    usual: petrol
    assumed: petrol
    tool: [CR]
    minutes: 1
    row: papers
    state: "off"
    takes: latest
    keeps: ever
""",
    "worked": """
format: 1
worked:
  "split_{idle,2500}":
    label: bank 1 less bank 2 <1>
    unit: "%"
    formula: difference
    with: {a: "stft_b1_<1>", b: "stft_b2_<1>"}
  either_way:
    label: one or the other
    unit: "%"
    either:
      - {formula: difference, with: {a: split_idle, b: 1}}
      - {formula: difference, with: {a: {from: split_2500, else: 2}, b: 1}}
""",
    "faults": """
format: 1
outside: {label: something else, prior: 12, share: 0.02}
proven_needs: [carried]
faults:
  pump: {label: pump, system: fuel, side: none, prior: 9, repair: Renew it., minutes: null, parts: large,
         proof: same, if_left: It stops., drive: with-care, directions: [weak],
         proven_by: [low], exclude_first: [carried]}
""",
    "findings": """
format: 1
findings:
  carried: {label: seen}
  low: {label: low, side: bank, drive: do-not-drive, ends_with_repair: true}
left:
  clamp: {label: a clamp, undone: clamp in the box}
""",
    "limits": """
format: 1
limits:
  lean: {label: lean, unit: "%", value: 10, source: {kind: common-practice, of: bands, seen: false}}
  volts_low:
    label: low
    unit: V
    value: 12
    cases: [{when: {car: {is: lpg}}, value: 11}]
    maker: {reading: spec, times: 0.9}
    widen: -1
    source: {kind: published, of: a book, seen: true}
  volts_table:
    {label: table, unit: V, at: {reading: volts, points: [[0, 1], [10, 2]]}, source: {kind: maker, of: data}}
""",
    "codes": """
format: 1
groups:
  rich: {label: too rich, rank: 4, weigh: {pump: 3}}
codes:
  P0172: {means: rich, groups: [rich], side: b1}
  P0300-P0312: {means: misfire}
""",
    "instruments": """
format: 1
states: {"2500": 1}
instruments:
  CR:
    label: reader
    setup: 2
    accuracy:
      - for: ["stft_*"]
        percent: 0
        plus_minus: 0
        resolution: 0.78
        scatter: 1
        source: {kind: published, of: a book}
  MM:
    label: meter
    setup: 1
    accuracy:
      - {unit: V, percent: 1, plus_minus: 0, resolution: 0.01, scatter: 0, source: {kind: maker, of: sheet}}
""",
    "cautions": """
format: 1
cautions:
  C-HOT: {line: "BURNS: everything.", say: It burns., only_if: {car: {is: petrol}}}
""",
}  # fmt: skip


def load(changes: dict[str, tuple[str, str]] | None = None) -> tuple[Catalogue, tuple[Problem, ...]]:
    sources = Sources()
    for name in CATALOGUES:
        old, new = (changes or {}).get(name, ("", ""))
        assert old in FILES[name]
        document = read_yaml(FILES[name].replace(old, new, 1) if old else FILES[name], f"{name}.yaml")
        assert document.problems == ()
        sources.add_document(name, document)
    return load_catalogue(sources)


def test_readings_and_their_families() -> None:
    catalogue, problems = load()
    assert problems == ()
    assert [name for name in catalogue.readings if name.startswith("stft")] == [
        "stft_b1_idle", "stft_b1_2500", "stft_b2_idle", "stft_b2_2500",
    ]  # fmt: skip
    trim = catalogue.readings["stft_b2_2500"]
    assert (trim.label, trim.state, trim.row) == (
        "short trim at 2500 rpm, bank 2", "2500", "stft_{b1,b2}_{idle,2500}",
    )  # fmt: skip
    assert (trim.reject, trim.usual, trim.minutes) == ((-100.0, 99.0), (-12.0, 12.0), 2.0)
    assert trim.has == {"car": ("petrol",)}
    assert trim.lost_by_repair
    volts = catalogue.readings["volts"]
    own_range: Range = (0.0, 16.0)
    assert volts.reject_by_tool == {"CR": own_range}
    assert volts.reject_if == ((ChoiceIs("car", "is", ("lpg",)), (0.0, 10.0)),)
    car = catalogue.readings["car"]
    assert [choice.value for choice in car.choices if choice.not_looked] == ["unknown"]
    assert (car.usual_choices, car.assumed, car.row) == (("petrol",), "petrol", "papers")
    assert catalogue.reading_groups["trims"] == tuple(list(catalogue.readings)[:4])


def test_worked_values_limits_and_the_rest() -> None:
    catalogue, _ = load()
    split = catalogue.worked["split_2500"]
    assert split.label == "bank 1 less bank 2 at 2500 rpm"
    assert [(name, arg.quantity) for name, arg in split.recipes[0].arguments] == [
        ("a", "stft_b1_2500"), ("b", "stft_b2_2500"),
    ]  # fmt: skip
    second = catalogue.worked["either_way"].recipes[1]
    assert [(arg.quantity, arg.constant) for _, arg in second.arguments] == [("split_2500", 2.0), (None, 1.0)]
    low = catalogue.limits["volts_low"]
    assert (low.value, low.maker, low.widen) == (12.0, MakerFigure("spec", 0.9, 0.0), -1.0)
    assert low.cases == ((ChoiceIs("car", "is", ("lpg",)), 11.0),)
    assert low.source.words == "a book"
    assert catalogue.limits["volts_table"].table == ((0.0, 1.0), (10.0, 2.0))
    pump = catalogue.faults.faults["pump"]
    assert (pump.minutes, pump.proven_by, pump.directions) == (None, ("low",), ("weak",))
    assert (catalogue.faults.outside_prior, catalogue.faults.proven_needs) == (12.0, ("carried",))
    assert catalogue.findings["low"].drive == "do-not-drive"
    assert catalogue.left["clamp"].undone == "clamp in the box"
    assert catalogue.codes.matches("P0172", "group:rich")
    assert catalogue.codes.groups["rich"].weigh == (("pump", 3.0),)
    assert catalogue.instruments["MM"].accuracy[0].unit == "V"
    assert catalogue.state_minutes == {"2500": 1.0}
    assert catalogue.cautions["C-HOT"].only_if == ChoiceIs("car", "is", ("petrol",))


# file, what is replaced, by what, what the message must say; on the line of the slip.
SLIPS: tuple[tuple[str, str, str, str], ...] = (
    ("readings", 'trims: ["stft_*"]', 'trims: ["stf_*"]', "no reading is named like 'stf_*'"),
    ("readings", "kind: one", "kind: oen", "found 'oen', allowed: num, one, many, codes, trace"),
    ("readings", "usual: petrol", "usual: petrl", "unknown choice 'petrl' (did you mean 'petrol'?)"),
    ("readings", "assumed: petrol", "assumed: petrl", "unknown choice 'petrl' (did you mean 'petrol'?)"),
    ("readings", "has: {car: [petrol]}", "has: {car: [petrl]}", "'petrl' is no answer of car"),
    (
        "readings",
        "has: {car: [petrol]}",
        "has: {cra: [petrol]}",
        "unknown reading 'cra' (did you mean 'car'?)",
    ),
    ("readings", 'state: "<2>"', 'state: "<3>"', "'<3>' stands for nothing: the id has 2 slots"),
    ("readings", 'state: "<2>"', "state: idel", "unknown engine state 'idel' (did you mean 'idle'?)"),
    ("readings", "tool: [MM, CR]", "tool: [MN, CR]", "unknown tool 'MN'"),
    ("readings", "reject_by_tool: {CR:", "reject_by_tool: {CX:", "unknown tool 'CX'"),
    (
        "readings",
        "reject: [0, 20], reject_by",
        "reject: [20, 0], reject_by",
        "the lowest, 20, is above the highest, 0",
    ),
    ("readings", "{car: {is: lpg}}", "{car: {is: lgp}}", "'lgp' is no answer of car (did you mean 'lpg'?)"),
    (
        "readings",
        "unit: V, reject: [0, 20], reject_by",
        "unit: Vlt, reject: [0, 20], reject_by",
        "unknown unit 'Vlt'",
    ),
    (
        "worked",
        "formula: difference\n",
        "formula: diference\n",
        "unknown formula 'diference' (did you mean 'difference'?)",
    ),
    (
        "worked",
        'b: "stft_b2_<1>"}',
        'bb: "stft_b2_<1>"}',
        "unknown argument of difference 'bb' (did you mean 'b'?)",
    ),
    ("worked", ', b: "stft_b2_<1>"}', "}", "difference needs b as well"),
    ("worked", '"stft_b1_<1>"', '"stft_b1_<2>"', "'<2>' stands for nothing: the id has 1 slots"),
    (
        "worked",
        '"stft_b1_<1>"',
        '"stfd_b1_<1>"',
        "unknown reading 'stfd_b1_idle' (did you mean 'stft_b1_idle'?)",
    ),
    (
        "worked",
        "{from: split_2500,",
        "{from: split_250,",
        "unknown reading 'split_250' (did you mean 'split_2500'?)",
    ),
    ("worked", "a: split_idle,", "a: either_way,", "this value rests on itself: either_way -> either_way"),
    ("faults", "proven_by: [low]", "proven_by: [lwo]", "unknown finding 'lwo' (did you mean 'low'?)"),
    (
        "faults",
        "exclude_first: [carried]",
        "exclude_first: [carred]",
        "unknown finding 'carred' (did you mean 'carried'?)",
    ),
    (
        "faults",
        "proven_needs: [carried]",
        "proven_needs: [carred]",
        "unknown finding 'carred' (did you mean 'carried'?)",
    ),
    ("faults", "side: none", "side: nowhere", "found 'nowhere', allowed: none, bank, upstream"),
    ("faults", "prior: 9", "prior: 0", "found 0: a prior weight is above 0"),
    ("findings", "side: bank", "side: banks", "found 'banks', allowed: none, bank, sensor"),
    (
        "limits",
        "{reading: spec, times",
        "{reading: spce, times",
        "unknown reading 'spce' (did you mean 'spec'?)",
    ),
    (
        "limits",
        "{reading: volts, points",
        "{reading: volst, points",
        "unknown reading 'volst' (did you mean 'volts'?)",
    ),
    ("limits", "[[0, 1], [10, 2]]", "[[0, 1], [0, 2]]", "the points rise: 0 comes after 0"),
    ("limits", "{car: {is: lpg}}", "{cra: {is: lpg}}", "unknown reading 'cra' (did you mean 'car'?)"),
    ("limits", "value: 10, ", "", "value: is missing here"),
    (
        "limits",
        "kind: common-practice",
        "kind: hearsay",
        "found 'hearsay', allowed: published, common-practice",
    ),
    ("codes", "groups: [rich]", "groups: [rihc]", "unknown group of codes 'rihc' (did you mean 'rich'?)"),
    ("codes", "weigh: {pump: 3}", "weigh: {pupm: 3}", "unknown fault 'pupm' (did you mean 'pump'?)"),
    ("codes", "P0300-P0312:", "P0312-P0300:", "'P0312-P0300' runs backwards"),
    ("codes", "P0300-P0312:", "P030:", "'P030' is no code"),
    ("codes", "side: b1", "side: b9", "expected a place such as b1"),
    ("instruments", 'for: ["stft_*"]', 'for: ["stfd_*"]', "no reading is named like 'stfd_*'"),
    (
        "cautions",
        "{car: {is: petrol}}",
        "{car: {is: petrl}}",
        "'petrl' is no answer of car (did you mean 'petrol'?)",
    ),
)


@pytest.mark.parametrize(
    ("file", "old", "new", "message"), SLIPS, ids=[f"{row[0]}-{row[2][:25]}" for row in SLIPS]
)
def test_a_slip_is_reported_at_its_line(file: str, old: str, new: str, message: str) -> None:
    _, problems = load({file: (old, new)})
    hits = [problem for problem in problems if message in problem.message]
    assert hits, "\n".join(map(str, problems))
    text = FILES[file]
    line = text[: text.index(old)].count("\n") + 1
    elsewhere = ("rests on itself", "needs b as well")  # said of the whole value
    assert hits[0].line == line or any(words in message for words in elsewhere)
    assert hits[0].file == f"{file}.yaml"
    assert len([problem for problem in problems if problem.file == hits[0].file]) == 1


def test_an_id_written_twice_is_reported() -> None:
    _, problems = load({"readings": ("  volts:\n", '  "stft_{b1,b3}_idle":\n')})
    assert any("'stft_b1_idle' is written twice, first on line 7" in problem.message for problem in problems)


def test_a_longer_circle_of_worked_values_is_named() -> None:
    loop = "  one: {label: x, unit: '%', formula: difference, with: {a: two, b: 1}}\n"
    loop += "  two: {label: x, unit: '%', formula: difference, with: {a: one, b: 1}}\n  either_way:"
    _, problems = load({"worked": ("  either_way:", loop)})
    assert [problem.message for problem in problems] == ["this value rests on itself: one -> two -> one"]


def test_a_rate_may_be_read_or_worked_out_from_what_rests_on_it() -> None:
    same = "  volts: {label: x, unit: V, formula: difference, with: {a: volts, b: 0}}\n  either_way:"
    _, problems = load({"worked": ("  either_way:", same)})
    assert problems == ()


def test_a_family_of_too_many_is_refused() -> None:
    many = ",".join(f"x{number}" for number in range(20))
    _, problems = load({"worked": ('"split_{idle,2500}"', f'"split_{{{many}}}_{{{many}}}"')})
    assert any("more than 200 ids" in problem.message for problem in problems)


def test_the_shipped_catalogue_has_all_its_parts() -> None:
    catalogue = load_library().catalogue
    assert {"CR", "MM", "GA"} <= catalogue.instruments.keys()
    assert catalogue.readings["stft_b1_idle"].unit == "%"
    assert {"C-CO", "C-HOT"} <= catalogue.cautions.keys()
    assert catalogue.codes.find("P0172") is not None
    assert catalogue.left
    assert catalogue.faults.proven_needs
