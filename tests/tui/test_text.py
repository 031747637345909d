"""Texts cut to the room there is."""

from __future__ import annotations

import pytest

from tui.text import first_sentences

WHY = "The lamp first. A lamp that never lights hides every code. Then the fuse."


@pytest.mark.parametrize(
    ("cells", "shown"),
    [
        (200, WHY),
        (60, "The lamp first. A lamp that never lights hides every code."),
        (20, "The lamp first."),
        (10, "The lam..."),
    ],
)
def test_a_text_is_cut_after_a_sentence_where_one_fits(cells: int, shown: str) -> None:
    assert first_sentences(WHY, cells) == shown
