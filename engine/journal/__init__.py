"""The job on disk: one append-only file, read back without recomputing anything.

A journal holds events: plain JSON mappings with a text `kind`. What they mean is not known here.
Event number *n* of a journal (its sequence number) is `events[n]`; number 0 is the header, of kind
`opened`, which names the job.
"""

from __future__ import annotations

from engine.journal.card import Card, read_card
from engine.journal.copies import Tails, compare_tails, copies_with_more, find_copies
from engine.journal.definitions import pack_definitions, unpack_definitions
from engine.journal.records import Event, JournalError
from engine.journal.store import Journal, Opened

__all__ = [
    "Card",
    "Event",
    "Journal",
    "JournalError",
    "Opened",
    "Tails",
    "compare_tails",
    "copies_with_more",
    "find_copies",
    "pack_definitions",
    "read_card",
    "unpack_definitions",
]
