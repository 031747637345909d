"""Short-hand written out: families of ids, and the placeholders for the side that was found.

A family (``stft_{b1,b2}_{idle,load}``) stands for every combination of its slots; inside such an entry
``<1>``, ``<2>`` stand for the word in the first, the second slot. In trees ``<each> <bank> <other>
<sensor> <twin>`` stand for a place. Ids take the place as it is written, prose takes it in words, and what
prose quotes in braces takes it as written again.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import islice, product

PLACEHOLDERS = ("each", "bank", "other", "sensor", "twin")
MOST_MEMBERS = 200
"""Ids one family may stand for."""

_SLOT = re.compile(r"\{([^{}]*)\}")
_NUMBERED = re.compile(r"<([1-9])>")
_NAMED = re.compile(r"<([a-z][a-z0-9_]*)>")
_QUOTED = re.compile(r"(\{[^{}]*\})")


def members(family: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return every id a family stands for, with the words in its slots; one more than allowed at most."""
    if "{" not in family:
        return ((family, ()),)
    parts = _SLOT.split(family)
    slots = [[word.strip() for word in part.split(",")] for part in parts[1::2]]
    out = []
    for words in islice(product(*slots), MOST_MEMBERS + 1):
        inner = "".join(word + fixed for word, fixed in zip(words, parts[2::2], strict=True))
        out.append((parts[0] + inner, words))
    return tuple(out)


def fill_slots(text: str, words: tuple[str, ...]) -> str:
    """Return *text* with ``<1>``, ``<2>`` … replaced; a number without a slot stays."""
    if "<" not in text:
        return text

    def word(match: re.Match[str]) -> str:
        number = int(match.group(1))
        return words[number - 1] if number <= len(words) else match.group(0)

    return _NUMBERED.sub(word, text)


def slots_missing(text: str, slots: int) -> tuple[str, ...]:
    """Return the numbers in *text* that no slot stands behind, as ``<3>``."""
    return tuple(f"<{number}>" for number in _NUMBERED.findall(text) if int(number) > slots)


def placeholders(text: str) -> tuple[str, ...]:
    """Return the names of the placeholders in *text*, in order."""
    return tuple(_NAMED.findall(text)) if "<" in text else ()


def fill_places(text: str, places: Mapping[str, str]) -> str:
    """Return an id with its placeholders replaced by the places themselves; an unknown one stays."""
    if "<" not in text:
        return text
    return _NAMED.sub(lambda match: places.get(match.group(1), match.group(0)), text)


def fill_prose(text: str, places: Mapping[str, str], words: Mapping[str, str]) -> str:
    """Return a sentence with its placeholders in words, those inside ``{…}`` as they are.

    Args:
        text: the sentence.
        places: placeholder -> place.
        words: place -> its name in words.
    """
    if "<" not in text:
        return text
    spoken = {name: words.get(place, place) for name, place in places.items()}
    pieces = _QUOTED.split(text)
    return "".join(fill_places(piece, places if piece[:1] == "{" else spoken) for piece in pieces)


def without_placeholders(text: str) -> str:
    """Return *text* with its placeholders taken out."""
    return _NAMED.sub(" ", text)
