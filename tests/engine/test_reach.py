"""What a kit and some minutes can decide: small trees by hand, graphs against every way counted out."""

from __future__ import annotations

import random
from types import SimpleNamespace

import pytest

from engine.asking import Ask
from engine.errors import LaybyError
from engine.library import load_library
from engine.passages import CarKit, Charge, Passage, Passages
from engine.quickest import LACKING, Quickest
from engine.reach import cost_of_missing, reach
from engine.tree import Strength
from engine.walking import Walk
from tests.engine import made
from tests.engine.small_trees import small_library

CARRIED = ("complaint-carried",)
ONE_BANK = {"veh_banks": 1.0}
SMALL = small_library()


def of_small(kit, minutes, facts=ONE_BANK, found=CARRIED):
    return reach(SMALL, "small-rich", kit, minutes, facts, found=found)


def decided(result):
    return {one.fault: (one.strength, one.way.minutes) for one in result.decidable}


# ------------------------------------------------------------------------------------ by hand


def test_minutes_are_takes_and_set_ups_once():
    """Added up by hand from the minutes of the catalogue: the reader and the road are paid for once."""
    readings = SMALL.catalogue.readings
    by_hand = (
        readings["scene_safe"].minutes
        + SMALL.catalogue.instruments["CR"].setup
        + readings["dtc_stored"].minutes
        + readings["complaint_seen"].minutes
        + SMALL.catalogue.state_minutes["road"]
        + readings["stft_b1_idle"].minutes
        + readings["ltft_b1_idle"].minutes
        + readings["visual_intake"].minutes
        + readings["pinch_purge_dtrim"].minutes
        + readings["purge_flow_at_0"].minutes
    )
    (purge,) = (one for one in of_small(("CR",), 120.0).decidable if one.fault == "purge_stuck_open")

    assert purge.strength == "proven"
    assert purge.way.minutes == pytest.approx(by_hand)
    assert [step.step for step in purge.way.steps] == ["place", "codes", "trims", "look", "purge", "flow"]
    assert sum(step.minutes for step in purge.way.steps) == pytest.approx(by_hand)
    assert purge.way.conclusion == ("small-rich", "purge")


def test_without_a_reader_the_pinched_hose_is_not_measured_and_nothing_is_proven():
    result = of_small((), 120.0)
    (purge,) = (one for one in result.decidable if one.fault == "purge_stuck_open")

    assert purge.strength == "probable"
    assert purge.for_proven == "proven would need code reader with live data"
    assert purge.way.missing == ()
    (pressure,) = (one for one in result.not_decidable if one.fault == "fuel_reg_high")
    assert pressure.missing == ("CR", "MM") or pressure.missing == ("CR",)
    assert pressure.words.startswith("code reader")


def test_too_little_time_says_how_much_is_short():
    enough = dict(decided(of_small(("CR", "MM"), 500.0)))["fuel_reg_high"][1]
    (short,) = (
        one for one in of_small(("CR", "MM"), enough - 4.0).not_decidable if one.fault == "fuel_reg_high"
    )

    assert short.missing == ()
    assert short.minutes_short == pytest.approx(4.0)
    assert "minutes instead of" in short.words
    assert "fuel_reg_high" in decided(of_small(("CR", "MM"), enough))


def test_what_was_not_found_is_no_fault_decided():
    assert "no_fault_found" not in decided(of_small(("CR", "MM"), 500.0))


def test_known_facts_and_findings_cost_nothing_and_a_complaint_not_carried_proves_nothing():
    known = {**ONE_BANK, "scene_safe": "safe", "dtc_stored": ("P0172",)}
    full, less = decided(of_small(("CR",), 120.0)), decided(of_small(("CR",), 120.0, known))

    assert less["purge_stuck_open"][1] < full["purge_stuck_open"][1]
    seen = {**ONE_BANK, "complaint_seen": "no"}
    assert decided(of_small(("CR",), 120.0, seen, found=()))["purge_stuck_open"][0] == "probable"
    assert decided(of_small(("CR",), 120.0, seen))["purge_stuck_open"][0] == "proven"


def test_a_known_answer_closes_the_ways_that_need_another():
    tight = {**ONE_BANK, "purge_flow_at_0": "none"}
    (purge,) = (one for one in of_small(("CR",), 120.0, tight).decidable if one.fault == "purge_stuck_open")

    assert purge.strength == "probable"
    assert purge.for_proven == "these trees make it probable and no more"


