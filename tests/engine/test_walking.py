"""The walk: what it asks, takes, judges, corrects, repairs and proves."""

from __future__ import annotations

import pytest

from engine.asking import Ask, Doubt, Ended, RepairOffer
from engine.catalogue import Drive
from engine.folding import DERIVED
from engine.inputs import BehindRepair, WalkError
from engine.walking import Walk
from tests.engine.small_trees import small_library


class Clock:
    def __init__(self) -> None:
        self.now = 1_700_000_000.0

    def __call__(self) -> float:
        return self.now


def begin(clock: Clock | None = None, *, banks: float = 1.0, **facts) -> Walk:
    walk = Walk(small_library(), clock=clock)
    walk.start("small-rich")
    walk.take("veh_banks", banks)
    for name, answer in facts.items():
        walk.take(name, answer)
    return walk


def asked(stop) -> list[str]:
    assert isinstance(stop, Ask), stop
    return [line.reading.id for line in stop.lines]


def give(walk: Walk, **answers):
    stop = walk.advance()
    for name, answer in answers.items():
        assert name in asked(stop), (name, asked(stop))
        walk.take(name, answer)
        stop = walk.advance()
    return stop


def to_trims(walk: Walk):
    return give(walk, scene_safe="safe", dtc_stored=("P0172",), complaint_seen="yes")


RICH = {"stft_b1_idle": -8.6, "ltft_b1_idle": -9.4}


def to_look(walk: Walk):
    to_trims(walk)
    return give(walk, **RICH)


def to_conclusion(walk: Walk):
    to_look(walk)
    return give(walk, visual_intake=("ok",), pinch_purge_dtrim=14.8, purge_flow_at_0="flow")


# ------------------------------------------------------------------ asking little


def test_a_step_asks_what_this_car_has_and_nothing_twice():
    one = to_trims(begin(Clock()))
    two = to_trims(begin(Clock(), banks=2.0))

    assert asked(one) == ["stft_b1_idle", "ltft_b1_idle"]
    assert asked(two) == ["stft_b1_idle", "stft_b2_idle", "ltft_b1_idle", "ltft_b2_idle"]


def test_optional_readings_are_asked_only_while_the_exit_is_open():
    walk = begin(Clock())
    to_trims(walk)
    assert asked(give(walk, **RICH)) == ["visual_intake"]

    other = begin(Clock())
    to_trims(other)
    assert asked(give(other, stft_b1_idle=0.0, ltft_b1_idle=1.5)) == ["stft_b1_2500", "ltft_b1_2500"]


def test_stale_readings_are_shown_with_their_age_and_one_key_keeps_them():
    clock = Clock()
    walk = begin(clock, stft_b1_idle=-8.6)
    clock.now += 31 * 60
    stop = to_trims(walk)
    stale = {line.reading.id: line.stale for line in stop.lines}

    assert stale["stft_b1_idle"].answer == -8.6
    assert stale["ltft_b1_idle"] is None

    walk.keep("stft_b1_idle")
    assert asked(walk.advance()) == ["ltft_b1_idle"]


def test_without_a_clock_nothing_goes_stale():
    walk = begin(None, stft_b1_idle=-8.6)

    assert asked(to_trims(walk)) == ["ltft_b1_idle"]


def test_what_is_not_on_the_van_is_not_asked_and_said():
    walk = begin(Clock(), kit_tools=("MM",))
    stop = give(walk, scene_safe="safe", complaint_seen="yes")

    assert asked(stop) == ["visual_intake"]
    codes, trims = walk.state.path[1:3]
    assert codes["not_on_van"] == ["dtc_stored"]
    assert trims["grade"] == "inconclusive"


def test_a_safe_place_is_asked_again_in_a_new_epoch():
    walk = begin(Clock())
    to_look(walk)
    assert walk.state.live_takes("scene_safe")

    walk.new_epoch("pause")
    assert not walk.state.live_takes("scene_safe")
    assert walk.state.live_takes("stft_b1_idle")


# ----------------------------------------------------------------- judging, doubt


def test_a_judged_event_holds_all_it_rested_on():
    walk = begin(Clock())
    to_look(walk)
    event = walk.state.path[-1]

    assert event["verdict"] == "Rich at idle on bank 1" or event["rule"].startswith("rich")
    assert event["work"]["tt_b1_idle"]["value"] == pytest.approx(-18.0)
    assert event["limits"]["trim_rich"]["value"] == -10
    assert event["limits"]["trim_rich"]["source"] == "rule of thumb"
    assert event["margins"][0]["distance"] == pytest.approx(-8.0)
    assert "-18.0" in event["means"]
    assert event["side"] == "b1"
    assert event["suspects"][0]["fault"] == "purge_stuck_open"


