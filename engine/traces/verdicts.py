"""What a recorded signal says against the named limits: a verdict for each number, and a pattern."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from engine.catalogue import Limit
from engine.traces.metrics import LEAST_SWINGS, SensorMetrics

Grade = Literal["ok", "watch", "fail", "inconclusive"]
_RICHER = 0.45
"""V; the middle of the sensor's swing, above which its mean is called high rather than low."""


@dataclass(frozen=True, slots=True)
class LineVerdict:
    """One number against its limits."""

    name: str
    label: str
    value: float | None
    """None when the recording does not show it."""
    unit: str
    grade: Grade
    words: str
    limits: tuple[str, ...]
    """Names of the limits, for their values and sources."""

    @property
    def shown(self) -> str:
        """The number with its unit."""
        if self.value is None:
            return "none"
        digits = {"V": f"{self.value:.3f}", "ms": f"{self.value:.0f}", "%": f"{self.value:.0f}"}
        return f"{digits.get(self.unit, f'{self.value:.1f}')} {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Pattern:
    """What the signal as a whole looks like."""

    name: str
    grade: Grade
    says: str
    separate: str
    """The test that would separate what can be behind it; empty when nothing is to be separated."""


def judge_lines(
    metrics: SensorMetrics, limits: Mapping[str, Limit], *, downstream: bool = False
) -> tuple[LineVerdict, ...]:
    """Return a verdict for each number of a recording; behind the catalyst only what is judged there."""
    lines = [_highest(metrics, limits), _lowest(metrics, limits)]
    if downstream:
        return (*lines, _downstream_crossings(metrics))
    times = (
        ("lr_ms", "0.30 up to 0.60 V", metrics.lean_to_rich, metrics.rises),
        ("rl_ms", "0.60 down to 0.30 V", metrics.rich_to_lean, metrics.falls),
    )
    return (
        *lines,
        _amplitude(metrics, limits),
        _crossings(metrics, limits),
        *(_edge(name, label, value, number, metrics, limits) for name, label, value, number in times),
        _share(metrics, limits),
        _mean(metrics, limits),
    )


def pattern_of(metrics: SensorMetrics, limits: Mapping[str, Limit], *, downstream: bool = False) -> Pattern:
    """Return the pattern: what can be behind the signal, and what would separate it."""
    at = _Limits(limits)
    if metrics.high > at["o2_over_cell"]:
        return Pattern(
            "above anything the cell can make", "fail",
            "A short to the heater supply or another circuit.", "Unplug it and measure both sides again.",
        )  # fmt: skip
    if metrics.mean < at["o2_reversed"]:
        return Pattern(
            "wrong sign", "fail", "The leads are reversed, or the reference air side is contaminated.",
            "Swap the leads; then the wiring; then the sensor.",
        )  # fmt: skip
    if metrics.amplitude < at["o2_amp_flat"] or not metrics.crossings:
        return _resting(metrics, at, downstream)
    if downstream:
        return Pattern(
            "behind the catalyst", "inconclusive",
            "Few crossings speak for a catalyst that stores oxygen; compare with the upstream sensor.", "",
        )  # fmt: skip
    if metrics.crossings_why:
        return Pattern(
            "not to be judged", "inconclusive", metrics.crossings_why.capitalize() + ".",
            "Record at least 10 s, faster.",
        )  # fmt: skip
    slow = metrics.crossings_per_10s < at["o2_cross_slow"]
    for edge in (metrics.lean_to_rich, metrics.rich_to_lean):
        slow = slow or (not metrics.edges_why and edge is not None and edge * 1000 > at["o2_edge_slow"])
    if slow:
        return Pattern(
            "slow", "fail",
            "A lazy sensor or a cold tip; a large engine-side error can slow the swing too.",
            "Force rich and lean before an independent witness; prove the heater first.",
        )  # fmt: skip
    if metrics.low > at["o2_floor_lifted"]:
        return Pattern(
            "lifted floor", "watch", "A ground offset, or a contaminated or very hot tip.",
            "Measure the sensor's ground to battery minus, loads on.",
        )  # fmt: skip
    good = all(line.grade in ("ok", "inconclusive") for line in judge_lines(metrics, limits))
    if good:
        return Pattern("switches", "ok", "Nothing in this recording speaks against the sensor.", "")
    return Pattern(
        "switches, not at its best", "watch", "Between good and failed: watch it.",
        "Force rich and lean before an independent witness.",
    )  # fmt: skip


