"""A limit's figure of the shop's own, which knows where it comes from."""

from __future__ import annotations

from typing import Self

from engine.catalogue import Source


class LocalFigure(float):
    """A figure among a limit's cases that a shop's file put there."""

    __slots__ = ("is_makers", "source")
    source: Source
    is_makers: bool
    """It is the maker's own figure, so that no other is wanted."""

    @classmethod
    def of(cls, value: float, source: Source, *, is_makers: bool = False) -> Self:
        """Return *value* as a figure of this source."""
        figure = cls(value)
        figure.source, figure.is_makers = source, is_makers
        return figure
