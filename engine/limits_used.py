"""A limit as it stood when something was judged by it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from engine.catalogue import Limit
from engine.local_figures import LocalFigure


@dataclass(frozen=True, slots=True)
class LimitUsed:
    """A limit as it stood when something was judged by it."""

    limit: Limit | None
    value: float
    widened: float
    """The other edge of the band in which nothing is decided; equal to *value* when there is none."""
    not_to_hand: str | None
    """The maker's figure that would have replaced it."""
    by_maker: bool = False

    @property
    def low(self) -> float:
        """The lower edge of the undecided band."""
        return min(self.value, self.widened)

    @property
    def high(self) -> float:
        """The upper edge of the undecided band."""
        return max(self.value, self.widened)

    @property
    def source_words(self) -> str:
        """Where it comes from, in words."""
        if self.by_maker:
            return "maker's figure"
        if isinstance(self.value, LocalFigure):
            return self.value.source.words
        return self.limit.source.words if self.limit is not None else "the tree"


def interpolate(points: tuple[tuple[float, float], ...], at: float) -> float:
    """Return the value at *at*, linear between the points and held at both ends."""
    if at <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return points[-1][1]
