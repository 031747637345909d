"""From a pasted block to readings: names matched to what is wanted, many values made one.

Nothing is taken silently. Every match is handed back with what was understood, asked or refused, the line it
came from and the text as it was typed, for a person to confirm one by one.
"""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from engine.catalogue import Catalogue, Reading
from engine.entry import Outcome, Question, Refusal, Understood, understand
from engine.entry.numbers import NO_FACTS
from engine.errors import shown
from engine.inert import inert
from engine.measured import Answer
from engine.pasting.layout import Cell, Layout, Series, lay_out
from engine.pasting.names import Named, Signal, Statistic, signal_of, understand_name, words_of
from engine.pasting.raw import decode
from engine.pasting.values import last_text, loop_of, one_number, samples_of

NO_UNITS: Mapping[str, str] = MappingProxyType({})
_STEADY: Mapping[str, tuple[float, float]] = {
    "off": (0.0, 0.0), "koeo": (0.0, 0.0), "crank": (50.0, 500.0), "idle": (400.0, 1500.0),
    "2500": (2300.0, 2700.0), "reload": (2300.0, 2700.0),
}  # fmt: skip
"""rpm that fits each engine state; outside it the person is told. Choice of this program."""


@dataclass(frozen=True, slots=True)
class Match:
    """A reading found in the block, to be confirmed by a person."""

    reading: str
    outcome: Outcome
    line: int
    """Line of the block, counted from 1; the heading's for a column."""
    typed: str
    """The value as it stood, or as it was made of many values, with its unit; inert."""
    name: str
    """The name as it stood; inert."""
    samples: int = 1
    rivals: tuple[str, ...] = ()
    """Other readings the same name can mean; when one is confirmed the others fall away."""


@dataclass(frozen=True, slots=True)
class Unmatched:
    """A line or column that no reading came of."""

    line: int
    text: str
    why: str


@dataclass(frozen=True, slots=True)
class Pasted:
    """What a block holds for the readings that are wanted now."""

    matches: tuple[Match, ...]
    """In the order of the block."""
    unmatched: tuple[Unmatched, ...]
    notices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Found:
    """A series whose name was understood."""

    series: Series
    named: Named


@dataclass(frozen=True, slots=True)
class _Way:
    """How blocks are read: what is wanted, by which tool, on which car."""

    wanted: tuple[tuple[Reading, Signal | None], ...]
    tool: str
    facts: Mapping[str, Answer]
    units: Mapping[str, str]


def read_block(
    text: str,
    catalogue: Catalogue,
    wanted: Sequence[str],
    state: str,
    *,
    tool: str = "CR",
    facts: Mapping[str, Answer] = NO_FACTS,
    units: Mapping[str, str] = NO_UNITS,
) -> Pasted:
    """Return the readings that a pasted block holds; never raises.

    Args:
        text: anything: a table with commas, semicolons or tabs and a heading, names with values, bytes.
        catalogue: gives the readings, their units and bounds.
        wanted: ids of the readings that may be filled from it; unknown ones are passed over.
        state: engine state in which the block was recorded (``idle``, ``2500`` …); only readings of that
            state, and those of any state, are filled.
        tool: instrument the block comes from.
        facts: answers about the car, for its banks and for bounds.
        units: reading id -> unit of a bare number on this van.
    """
    layout = lay_out(text)
    way = _Way(tuple(_wanted(catalogue, wanted, state, facts)), tool, facts, units)
    notices = list(layout.notices)
    rest = [*layout.rest]
    found = _decoded(layout, rest)
    matches: list[Match] = []
    for series in layout.series:
        direct = _by_label(series, way)
        named = understand_name(series.name, series.unit) if direct is None else None
        if direct is not None:
            matches.append(_match(direct, None, series, Named((direct.id,)), way, notices, ()))
        elif named is None:
            rest.append((series.line, series.name, "the name is not known"))
        else:
            found.append(_Found(series, named))
    for one in found:
        made = _matches(one, way, notices)
        matches += made
        if not made:
            rest.append((one.series.line, one.series.name, "not asked for in this engine state"))
    notices += _warnings(found, state)
    if not matches and not notices:
        notices.append("nothing in this block answers what is asked here")
    return _pasted(matches, rest, notices, way)


def _decoded(layout: Layout, rest: list[tuple[int, str, str]]) -> list[_Found]:
    """Return the values in the block's lines of bytes; lines that say nothing go to *rest*."""
    values, unread = decode(layout.raw)
    rest += unread
    gathered: dict[tuple[str, Named], list[Cell]] = {}
    for value in values:
        gathered.setdefault((value.title, value.named), []).append(Cell(value.line, value.text))
    return [
        _Found(Series(f"{title} (bytes)", "", cells[0].line, tuple(cells)), named)
        for (title, named), cells in gathered.items()
    ]


def _pasted(
    matches: Sequence[Match], rest: Sequence[tuple[int, str, str]], notices: Sequence[str], way: _Way
) -> Pasted:
    """Return everything in the order of the block, inert."""
    order = {reading.id: at for at, (reading, _) in enumerate(way.wanted)}
    unmatched = [Unmatched(line, inert(text, limit=120), why) for line, text, why in rest]
    return Pasted(
        tuple(sorted(_told_twice(matches), key=lambda m: (m.line, order[m.reading]))),
        tuple(sorted(unmatched, key=lambda one: (one.line, one.text))),
        tuple(dict.fromkeys(notices)),
    )


