"""Chance by name: the same key always gives the same draw, in whatever order the draws are asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import blake2b
from statistics import NormalDist
from typing import TypeVar

_One = TypeVar("_One")
_NORMAL = NormalDist()
_STEPS = 1 << 53


@dataclass(frozen=True, slots=True)
class Chance:
    """Draws that belong to one name, say a car of a seed."""

    name: str

    def share(self, key: str) -> float:
        """Return an even draw strictly between 0 and 1."""
        digest = blake2b(f"{self.name}:{key}".encode(), digest_size=8).digest()
        return ((int.from_bytes(digest, "big") >> 11) + 0.5) / _STEPS

    def between(self, key: str, low: float, high: float) -> float:
        """Return an even draw between two numbers."""
        return low + (high - low) * self.share(key)

    def normal(self, key: str, mean: float = 0.0, deviation: float = 1.0) -> float:
        """Return a normal draw, cut at three standard deviations: what lies further out is another fault."""
        return mean + deviation * min(max(_NORMAL.inv_cdf(self.share(key)), -3.0), 3.0)

    def happens(self, key: str, probability: float) -> bool:
        """Tell whether something of this probability happens."""
        return self.share(key) < probability

    def one_of(self, key: str, choices: Sequence[_One]) -> _One:
        """Return one of the choices, all alike."""
        return choices[int(self.share(key) * len(choices))]

    def weighed(self, key: str, weights: Mapping[_One, float]) -> _One:
        """Return one of the choices by weight.

        Raises:
            ValueError: there is nothing to choose from.
        """
        left = self.share(key) * sum(weights.values())
        last: list[_One] = []
        for choice, weight in weights.items():
            left -= weight
            if weight > 0.0:
                last = [choice]
                if left < 0.0:
                    break
        if not last:
            raise ValueError(f"{key}: nothing to choose from")
        return last[0]