def test_cold_readings_of_a_warm_engine_wait_for_the_next_visit():
    reading = made.reading("ect_cold", state="cold", tools=("CR",))
    catalogue = made.catalogue(readings=(reading,))

    assert CarKit(catalogue, ("CR",), {"engine_temp_state": "warm"}).missing(reading) == ("cold engine",)
    assert CarKit(catalogue, ("CR",), {}).missing(reading) == ()


def test_eyes_do_not_replace_the_instrument_named_before_them():
    catalogue = SMALL.catalogue
    kit = CarKit(catalogue, ("MM",), {})

    assert kit.missing(catalogue.readings["pinch_purge_dtrim"]) == ("CR",)
    assert kit.missing(catalogue.readings["purge_flow_at_0"]) == ()
    assert kit.missing(catalogue.readings["forced_rich_b1s1_v"]) == ("PR",)
    assert CarKit(catalogue, ("PR", "CR"), {}).missing(catalogue.readings["forced_rich_b1s1_v"]) == ()


def test_a_tree_that_is_not_there_is_one_line():
    with pytest.raises(LaybyError, match="small-rich"):
        reach(SMALL, "smal-rich", (), 10.0)


@pytest.mark.parametrize(
    ("kit", "side", "words"), [(("XX",), None, "no instrument"), (("CR",), "b3", "no bank or sensor")]
)
def test_what_does_not_exist_is_one_line(kit, side, words):
    with pytest.raises(LaybyError, match=words) as caught:
        reach(SMALL, "small-rich", kit, 10.0, side=side)
    assert "\n" not in str(caught.value)


def test_each_instrument_that_is_missing_names_what_falls():
    missing = {one.instrument: one for one in cost_of_missing(SMALL, ("MM",), ONE_BANK)}

    assert "MM" not in missing
    assert "EY" not in missing
    fallen = {one.fault: one.becomes for one in missing["CR"].fallen}
    assert fallen["purge_stuck_open"] == "probable"
    assert fallen["fuel_reg_high"] == "lost"
    assert missing["SM"].fallen == ()
    assert next(iter(cost_of_missing(SMALL, ("MM",), ONE_BANK))).instrument == "CR"


def test_with_everything_on_the_van_nothing_falls():
    everything = tuple(SMALL.catalogue.instruments)

    assert cost_of_missing(SMALL, everything, ONE_BANK) == ()


# ----------------------------------------------------------------- against every way counted out


def end(fault, strength=Strength.PROVEN):
    return "made", SimpleNamespace(id=f"{fault}-{strength}", faults=(fault,), strength=strength)


def random_graph(seed, *, sharing):
    draw = random.Random(seed)
    number = draw.randint(3, 7)
    places = [
        SimpleNamespace(tree="made", step=SimpleNamespace(id=str(at), title=str(at)), passages=[])
        for at in range(number)
    ]
    for at, place in enumerate(places):
        for way in range(draw.randint(1, 3)):
            to = draw.randint(at + 1, number)
            bit = 1 << (draw.randint(0, 3) if sharing else at * 3 + way)
            charges = (Charge(bit, draw.choice([1.0, 2.0, 5.0])),)
            findings = draw.choice([0, 0, 1, 2, 4])
            place.passages.append(
                Passage(
                    None if to == number else to,
                    end("sick") if to == number else None,
                    charges,
                    findings,
                    False,
                )
            )
    return SimpleNamespace(places=places, start=0, finding_bits={"a": 1, "b": 2, "c": 4})


def every_way(graph, place=0, paid=0, made_=0, cost=0.0):
    for passage in graph.places[place].passages:
        spent, now = cost, paid
        for charge in passage.charges:
            if charge.bits & ~now:
                spent, now = spent + charge.minutes, now | charge.bits
        if passage.to is None:
            yield spent, made_ | passage.findings
        else:
            yield from every_way(graph, passage.to, now, made_ | passage.findings, spent)


@pytest.mark.parametrize("sharing", [False, True])
@pytest.mark.parametrize("seed", range(60))
def test_ways_found_are_the_cheapest_of_all_ways(seed, sharing):
    graph = random_graph(seed, sharing=sharing)
    search = Quickest(graph, ())
    fault = made.fault("sick", proven_by=("a", "b"), exclude_first=("c",))
    counted = list(every_way(graph))
    proofs = [cost for cost, findings in counted if findings & 4 and findings & 3]

    any_way, proof = search.to_each()["sick"], search.to_proof(fault, ())
    assert (proof is not None) == bool(proofs)
    if sharing:  # a dearer beginning that would pay off later may be missed, never the other way round
        assert any_way.minutes >= min(cost for cost, _ in counted)
        assert proof is None or any(proof.minutes == pytest.approx(cost) for cost in proofs)
    else:
        assert any_way.minutes == pytest.approx(min(cost for cost, _ in counted))
        assert proof is None or proof.minutes == pytest.approx(min(proofs))


