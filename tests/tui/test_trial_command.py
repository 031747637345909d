"""``layby trial``."""

from __future__ import annotations

import json

import pytest

from tests.engine.trial.made_cars import file_of
from tui.cli import main


@pytest.fixture
def cars(tmp_path):
    return file_of(tmp_path, ("purge-stuck-open", "heater-open", "healthy"))


def test_the_table_in_words(cars, capsys):
    assert main(["trial", "--from", str(cars), "--jobs", "1"]) == 0
    shown = capsys.readouterr()

    assert "3 cars from triage" in shown.out
    assert "purge_stuck_open (1): purge_stuck_open 1" in shown.out
    assert "ms of processor a car" in shown.out
    assert shown.err == ""  # no bar without a terminal


def test_everything_as_json_and_the_same_again(cars, capsys):
    outputs = []
    for _ in range(2):
        assert main(["trial", "--from", str(cars), "--jobs", "1", "--json"]) == 0
        outputs.append(json.loads(capsys.readouterr().out))
    assert outputs[0].pop("time").keys() == outputs[1].pop("time").keys()

    assert outputs[0] == outputs[1]
    assert outputs[0]["each"][0]["conclusion"] == ["purge_stuck_open"]


def test_against_a_shop_that_sends_cars_elsewhere(cars, tmp_path, capsys):
    shop = tmp_path / "shop"
    shop.mkdir()
    assert main(["trial", "--from", str(cars), "--jobs", "1", "--against", str(shop)]) == 0
    assert "0 of 3 cars differ" in capsys.readouterr().out


@pytest.mark.parametrize(
    "argv",
    [
        ["--tree", "no-such"],
        ["--faults", "no_such"],
        ["--kit", "XX"],
        ["--cars", "0"],
        ["--from", "no-such-file"],
        ["--from", "CARS", "--against", "no-such-revision"],
    ],
)
def test_what_is_wrong_is_one_line(argv, cars, capsys):
    assert main(["trial", *(str(cars) if word == "CARS" else word for word in argv)]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
