"""A recorded sensor signal at a step: chosen, drawn, measured, and put into the step's fields."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from engine.catalogue import Reading
from engine.entry import understand
from engine.errors import LaybyError
from engine.inert import inert
from engine.pasting import Match, Pasted
from engine.pasting.reading import Unmatched
from engine.traces.drawing import draw
from engine.traces.filling import fill_of, sensor_asked
from engine.traces.keeping import kept
from engine.traces.metrics import SensorMetrics, crossings_at, measure
from engine.traces.reading import Channel, Recording, load_recording
from engine.traces.verdicts import LineVerdict, judge_lines, pattern_of
from tui.hearing import Heard
from tui.keys import Key
from tui.screens.dialogs import PickPage, WritePage
from tui.screens.paste import MatchesPage
from tui.text import age, content, plain, signs, stacked
from tui.widgets.lines import KeyLine

if TYPE_CHECKING:
    from tui.screens.step import StepScreen

GRADES = {"ok": "good", "watch": "watch", "fail": "FAIL", "inconclusive": "not judged"}
ENDINGS = (".csv", ".tsv", ".txt", ".asc")
LISTED = 8
"""Files offered, the newest first."""


def asks_recording(reading: Reading) -> bool:
    """Tell whether a recorded signal would answer a reading."""
    return sensor_asked(reading.id) is not None


def recent_files(folders: Sequence[Path]) -> list[Path]:
    """Return the newest files of *folders* that look like recordings."""
    found: dict[Path, float] = {}
    for folder in dict.fromkeys(folders):
        try:
            for path in folder.iterdir():
                if path.suffix.lower() in ENDINGS and path.is_file():
                    found[path] = path.stat().st_mtime
        except OSError:
            continue
    return sorted(found, key=lambda path: -found[path])[:LISTED]


@dataclass(frozen=True, slots=True)
class Signal:
    """One column of a file, taken as one sensor."""

    sensor: str
    channel: Channel
    recording: Recording
    metrics: SensorMetrics
    file: str

    @property
    def is_downstream(self) -> bool:
        """Tell whether it sits behind the catalyst."""
        return self.sensor.endswith("s2")


class TracePage(ModalScreen[bool]):
    """The signal drawn, its numbers and verdicts; Enter fills the fields, Esc gives it up."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", show=False),
        Binding("escape,q", "close", show=False),
        Binding("pagedown", "page_down", show=False),
        Binding("pageup", "page_up", show=False),
    ]
    AUTO_FOCUS = "#trace-body"

    def __init__(self, screen: StepScreen, signals: Sequence[Signal]) -> None:
        super().__init__(classes="page")
        self.session, self.signals = screen.job_session, tuple(signals)

    def compose(self) -> ComposeResult:
        """Lay out heading, drawing and numbers, and the keys."""
        names = "; ".join(f"{s.channel.name} as {self.session.side(s.sensor)}" for s in self.signals)
        with Vertical(classes="sheet"):
            yield Static(content(f"Recorded: {names}", "bold"), classes="sheet-title", markup=False)
            with VerticalScroll(id="trace-body", can_focus=True):
                yield Static("", id="trace", markup=False)
            keys = (
                Key("enter", "fill the fields", "take"),
                Key("pagedown", "more", "page_down"),
                Key("escape", "close", "close"),
            )
            yield KeyLine(keys, id="keys")

    def on_resize(self, _: events.Resize) -> None:
        """Draw as wide as there is room."""
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        cells = min(self.query_one("#trace-body").region.width - 2, 86)  # beside a bar for scrolling
        if cells < 20:
            return
        rows = 9 if self.app.size.height < 30 else 14
        lines: list[Content] = []
        for signal in self.signals:
            lines += self._signal_lines(signal, cells, rows)
        self.query_one("#trace", Static).update(stacked(lines))

    def _signal_lines(self, signal: Signal, cells: int, rows: int) -> list[Content]:
        metrics, limits = signal.metrics, self.session.catalogue.limits
        turns = crossings_at(signal.recording.seconds, signal.channel.volts, hysteresis=metrics.hysteresis)
        drawing = draw(
            signal.recording.seconds, signal.channel.volts, turns, cells=cells, rows=rows,
            ascii_only=signs().is_ascii,
        )  # fmt: skip
        pattern = pattern_of(metrics, limits, downstream=signal.is_downstream)
        lines = [content(line) for line in drawing]
        lines.append(content(f"{pattern.name} ({GRADES[pattern.grade]}): {pattern.says}", "bold"))
        lines += [_verdict_line(v) for v in judge_lines(metrics, limits, downstream=signal.is_downstream)]
        if pattern.separate:
            lines.append(content(f"To separate: {pattern.separate}"))
        length = f"{metrics.samples} samples, {metrics.seconds:.4g} s, {metrics.rate:.4g} a second"
        told = (length, *signal.recording.notices, *metrics.notices)
        return [*lines, *(content(f"Mind: {words}" if words != length else words) for words in told)]

    def action_take(self) -> None:
        """Fill the fields."""
        self.dismiss(True)

    def action_close(self) -> None:
        """Give it up."""
        self.dismiss(False)

    def action_page_down(self) -> None:
        """Turn on."""
        self.query_one("#trace-body", VerticalScroll).scroll_page_down(animate=False)

    def action_page_up(self) -> None:
        """Turn back."""
        self.query_one("#trace-body", VerticalScroll).scroll_page_up(animate=False)


def _verdict_line(verdict: LineVerdict) -> Content:
    words = f"{verdict.label:20} {verdict.shown:>9}  {GRADES[verdict.grade]}"
    if verdict.words:
        words += f": {verdict.words}"
    return content(words, "" if verdict.grade in ("ok", "inconclusive") else "bold")


