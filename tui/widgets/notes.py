"""What stands in and beside the fields of a step: last values, limits, units, the answers of a demo car."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

from textual.content import Content

from engine.asking import Ask, Line, cautions_shown
from engine.catalogue import Reading
from engine.situation import Point
from tui.session import JobSession
from tui.text import age, content
from tui.widgets.entries import FOOT, row_of
from tui.widgets.limits import band_words, judged_quantities, limit_words, short_label


class StepNotes:
    """Words for the entry lines of one step."""

    def __init__(self, session: JobSession, ask: Ask, lines: Sequence[Line]) -> None:
        self.session = session
        self.ask = ask
        self.lines = tuple(lines)

    def hints(self) -> dict[str, str]:
        """Return what stands in the empty fields."""
        hints = {}
        for line in self.lines:
            demo = self.demo_text(line.reading)
            if line.stale is not None:
                hints[line.reading.id] = self.session.words(line.reading.id, line.stale.answer)
            elif demo:
                hints[line.reading.id] = f"{demo} demo"
        return hints

    def demo_text(self, reading: Reading) -> str:
        """Return what a demonstration car shows for a reading, as it would be typed."""
        session = self.session
        if session.demo is None:
            return ""
        return session.demo.typed(reading, after_repair=session.walk.state.proving)

    def starts(self) -> dict[str, tuple[str, ...]]:
        """Return the answers that lists of answers point at from the start."""
        starts = {}
        for line in self.lines:
            demo = self.demo_text(line.reading)
            if line.stale is not None:
                kept = line.stale.answer
                starts[line.reading.id] = kept if isinstance(kept, tuple) else (str(kept),)
            elif demo:
                starts[line.reading.id] = tuple(part.strip() for part in demo.split(","))
        return starts

    def units(self) -> dict[str, str]:
        """Return the unit of a bare number for each reading."""
        settings = self.session.settings
        return {line.reading.id: settings.unit(line.reading.unit) for line in self.lines}

    def notes(self) -> dict[str, str]:
        """Say beside each field its limits, or the value that went stale, or what the demo car shows."""
        situation = self.session.walk.state.situation()
        notes = {}
        for line in self.lines:
            name = line.reading.id
            limits = limit_words(self.ask.step, situation, name)
            if line.stale is not None:
                notes[name] = f"{age(time.time() - line.stale.at)}; Enter keeps it"
            elif line.again:
                takes = self.session.walk.state.live_takes(name)
                notes[name] = "before: " + ", ".join(self.session.words(name, t.answer) for t in takes)
            else:
                notes[name] = limits
        return notes | self.row_notes()

    def row_notes(self) -> dict[str, str]:
        """Say beside each row of a grid what is worked out of it, with its limits."""
        session = self.session
        situation = session.walk.state.situation()
        point = Point(situation)
        rows: dict[str, set[str]] = {}
        for line in self.lines:
            rows.setdefault(row_of(line.reading), set()).add(line.reading.id)
        notes: dict[str, str] = {}
        for quantity in judged_quantities(self.ask.step):
            base = situation.catalogue.base_readings(quantity)
            for where, names in rows.items():
                if len(base) < 2 or not base <= names | {quantity}:
                    continue
                value = point.answer(quantity)
                label = short_label(situation.catalogue.label(quantity), situation.catalogue.words.values())
                shown = f"{label} {session.words(quantity, value)}" if value is not None else label
                number = value if isinstance(value, float) else None
                figures, source = band_words(self.ask.step, situation, quantity, number)
                notes.setdefault(where, f"{shown}\n{figures}")
                notes.setdefault(FOOT, f"Limits: {source}" if source else "")
        return notes


def how_lines(session: JobSession, ask: Ask) -> list[Content]:
    """Return where and with what the readings of a step are taken, and what the cautions say in full."""
    state, catalogue = session.walk.state, session.catalogue
    lines: list[Content] = [content("How", "bold"), content(ask.step.how or ask.step.do), content("")]
    for line in ask.lines:
        tools: Mapping[str, str] = {
            tool: catalogue.instruments[tool].label if tool in catalogue.instruments else tool
            for tool in line.reading.tools
        }
        where = catalogue.words.get(line.reading.state, line.reading.state)
        lines.append(content(f"{line.reading.label}: {' or '.join(tools.values())}; {where}"))
    for caution in cautions_shown(state, ask.step, state.situation()):
        lines += [content(""), content(caution.line, "bold"), content(caution.say)]
    return lines
