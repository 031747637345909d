"""What a correction changed."""

from __future__ import annotations

from collections.abc import Sequence


class Changed:
    """What a correction changed: the path before and after."""

    def __init__(self, before: Sequence[tuple[str, str]], after: Sequence[tuple[str, str]]) -> None:
        self.before = tuple(before)
        self.after = tuple(after)

    @property
    def same(self) -> int:
        """How many steps from the start came out the same."""
        count = 0
        for old, new in zip(self.before, self.after, strict=False):
            if old != new:
                break
            count += 1
        return count

    @property
    def is_changed(self) -> bool:
        """Tell whether any verdict differs."""
        return self.before != self.after[: len(self.before)]
