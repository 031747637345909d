"""A walk without a screen: answers from a file, usual answers assumed, repairs advised only."""

from __future__ import annotations

from engine.answers_file import read_answers
from engine.headless import walk_headless
from tests.engine.small_trees import small_library

PURGE = """
veh_banks: 1
dtc_stored: [P0172]
complaint_seen: yes
stft_b1_idle: -8.6
ltft_b1_idle: -9.4
visual_intake: [ok]
pinch_purge_dtrim: 14.8
purge_flow_at_0: flow
"""


def walked(text: str, *car: str, tree: str = "small-rich"):
    library = small_library()
    answers = read_answers(text.encode(), "car.yaml", library.catalogue, car)
    assert not answers.problems, answers.problems
    return walk_headless(library, tree, answers, side=answers.side)


def test_the_path_the_conclusion_and_what_was_assumed():
    walk, outcome = walked(PURGE)

    assert outcome["outcome"] == "concluded"
    assert outcome["conclusion"]["id"] == "purge"
    assert outcome["conclusion"]["faults"] == ["purge_stuck_open"]
    assert outcome["conclusion"]["side"] is None
    assert [entry["step"] for entry in outcome["path"]] == [
        "place", "codes", "trims", "look", "purge", "flow",
    ]  # fmt: skip
    assert outcome["assumed"] == ["scene_safe"]
    assert outcome["not_measured"] == outcome["unused"] == []
    assert outcome["flagged"] == ["pinch_purge_dtrim"]
    assert outcome["path"][2]["work"]["tt_b1_idle"] == {"value": -18.0, "unit": "%"}
    assert outcome["minutes"] == round(walk.state.minutes, 3)
    purge = next(s for s in outcome["suspects"] if s["fault"] == "purge_stuck_open")
    assert outcome["conclusion"]["sure"] == purge["p"]
    assert outcome["proof"] is None
    assert "open_end" not in outcome


def test_nothing_in_the_file_is_an_honest_open_end_or_a_lesser_conclusion():
    _, outcome = walked("")

    assert set(outcome["not_measured"]) >= {"dtc_stored", "stft_b1_idle", "visual_intake"}
    done = outcome["conclusion"]
    assert done is None or done["strength"] != "proven"
    assert (outcome["outcome"] == "open") == (done is None)


def test_a_doubtful_verdict_is_gone_on_with_and_finds_nothing():
    walk, outcome = walked(
        PURGE.replace("-8.6", "-5.0").replace("-9.4", "-4.9") + "stft_b1_2500: 0\nltft_b1_2500: 0\n"
    )
    entry = next(entry for entry in outcome["path"] if entry["step"] == "trims")

    assert entry["sure"] < 0.95
    assert next(e for e in walk.state.path if e["step"] == "trims")["findings"] == []
    assert outcome["conclusion"] is None or outcome["conclusion"]["strength"] != "proven"


def test_a_repair_on_the_way_is_advised_and_not_made_and_no_step_comes_three_times():
    walk, outcome = walked(PURGE.replace("[ok]", "[hose_off]"))
    steps = [entry["step"] for entry in outcome["path"]]

    assert not any(event["kind"] == "repair-done" for event in walk.events)
    assert max(steps.count(step) for step in steps) <= 2
    assert outcome["outcome"] == "open"
    assert outcome["open_end"]["say"]


def test_takes_are_combined_and_facts_need_not_be_asked():
    _, outcome = walked(PURGE.replace("stft_b1_idle: -8.6", "stft_b1_idle: {takes: [-8, -9, -9]}"))
    trims = next(entry for entry in outcome["path"] if entry["step"] == "trims")

    assert abs(trims["readings"]["stft_b1_idle"]["value"] + 26 / 3) < 1e-9
    assert "veh_banks" not in outcome["unused"]


def test_what_was_never_asked_is_unused():
    _, outcome = walked(PURGE + "fuelp_koeo: 300\n")

    assert outcome["unused"] == ["fuelp_koeo"]


def test_the_proof_fixed_failed_or_unproven_leaves_the_outcome_alone():
    _, plain = walked(PURGE)
    for after, result in (
        ("{stft_b1_idle: 0, ltft_b1_idle: 1}", "fixed"),
        ("{stft_b1_idle: -9, ltft_b1_idle: -9}", "failed"),
        ("{stft_b1_idle: 0}", "unproven"),
    ):
        _, outcome = walked(f"{PURGE}after_repair: {after}\n")
        assert outcome["proof"]["result"] == result
        assert {k: v for k, v in outcome.items() if k != "proof"} == {
            k: v for k, v in plain.items() if k != "proof"
        }
    assert outcome["proof"]["readings"] == {"stft_b1_idle": {"value": 0.0, "unit": "%"}}


def test_a_second_map_without_a_conclusion_proves_nothing():
    _, outcome = walked("scene_safe: not_safe\nafter_repair: {stft_b1_idle: 0}\n")

    assert outcome["outcome"] == "open"
    assert outcome["proof"] is None


def test_a_procedure_says_what_it_returned():
    _, outcome = walked("batt_v_koeo: 11.0\n", tree="small-volts")

    assert outcome["returned"] == "low"
    assert outcome["outcome"] == "open"
    assert outcome["conclusion"] is None


def test_the_side_of_a_bank_fault_is_the_bank():
    text = "veh_banks: 2\n" + PURGE.replace("veh_banks: 1\n", "").replace("_b1_", "_b2_")
    text = text.replace("pinch_purge_dtrim: 14.8", "pinch_purge_dtrim: 0\nstft_b1_idle: 0\nltft_b1_idle: 0")
    _, outcome = walked(text + "batt_v_koeo: 12.6\nstft_b2_load: -9\nltft_b2_load: -9\n")

    assert outcome["conclusion"]["id"] == "pressure"
    fault = small_library().catalogue.faults.faults["fuel_reg_high"]
    assert outcome["conclusion"]["side"] == (None if fault.side == "none" else "b2")


def test_the_same_file_gives_the_same_outcome():
    assert walked(PURGE)[1] == walked(PURGE)[1]
