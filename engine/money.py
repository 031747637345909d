"""What testing first saved: parts fitted for nothing against minutes spent on tests.

Everything is counted in hours of labour, the one unit that needs no price list: a part counts as its band
against one hour of labour, a fitting as its minutes. With the rate of an hour it becomes money. The right
repair is paid either way and left out of the comparison.

The shares are those of the suspects handed in, which rest on one author's weights or on a shop's own counts.
Numbers are for the shop; the customer's words hold neither shares nor sums.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias

from engine.catalogue import Catalogue, Fault
from engine.suspects import Suspect

Band: TypeAlias = Literal["none", "small", "medium", "large", "very-large"]

PART_HOURS: Mapping[Band, tuple[float, float, float]] = {
    "none": (0.0, 0.0, 0.0), "small": (0.0, 0.25, 0.5), "medium": (0.5, 1.0, 2.0),
    "large": (2.0, 3.5, 6.0), "very-large": (6.0, 9.0, 12.0),
}  # fmt: skip
"""Cost of a part against one hour of labour: least, taken, most. The bands are common practice; what is taken
is about the geometric mean of a band, half of the small one, and for the open last band an assumption."""
PARTS_TRIED = 3
"""Parts that somebody fits untested before giving up and measuring. An assumption of this program."""
_ORDINALS: Mapping[int | None, str] = {1: "second", 2: "third", 3: "fourth", 4: "fifth"}
MINUTES_WORDS = 5
"""Minutes are rounded to this many in words."""


@dataclass(frozen=True, slots=True)
class Fitting:
    """A part that would be fitted untested."""

    fault: str
    label: str
    p: float
    """Share of the cases in which this is the cause."""
    hours: float
    """Labour and part, in hours of labour."""
    hours_least: float
    hours_most: float


@dataclass(frozen=True, slots=True)
class Untested:
    """What fitting parts in the order of how often they fail costs on average."""

    fittings: tuple[Fitting, ...]
    """In the order in which they would be fitted."""
    hours: float
    """Expected hours of labour, parts included, spent on fittings that cured nothing."""
    hours_least: float
    hours_most: float
    cured: float
    """Share of the cases in which one of these parts is the right one."""

    @property
    def first_for_nothing(self) -> float:
        """Share of the cases in which the first part is fitted for nothing; 0 when there is none to fit."""
        return 1.0 - self.fittings[0].p if self.fittings else 0.0


@dataclass(frozen=True, slots=True)
class Saving:
    """Testing first against fitting parts untested, for one job."""

    concluded: bool
    """The job came to a conclusion; an open end did not."""
    tested_minutes: float
    """Spent on tests up to the conclusion."""
    repair_hours: float | None
    """Labour and part of the conclusion's repair; None when it is not the roadside's work or not known."""
    untested: Untested
    fitted_before: int | None
    """Parts that would have been fitted for nothing in this very case; None when never reached."""
    hourly_rate: float | None
    """Money of an hour, when the shop has said it."""

    @property
    def hours(self) -> float:
        """Hours of labour saved on average; below 0 when testing cost more."""
        return self.untested.hours - self.tested_minutes / 60.0

    @property
    def money(self) -> float | None:
        """The saving in money, when the rate is known."""
        return None if self.hourly_rate is None else self.hours * self.hourly_rate

    @property
    def total_tested(self) -> float | None:
        """Hours of tests and the right repair together."""
        return None if self.repair_hours is None else self.tested_minutes / 60.0 + self.repair_hours

    @property
    def shop_words(self) -> str:
        """The comparison for the shop, with the share of the cases it holds for."""
        tested = f"Tested first: about {_minutes(self.tested_minutes)}."
        if not self.untested.fittings:
            return f"{tested} Among the suspects was no part that could have been fitted untested."
        first, others = self.untested.fittings[0], len(self.untested.fittings) - 1
        more = f", then up to {others} more," if others else ""
        return (
            f"{tested} Fitting the part that fails most often first ({first.label}){more} would have cost "
            f"about {_hours(self.untested.hours)} on average ({_span(self.untested)}), and the first part "
            f"for nothing {_in_cases(self.untested.first_for_nothing)}. One of these parts is the cause "
            f"{_in_cases(self.untested.cured)}, by the weights of the suspects before testing."
        )

    @property
    def customer_words(self) -> str:
        """The comparison for the customer: rank and words, no shares and no sums."""
        if not self.concluded:
            return "Nothing was replaced on suspicion; what is left to measure is listed."
        if not self.untested.fittings:
            return "The cause was measured before anything was replaced."
        first = self.untested.fittings[0].label
        if self.fitted_before == 0:
            return f"The first suspect ({first}) was confirmed by measurement before anything was replaced."
        place = self.fitted_before
        rank = f" What was found came {_ORDINALS[place]} in that order." if place in _ORDINALS else ""
        often = self.untested.first_for_nothing
        word = "most often" if often >= 0.6 else "often" if often >= 0.3 else "now and then"
        return (
            f"The cause was measured before anything was replaced. The first suspect by experience was "
            f"“{first}”; a part fitted for it untested would {word} have been for nothing, as here.{rank}"
        )


def part_hours(fault: Fault) -> tuple[float, float, float]:
    """Return the fault's part in hours of labour: least, taken, most."""
    return PART_HOURS[fault.parts]


