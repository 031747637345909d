"""Choices and trouble codes as people type them."""

from __future__ import annotations

import re
from collections.abc import Sequence

from engine.catalogue import Choice, Reading
from engine.entry.outcomes import Outcome, Question, Refusal, Understood
from engine.errors import did_you_mean, shown

_BETWEEN = re.compile(r"[,;/+&]|\band\b")
_CODE = re.compile(r"[PBCU][0-3][0-9A-F]{3}")
"""Syntax of a trouble code. Source: SAE J2012, from memory."""
_CODES_RUN_TOGETHER = re.compile(r"(?:[PBCU][0-3][0-9A-F]{3}){2,}")
_LETTERS_FOR_DIGITS = str.maketrans({"O": "0", "I": "1", "L": "1"})
_NO_CODES = frozenset({"none", "no", "no codes", "no code", "nothing", "clear", "-", "0"})
_NOTHING = frozenset({"none", "nothing", "nothing wrong", "ok", "okay", "fine", "no", "-"})
_NOTHING_CHOICES = ("none", "ok")
_YES, _NO = frozenset({"y", "yes", "yep", "true"}), frozenset({"n", "no", "nope", "false"})
MOST_LISTED = 160
"""Characters of a list of choices in a line."""


def alike(text: str) -> str:
    """Return *text* as it is compared: one case, blanks for hyphens and underlines."""
    return re.sub(r"[\s_-]+", " ", text).strip(" .!").casefold()


def stands_alone(choice: Choice) -> bool:
    """Tell whether a choice excludes all others: nothing found, or nobody looked."""
    return choice.not_looked or choice.value in _NOTHING_CHOICES


def nothing_found(reading: Reading) -> tuple[str, ...]:
    """Return what *looked, and nothing there* is called in a reading of several choices or codes."""
    return next(((value,) for value in _NOTHING_CHOICES if reading.choice(value) is not None), ())


# --------------------------------------------------------------------------------------------- one choice


def understand_choice(text: str, reading: Reading) -> Outcome:
    """Return what comes of a text typed for one choice: its number, value, label, or the start of either."""
    found = _find(text, reading)
    if not found:
        return Refusal(_not_among(text, reading))
    candidates = tuple(_chosen(choice) for choice in found)
    if len(candidates) == 1:
        return candidates[0]
    return Question(f"{shown(text)}: {_or(found)}?", candidates)


def _chosen(choice: Choice) -> Understood:
    return Understood(choice.value, "", choice.label)


def _find(text: str, reading: Reading) -> tuple[Choice, ...]:
    """Return the choices a text can mean, the plainest way to read it first."""
    word, choices = alike(text), reading.choices
    if not word:
        return ()
    for exact in (
        [c for c in choices if alike(c.value) == word],
        [c for c in choices if alike(c.label) == word],
    ):
        if exact:
            return tuple(exact)
    for words, value in ((_YES, "yes"), (_NO, "no")):
        if word in words and (choice := reading.choice(value)) is not None:
            return (choice,)
    if word.isdecimal():
        numbered = not any(choice.value.isdecimal() for choice in choices)
        return choices[int(word) - 1 : int(word)] if numbered and len(word) < 4 and int(word) else ()
    starts = [c for c in choices if alike(c.value).startswith(word) or alike(c.label).startswith(word)]
    if starts:
        return tuple(starts)
    return tuple(c for c in choices if any(w.startswith(word) for w in alike(f"{c.value} {c.label}").split()))


def _not_among(text: str, reading: Reading) -> str:
    words = [word for choice in reading.choices for word in (choice.value, choice.label)]
    numbered = not any(choice.value.isdecimal() for choice in reading.choices)
    listed = ", ".join(f"{i} {c.label}" if numbered else c.label for i, c in enumerate(reading.choices, 1))
    if len(listed) > MOST_LISTED:
        listed = listed[:MOST_LISTED].rsplit(",", 1)[0] + " …"
    meant = "" if alike(text).isdecimal() else did_you_mean(text, words)
    return f"{shown(text)} is none of the choices{meant}: {listed}"


