"""Source: textbook relay control of an integrator with dead time (exact solution, from memory of such books).

The output of the integrator is a triangle; each turn takes place one dead time after the crossing, so the
period is four dead times and the swing twice the slope times the dead time.
"""

from __future__ import annotations

import pytest

from engine.car.limit_cycle import limit_cycle
from engine.car.parameters import Zirconia

PURE = Zirconia(rise_s=1e-6, fall_s=1e-6, diffusion_s=1e-6, ground_offset_v=0.0)


@pytest.mark.parametrize("delay", [0.1, 0.2, 0.45, 1.0])
@pytest.mark.parametrize("ramp", [3.0, 7.0])
def test_period_is_four_dead_times_and_swing_two_slopes(delay: float, ramp: float) -> None:
    cycle = limit_cycle(PURE, 750.0, delay, ramp)
    assert cycle is not None
    assert cycle.period == pytest.approx(4.0 * delay, rel=0.03)
    assert cycle.swing == pytest.approx(2.0 * ramp * delay, rel=0.03)


def test_every_lag_makes_the_hunt_slower() -> None:
    # a lag of a triangle comes to a delay of its time constant when the constant is short
    slower = limit_cycle(Zirconia(rise_s=1e-6, fall_s=1e-6, diffusion_s=0.03), 750.0, 0.3, 5.0)
    assert slower is not None
    assert slower.period == pytest.approx(4.0 * 0.33, rel=0.03)
