"""Numbers of a recorded narrow-band sensor signal: swing, crossings of 0.45 V, times of the edges.

Rich is above the threshold, lean below it, in between (hysteresis) nothing changes; a crossing is a change of
state. An edge counts from the last passage of the first level to the next passage of the second without a
return, interpolated between the samples; of all edges the median is given.

Source: definitions of this program, after the kinds of quantity that SAE J1979 / ISO 15031-5 list for sensor
monitoring (from memory); threshold, levels, least rate and length are common practice. Wide-band sensors do
not switch, so nothing here applies to them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from engine.errors import LaybyError
from engine.tapping import LEAST_RATE, LEAST_SECONDS, SAMPLES_A_PERIOD, THRESHOLD

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Numbers = Sequence[float] | NDArray[Any]
    Floats = NDArray[Any]

LOW, HIGH = 0.30, 0.60
"""V; levels between which the time of an edge is taken. Common practice."""
NOISY_HYSTERESIS = 0.05
"""V; both sides of the threshold, for a noisy signal. Common practice."""
MOST_HYSTERESIS = 0.15
"""V; no more even for a very noisy signal, for 0.30 and 0.60 V still mean lean and rich."""
NOISE = 0.01
"""V; standard deviation of the noise from which a signal counts as noisy. Choice of this program."""
EDGE_RATE = 100.0
"""1/s; least rate at which the time of an edge of 100 ms can be resolved. Common practice."""
LEAST_SWINGS = 3
"""Full swings that share, mean and edge times should rest on. Common practice."""
GAP = 5.0
"""Times the usual step from which on a step is a gap, of which nothing is said. Choice of this program."""
_SPIKE, _SPIKE_FOOT, _SPIKE_RATE = 0.3, 0.1, 50.0
_SLACK = 0.995


class TraceError(LaybyError):
    """A recording that cannot be used."""


@dataclass(frozen=True, slots=True)
class SensorMetrics:
    """What a recording shows; volts in V, times in s."""

    samples: int
    seconds: float
    """Time watched, gaps left out."""
    rate: float
    """Samples a second, gaps left out."""
    lowest: float
    highest: float
    mean: float
    """Over time."""
    low: float
    """Foot of the swing: the lowest sample, the 2nd percentile of a noisy signal."""
    high: float
    """Top of the swing: the highest sample, the 98th percentile of a noisy signal."""
    crossings: int
    crossings_per_10s: float
    frequency: float
    """Full swings a second: lean-to-rich changes over the time watched."""
    rich_share: float
    """Share of the time strictly above the threshold, 0 to 1."""
    lean_to_rich: float | None
    """s from 0.30 to 0.60 V, median of all rising edges; None when there is none."""
    rich_to_lean: float | None
    """s from 0.60 to 0.30 V, median of all falling edges; None when there is none."""
    rises: int
    falls: int
    noise: float
    """V; standard deviation of the noise, estimated from third differences."""
    spikes: int
    """Single samples far off both their neighbours."""
    noisy: bool
    hysteresis: float
    """V; what was used."""
    gaps: int
    left_out: int
    """Samples that were no number."""
    crossings_why: str
    """Why the crossings may not be judged; empty when they may."""
    edges_why: str
    """Why the times of the edges may not be judged; empty when they may."""
    notices: tuple[str, ...]
    """What to bear in mind."""

    @property
    def amplitude(self) -> float:
        """V; top less foot of the swing."""
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class Edge:
    """One passage between the two levels."""

    to_rich: bool
    start: float
    """s on the recording's clock."""
    seconds: float


@dataclass(frozen=True, slots=True)
class _Series:
    """A recording fit for arithmetic."""

    times: Floats
    volts: Floats
    steps: Floats
    breaks: Floats
    """Indices of the steps that are gaps, rising."""
    step: float
    """s; the usual step."""
    left_out: int