class TraceWay:
    """What a step screen does for its key t."""

    def __init__(self, screen: StepScreen) -> None:
        self.screen = screen
        self.session = screen.job_session

    def readings(self) -> list[Reading]:
        """Return the readings of this step that a recording would answer and that are still open."""
        done = self.screen.ways.closed()
        lines = self.screen.ask.lines
        return [
            line.reading for line in lines if line.reading.id not in done and asks_recording(line.reading)
        ]

    def ask(self) -> None:
        """Ask for the file: one of the newest, or a path."""
        if not self.readings():
            self.screen.ways.say("Nothing is open here that a recorded signal would answer.")
            return
        home, now = Path.home(), time.time()
        files = recent_files((Path.cwd(), self.screen.app.folders.root, home, home / "Downloads"))
        options = [
            (str(path), f"{inert(path.name, limit=50)}, {age(now - path.stat().st_mtime)}") for path in files
        ]
        options.append(("", "write its path"))
        note = "Text with columns of time and volts, as scope or code reader export it; at least 10 s."
        page = PickPage("Which recording?", options, note=note)
        self.screen.app.push_screen(page, self._file_picked)

    def _file_picked(self, picked: str | None) -> None:
        if picked:
            self._load(picked)
        elif picked is not None:
            page = WritePage(
                "Path of the recording", note="The whole path, or from the folder layby runs in."
            )
            self.screen.app.push_screen(page, lambda path: self._load(path) if path else None)

    def _load(self, path: str) -> None:
        file = Path(path.strip().strip("'\"")).expanduser()
        try:
            recording = load_recording(file)
        except LaybyError as error:
            self.screen.ways.say(f"! {str(error).replace(str(file), file.name)}")
            return
        sensors = list(dict.fromkeys(s for r in self.readings() if (s := sensor_asked(r.id)) is not None))
        pairs = matched(recording.channels, sensors)
        if pairs:
            self._show(file, recording, pairs)
        elif len(sensors) == 1:
            self._ask_column(file, recording, sensors[0])
        else:
            options = [(sensor, self.session.side(sensor)) for sensor in sensors]
            page = PickPage("Of which sensor is it?", options)
            self.screen.app.push_screen(page, lambda s: self._ask_column(file, recording, s) if s else None)

    def _ask_column(self, file: Path, recording: Recording, sensor: str) -> None:
        channels = recording.channels
        if len(channels) == 1:
            self._show(file, recording, [(sensor, channels[0])])
            return
        options = [(str(i), channel.name) for i, channel in enumerate(channels)]
        page = PickPage(f"Which column is {self.session.side(sensor)}?", options)
        self.screen.app.push_screen(
            page, lambda i: self._show(file, recording, [(sensor, channels[int(i)])]) if i else None
        )

    def _show(self, file: Path, recording: Recording, pairs: Sequence[tuple[str, Channel]]) -> None:
        try:
            signals = [
                Signal(sensor, channel, recording, measure(recording.seconds, channel.volts), file.name)
                for sensor, channel in pairs
            ]
        except LaybyError as error:
            self.screen.ways.say(f"! {error}")
            return
        page = TracePage(self.screen, signals)
        self.screen.app.push_screen(page, lambda taken: self._fill(signals) if taken else None)

    def _fill(self, signals: Sequence[Signal]) -> None:
        """Keep the recordings with the job, then have each value confirmed."""
        for signal in signals:
            data = kept(
                signal.recording.seconds, signal.channel.volts, signal.metrics,
                file=signal.file, column=signal.channel.name, sensor=signal.sensor,
            )  # fmt: skip
            if not self.screen.attempt(lambda data=data: self.session.walk.keep_trace(data)):  # type: ignore[misc]
                return
        text, pasted = self._pasted(signals)
        page = MatchesPage(text, pasted, self.session.catalogue.label, self._take)
        self.screen.app.push_screen(page, self.screen.ways.after_matches)

    def _pasted(self, signals: Sequence[Signal]) -> tuple[str, Pasted]:
        lines: list[str] = []
        matches, unmatched = [], []
        for signal in signals:
            for reading in self.readings():
                if sensor_asked(reading.id) != signal.sensor:
                    continue
                fill = fill_of(reading.id, signal.metrics, file=signal.file)
                assert fill is not None
                lines.append(f"{signal.file}, {signal.channel.name}: {fill.typed or fill.why}")
                if fill.why:
                    unmatched.append(Unmatched(len(lines), reading.label, fill.why))
                    continue
                outcome = understand(
                    fill.typed, reading, unit=reading.unit, tool=self.session.instrument(reading),
                    facts=self.session.facts(),
                )  # fmt: skip
                name = plain(signal.channel.name)
                matches.append(
                    Match(reading.id, outcome, len(lines), fill.typed, name, signal.metrics.samples)
                )
        notices = tuple(notice for signal in signals for notice in signal.metrics.notices)
        return "\n".join(lines), Pasted(tuple(matches), tuple(unmatched), tuple(dict.fromkeys(notices)))

    def _take(self, match: Match, heard: Heard) -> str:
        return self.screen.ways.take_match(match, heard)


def matched(channels: Sequence[Channel], sensors: Sequence[str]) -> list[tuple[str, Channel]]:
    """Return which column is which sensor, as far as the headings say so."""
    pairs = []
    for sensor in sensors:
        exact = [c for c in channels if c.sensor == sensor]
        alike = [c for c in channels if c.sensor == sensor[2:]]
        same_place = [s for s in sensors if s[2:] == sensor[2:]]
        if exact or (len(alike) == 1 and len(same_place) == 1):
            pairs.append((sensor, (exact or alike)[0]))
    return pairs