def test_a_doubtful_verdict_waits_for_another_take_or_a_decision():
    walk = begin(Clock())
    to_trims(walk)
    stop = give(walk, stft_b1_idle=-5.0, ltft_b1_idle=-4.9, stft_b1_2500=0.0, ltft_b1_2500=0.0)
    assert isinstance(stop, Doubt)
    assert {r.id for r in stop.settle} <= {"stft_b1_idle", "ltft_b1_idle"}

    walk.again([stop.settle[0].id])
    assert asked(walk.advance()) == [stop.settle[0].id]
    walk.take(stop.settle[0].id, -5.0)
    assert isinstance(walk.advance(), Doubt | Ask)

    walk.go_on()
    walk.advance()
    event = walk.state.path[2]
    assert event["doubtful"]
    assert event["findings"] == []
    assert event["side"] is None


# ---------------------------------------------------------------------- cannot


def test_cannot_for_a_reading_and_for_a_step():
    walk = begin(Clock())
    to_look(walk)
    walk.cannot(why="under a cover")
    assert asked(walk.advance()) == ["pinch_purge_dtrim"]
    assert walk.state.path[-1]["cannot"] == "under a cover"
    assert walk.state.path[-1]["verdict"] == "Covers stayed on."

    walk.cannot("pinch_purge_dtrim", "nylon pipe")
    assert isinstance(walk.advance(), Ended)
    assert walk.state.concluded["strength"] == "probable"


def test_a_cannot_can_be_taken_back():
    walk = begin(Clock())
    to_look(walk)
    walk.cannot(why="dark")
    walk.advance()
    number = next(e["n"] for e in walk.events if e["kind"] == "cannot")
    walk.withdraw_cannot(number)

    assert asked(walk.advance()) == ["visual_intake"]


# ------------------------------------------------------------- correction, repair


def test_a_correction_walks_again_from_where_the_take_was_used():
    walk = begin(Clock())
    to_conclusion(walk)
    assert walk.state.concluded is not None
    take = walk.state.live_takes("ltft_b1_idle")[0]
    changed = walk.correct_and_advance(take.number, 9.4, typed="9.4")

    assert changed.is_changed
    assert changed.same == 2
    assert walk.state.concluded is None
    assert asked(walk.advance()) == ["stft_b1_2500", "ltft_b1_2500"]
    assert {t.reading for t in walk.unused_takes()} >= {"pinch_purge_dtrim", "purge_flow_at_0"}


def test_correcting_a_fact_of_the_car_walks_again_from_where_it_was_told():
    walk = begin(Clock())
    to_conclusion(walk)
    banks = walk.state.live_takes("veh_banks")[0]
    walk.correct_and_advance(banks.number, 2.0)

    assert walk.state.concluded is None
    assert asked(walk.advance()) == ["stft_b2_idle", "ltft_b2_idle"]


def test_a_stale_value_that_cannot_be_taken_again_counts_no_more():
    clock = Clock()
    walk = begin(clock, stft_b1_idle=-8.6, ltft_b1_idle=-9.4)
    clock.now += 2 * 86400
    to_trims(walk)
    for name in ("stft_b1_idle", "ltft_b1_idle"):
        walk.cannot(name, "reader left at home")
    walk.advance()
    for name in ("stft_b1_2500", "ltft_b1_2500"):
        walk.cannot(name, "reader left at home")
    walk.advance()

    assert walk.state.path[2]["rule"] is None
    assert walk.state.path[2]["findings"] == []


def test_a_correction_that_changes_nothing_keeps_the_conclusion():
    walk = begin(Clock())
    to_conclusion(walk)
    take = walk.state.live_takes("ltft_b1_idle")[0]
    changed = walk.correct_and_advance(take.number, -9.5)

    assert not changed.is_changed
    assert walk.state.concluded["id"] == "purge"


def test_a_later_correction_does_not_shield_an_earlier_step():
    """Correct a later take, then an earlier one: both steps are judged again."""
    walk = begin(Clock())
    to_conclusion(walk)
    walk.correct_and_advance(walk.state.live_takes("pinch_purge_dtrim")[0].number, 15.0)
    walk.correct_and_advance(walk.state.live_takes("ltft_b1_idle")[0].number, 9.4)

    assert "rich" not in walk.state.path[-1]["rule"]
    assert asked(walk.advance()) == ["stft_b1_2500", "ltft_b1_2500"]


