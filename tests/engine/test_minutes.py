"""Minutes at the roadside: set up once, each row once a step."""

from __future__ import annotations

import pytest

from engine.minutes import cost_of_take
from engine.walking import Walk
from tests.engine.small_trees import small_library
from tests.engine.test_walking import RICH, begin, give, to_trims


def started() -> Walk:
    walk = Walk(small_library())
    walk.start("small-rich")
    return walk


def cost(walk: Walk, name: str) -> float:
    reading = walk.library.catalogue.readings[name]
    return cost_of_take(walk.state, reading, reading.tools[0]).minutes


def test_an_instrument_is_set_up_once_a_job():
    walk = started()
    catalogue = walk.library.catalogue
    setup = catalogue.instruments["CR"].setup
    assert setup > 0
    first = cost_of_take(walk.state, catalogue.readings["dtc_stored"], "CR")
    assert "CR" in first.sets_up

    walk.take("dtc_stored", ("P0172",))
    assert "CR" in walk.state.set_up
    again = cost_of_take(walk.state, catalogue.readings["stft_b1_idle"], "CR")
    assert "CR" not in again.sets_up


def test_an_engine_state_is_brought_about_once_a_job():
    walk = started()
    catalogue = walk.library.catalogue
    at_speed = catalogue.state_minutes["2500"]
    assert at_speed > 0
    before = cost(walk, "stft_b1_2500")
    walk.take("stft_b1_2500", -3.0)
    after = cost(walk, "maf_2500")

    assert "2500" in walk.state.set_up
    assert before >= at_speed
    assert after == catalogue.readings["maf_2500"].minutes


def test_a_warm_reading_pays_for_the_warm_up_only_when_the_engine_was_found_cold():
    warm, cold = started(), started()
    cold.take("engine_temp_state", "cold")
    warm_up = cold.library.catalogue.state_minutes["warm-up"]

    assert cost(cold, "stft_b1_idle") == pytest.approx(cost(warm, "stft_b1_idle") + warm_up)
    cold.take("stft_b1_idle", -3.0)
    assert "warm-up" in cold.state.set_up


def test_road_states_share_one_drive():
    walk = started()
    road = walk.library.catalogue.state_minutes["road"]
    first = cost(walk, "stft_b1_load")
    walk.take("stft_b1_load", -3.0)
    reading = walk.library.catalogue.readings["maf_load"]

    assert first >= road
    assert cost(walk, "maf_load") == reading.minutes


def test_the_readings_of_a_row_count_once_at_a_step_and_anew_at_the_next():
    walk = begin(None, banks=2.0)
    to_trims(walk)
    row = walk.library.catalogue.readings["stft_b1_idle"].minutes
    walk.take("stft_b1_idle", -8.6)
    assert cost(walk, "stft_b2_idle") == 0.0

    give(walk, stft_b2_idle=-8.0, ltft_b1_idle=-9.4, ltft_b2_idle=-9.0)
    assert cost(walk, "stft_b1_idle") == row


def test_minutes_of_a_job_are_the_sum_of_its_takes():
    walk = begin(None)
    to_trims(walk)
    give(walk, **RICH)
    taken = [event for event in walk.events if event["kind"] == "taken"]

    assert walk.state.minutes == pytest.approx(sum(event["minutes"] for event in taken))
    assert all(event["minutes"] >= 0 for event in taken)