def repair_hours(fault: Fault) -> float | None:
    """Return labour and part of a repair in hours of labour; None when it is not the roadside's work."""
    return None if fault.minutes is None else fault.minutes / 60.0 + part_hours(fault)[1]


def untested(catalogue: Catalogue, suspects: Sequence[Suspect], *, most: int = PARTS_TRIED) -> Untested:
    """Return what replacing parts in the order of popularity, without a test, costs on average.

    The most likely part is fitted, then the next while the fault is still there, up to *most* of them. A
    fitting costs nothing extra in the cases in which it is the right one.

    Args:
        catalogue: gives minutes and part bands.
        suspects: with their shares before testing: from the priors, or from the priors and the codes.
        most: parts fitted before somebody gives up.

    Raises:
        ValueError: *most* is below 1.
    """
    if most < 1:
        raise ValueError(f"{most} parts: at least one is fitted")
    popular = sorted((s for s in suspects if s.fault is not None), key=lambda s: (-s.p, s.fault or ""))
    fittings: list[Fitting] = []
    for suspect in popular:
        fault = catalogue.faults.faults[suspect.fault or ""]
        if fault.minutes is not None and fault.parts != "none" and len(fittings) < most:
            labour = fault.minutes / 60.0
            least, taken, greatest = part_hours(fault)
            fittings.append(
                Fitting(fault.id, fault.label, suspect.p, labour + taken, labour + least, labour + greatest)
            )
    return Untested(
        tuple(fittings),
        hours=for_nothing([(f.p, f.hours) for f in fittings]),
        hours_least=for_nothing([(f.p, f.hours_least) for f in fittings]),
        hours_most=for_nothing([(f.p, f.hours_most) for f in fittings]),
        cured=math.fsum(f.p for f in fittings),
    )


def for_nothing(fittings: Sequence[tuple[float, float]]) -> float:
    """Return the expected cost of fittings that cure nothing, in the order given.

    Args:
        fittings: probability that this is the cause, and what fitting it costs. A fitting is for nothing when
            neither it nor one before it is the cause.
    """
    left, total = 1.0, 0.0
    for p, cost in fittings:
        left -= p
        total += max(left, 0.0) * cost
    return total


def saving(
    catalogue: Catalogue,
    before: Sequence[Suspect],
    minutes: float,
    concluded: str | None,
    *,
    hourly_rate: float | None = None,
    most: int = PARTS_TRIED,
) -> Saving:
    """Return what testing first saved in one job.

    Args:
        catalogue: gives minutes and part bands.
        before: the suspects with their shares before testing.
        minutes: spent on tests up to the conclusion.
        concluded: the conclusion's main fault; None for an open end.
        hourly_rate: money of an hour of labour, in any currency; None when nobody said.
        most: parts that would be fitted untested before giving up.
    """
    compared = untested(catalogue, before, most=most)
    fault = catalogue.faults.faults.get(concluded) if concluded is not None else None
    order = [fitting.fault for fitting in compared.fittings]
    return Saving(
        concluded=concluded is not None,
        tested_minutes=minutes,
        repair_hours=repair_hours(fault) if fault is not None else None,
        untested=compared,
        fitted_before=order.index(concluded) if concluded in order else None,
        hourly_rate=hourly_rate,
    )


# ------------------------------------------------------------------------------------------------ words


def _minutes(minutes: float) -> str:
    rounded = max(MINUTES_WORDS * round(minutes / MINUTES_WORDS), MINUTES_WORDS) if minutes > 0.0 else 0
    return f"{rounded} minutes"


def _hours(hours: float) -> str:
    return f"{hours:.1f} hours' worth"


def _span(cost: Untested) -> str:
    return f"{cost.hours_least:.1f} to {cost.hours_most:.1f}, by the price bands of the parts"


def _in_cases(share: float) -> str:
    """Return a share as cases: ``in 3 of 4 cases``; never a certainty."""
    if share <= 0.05:
        return "in hardly any case"
    if share >= 0.95:
        return "in nearly every case"
    near = Fraction(share).limit_denominator(5) if 0.2 <= share <= 0.8 else Fraction(round(share * 10), 10)
    return f"in {near.numerator} of {near.denominator} cases"