def test_many_corrections_stay_cheap_and_replay_alike():
    walk = begin(Clock())
    to_conclusion(walk)
    for i in range(25):
        number = walk.state.live_takes(["ltft_b1_idle", "pinch_purge_dtrim"][i % 2])[0].number
        walk.correct_and_advance(number, [-9.4, 14.0][i % 2] - i / 100)
    again = Walk(small_library(), clock=Clock())
    again.replay(walk.events)

    assert again.path_lines() == walk.path_lines()
    assert again.state.concluded == walk.state.concluded
    assert again.state.path[2]["readings"]["ltft_b1_idle"]["value"] == pytest.approx(-9.64)


def test_corrections_do_not_cross_a_repair_silently():
    walk = begin(Clock())
    to_look(walk)
    give(walk, visual_intake=("hose_off",))
    walk.repair_done("refitted")
    take = walk.state.takes[-2]
    with pytest.raises(BehindRepair):
        walk.correct(take.number, 0.0)

    walk.correct(take.number, -9.0, across_repair=True)
    with pytest.raises(WalkError):
        walk.correct(9999, 0.0)


def test_a_repair_on_the_way_forgets_and_asks_again_never_averaging():
    walk = begin(Clock())
    to_look(walk)
    stop = give(walk, visual_intake=("hose_split",))
    assert isinstance(stop, RepairOffer)
    assert "stft_b1_idle" in stop.forget

    walk.repair_done("new hose")
    assert asked(walk.advance()) == ["stft_b1_idle", "ltft_b1_idle"]
    assert not any(made.fact.finding == "mixture-rich" for made in walk.state.findings)
    give(walk, stft_b1_idle=0.0, ltft_b1_idle=0.0, stft_b1_2500=0.0, ltft_b1_2500=0.0)
    assert walk.state.path[-1]["readings"]["stft_b1_idle"]["value"] == 0.0
    assert walk.state.concluded["strength"] == "not-found-here"


def test_a_declined_repair_is_not_offered_for_ever():
    walk = begin(Clock())
    to_look(walk)
    assert isinstance(give(walk, visual_intake=("hose_off",)), RepairOffer)
    walk.decline_repair()
    stop = walk.advance()

    assert not isinstance(stop, RepairOffer)
    assert walk.state.path[-1]["title"] in ("Look at the hoses", "Read the trims")


# ----------------------------------------------------------- procedures and sides


def test_a_procedure_is_called_and_its_outcome_mapped():
    walk = begin(Clock())
    to_look(walk)
    stop = give(walk, visual_intake=("ok",), pinch_purge_dtrim=0.5)
    assert (stop.tree, asked(stop)) == ("small-volts", ["batt_v_koeo"])

    stop = give(walk, batt_v_koeo=12.6)
    assert (stop.tree, stop.step.id) == ("small-rich", "road")

    other = begin(Clock())
    to_look(other)
    give(other, visual_intake=("ok",), pinch_purge_dtrim=0.5, batt_v_koeo=11.0)
    assert other.state.open_end["say"] == "Volts first."


def test_the_side_found_is_what_bank_means_from_then_on():
    walk = begin(Clock(), banks=2.0)
    to_trims(walk)
    give(walk, stft_b1_idle=0.0, stft_b2_idle=-8.6, ltft_b1_idle=1.0, ltft_b2_idle=-9.4)
    give(walk, visual_intake=("ok",), pinch_purge_dtrim=0.0)
    walk.undo_left("purge-hose-clamped")

    assert asked(give(walk, batt_v_koeo=12.6)) == ["stft_b2_load", "ltft_b2_load"]


def test_a_procedure_alone_needs_its_side_and_returns():
    walk = Walk(small_library())
    walk.start("small-volts")
    give(walk, batt_v_koeo=12.6)

    assert walk.state.returned == "good"


# --------------------------------------------------------- what is left, cautions