def limits_as_data(names: tuple[str, ...], limits: Mapping[str, Limit]) -> list[dict[str, Any]]:
    """Return the limits of a verdict with value, unit and source."""
    return [
        {"limit": n, "value": limits[n].value, "unit": limits[n].unit, "source": limits[n].source.words}
        for n in names
        if n in limits
    ]


class _Limits:
    """Numbers of limits by name; a shop may have changed them."""

    def __init__(self, limits: Mapping[str, Limit]) -> None:
        self._limits = limits

    def __getitem__(self, name: str) -> float:
        value = self._limits[name].value
        assert value is not None
        return value


def _highest(metrics: SensorMetrics, limits: Mapping[str, Limit]) -> LineVerdict:
    most = _Limits(limits)["o2_over_cell"]
    over = metrics.high > most
    words = "above anything the cell can make" if over else ""
    return LineVerdict(
        "max", "highest", metrics.high, "V", "fail" if over else "ok", words, ("o2_over_cell",)
    )


def _lowest(metrics: SensorMetrics, limits: Mapping[str, Limit]) -> LineVerdict:
    at = _Limits(limits)
    if metrics.low < at["o2_reversed"]:
        return LineVerdict("min", "lowest", metrics.low, "V", "watch", "wrong sign", ("o2_reversed",))
    return LineVerdict("min", "lowest", metrics.low, "V", "ok", "", ("o2_reversed",))


def _amplitude(metrics: SensorMetrics, limits: Mapping[str, Limit]) -> LineVerdict:
    at, value = _Limits(limits), metrics.amplitude
    grade: Grade = "ok" if value >= at["o2_amp_good"] else "watch" if value >= at["o2_amp_weak"] else "fail"
    words = {"ok": "full swing", "watch": "between good and weak", "fail": "weak"}[grade]
    return LineVerdict("amplitude", "swing", value, "V", grade, words, ("o2_amp_good", "o2_amp_weak"))


def _crossings(metrics: SensorMetrics, limits: Mapping[str, Limit]) -> LineVerdict:
    at, value = _Limits(limits), metrics.crossings_per_10s
    names = ("o2_cross_good", "o2_cross_slow")
    label = "crossings in 10 s"
    if metrics.crossings_why:
        return LineVerdict("crossings", label, value, "", "inconclusive", metrics.crossings_why, names)
    slack = 1e-6
    if value > at["o2_cross_ragged"] + slack:
        return LineVerdict("crossings", label, value, "", "ok", "lively; look for a ragged signal", names)
    grade: Grade = (
        "ok"
        if value >= at["o2_cross_good"] - slack
        else "watch"
        if value >= at["o2_cross_slow"] - slack
        else "fail"
    )
    words = {"ok": "often enough", "watch": "between good and slow", "fail": "slow"}[grade]
    return LineVerdict("crossings", label, value, "", grade, words, names)


def _edge(
    name: str,
    label: str,
    seconds: float | None,
    number: int,
    metrics: SensorMetrics,
    limits: Mapping[str, Limit],
) -> LineVerdict:
    at, names = _Limits(limits), ("o2_edge_good", "o2_edge_slow")
    if seconds is None:
        return LineVerdict(name, label, None, "ms", "inconclusive", "it never spans 0.30 and 0.60 V", names)
    value = 1000.0 * seconds
    if metrics.edges_why:
        return LineVerdict(name, label, value, "ms", "inconclusive", metrics.edges_why, names)
    grade: Grade = "ok" if value <= at["o2_edge_good"] else "watch" if value <= at["o2_edge_slow"] else "fail"
    words = {"ok": "quick", "watch": "between good and slow", "fail": "slow"}[grade]
    few = f"; only {number} seen" if number < LEAST_SWINGS else ""
    return LineVerdict(name, label, value, "ms", grade, f"{words}{few}", names)