def measure(
    seconds: Numbers, volts: Numbers, *, threshold: float = THRESHOLD, hysteresis: float | None = None
) -> SensorMetrics:
    """Return the numbers of a recording.

    Args:
        seconds: times of the samples, s, rising; at least three.
        volts: V, one for each time; what is not a finite number is left out and counted.
        threshold: V.
        hysteresis: V on both sides of the threshold; None takes 0; for a noisy signal
            0.05 V or four times its noise, whichever is more.

    Raises:
        TraceError: fewer than three samples, lengths that differ, times that do not rise.
    """
    import numpy as np

    series = _series(seconds, volts)
    values, count = series.volts, len(series.volts)
    lowest, highest = float(values.min()), float(values.max())
    used, parts = series.steps, len(series.breaks) + 1
    watched_steps = float(used.sum()) if parts == 1 else float(np.delete(used, series.breaks).sum())
    rate = (count - parts) / watched_steps if count > parts and watched_steps > 0.0 else 1.0 / series.step
    watched = count / rate
    noise, spikes = _noise(series, rate)
    noisy = noise > NOISE or spikes > 0
    if hysteresis is None:
        hysteresis = min(max(NOISY_HYSTERESIS, 4.0 * noise), MOST_HYSTERESIS) if noisy else 0.0
    _, to_rich = _changes(series, threshold, hysteresis)
    crossings, up = to_rich.size, int(np.count_nonzero(to_rich))
    low, high = lowest, highest
    if noisy:
        low, high = (float(v) for v in np.percentile(values, (2.0, 98.0)))
    mean, share = _over_time(series, threshold)
    rising, falling = _spans(series, to_rich=True)[1], _spans(series, to_rich=False)[1]
    per_ten = crossings * 10.0 / watched
    return SensorMetrics(
        samples=count, seconds=watched, rate=rate, lowest=lowest, highest=highest, mean=mean, low=low,
        high=high, crossings=crossings, crossings_per_10s=per_ten, frequency=up / watched, rich_share=share,
        lean_to_rich=_median(rising), rich_to_lean=_median(falling), rises=len(rising), falls=len(falling),
        noise=noise, spikes=spikes, noisy=noisy, hysteresis=hysteresis, gaps=parts - 1,
        left_out=series.left_out, crossings_why=_crossings_why(watched, rate), edges_why=_edges_why(rate),
        notices=_notices(rate, per_ten, crossings, noise, spikes, hysteresis),
    )  # fmt: skip


def edges(seconds: Numbers, volts: Numbers) -> tuple[Edge, ...]:
    """Return every passage between 0.30 and 0.60 V in the order of time.

    Raises:
        TraceError: as `measure`.
    """
    series = _series(seconds, volts)
    found = []
    for to_rich in (True, False):
        starts, lasting = _spans(series, to_rich=to_rich)
        found += [
            Edge(to_rich, float(start), float(long)) for start, long in zip(starts, lasting, strict=True)
        ]
    return tuple(sorted(found, key=lambda edge: edge.start))


def crossings_at(
    seconds: Numbers, volts: Numbers, *, threshold: float = THRESHOLD, hysteresis: float = 0.0
) -> tuple[tuple[float, bool], ...]:
    """Return when the state changed (s), and whether to rich.

    Raises:
        TraceError: as `measure`.
    """
    series = _series(seconds, volts)
    at, to_rich = _changes(series, threshold, hysteresis)
    return tuple(zip(series.times[at].tolist(), to_rich.tolist(), strict=True))


