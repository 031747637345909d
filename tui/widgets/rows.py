"""Several numbers typed in one field: what belongs to which field of the grid."""

from __future__ import annotations

import re

_PIECE = re.compile(r"[+\-\u2212]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)\s?%?")
_LONE_GROUPS = re.compile(r"[+\-\u2212]?[0-9]{1,3}(?: [0-9]{3})+")


def several_numbers(typed: str) -> tuple[str, ...]:
    """Return the numbers of a text that holds at least two and nothing else, else nothing.

    Blanks, tabs, semicolons and line ends part them; a comma never does, it may be a decimal one. ``2.5 bar``
    and ``-7,5`` are one number; ``1 200`` may be one with its thousands apart, so it is left whole.
    """
    text = " ".join(typed.replace("\t", ";").split(" ")).strip()
    if _LONE_GROUPS.fullmatch(text):
        return ()
    pieces = [piece for piece in re.split(r"\s*;\s*|\s+(?!%)", text) if piece]
    whole = len(pieces) >= 2 and all(_PIECE.fullmatch(piece) for piece in pieces)
    return tuple(pieces) if whole else ()
