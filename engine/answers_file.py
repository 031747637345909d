"""Answers for a walk without a screen, from a YAML or JSON file and from ``--car KEY=VALUE``.

Nothing in a file raises: what is wrong is a ``Problem`` with its place, all of them in one go. Numbers and
choices count as in the catalogue; what is unlikely is taken and named in *flagged*.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from engine.catalogue import Catalogue, Reading
from engine.entry import Outcome, Question, Refusal, Understood, nothing_found, understand, weigh_number
from engine.entry.words import alike, several
from engine.errors import DataPath, Problem, did_you_mean, shown, where
from engine.inert import inert
from engine.measured import Answer
from engine.yaml_text import Data, Document, read_yaml

AFTER_REPAIR = "after_repair"
SIDE = "side"
_SIDES = re.compile(r"b[12](?:s[123])?")
_SHORT = ("veh_", "kit_", "spec_")
"""Facts may be named without these in ``--car``."""
_COMMAND_LINE = "--car"


@dataclass(frozen=True, slots=True)
class FileAnswer:
    """One take of a reading as a file gives it."""

    answer: Answer
    typed: str
    """As it stands in the file, made inert."""
    flagged: bool = False
    """Unlikely, and taken all the same."""


@dataclass(frozen=True, slots=True)
class Answers:
    """Everything a file and the command line say."""

    answers: Mapping[str, tuple[FileAnswer, ...]]
    """Takes by reading, in the order of the file; what the command line says comes last."""
    after_repair: Mapping[str, tuple[FileAnswer, ...]]
    """Takes that prove the repair."""
    flagged: tuple[str, ...]
    """Readings with an unlikely take, sorted."""
    problems: tuple[Problem, ...]
    """What is wrong; nothing may be walked when there is anything."""
    side: str | None = None
    """The bank or sensor that a procedure is walked for."""


def read_answers(source: bytes, file: str, catalogue: Catalogue, car: Sequence[str] = ()) -> Answers:
    """Read the answers of a file and of the command line.

    Args:
        source: a YAML or JSON map of reading ids; empty means that nothing was measured.
        file: its name in problems.
        catalogue: what can be read.
        car: ``KEY=VALUE`` each; they win over the file, the last over the ones before. A fact may be named
            without ``veh_``, ``kit_`` or ``spec_``; ``side`` names the side of a procedure.
    """
    reader = _Reader(catalogue)
    document = read_yaml(source, file)
    reader.problems += [problem for problem in document.problems if problem.level == "error"]
    entries, after, side = reader.sort_out(document)
    said, said_side = reader.sort_out_car(car)
    facts = {name: takes[-1].answer for name, takes in reader.without_numbers([*entries, *said]).items()}
    answers = reader.read(entries, facts)
    on_command_line = reader.read(said, facts)
    after_facts = {name: takes[-1].answer for name, takes in reader.without_numbers(after).items()}
    proof = reader.read(after, {**facts, **after_facts})
    merged = {name: takes for name, takes in answers.items() if name not in on_command_line} | on_command_line
    flagged = {
        name for each in (merged, proof) for name, takes in each.items() if any(t.flagged for t in takes)
    }
    unreadable = {(problem.line, problem.column) for problem in document.problems}
    problems = (
        problem
        for problem in reader.problems
        if problem in document.problems
        or problem.file != file
        or (problem.line, problem.column) not in unreadable
    )
    return Answers(merged, proof, tuple(sorted(flagged)), tuple(sorted(set(problems))), said_side or side)


@dataclass(frozen=True, slots=True)
class _Entry:
    """One reading's value, with how to complain about a place in it."""

    reading: Reading
    value: Data
    path: DataPath
    complain: Callable[[DataPath, str], Problem]