def _series(seconds: Numbers, volts: Numbers) -> _Series:
    """Return the usable samples of a recording with its steps and gaps."""
    import numpy as np

    times, values = np.asarray(seconds, dtype=float), np.asarray(volts, dtype=float)
    if times.ndim != 1 or times.shape != values.shape:
        raise TraceError(f"{times.size} times and {values.size} volts: give one time for each sample")
    given = times.size
    finite = np.isfinite(times) & np.isfinite(values)
    if not finite.all():
        times, values = times[finite], values[finite]
    if times.size < 3:
        raise TraceError(
            f"{times.size} usable samples: a recording needs at least three, better 10 s of them"
        )
    steps = np.diff(times)
    if steps.min() <= 0.0:
        place = int(np.argmax(steps <= 0.0)) + 1
        raise TraceError(
            f"the time does not rise at sample {place + 1} ({times[place]:g} s after {times[place - 1]:g} s):"
            " sort the rows, or cut the recording there"
        )
    step = float(np.partition(steps, steps.size // 2)[steps.size // 2])
    breaks = np.flatnonzero(steps > GAP * step)
    return _Series(times, values, steps, breaks, step, given - times.size)


def _changes(series: _Series, threshold: float, hysteresis: float) -> tuple[Floats, Floats]:
    """Return where the state changes, and whether to rich; nothing is counted over a gap."""
    import numpy as np

    known = np.flatnonzero(np.abs(series.volts - threshold) > hysteresis)
    rich = series.volts[known] > threshold
    turns = rich[1:] != rich[:-1]
    if series.breaks.size and known.size:
        part = np.searchsorted(series.breaks, known)
        turns &= part[1:] == part[:-1]
    at = np.flatnonzero(turns) + 1
    return known[at], rich[at]


def _spans(series: _Series, *, to_rich: bool) -> tuple[Floats, Floats]:
    """Return starts and lengths (s) of all passages in one direction; falling is rising mirrored."""
    import numpy as np

    values = series.volts if to_rich else -series.volts
    first, second = (LOW, HIGH) if to_rich else (-HIGH, -LOW)
    over, past = values >= first, values >= second
    enters = np.flatnonzero(over[1:] & ~over[:-1])
    passes = np.flatnonzero(past[1:] & ~past[:-1])
    if not enters.size or not passes.size:
        return np.empty(0), np.empty(0)
    leaves = np.append(np.flatnonzero(~over[1:] & over[:-1]), values.size)
    goal = np.searchsorted(passes, enters)
    reached = goal < passes.size
    enters, goal = enters[reached], passes[goal[reached]]
    whole = goal < leaves[np.searchsorted(leaves, enters)]
    if series.breaks.size:
        start_part = np.searchsorted(series.breaks, enters)
        whole &= start_part == np.searchsorted(series.breaks, goal, side="right")
    enters, goal = enters[whole], goal[whole]
    starts = _passage(series, values, enters, first)
    return starts, _passage(series, values, goal, second) - starts


def _passage(series: _Series, values: Floats, at: Floats, level: float) -> Floats:
    """Return when the straight line between two samples passes *level*."""
    before = values[at]
    moment: Floats = series.times[at] + (level - before) / (values[at + 1] - before) * series.steps[at]
    return moment


def _over_time(series: _Series, threshold: float) -> tuple[float, float]:
    """Return mean and rich share; a sample stands for the time until the next, the last for a usual step."""
    import numpy as np

    rich = series.volts > threshold
    if float(series.steps.max()) < 1.02 * series.step and float(series.steps.min()) > 0.98 * series.step:
        return float(series.volts.mean()), int(np.count_nonzero(rich)) / rich.size
    weights = np.append(series.steps, series.step)
    weights[series.breaks] = series.step
    total = float(weights.sum())
    return float(weights @ series.volts) / total, float(weights @ rich) / total


def _noise(series: _Series, rate: float) -> tuple[float, int]:
    """Return the noise (V) and how many single samples stand far off both neighbours.

    Third differences hardly see a swing that is sampled well; their median hardly sees the edges. Below 50
    samples a second a lone sample may be a true swing, so no spikes are told there.
    """
    import numpy as np

    values = series.volts
    if values.size < 16:
        return 0.0, 0
    part = values[:200_000]
    third = np.abs(np.diff(part, 3))
    middle = float(np.partition(third, third.size // 2)[third.size // 2])
    noise = 1.4826 * middle / 20.0**0.5
    if rate < _SPIKE_RATE:
        return noise, 0
    here, left, right = values[1:-1], values[:-2], values[2:]
    lone = (np.abs(here - left) > _SPIKE) & (np.abs(here - right) > _SPIKE)
    return noise, int(np.count_nonzero(lone & (np.abs(right - left) < _SPIKE_FOOT)))


def _median(lengths: Floats) -> float | None:
    if not lengths.size:
        return None
    ordered = sorted(lengths.tolist())
    middle = len(ordered) // 2
    return float(ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2.0)


def _crossings_why(seconds: float, rate: float) -> str:
    why = []
    if rate < LEAST_RATE * _SLACK:
        why.append(f"{rate:.3g} samples a second: at least {LEAST_RATE:g} are needed, slower hides crossings")
    if seconds < LEAST_SECONDS * _SLACK:
        why.append(f"recorded for {seconds:.3g} s: at least {LEAST_SECONDS:g} s are needed")
    return "; ".join(why)


def _edges_why(rate: float) -> str:
    if rate >= EDGE_RATE * _SLACK:
        return ""
    return f"{rate:.3g} samples a second: at least {EDGE_RATE:g} are needed to time an edge"


def _notices(
    rate: float, per_ten: float, crossings: int, noise: float, spikes: int, hysteresis: float
) -> tuple[str, ...]:
    found = []
    if noise > NOISE:
        found.append(f"noisy by about {1000.0 * noise:.0f} mV: swing from the 2nd to the 98th percentile")
    if spikes:
        found.append(f"{spikes} single samples far off their neighbours: swing from percentiles without them")
    if hysteresis > 0.0:
        found.append(f"crossings counted {1000.0 * hysteresis:.0f} mV beyond the threshold on both sides")
    if per_ten * SAMPLES_A_PERIOD > 20.0 * rate / _SLACK:
        found.append(f"at {rate:.3g} samples a second some crossings may be hidden: at least this many")
    if 0 < crossings < 2 * LEAST_SWINGS:
        found.append("fewer than three full swings: a longer recording is surer")
    return tuple(found)
