"""Files of answers for a walk without a screen, and what the command line adds."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from engine.answers_file import Answers, read_answers
from engine.catalogue import Catalogue, Choice
from engine.measured import Answer
from engine.tree import ChoiceIs
from tests.engine.made import catalogue, choice_reading, reading, worked

BOOSTED = ChoiceIs("veh_induction", "one_of", ("turbo",))
CATALOGUE: Catalogue = catalogue(
    (
        replace(reading("stft_b1_idle"), unit="%", reject=(-100, 99.3), usual=(-12, 12), tools=("CR",)),
        replace(reading("batt_v_koeo"), unit="V", reject=(0, 18), usual=(12, 15.5)),
        replace(reading("fuelp_koeo"), unit="kPa", reject=(0, 1000), usual=(150, 600), tools=("FG",)),
        replace(reading("heater_ohms_b1s1"), unit="Ω", reject=(0, 1e6), usual=(2, 15)),
        replace(reading("rpm_idle"), unit="rpm", reject=(0, 16383), usual=(550, 1000), tools=("CR",)),
        replace(reading("map_wot"), unit="kPa", reject=(0, 255), reject_if=((BOOSTED, (0, 400)),)),
        choice_reading("veh_induction", "na", "turbo", keeps="ever"),
        choice_reading("complaint_seen", "yes", "no", "partly"),
        choice_reading("cat_tap", "silent", "rattles", not_looked=("not_done",)),
        choice_reading("misfire_cyl", "none", "1", "2", "3"),
        choice_reading("visual_intake", "ok", "hose_off", "oil_wet", kind="many"),
        choice_reading("recent_event", "none", "refuel", kind="many"),
        choice_reading("emis_fail_items", "lamp", "lambda", kind="many"),
        choice_reading("kit_tools", "MM", "CR", kind="many", keeps="ever"),
        reading("dtc_stored", kind="codes"),
        reading("ign_trace", kind="trace"),
        replace(reading("spec_fuel_pressure"), unit="kPa", reject=(0, 1000)),
    ),
    worked_values=(worked("tt_b1_idle", "total_trim"),),
)  # fmt: skip
CATALOGUE = replace(
    CATALOGUE, readings={**CATALOGUE.readings, "veh_banks": reading("veh_banks", reject=(1, 2), usual=(1, 2))}
)


def read(text: str, *car: str) -> Answers:
    return read_answers(text.encode(), "job.yaml", CATALOGUE, car)


def only(found: Answers) -> Answer:
    assert not found.problems, "\n".join(map(str, found.problems))
    ((take,),) = found.answers.values()
    return take.answer


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("batt_v_koeo: 12.6", 12.6),
        ("batt_v_koeo: 13", 13.0),
        ("batt_v_koeo: 12.6 V", 12.6),
        ("batt_v_koeo: 12600 mV", 12.6),
        ('batt_v_koeo: "12,6"', 12.6),
        ("stft_b1_idle: -7,5", -7.5),
        ("fuelp_koeo: 2.5 bar", 250.0),
        ("heater_ohms_b1s1: OL", 1e6),
        ("heater_ohms_b1s1: 1000000", 1e6),
        ("cat_tap: silent", "silent"),
        ("cat_tap: not_done", "not_done"),
        ("cat_tap: Not done", "not_done"),
        ("complaint_seen: yes", "yes"),
        ("complaint_seen: true", "yes"),
        ("complaint_seen: false", "no"),
        ("misfire_cyl: 3", "3"),
        ('misfire_cyl: "3"', "3"),
        ("misfire_cyl: none", "none"),
        ("visual_intake: [oil_wet, hose_off]", ("hose_off", "oil_wet")),
        ("visual_intake: hose_off", ("hose_off",)),
        ("visual_intake: []", ("ok",)),
        ("recent_event: []", ("none",)),
        ("emis_fail_items: []", ()),
        ("dtc_stored: [P0300, p0172]", ("P0172", "P0300")),
        ("dtc_stored: P0172", ("P0172",)),
        ("dtc_stored: []", ()),
        ("dtc_stored: none", ()),
        ("ign_trace: idle.csv", "idle.csv"),
        ("veh_banks: 2", 2.0),
    ],
)
def test_a_value_counts_as_the_catalogue_says(text: str, answer: Answer) -> None:
    assert only(read(text)) == answer


def test_json_is_read_as_well() -> None:
    found = read(json.dumps({"batt_v_koeo": 12.6, "dtc_stored": ["P0172"], "complaint_seen": True}))

    assert {name: takes[0].answer for name, takes in found.answers.items()} == {
        "batt_v_koeo": 12.6, "dtc_stored": ("P0172",), "complaint_seen": "yes",
    }  # fmt: skip
    assert not found.problems


def test_takes_are_kept_in_order_and_as_typed() -> None:
    found = read("batt_v_koeo: {takes: [12.6, 12.5 V, '12,4']}\nvisual_intake: {takes: [[ok], [oil_wet]]}\n")

    assert not found.problems
    assert [(take.answer, take.typed) for take in found.answers["batt_v_koeo"]] == [
        (12.6, "12.6"), (12.5, "12.5 V"), (12.4, "12,4"),
    ]  # fmt: skip
    assert [take.answer for take in found.answers["visual_intake"]] == [("ok",), ("oil_wet",)]


def test_an_empty_file_says_that_nothing_was_measured() -> None:
    for text in ("", "# nothing yet\n", "{}", "after_repair:\n"):
        assert read(text) == Answers({}, {}, (), ())


def test_the_unlikely_is_taken_and_flagged() -> None:
    found = read(
        "batt_v_koeo: {takes: [12.6, 9.1]}\nfuelp_koeo: 2.5\nrpm_idle: 800\n"
        "after_repair: {stft_b1_idle: 40, rpm_idle: 801}\n"
    )

    assert not found.problems
    assert found.flagged == ("batt_v_koeo", "fuelp_koeo", "stft_b1_idle")
    assert [take.flagged for take in found.answers["batt_v_koeo"]] == [False, True]
    assert found.answers["fuelp_koeo"][0].answer == 2.5


def test_readings_after_the_repair_are_kept_apart() -> None:
    found = read("stft_b1_idle: -10\nafter_repair:\n  stft_b1_idle: 1\n")

    assert not found.problems
    assert found.answers["stft_b1_idle"][0].answer == -10.0
    assert found.after_repair["stft_b1_idle"][0].answer == 1.0


# --------------------------------------------------------------------------------------- command line


@pytest.mark.parametrize(
    ("said", "reading_id", "answer"),
    [
        ("banks=2", "veh_banks", 2.0),
        ("veh_banks=2", "veh_banks", 2.0),
        ("induction=turbo", "veh_induction", "turbo"),
        ("tools=MM,CR", "kit_tools", ("CR", "MM")),
        ("tools=[MM, CR]", "kit_tools", ("CR", "MM")),
        ("fuel_pressure=3 bar", "spec_fuel_pressure", 300.0),
        ("complaint_seen=true", "complaint_seen", "yes"),
        ("dtc_stored=P0172 P0300", "dtc_stored", ("P0172", "P0300")),
        ("dtc_stored=[]", "dtc_stored", ()),
        ("batt_v_koeo= 12.6 ", "batt_v_koeo", 12.6),
    ],
)
def test_the_command_line_gives_facts_by_short_and_full_names(
    said: str, reading_id: str, answer: Answer
) -> None:
    found = read("", said)

    assert only(found) == answer
    assert list(found.answers) == [reading_id]


def test_the_command_line_wins_over_the_file_and_the_last_over_the_ones_before() -> None:
    found = read(
        "veh_banks: 1\nbatt_v_koeo: 9\nrpm_idle: 800\n", "banks=1", "veh_banks=2", "batt_v_koeo=12.6"
    )

    assert not found.problems
    assert {name: takes[-1].answer for name, takes in found.answers.items()} == {
        "veh_banks": 2.0, "batt_v_koeo": 12.6, "rpm_idle": 800.0,
    }  # fmt: skip
    assert found.flagged == ()


@pytest.mark.parametrize(
    ("text", "car", "side"),
    [
        ("", ("side=b1s1",), "b1s1"),
        ("", ("side= b2 ",), "b2"),
        ("side: b1", (), "b1"),
        ("side: b1", ("side=b2",), "b2"),
        ("", (), None),
    ],
)
def test_the_side_of_a_procedure(text: str, car: tuple[str, ...], side: str | None) -> None:
    found = read(text, *car)

    assert not found.problems
    assert found.side == side
    assert not found.answers


@pytest.mark.parametrize(
    ("text", "car", "taken"),
    [
        ("map_wot: 300\nveh_induction: turbo", (), True),
        ("map_wot: 300\nveh_induction: na", (), False),
        ("map_wot: 300\nveh_induction: na", ("induction=turbo",), True),
        ("map_wot: 300\nveh_induction: turbo", ("induction=na",), False),
        ("veh_induction: na\nafter_repair: {map_wot: 300}", (), False),
    ],
)
def test_bounds_follow_the_car_of_file_and_command_line(text: str, car: tuple[str, ...], taken: bool) -> None:
    assert bool(read(text, *car).problems) is not taken


# -------------------------------------------------------------------------------------------- problems


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("batt_v_koe: 12", "1:1", "no reading is called 'batt_v_koe' (did you mean 'batt_v_koeo'?)"),
        ("banks: 2", "1:1", "did you mean 'veh_banks'?"),
        ("tt_b1_idle: 2", "1:1", "is worked out from readings"),
        ("rpm_idle: 800\nbatt_v_koeo: 25", "2:14", "25 V cannot be: 18 V is the most possible here"),
        ("stft_b1_idle: 120 %", "1:15", "the data item ends at 99.3 %"),
        ("fuelp_koeo: 36 bar", "1:13", "36 psi would be 248.2 kPa"),
        ("rpm_idle: '1,200'", "1:11", "can mean 1.2 rpm or 1200 rpm"),
        ("batt_v_koeo: 12.6 bar", "1:14", "is not a voltage"),
        ("batt_v_koeo: true", "1:14", "true is no number"),
        ("batt_v_koeo: .nan", "1:14", "no measurable number"),
        ("batt_v_koeo: NaN", "1:14", "'NaN' is not a number"),
        ("batt_v_koeo: [12.5, 12.6]", "1:14", "for several takes write {takes: [1, 2]}"),
        ("batt_v_koeo:", "1:13", "leave the line out when it was not measured"),
        ("batt_v_koeo: {takes: []}", "1:14", "at least one value"),
        ("batt_v_koeo: {takes: 12}", "1:14", "at least one value"),
        ("batt_v_koeo: {takes: [12.6, abc]}", "1:29", "'abc' is not a number"),
        ("batt_v_koeo: {takes: [{takes: [1]}]}", "1:23", "write the value itself"),
        ("batt_v_koeo: {take: [12.6]}", "1:14", "write the takes as a list"),
        ("batt_v_koeo: {takes: [12.6], by: me}", "1:34", "'by' is not known here"),
        (
            "cat_tap: rattle",
            "1:10",
            "none of the choices (did you mean 'rattles'?): silent, rattles, not_done",
        ),
        ("cat_tap: 1", "1:10", "1 is none of the choices"),
        ("cat_tap: true", "1:10", "true is none of the choices"),
        ("cat_tap: [silent]", "1:10", "one choice is wanted, not a list"),
        ("visual_intake: [ok, oil_wet]", "1:16", "'ok' stands alone"),
        ("visual_intake: [hose_of]", "1:16", "did you mean 'hose_off'?"),
        ("visual_intake: [[ok]]", "1:16", "write one of ok, hose_off, oil_wet"),
        ("visual_intake: 1", "1:16", "write a list"),
        ("dtc_stored: [P4172]", "1:13", "'P4172' is no code"),
        ("dtc_stored: [PO172]", "1:13", "a letter where a digit stands: P0172?"),
        ("dtc_stored: [1]", "1:13", "write the codes as a list of texts"),
        ("ign_trace: [1, 2]", "1:12", "name of the recording"),
        ("after_repair: 3", "1:15", "write a map"),
        ("after_repair: {batt_v_koeo: 25}", "1:29", "cannot be"),
        ("after_repair: {side: b1}", "1:16", "no reading is called 'side'"),
        ("side: left", "1:7", "'left' is no side"),
        ("- 1\n- 2", "1:1", "write a map, reading id: value"),
        ("batt_v_koeo: 12\nbatt_v_koeo: 13", "2:1", "stands twice"),
    ],
)
def test_what_is_wrong_is_named_with_its_place(text: str, place: str, words: str) -> None:
    found = read(text)

    (problem,) = found.problems
    assert str(problem).startswith(f"job.yaml:{place}: error: ")
    assert words in problem.message


@pytest.mark.parametrize(
    ("said", "place", "words"),
    [
        ("banks", "1:1", "write KEY=VALUE, as banks=2"),
        ("bonks=2", "1:1", "no reading is called 'bonks'"),
        ("banks=3", "1:7", "3 cannot be: 2 is the most possible here"),
        ("banks=", "1:7", "nothing was typed"),
        ("induction=steam", "1:11", "none of the choices: na, turbo"),
        ("side=left", "1:6", "'left' is no side"),
        ("=", "1:1", "no reading is called ''"),
    ],
)
def test_what_is_wrong_on_the_command_line_is_named_with_its_place(said: str, place: str, words: str) -> None:
    (problem,) = read("", said).problems

    assert str(problem).startswith(f"--car:{place}: error: ")
    assert words in problem.message


def test_all_problems_come_in_one_go_in_the_order_of_the_lines() -> None:
    found = read("a: 1\nbatt_v_koeo: 25\ncat_tap: x\nafter_repair:\n  b: 2\n", "banks=9")

    assert [(problem.file, problem.line) for problem in found.problems] == [
        ("--car", 1), ("job.yaml", 1), ("job.yaml", 2), ("job.yaml", 3), ("job.yaml", 5),
    ]  # fmt: skip


def test_a_text_that_could_move_the_cursor_is_made_harmless() -> None:
    found = read('ign_trace: "a\\e[31mb"\n', "x\x1b[2J=1")

    assert found.answers["ign_trace"][0].answer == "ab"
    assert found.answers["ign_trace"][0].typed == "ab"
    assert all(str(problem).isprintable() for problem in found.problems)


def test_a_choice_with_a_letter_case_of_its_own_is_found() -> None:
    kit = replace(CATALOGUE.readings["kit_tools"], choices=(Choice("MM", "multimeter"),))
    made = replace(CATALOGUE, readings={"kit_tools": kit})

    assert only(read_answers(b"kit_tools: [mm]", "f", made)) == ("MM",)


plain = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12),
    st.sampled_from(["ok", "P0172", "2.5 bar", "OL", "takes"]),
)  # fmt: skip
nested = st.recursive(
    plain,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["takes", "side", "x"]), inner, max_size=2)
    ),
    max_leaves=6,
)
names = st.sampled_from([*CATALOGUE.readings, "after_repair", "side", "tt_b1_idle", "nothing"])


@given(
    data=st.one_of(nested, st.dictionaries(names, nested, max_size=5)),
    car=st.lists(st.one_of(st.text(max_size=12), st.builds("{}={}".format, names, plain)), max_size=3),
)
@example({"batt_v_koeo": float("inf")}, [])
@example({"batt_v_koeo": 1e308, "rpm_idle": 10**17}, [])
def test_no_data_raises(data: object, car: list[str]) -> None:
    found = read_answers(json.dumps(data).encode(), "f.json", CATALOGUE, car)

    for problem in found.problems:
        assert str(problem).isprintable()
    for takes in (*found.answers.values(), *found.after_repair.values()):
        assert takes
    if not found.problems and isinstance(data, dict):
        given_ids = {name for name in data if name not in ("after_repair", "side")}
        assert given_ids <= set(found.answers)


@given(source=st.binary(max_size=60))
def test_no_bytes_raise(source: bytes) -> None:
    for problem in read_answers(source, "f", CATALOGUE).problems:
        assert str(problem).isprintable()
