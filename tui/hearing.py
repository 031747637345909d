"""What the engine makes of something typed or picked, in the form the screens show it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.catalogue import Reading
from engine.entry import Outcome, Question, Refusal, Understood, understand
from engine.measured import Answer


@dataclass(frozen=True, slots=True)
class Heard:
    """What the engine makes of something typed or picked: an answer, a question, or a refusal."""

    answer: Answer | None = None
    echo: str = ""
    """What was understood, with its unit."""
    flagged: bool = False
    question: str = ""
    candidates: tuple[tuple[str, Heard], ...] = ()
    """What the question is about: words, and what is taken when that is meant; one stands for yes or no."""
    takes_yes: bool = False
    """Whether "yes" means the first candidate: it is plain what was typed, and it is unlikely."""
    refusal: str = ""

    def decided(self, index: int) -> Heard:
        """Return what is taken when this candidate is meant."""
        return self.candidates[index][1]


def hear(
    reading: Reading, typed: str, *, unit: str | None, tool: str | None, facts: Mapping[str, Answer]
) -> Heard:
    """Return what typed text means for a reading."""
    return heard_of(understand(typed, reading, unit=unit, tool=tool, facts=facts))


def hear_choice(reading: Reading, values: Sequence[str]) -> Heard:
    """Return what picked answers mean; an unlikely one is not asked about, it was picked by its words."""
    labels = [choice.label for value in values if (choice := reading.choice(value)) is not None]
    answer: Answer = tuple(sorted(values)) if reading.kind == "many" else values[0]
    return Heard(answer=answer, echo=", ".join(labels))


def heard_of(outcome: Outcome) -> Heard:
    """Return what the engine made of an entry, as the screens show it."""
    match outcome:
        case Understood(answer, _, echo, flagged):
            return Heard(answer=answer, echo=echo, flagged=flagged)
        case Question(text, candidates, about):
            meant = tuple((candidate.echo, heard_of(candidate)) for candidate in candidates)
            takes_yes = about == "likelihood" or len(candidates) == 1
            return Heard(question=text, candidates=meant, takes_yes=takes_yes)
        case Refusal(text):
            return Heard(refusal=text)
