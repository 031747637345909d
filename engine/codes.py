"""Trouble codes: what they mean, which groups they belong to, where they point."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Code:
    """A trouble code, or a run of them."""

    first: str
    last: str
    means: str
    groups: tuple[str, ...]
    side: str | None

    def covers(self, code: str) -> bool:
        """Tell whether *code* lies in this run (same letter, hexadecimal order)."""
        return code[0] == self.first[0] and int(self.first[1:], 16) <= int(code[1:], 16) <= int(
            self.last[1:], 16
        )


@dataclass(frozen=True, slots=True)
class CodeGroup:
    """Codes that point the same way."""

    id: str
    label: str
    rank: int
    """Which to work first: the lower rank is often the cause of the higher."""
    weigh: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Codes:
    """The codes catalogue."""

    codes: tuple[Code, ...]
    groups: Mapping[str, CodeGroup]

    _covering: dict[str, tuple[Code, ...]] = field(
        init=False, default_factory=dict, compare=False, repr=False
    )

    def covering(self, code: str) -> tuple[Code, ...]:
        """Return the entries that cover *code*, the narrowest first."""
        if code not in self._covering:
            found = (entry for entry in self.codes if entry.covers(code))
            self._covering[code] = tuple(
                sorted(found, key=lambda entry: int(entry.last[1:], 16) - int(entry.first[1:], 16))
            )
        return self._covering[code]

    def find(self, code: str) -> Code | None:
        """Return the narrowest entry that covers *code*, or None when it is not in this list."""
        return next(iter(self.covering(code)), None)

    def matches(self, code: str, pattern: str) -> bool:
        """Tell whether *code* is the code, lies in the range, or belongs to the ``group:`` of *pattern*."""
        if pattern.startswith("group:"):
            return any(pattern[6:] in entry.groups for entry in self.covering(code))
        first, _, last = pattern.partition("-")
        return Code(first, last or first, "", (), None).covers(code)