def _or(choices: Sequence[Choice]) -> str:
    labels = [choice.label for choice in choices[:4]]
    return " or ".join(labels) + (" …" if len(choices) > 4 else "")


# ----------------------------------------------------------------------------------------- several choices


def understand_choices(text: str, reading: Reading) -> Outcome:
    """Return what comes of a text typed for several choices: ``1 3``, ``hose off, oil wet``, ``none``."""
    if alike(text) in _NOTHING and (nothing := nothing_found(reading)):
        return several([choice for value in nothing if (choice := reading.choice(value))])
    meant: list[tuple[Choice, ...]] = []
    for piece in _pieces(text, reading):
        found = _find(piece, reading)
        if not found:
            return Refusal(_not_among(piece, reading))
        meant.append(found)
    if not meant:
        return Refusal(_not_among(text, reading))
    doubtful = [found for found in meant if len(found) > 1]
    if not doubtful:
        return several([found[0] for found in meant])
    if len(doubtful) > 1:
        return Refusal(f"{shown(text)} can mean {_or(doubtful[0])}, and more: write more of the words")
    certain = [found[0] for found in meant if len(found) == 1]
    outcomes = [several([*certain, choice]) for choice in doubtful[0]]
    candidates = tuple(outcome for outcome in outcomes if isinstance(outcome, Understood))
    if not candidates:
        return outcomes[0]
    return Question(f"{shown(text)}: {_or(doubtful[0])}?", candidates)


def several(choices: Sequence[Choice]) -> Understood | Refusal:
    """Return several choices as one answer; what stands alone cannot stand with others."""
    unique = {choice.value: choice for choice in choices}
    alone = next((choice for choice in unique.values() if stands_alone(choice)), None)
    if alone is not None and len(unique) > 1:
        return Refusal(f"{shown(alone.label)} stands alone: leave it out, or leave the others out")
    return Understood(tuple(sorted(unique)), "", ", ".join(choice.label for choice in unique.values()))


def _pieces(text: str, reading: Reading) -> list[str]:
    """Return the pieces of a text that each mean a choice; blanks part them only where nothing else does."""
    if _find(text, reading):
        return [text]
    pieces: list[str] = []
    for piece in _BETWEEN.split(text):
        pieces += [piece] if _find(piece, reading) else piece.split()
    return [piece for piece in pieces if alike(piece)]


# ---------------------------------------------------------------------------------------------------- codes


def understand_codes(text: str) -> Outcome:
    """Return what comes of typed trouble codes: ``P0172 p0300,P0133``, or ``none``."""
    if alike(text) in _NO_CODES or text.strip() == "-":
        return Understood((), "", "no codes")
    codes: set[str] = set()
    mended: dict[str, str] = {}
    for word in re.split(r"[\s,;/+&]+", text.strip(" \t,;/+&")) if text.strip(" \t,;/+&") else [text]:
        code = word.upper().strip(".")
        better = code[:1] + code[1:].translate(_LETTERS_FOR_DIGITS)
        if _CODES_RUN_TOGETHER.fullmatch(code):
            codes.update(code[i : i + 5] for i in range(0, len(code), 5))
        elif _CODE.fullmatch(code):
            codes.add(code)
        elif _CODE.fullmatch(better):
            mended[code] = better
        else:
            return Refusal(_no_code(word))
    understood = _codes(codes | set(mended.values()))
    if mended:
        pairs = ", ".join(
            f"{typed} has a letter where a digit stands: {code}?" for typed, code in mended.items()
        )
        return Question(pairs, (understood,))
    return understood


def _codes(codes: set[str]) -> Understood:
    return Understood(tuple(sorted(codes)), "", ", ".join(sorted(codes)))


def _no_code(word: str) -> str:
    return f"{shown(word)} is no code: a letter P, B, C or U, a digit 0 to 3 and three more signs, as P0172"