def _wanted(
    catalogue: Catalogue, wanted: Sequence[str], state: str, facts: Mapping[str, Answer]
) -> Iterator[tuple[Reading, Signal | None]]:
    for name in dict.fromkeys(wanted):
        reading = catalogue.readings.get(name)
        if reading is None or reading.state not in (state, "any") or reading.kind == "trace":
            continue
        if reading.place is not None and reading.place.startswith("b2") and facts.get("veh_banks") == 1.0:
            continue
        yield reading, signal_of(name)


# ------------------------------------------------------------------------------------------------ matching


def _by_label(series: Series, way: _Way) -> Reading | None:
    """Return the reading whose id or label the name spells out."""
    name = words_of(series.name)
    return next((r for r, _ in way.wanted if name and name in (words_of(r.id), words_of(r.label))), None)


def _matches(found: _Found, way: _Way, notices: list[str]) -> list[Match]:
    """Return a match for every wanted reading that the name can mean."""
    fitting = [
        (reading, signal)
        for reading, signal in way.wanted
        if signal is not None and way.tool in reading.tools and _fits(found, reading, signal)
    ]
    meanings = {(signal.quantity, reading.place) for reading, signal in fitting}
    made = []
    for reading, signal in fitting:
        own = (signal.quantity, reading.place)
        rivals = tuple(r.id for r, s in fitting if (s.quantity, r.place) != own) if len(meanings) > 1 else ()
        named = found.named
        if signal.frozen and not named.frozen and signal.quantity != "ff_dtc":
            named = replace(named, doubt="it may be live data and no freeze frame")
        made.append(_match(reading, signal, found.series, named, way, notices, rivals))
    return made


def _fits(found: _Found, reading: Reading, signal: Signal) -> bool:
    named, place = found.named, reading.place
    if signal.quantity not in named.quantities or (named.frozen and not signal.frozen):
        return False
    if place is not None and named.bank is not None and place[1] != str(named.bank):
        return False
    if place is not None and named.sensor is not None:
        sensor = place[3] if len(place) == 4 else "1"
        if signal.quantity in ("o2", "lambda", "wb_ma") and sensor != str(named.sensor):
            return False
    if named.statistic is not None:
        return (signal.statistic or "mean") == named.statistic or _is_extreme(reading, named.statistic)
    many = len(found.series.cells) > 1
    return many or signal.statistic in (None, "mean")


def _is_extreme(reading: Reading, statistic: Statistic) -> bool:
    return (reading.takes, statistic) in {("highest", "max"), ("lowest", "min")}


def _match(
    reading: Reading,
    signal: Signal | None,
    series: Series,
    named: Named,
    way: _Way,
    notices: list[str],
    rivals: tuple[str, ...],
) -> Match:
    typed: str | Refusal
    if reading.kind != "num":
        typed, samples = last_text(series, signal, codes=reading.kind == "codes"), 1
    else:
        typed, samples = one_number(reading, signal, named, series, notices)
    tool = way.tool if way.tool in reading.tools else (reading.tools[0] if reading.tools else way.tool)
    if isinstance(typed, Refusal):
        outcome: Outcome = typed
        words = series.cells[-1].text
    else:
        outcome = understand(typed, reading, unit=way.units.get(reading.id), tool=tool, facts=way.facts)
        words = typed
    if rivals or named.doubt:
        outcome = _asked(outcome, reading, series, named, bool(rivals))
    line = series.line if samples > 1 else series.cells[-1].line
    return Match(
        reading.id, outcome, line, inert(words, limit=120), inert(series.name, limit=120), samples, rivals
    )


def _told_twice(matches: Sequence[Match]) -> list[Match]:
    """Make a question of every reading that the block answers more than once under different names."""
    times = Counter(match.reading for match in matches)
    return [
        replace(
            match,
            outcome=Question(
                f"the block holds this {times[match.reading]} times: does {match.outcome.echo} count, "
                f"from {shown(match.name)}?",
                (match.outcome,),
            ),
        )
        if times[match.reading] > 1 and isinstance(match.outcome, Understood)
        else match
        for match in matches
    ]


def _asked(outcome: Outcome, reading: Reading, series: Series, named: Named, open_name: bool) -> Outcome:
    """Return a question about the name before the value counts."""
    if isinstance(outcome, Refusal):
        return outcome
    why = f"{shown(series.name)} can mean more than one reading" if open_name else ""
    asked = "; ".join(part for part in (why, named.doubt) if part)
    candidates = (outcome,) if isinstance(outcome, Understood) else outcome.candidates
    told = f"; {outcome.text}" if isinstance(outcome, Question) else ""
    return Question(f"{asked}: is it {reading.label}, {candidates[0].echo}?{told}", candidates)


# ----------------------------------------------------------------------------------------- what to warn of


def _warnings(found: Sequence[_Found], state: str) -> Iterator[str]:
    """Yield what in the block speaks against the engine state it is said to be from."""
    bounds = _STEADY.get(state)
    for one in found:
        if one.named.frozen:
            continue
        if "rpm" in one.named.quantities and bounds is not None:
            samples, _, _ = samples_of(one.series.cells[-200:])
            mean = statistics.fmean(samples) if samples else bounds[0]
            if not bounds[0] <= mean <= bounds[1]:
                yield f"engine speed in this block is about {mean:.0f} rpm: is it the right engine state?"
        if "loop" in one.named.quantities and (loop_of(one.series.cells[-1].text) or "").startswith("open"):
            yield "the fuel loop is open in this block: trims say nothing then"
