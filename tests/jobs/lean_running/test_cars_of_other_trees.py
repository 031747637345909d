"""Cars of another tree, walked by lean running and rough idle: nothing wrong is named."""

from __future__ import annotations

import pytest

from tests.jobs.hesitation import kits
from tests.jobs.hesitation.test_hesitating_cars import MUST


@pytest.mark.parametrize("tree", ["lean-running", "rough-idle"])
@pytest.mark.parametrize("kit", ["full", "meter-and-reader"])
@pytest.mark.parametrize("car", MUST)
def test_another_fault_is_led_on_or_left_open(car: str, kit: kits.Kit, tree: str) -> None:
    done = kits.walked("hesitation", tree, car, kit)
    assert done.fault in (None, "no_fault_found", MUST[car].fault), (done.strength, done.steps[-8:])