def test_a_fault_decided_by_its_repair_is_proven_only_past_a_repair():
    step = SimpleNamespace(id="s", title="s")
    plain = Passage(None, end("sick"), (), 1, False)
    repaired = Passage(1, None, (Charge(1, 3.0),), 1, True)
    fault = made.fault("sick", proven_by=("a",), decided_by_repair=True)
    places = [SimpleNamespace(tree="made", step=step, passages=[plain])]
    graph = SimpleNamespace(places=places, start=0, finding_bits={"a": 1})

    assert Quickest(graph, ()).to_proof(fault, ()) is None
    places[0].passages.append(repaired)
    places.append(SimpleNamespace(tree="made", step=step, passages=[plain]))
    way = Quickest(graph, ()).to_proof(fault, ())
    assert way is not None
    assert way.minutes == 3.0


def test_fewer_missing_instruments_come_before_fewer_minutes():
    step = SimpleNamespace(id="s", title="s")
    dear = Passage(None, end("sick"), (Charge(1, 90.0),), 0, False)
    lacking = Passage(None, end("sick"), (Charge(2, 1.0, "FG"),), 0, False)
    graph = SimpleNamespace(
        places=[SimpleNamespace(tree="made", step=step, passages=[lacking, dear])], start=0, finding_bits={}
    )
    way = Quickest(graph, ()).to_each()["sick"]

    assert (way.minutes, way.missing) == (90.0, ())
    assert way.minutes * 1000 < LACKING


# ------------------------------------------------------------------------------ the shipped trees


@pytest.fixture(scope="module")
def shipped():
    return load_library()


def test_every_shipped_tree_is_weighed(shipped):
    concluding = [name for name, tree in shipped.trees.items() if any(tree.conclusions.values())]
    assert {"triage", "rich-running", "upstream-sensor", "catalyst"} <= set(concluding)
    for name in concluding:
        found = reach(shipped, name, ("CR", "MM"), 20.0)
        assert found.decidable or found.not_decidable, name


def test_the_same_question_has_the_same_answer(shipped):
    assert reach(shipped, "rich-running", ("MM",), 20.0) == reach(shipped, "rich-running", ("MM",), 20.0)


def test_more_instruments_and_more_time_never_decide_less(shipped):
    little = {one.fault for one in reach(shipped, "rich-running", ("MM",), 20.0, found=CARRIED).decidable}
    longer = {one.fault for one in reach(shipped, "rich-running", ("MM",), 60.0, found=CARRIED).decidable}

    assert little < longer


def test_only_a_meter_decides_wiring_and_never_a_mixture_by_trims(shipped):
    result = reach(shipped, "upstream-sensor", ("MM",), 20.0, found=CARRIED)
    proven = {one.fault for one in result.decidable if one.strength == "proven"}

    assert "bad_ground" in proven
    assert all(not one.way.missing and one.way.minutes <= 20.0 for one in result.decidable)
    assert all(one.missing or one.minutes_short > 0.0 for one in result.not_decidable)
    for one in result.decidable:
        assert one.strength == "proven" or one.for_proven


def test_every_place_of_a_shipped_graph_has_a_way_on(shipped):
    graph = Passages(shipped, "triage", ("CR", "MM"), {}, None)

    assert len(graph.places) > 50
    assert all(
        passage.to is None or passage.to < len(graph.places) for p in graph.places for passage in p.passages
    )


def test_the_way_found_is_walked_in_the_same_minutes():
    walk = Walk(SMALL)
    walk.start("small-rich")
    walk.take("veh_banks", 1.0)
    before = walk.state.minutes
    answers = {
        "scene_safe": "safe", "dtc_stored": ("P0172",), "complaint_seen": "yes", "stft_b1_idle": -8.6,
        "ltft_b1_idle": -9.4, "visual_intake": ("ok",), "pinch_purge_dtrim": 14.8, "purge_flow_at_0": "flow",
    }  # fmt: skip
    while isinstance(stop := walk.advance(), Ask):
        for line in stop.lines:
            walk.take(line.reading.id, answers[line.reading.id])
    (purge,) = (one for one in of_small(("CR",), 120.0).decidable if one.fault == "purge_stuck_open")

    assert walk.state.concluded is not None
    assert (walk.state.concluded["id"], walk.state.concluded["strength"]) == ("purge", "proven")
    assert walk.state.minutes - before == pytest.approx(purge.way.minutes)