def test_what_was_left_bars_a_road_step_and_driving():
    walk = begin(Clock())
    to_look(walk)
    stop = give(walk, visual_intake=("ok",), pinch_purge_dtrim=0.5, batt_v_koeo=12.6)
    assert stop.must_undo == ("purge-hose-clamped",)
    assert walk.drive()[0] is Drive.DO_NOT_DRIVE

    walk.undo_left("purge-hose-clamped")
    assert walk.advance().must_undo == ()
    assert walk.drive()[0] is Drive.WITH_CARE
    with pytest.raises(WalkError):
        walk.undo_left("purge-hose-clamped")


def test_a_step_that_undoes_takes_the_item_off_the_list():
    walk = begin(Clock())
    to_conclusion(walk)

    assert not walk.state.left


def test_a_step_decided_from_what_is_known_puts_nothing_back():
    """A clamp is off when somebody took it off."""
    walk = begin(Clock(), purge_flow_at_0="flow")
    to_look(walk)
    give(walk, visual_intake=("ok",), pinch_purge_dtrim=14.8)

    assert walk.state.path[-1]["title"] == "Flow with the command at zero"
    assert walk.state.left
    assert walk.drive()[0] is Drive.DO_NOT_DRIVE


def test_where_nobody_drives_no_further_test_is_named():
    walk = begin(Clock())
    give(walk, scene_safe="not_safe")

    if walk.drive()[0] is Drive.DO_NOT_DRIVE:
        assert walk.state.open_end["separate"] == []


def test_cautions_are_acknowledged_again_when_things_change():
    walk = begin(Clock())
    stop = to_trims(walk)
    names = [caution.id for caution in stop.cautions]
    assert names == ["C-MOVE", "C-CO"]

    walk.acknowledge(names, running=True)
    assert walk.advance().cautions == ()
    walk.new_epoch("pause")
    assert [c.id for c in walk.advance().cautions] == ["C-TRAFFIC"] or walk.advance().cautions


# --------------------------------------------------------------- the conclusion


def test_proven_needs_its_evidence_and_says_what_is_missing():
    walk = begin(Clock())
    to_conclusion(walk)
    done = walk.state.concluded

    assert done["asked_strength"] == "proven"
    fault = walk.library.catalogue.faults.faults["purge_stuck_open"]
    made = {made.fact.finding for made in walk.state.findings}
    lacking = set(fault.exclude_first) - made
    assert (done["strength"] == "proven") == (not done["missing"])
    assert len(done["missing"]) == len(lacking)
    assert done["sure"] > 0.8


def test_a_complaint_not_seen_never_leads_to_proven():
    walk = begin(Clock())
    give(walk, scene_safe="safe", dtc_stored=("P0172",), complaint_seen="no")
    give(walk, **RICH)
    give(walk, visual_intake=("ok",), pinch_purge_dtrim=14.8, purge_flow_at_0="flow")

    assert walk.state.concluded["strength"] == "probable"
    label = walk.library.catalogue.findings["complaint-carried"].label
    assert label in walk.state.concluded["missing"]


def test_the_proof_asks_anew_and_says_fixed():
    walk = begin(Clock())
    to_conclusion(walk)
    walk.repaired("valve renewed")
    stop = walk.advance()
    assert stop.proof
    assert sorted(asked(stop)) == ["ltft_b1_idle", "stft_b1_idle"]

    give(walk, ltft_b1_idle=0.8, stft_b1_idle=-1.0)
    assert walk.state.proof["result"] == "fixed"
    assert walk.drive()[0] is Drive.MAY_DRIVE


def test_a_failed_proof_goes_back_to_the_suspects():
    walk = begin(Clock())
    to_conclusion(walk)
    before = next(s.p for s in walk.suspects() if s.fault == "purge_stuck_open")
    walk.repaired("valve renewed")
    walk.advance()
    stop = give(walk, ltft_b1_idle=-9.0, stft_b1_idle=-9.0)
    after = next(s.p for s in walk.suspects() if s.fault == "purge_stuck_open")

    assert walk.state.proof["result"] == "failed"
    assert walk.state.concluded is None
    assert after < before
    assert asked(stop) == ["scene_safe"]


def test_an_unmeasured_proof_leaves_it_unproven():
    walk = begin(Clock())
    to_conclusion(walk)
    walk.repaired("valve renewed")
    for line in walk.advance().lines:
        walk.cannot(line.reading.id, "no time")
    walk.due("Friday")
    walk.advance()

    assert walk.state.proof["result"] == "unproven"
    assert walk.state.due == "Friday"
    assert walk.state.concluded is not None


