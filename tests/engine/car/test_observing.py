"""Every reading can be taken, the same in whatever order, within what the reading can carry."""

from __future__ import annotations

import random
from functools import cache

import pytest

from engine.car.drawing import draw_car
from engine.car.observing import FACTS, TAKES, Observer
from engine.measured import Answer, accuracy_of
from tests.engine.car.practice_cars import FULL_KIT, car_with, catalogue, hidden, true_values

CARS = 80


@cache
def _taken() -> tuple[tuple[Observer, dict[str, Answer | None]], ...]:
    """Return every reading of some drawn cars, among them cars with every fault."""
    names = tuple(catalogue().faults.faults)
    observers = [
        Observer(
            catalogue(),
            draw_car(catalogue(), 5, number, faults=[names[number]] if number < len(names) else None),
        )
        for number in range(CARS)
    ]
    return tuple((one, {name: one.take(name) for name in catalogue().readings}) for one in observers)


def test_every_reading_of_the_catalogue_has_its_way_and_can_be_taken_on_some_car() -> None:
    ways = {name for name in catalogue().readings if name in TAKES or name.startswith(FACTS)}
    assert set(catalogue().readings) - ways == set()
    taken = {name for _, readings in _taken() for name, answer in readings.items() if answer is not None}
    assert set(catalogue().readings) - taken == set()


def test_every_answer_is_one_that_its_reading_allows() -> None:
    for _, readings in _taken():
        for name, answer in readings.items():
            about = catalogue().readings[name]
            if answer is None:
                continue
            match about.kind:
                case "num":
                    assert isinstance(answer, float), name
                    low, high = about.reject
                    assert low is None or answer >= low, name
                    assert high is None or answer <= high, name
                case "one":
                    assert isinstance(answer, str), name
                    assert about.choice(answer) is not None, (name, answer)
                case "many":
                    assert isinstance(answer, tuple), name
                    assert answer, name
                    assert all(about.choice(word) for word in answer), (name, answer)
                case "codes":
                    assert isinstance(answer, tuple), name
                    assert all(catalogue().codes.find(code) for code in answer), (name, answer)
                case "trace":
                    assert isinstance(answer, str), name


def test_the_same_seed_gives_the_same_values_in_whatever_order() -> None:
    for number in range(4):
        names = list(catalogue().readings)
        first = Observer(catalogue(), draw_car(catalogue(), 9, number))
        forwards = {name: first.take(name) for name in names}
        random.Random(number).shuffle(names)
        second = Observer(catalogue(), draw_car(catalogue(), 9, number))
        assert {name: second.take(name) for name in names} == forwards
    cars = [draw_car(catalogue(), 9, number) for number in range(8)]
    assert len({car.faults + tuple(car.facts.items()) for car in cars}) > 5


def test_takes_scatter_as_the_instrument_does() -> None:
    car = Observer(catalogue(), car_with(scatter=3))
    takes = [car.take("rpm_idle", number) for number in range(60)]
    assert all(isinstance(take, float) for take in takes)
    numbers = [take for take in takes if isinstance(take, float)]
    mean = sum(numbers) / len(numbers)
    spread = (sum((one - mean) ** 2 for one in numbers) / len(numbers)) ** 0.5
    accuracy = accuracy_of(catalogue().instruments["CR"], catalogue().readings["rpm_idle"])
    assert accuracy is not None
    assert spread == pytest.approx(accuracy.scatter, rel=0.35)
    assert all(abs(one / accuracy.resolution - round(one / accuracy.resolution)) < 1e-6 for one in numbers)


def test_without_its_instrument_or_its_part_nothing_is_read() -> None:
    small = draw_car(catalogue(), 1, 1, kit=("CR", "MM"))
    seen = Observer(catalogue(), small)
    for name in ("gas_co_idle", "fuelp_koeo", "vacuum_idle", "bp_b1_idle", "comp_low", "heater_amps_b1s1"):
        assert seen.take(name) is None
    assert isinstance(seen.take("rpm_idle"), float)
    assert isinstance(seen.take("batt_v_koeo"), float)
    four = true_values(car="four")
    for name in (
        "maf_idle",
        "stft_b2_idle",
        "boost_actual_load",
        "railp_idle",
        "lam_b1_idle",
        "fuel_reg_hose",
    ):
        assert four.take(name) is None, name
    turbo = true_values(car="turbo")
    assert turbo.take("o2_b1s1_cross_2500") is None
    assert turbo.take("lam_b1_idle") == pytest.approx(1.0, abs=0.01)
    with pytest.raises(KeyError):
        four.take("no_such_reading")


def test_a_repair_takes_the_fault_away_and_leaves_the_others() -> None:
    both = Observer(
        catalogue(), car_with(hidden("vac_leak_small"), hidden("o2_heater_open", "b1s1")), noise=False
    )
    healthy = true_values()
    assert _number(both, "ltft_b1_idle") > 10.0
    after = both.repaired(["vac_leak_small"])
    assert _number(after, "ltft_b1_2500") == pytest.approx(_number(healthy, "ltft_b1_2500"), abs=1.0)
    assert _number(after, "heater_ohms_b1s1") == 1e6
    assert after.repaired(["o2_heater_open"]).take("dtc_stored") == ()
    assert both.repaired(["ign_coil"]).take("ltft_b1_idle") == both.take("ltft_b1_idle")


def test_a_healthy_part_of_a_faulty_car_reads_healthy() -> None:
    healthy = true_values()
    for fault in (hidden("ign_coil", "b1", cylinder=2), hidden("vac_leak_small"), hidden("fuel_pump_weak")):
        car = true_values(fault)
        for name in (
            "heater_ohms_b1s1", "o2_b2s1_open_v", "batt_v_koeo", "comp_low", "gnd_drop_mv_engine",
            "ref5v_koeo", "tps_a_v_closed", "fuel_sample", "oil_state", "smoke_exhaust", "o2_tip_b2s1",
            "forced_rich_b2s1_v",
        ):  # fmt: skip
            assert car.take(name) == healthy.take(name), (fault.fault, name)


def test_a_plain_reading_is_cheap() -> None:
    import time

    car = Observer(catalogue(), draw_car(catalogue(), 2, 2, kit=FULL_KIT))
    for number in range(3):
        car.take("ltft_b1_idle", number)
    begun = time.process_time()
    for number in range(2000):
        car.take("ltft_b1_idle", number)
    assert (time.process_time() - begun) / 2000 < 100e-6


def _number(car: Observer, name: str) -> float:
    found = car.take(name)
    assert isinstance(found, float), name
    return found