class _Reader:
    """Turns plain data into answers and collects what is wrong."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self.problems: list[Problem] = []

    # ------------------------------------------------------------------------------- what is given

    def sort_out(self, document: Document) -> tuple[list[_Entry], list[_Entry], str | None]:
        """Return the entries of a file, those after the repair, and the side it names."""
        if document.data is None:
            return [], [], None
        if not isinstance(document.data, dict):
            say = f"{shown(document.data)}: write a map, reading id: value"
            self.problems.append(document.problem((), say))
            return [], [], None
        given = dict(document.data)
        side = None
        if SIDE in given:
            found = given.pop(SIDE)
            side = _side(found)
            if side is None:
                self.problems.append(document.problem((SIDE,), _no_side(found)))
        after = given.pop(AFTER_REPAIR, None)
        after = {} if after is None else after
        if not isinstance(after, dict):
            say = f"{shown(after)}: write a map, reading id: value, of what was measured after the repair"
            self.problems.append(document.problem((AFTER_REPAIR,), say))
            after = {}
        return self._entries(given, (), document), self._entries(after, (AFTER_REPAIR,), document), side

    def _entries(self, given: Mapping[str, Data], above: DataPath, document: Document) -> list[_Entry]:
        entries = []
        for name, value in given.items():
            path = (*above, name)
            reading = self.catalogue.readings.get(name)
            if reading is None:
                self.problems.append(document.key_problem(path, self._unknown(name)))
            else:
                entries.append(_Entry(reading, value, path, document.problem))
        return entries

    def sort_out_car(self, car: Sequence[str]) -> tuple[list[_Entry], str | None]:
        """Return the entries of the command line, the last of each reading, and the side it names."""
        entries: dict[str, _Entry] = {}
        side: str | None = None
        for number, said in enumerate(car, 1):
            name, equals, value = said.partition("=")
            name, column = inert(name).strip(), len(name) + 2
            reading = self._by_short_name(name)
            if not equals:
                self._car_problem(number, 1, name, f"{shown(said)}: write KEY=VALUE, as banks=2")
            elif name == SIDE:
                side = _side(value.strip())
                if side is None:
                    self._car_problem(number, column, name, _no_side(value))
            elif reading is None:
                self._car_problem(number, 1, name, self._unknown(name))
            else:

                def complain(path: DataPath, say: str, number: int = number, column: int = column) -> Problem:
                    return _at(number, column, str(path[0]), say)

                entries[reading.id] = _Entry(reading, _from_command_line(value), (reading.id,), complain)
        return list(entries.values()), side

    def _by_short_name(self, name: str) -> Reading | None:
        names = (name, *(prefix + name for prefix in _SHORT))
        return next((found for each in names if (found := self.catalogue.readings.get(each))), None)

    def _car_problem(self, number: int, column: int, name: str, say: str) -> None:
        self.problems.append(_at(number, column, name, say))

    def _unknown(self, name: str) -> str:
        if (meant := self._by_short_name(name)) is not None:
            return f"no reading is called {shown(name)} (did you mean '{meant.id}'?)"
        if name in self.catalogue.worked:
            return f"{shown(name)} is worked out from readings: give the readings themselves"
        return f"no reading is called {shown(name)}{did_you_mean(name, self.catalogue.readings)}"

    # ------------------------------------------------------------------------------- what it means

    def without_numbers(self, entries: Sequence[_Entry]) -> dict[str, tuple[FileAnswer, ...]]:
        """Return the answers of all choices, for bounds that depend on them; problems are found later."""
        quiet = _Reader(self.catalogue)
        return quiet.read([entry for entry in entries if entry.reading.kind != "num"], {})

    def read(
        self, entries: Sequence[_Entry], facts: Mapping[str, Answer]
    ) -> dict[str, tuple[FileAnswer, ...]]:
        """Return the takes of every entry that could be read."""
        answers = {}
        for entry in entries:
            takes = self._takes(entry, facts)
            if takes:
                answers[entry.reading.id] = takes
        return answers

    def _takes(self, entry: _Entry, facts: Mapping[str, Answer]) -> tuple[FileAnswer, ...]:
        given: list[tuple[Data, DataPath]] = [(entry.value, entry.path)]
        if isinstance(entry.value, dict):
            takes = entry.value.get("takes")
            if not isinstance(takes, list) or not takes:
                say = "write the takes as a list with at least one value, {takes: [1, 2]}"
                self.problems.append(entry.complain(entry.path, say))
                return ()
            for key in entry.value.keys() - {"takes"}:
                say = f"{shown(key)} is not known here: a map holds takes and nothing else, {{takes: [1, 2]}}"
                self.problems.append(entry.complain((*entry.path, key), say))
            given = [(take, (*entry.path, "takes", number)) for number, take in enumerate(takes)]
        answers = []
        for value, path in given:
            outcome = _understood(value, entry.reading, facts)
            if isinstance(outcome, str):
                self.problems.append(entry.complain(path, outcome))
            else:
                answers.append(outcome)
        return tuple(answers)


def _side(value: Data) -> str | None:
    return value if isinstance(value, str) and _SIDES.fullmatch(value) else None


def _no_side(value: Data) -> str:
    return f"{shown(value)} is no side: write b1 or b2 for a bank, b1s1 for a sensor"


def _at(number: int, column: int, name: str, say: str) -> Problem:
    """Return a problem of the command line: the line counts the options, the column their characters."""
    return Problem(_COMMAND_LINE, number, column, "error", where((name,)), say)


def _from_command_line(value: str) -> Data:
    """Return a typed value as a file would hold it: ``true``, ``false``, a list in brackets, or a text."""
    value = value.strip()
    if value.startswith("[") and value.endswith("]"):
        return [word.strip() for word in value[1:-1].split(",") if word.strip()]
    return {"true": True, "false": False}.get(value.lower(), value)


# ------------------------------------------------------------------------------------------ one value


def _understood(value: Data, reading: Reading, facts: Mapping[str, Answer]) -> FileAnswer | str:
    """Return one take, or the line that says what is wrong with it."""
    if value is None:
        return "nothing stands here: leave the line out when it was not measured"
    if isinstance(value, dict):
        return f"{shown(value)}: write the value itself"
    match reading.kind:
        case "num":
            outcome = _number(value, reading, facts)
        case "one":
            outcome = _one(value, reading)
        case "many" | "codes":
            outcome = _several(value, reading)
        case "trace":
            outcome = (
                understand(value, reading) if isinstance(value, str) else "write the name of the recording"
            )
    return outcome if isinstance(outcome, str) else _taken(outcome, value)


def _taken(outcome: Outcome, value: Data) -> FileAnswer | str:
    """Return an outcome as a take; a question that only asks *really?* is answered with yes."""
    typed = inert(", ".join(map(str, value)) if isinstance(value, list) else str(value), limit=200)
    match outcome:
        case Understood(answer, _, _, flagged):
            return FileAnswer(answer, typed, flagged)
        case Question(text, candidates, about):
            if about == "likelihood":
                return FileAnswer(candidates[0].answer, typed, flagged=True)
            return text
        case Refusal(text):
            return text


def _number(value: Data, reading: Reading, facts: Mapping[str, Answer]) -> Outcome | str:
    if isinstance(value, bool):
        return f"{shown(value)} is no number: write it in {reading.unit or 'digits'}"
    if isinstance(value, list):
        return "one number is wanted; for several takes write {takes: [1, 2]}"
    if isinstance(value, str):
        return understand(value, reading, facts=facts)
    if not isinstance(value, int | float) or not math.isfinite(value):
        return f"{shown(value)} is no number that can be measured"
    return weigh_number(float(value), reading, facts=facts)


def _one(value: Data, reading: Reading) -> Outcome | str:
    if isinstance(value, list):
        return f"one choice is wanted, not a list: {_allowed(reading)}"
    return _choice(value, reading)


def _several(value: Data, reading: Reading) -> Outcome | str:
    if isinstance(value, bool | int | float):
        return f"{shown(value)}: write a list, [] when you looked and there was nothing"
    if reading.kind == "codes":
        return _codes(value, reading)
    words = value.split(",") if isinstance(value, str) else value if isinstance(value, list) else [value]
    if not words:
        return Understood(nothing_found(reading), "", "none")
    choices = []
    for word in words:
        outcome = _choice(word, reading)
        if isinstance(outcome, str):
            return outcome
        if isinstance(outcome, Understood) and (choice := reading.choice(str(outcome.answer))) is not None:
            choices.append(choice)
    return several(choices)


def _codes(value: Data, reading: Reading) -> Outcome | str:
    if isinstance(value, str):
        return understand(value, reading)
    if not isinstance(value, list) or not all(isinstance(word, str) and word.strip() for word in value):
        return "write the codes as a list of texts, [P0172, P0300], or [] when there were none"
    return understand(", ".join(map(str, value)), reading) if value else Understood((), "", "no codes")


def _choice(value: Data, reading: Reading) -> Outcome | str:
    """Return the choice that a word of a file names; only its value counts, not its number or its start."""
    word = (
        ("yes" if value else "no")
        if isinstance(value, bool)
        else f"{value:g}"
        if isinstance(value, int | float)
        else value
    )
    if not isinstance(word, str):
        return f"{shown(word)}: write one of {_allowed(reading)}"
    found = next((choice for choice in reading.choices if alike(choice.value) == alike(word)), None)
    if found is not None:
        return Understood(found.value, "", found.label)
    values = [choice.value for choice in reading.choices]
    return f"{shown(value)} is none of the choices{did_you_mean(word, values)}: {_allowed(reading)}"


def _allowed(reading: Reading) -> str:
    return ", ".join(choice.value for choice in reading.choices)
