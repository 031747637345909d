"""What the five gases say together. The patterns are common practice; lambda and the line are worked out."""

from __future__ import annotations

import pytest

from engine.gases import Sample, analyse, samples_of
from engine.gases.telling import told
from engine.library import load_library
from engine.measured import Value
from engine.situation import Situation


@pytest.mark.parametrize(
    ("sample", "pattern"),
    [
        (Sample(0.05, 15.4, 0.1, 15, 30), "good"),
        (Sample(4.7, 12.6, 0.06, 164, 3), "rich"),
        (Sample(0.02, 14.4, 1.2, 90, 200), "lean"),
        (Sample(0.07, 12.5, 2.5, 1270, 40), "misfire"),
        (Sample(4.0, 10.0, 2.5, 2500, 10), "rich misfire"),
        (Sample(0.07, 13.0, 3.0, 10, 10), "diluted or very lean"),
        (Sample(4.7, 10.3, 3.1, 445, 0), "rich and lean together"),
        (Sample(0.5, 14.9, 0.6, 160, 1200), "mixture right, not cleaned"),
        (Sample(0.1, 15.2, 0.3, 250, 60), "hydrocarbons alone"),
        (Sample(0.1, 15.2, 0.3, 20, 900), "nitric oxide alone"),
        (Sample(0.1, 2.0, 0.8, 20), "no valid sample"),
    ],
)
def test_each_combination_is_known(sample: Sample, pattern: str) -> None:
    assert analyse(sample).pattern == pattern


def test_the_same_gases_are_usual_ahead_of_the_catalyst() -> None:
    assert analyse(Sample(0.6, 14.8, 0.8, 150, 1500), where="before").pattern == "good"


def test_lambda_dilution_and_the_line_of_complete_combustion() -> None:
    found = analyse(Sample(0.5, 14.7, 0.5, 100))
    assert found.lambda_gas == pytest.approx(1.00468, abs=1e-5)
    assert analyse(Sample(0.4, 11.0, 5.0, 20)).co_corrected == pytest.approx(0.52632, abs=1e-5)
    assert analyse(Sample(0.0, 13.5, 2.49, 0), fuel="e5").line_o2 == pytest.approx(2.4930, abs=1e-4)


@pytest.mark.parametrize(
    ("sample", "word"),
    [
        (Sample(0.1, 13.0, 0.2, 20), "slip of the pen"),
        (Sample(0.1, 1.5, 0.2, 20), "factor of ten"),
        (Sample(2.0, 17.0, 0.2, 20), "more than this fuel"),
        (Sample(0.1, 15.2, 0.3, 20, shown=1.10), "the analyser shows"),
        (Sample(0.1, 15.2, -0.2, 20), "zero has drifted"),
    ],
)
def test_what_does_not_fit_is_doubted(sample: Sample, word: str) -> None:
    assert any(word in doubt for doubt in analyse(sample).plausible)


def test_gases_that_fit_are_not_doubted() -> None:
    assert analyse(Sample(0.05, 15.4, 0.1, 15, shown=1.002)).plausible == ()


def test_trims_that_contradict_the_gases_point_at_the_sensor() -> None:
    rich = analyse(Sample(4.7, 12.6, 0.06, 164, trim=35.0))
    assert any("in question" in way for way in rich.other_ways)
    lean = analyse(Sample(0.02, 13.3, 3.1, 280, trim=-25.0))
    assert any("in question" in way for way in lean.other_ways)
    agreeing = analyse(Sample(0.05, 15.4, 0.1, 15, trim=2.0))
    assert not any("in question" in way for way in agreeing.other_ways)


def test_it_says_what_it_cannot_say() -> None:
    after = [line for head, line in told(analyse(Sample(3.0, 12.5, 0.3, 300))) if head == "cannot say"]
    assert any("which part" in line for line in after)
    assert any("0.05 leaner" in line for line in after)
    before = analyse(Sample(3.0, 12.5, 0.3, 300), where="before").cannot
    assert not any("0.05 leaner" in line for line in before)


def test_samples_come_from_the_job_when_all_four_gases_are_known() -> None:
    catalogue = load_library().catalogue
    numbers = {"gas_co_idle": 0.1, "gas_co2_idle": 15.2, "gas_o2_idle": 0.3, "gas_hc_idle": 40.0}
    values = {name: Value(name, number) for name, number in numbers.items()}
    found = samples_of(Situation(catalogue, values))
    assert found["idle"] == Sample(0.1, 15.2, 0.3, 40.0)
    assert found["2500"] is None
