"""A block pasted from a code reader's export or log, read into readings that a person confirms one by one."""

from engine.pasting.reading import Match, Pasted, Unmatched, read_block

__all__ = ["Match", "Pasted", "Unmatched", "read_block"]