def _share(metrics: SensorMetrics, limits: Mapping[str, Limit]) -> LineVerdict:
    at, value = _Limits(limits), 100.0 * metrics.rich_share
    names = ("o2_share_low", "o2_share_high", "o2_share_far_low", "o2_share_far_high")
    if why := _too_few_swings(metrics):
        return LineVerdict("rich_share", "time rich", value, "%", "inconclusive", why, names)
    if at["o2_share_low"] <= value <= at["o2_share_high"]:
        return LineVerdict("rich_share", "time rich", value, "%", "ok", "centred", names)
    side = "rich" if value > 50.0 else "lean"
    far = not at["o2_share_far_low"] <= value <= at["o2_share_far_high"]
    words = f"mostly {side}: mixture or sensor off centre, or a slow sensor" if far else f"leans to {side}"
    return LineVerdict("rich_share", "time rich", value, "%", "watch", words, names)


def _mean(metrics: SensorMetrics, limits: Mapping[str, Limit]) -> LineVerdict:
    at, value = _Limits(limits), metrics.mean
    names = ("o2_mean_low", "o2_mean_high")
    if why := _too_few_swings(metrics):
        return LineVerdict("mean", "mean", value, "V", "inconclusive", why, names)
    grade: Grade = "ok" if at["o2_mean_low"] <= value <= at["o2_mean_high"] else "watch"
    words = "centred" if grade == "ok" else "high" if value > _RICHER else "low"
    return LineVerdict("mean", "mean", value, "V", grade, words, names)


def _too_few_swings(metrics: SensorMetrics) -> str:
    if metrics.crossings_why:
        return metrics.crossings_why
    return "fewer than three full swings" if metrics.crossings < 2 * LEAST_SWINGS else ""


def _downstream_crossings(metrics: SensorMetrics) -> LineVerdict:
    words = metrics.crossings_why or "compare with the upstream sensor at the same time"
    return LineVerdict(
        "crossings", "crossings in 10 s", metrics.crossings_per_10s, "", "inconclusive", words, ()
    )


def _resting(metrics: SensorMetrics, at: _Limits, downstream: bool) -> Pattern:
    """Return what a signal that does not switch can mean."""
    if metrics.crossings_why and not metrics.crossings:
        return Pattern(
            "not to be judged", "inconclusive", metrics.crossings_why.capitalize() + ".",
            "Record at least 10 s, faster.",
        )  # fmt: skip
    if downstream and metrics.low > at["o2_flat_low"]:
        return Pattern("steady behind the catalyst", "ok", "A catalyst that stores oxygen looks so.", "")
    if metrics.high <= at["o2_flat_low"]:
        return Pattern(
            "stays low", "fail", "Truly lean, an exhaust leak ahead of it, or the signal shorted to ground.",
            "Force rich: it rises, then it is truly lean; it stays, then sensor or wire.",
        )  # fmt: skip
    if metrics.low >= at["o2_flat_high"]:
        return Pattern(
            "stays high", "fail", "Truly rich, a contaminated tip, or a short to a supply.",
            "Force lean: it falls, then it is truly rich; it stays, then sensor or wire.",
        )  # fmt: skip
    return Pattern(
        "rests in the middle", "fail",
        "Open circuit, a cold tip or a dead heater; no proof of a good mixture.",
        "Known narrow-band only: unplugged, harness signal joined to signal ground, the display should fall "
        "to 0. Type unknown or wide-band: touch no wire.",
    )  # fmt: skip