def test_the_whole_proof_can_be_left_undone():
    walk = begin(Clock())
    to_conclusion(walk)
    walk.repaired("valve renewed")
    walk.advance()
    walk.cannot(why="no time")

    assert isinstance(walk.advance(), Ended)
    assert walk.state.proof["result"] == "unproven"
    walk.repaired("now there is time")
    assert walk.advance().proof


def test_an_open_end_lists_suspects_and_what_would_separate_them():
    walk = begin(Clock())
    to_look(walk)
    walk.cannot(why="")
    give(walk, pinch_purge_dtrim=0.5, batt_v_koeo=12.6)
    walk.cannot(why="no time")
    walk.advance()
    end = walk.state.open_end

    assert end["say"] == "Come back with a gauge."
    assert len(end["suspects"]) == 5
    assert isinstance(end["separate"], list)


def test_a_stop_finding_raises_the_drive_decision():
    walk = begin(Clock())
    give(walk, scene_safe="not_safe")

    assert walk.state.open_end is not None
    finding = walk.library.catalogue.findings["scene-unsafe"]
    assert walk.drive()[0] is (finding.drive or Drive.WITH_CARE)


# ------------------------------------------------------------------- the record


def test_replaying_the_events_gives_the_same_state_and_judges_nothing(monkeypatch):
    clock = Clock()
    walk = begin(clock)
    to_conclusion(walk)
    take = walk.state.live_takes("ltft_b1_idle")[0]
    walk.correct_and_advance(take.number, -9.9)
    walk.repaired("valve renewed")
    walk.advance()

    def forbidden(*_args, **_more):
        raise AssertionError("judged while replaying")

    for module in ("engine.walking.judge", "engine.asking.judge"):
        monkeypatch.setattr(module, forbidden)
    again = Walk(small_library(), clock=clock)
    again.replay(walk.events)

    assert again.events == walk.events
    assert again.path_lines() == walk.path_lines()
    assert again.state.concluded == walk.state.concluded
    assert again.state.minutes == walk.state.minutes
    assert again.state.findings == walk.state.findings


@pytest.mark.parametrize("cut", range(0, 40, 3))
def test_every_beginning_of_a_job_can_be_gone_on_with(cut):
    whole = begin(Clock())
    to_conclusion(whole)
    part = Walk(small_library(), clock=Clock())
    part.replay(whole.events[: max(1, min(cut, len(whole.events)))])
    for event in whole.events[len(part.events) :]:
        if event["kind"] not in DERIVED and event["kind"] != "started":
            part.advance()
            part.replay([event])
    part.advance()

    assert part.path_lines() == whole.path_lines()
    assert part.state.concluded["id"] == whole.state.concluded["id"]


def test_minutes_count_set_up_once_and_a_row_once():
    walk = begin(None, banks=2.0)
    start = walk.state.minutes
    to_trims(walk)
    reader = walk.library.catalogue.instruments["CR"].setup
    codes = walk.library.catalogue.readings["dtc_stored"].minutes
    assert walk.state.minutes - start >= reader + codes

    before = walk.state.minutes
    walk.take("stft_b1_idle", -8.6)
    first = walk.state.minutes - before
    walk.take("stft_b2_idle", 0.0)
    assert walk.state.minutes - before == first
    walk.take("stft_b1_idle", -8.4)
    assert walk.state.minutes - before == first + walk.library.catalogue.readings["stft_b1_idle"].minutes


def test_the_sink_hears_of_an_event_before_it_takes_effect():
    heard: list[str] = []
    walk = begin(Clock())
    walk.sink = lambda event: heard.append(f"{event['kind']} {len(walk.events)}")
    before = len(walk.events)
    walk.note("oil on the sump")

    assert heard == [f"note {before}"]


def test_a_refused_event_changes_nothing():
    walk = begin(Clock())
    walk.advance()

    def full(_event):
        raise OSError("disk full")

    walk.sink = full
    events, takes = len(walk.events), len(walk.state.takes)
    with pytest.raises(OSError, match="disk full"):
        walk.take("scene_safe", "safe")
    assert (len(walk.events), len(walk.state.takes)) == (events, takes)


def test_what_the_car_cannot_have_is_no_suspect():
    walk = begin(Clock(), veh_induction="na", veh_air_metering="map")
    shares = {s.fault: s.p for s in walk.suspects()}

    assert shares["boost_leak"] == shares["maf_under"] == 0.0
    assert shares["map_wrong"] > 0.0
    assert {s.fault: s.p for s in begin(Clock()).suspects()}["boost_leak"] > 0.0
