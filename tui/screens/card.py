"""The card of a new job: everything on it may stay empty; Enter goes to the first question."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.screen import Screen
from textual.widgets import Input, Static

from engine.job import JobCard
from tui.keys import Key
from tui.text import content
from tui.widgets.cycle import Cycle
from tui.widgets.lines import HeadLine, KeyLine

if TYPE_CHECKING:
    from tui.app import LaybyApp

FACTS: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = (
    ("veh_banks", "Banks", (("", "not known"), ("1", "1"), ("2", "2"))),
    (
        "veh_fuel_system",
        "Injection",
        (
            ("", "not known"),
            ("port_return", "port, return"),
            ("port_returnless", "port, no return"),
            ("direct", "direct"),
        ),
    ),
    (
        "veh_induction",
        "Induction",
        (("", "not known"), ("na", "none"), ("turbo", "turbo"), ("supercharged", "supercharged")),
    ),
    (
        "veh_air_metering",
        "Air is known by",
        (("", "not known"), ("maf", "air meter"), ("map", "pressure"), ("both", "both")),
    ),
    (
        "veh_upstream_type",
        "Upstream sensors",
        (("", "not known"), ("narrow", "narrow-band"), ("wide", "wide-band")),
    ),
    ("veh_throttle", "Throttle", (("", "not known"), ("cable", "cable"), ("electronic", "electronic"))),
)
"""Facts about the car: reading, words, answers; the first answer leaves it open."""


@dataclass(frozen=True, slots=True)
class NewJob:
    """What the card says."""

    card: JobCard
    facts: tuple[tuple[str, str], ...]
    """Reading and what was said, as typed."""


class CardScreen(Screen[None]):
    """A new job's card."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "begin", show=False, priority=True),
        Binding("escape", "close", show=False),
        Binding("down", "app.focus_next", show=False),
        Binding("up", "app.focus_previous", show=False),
        Binding("f1", "help", show=False),
    ]
    AUTO_FOCUS = "#car"
    KEYS: ClassVar[tuple[Key, ...]] = (
        Key("enter", "begin", "begin", "Begin the job with what stands here"),
        Key("down", "next line", "app.focus_next"),
        Key("space", "change", "turn"),
        Key("escape", "back", "close"),
    )

    app: LaybyApp

    def compose(self) -> ComposeResult:
        """Lay out the card."""
        yield HeadLine("layby: new job", "all of it may stay empty", id="head")
        with VerticalScroll(id="body", can_focus=False):
            for name, label, hint in (
                ("car", "Car in a few words", "grey hatchback 1.6"),
                ("complaint", "Customer's words", "hesitates when pulling away"),
                ("litres", "Engine size, L", "1.6"),
                ("who", "Mechanic", ""),
            ):
                with Horizontal(classes="card-line"):
                    yield Static(content(label), classes="card-label", markup=False)
                    value = self.app.settings.who if name == "who" else ""
                    yield Input(
                        value, placeholder=hint, compact=True, id=name, max_length=200, classes="wide-field"
                    )
            yield Static(
                content("What the papers say (unknown is fine: it is asked when it matters)", "$quiet"),
                classes="card-head",
                markup=False,
            )
            for reading, label, options in FACTS:
                yield Cycle(label, options, id=reading.replace("_", "-"))
            yield Cycle(
                "For a learner", (("", "no"), ("learner", "yes: why, predictions, score")), id="learner"
            )
            yield Static("", id="problem", markup=False)
        yield KeyLine(self.KEYS, id="keys")

    @on(Input.Submitted)
    def _submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.action_begin()

    def action_begin(self) -> None:
        """Begin the job."""
        facts = [
            (reading, self.query_one(f"#{reading.replace('_', '-')}", Cycle).value) for reading, _, _ in FACTS
        ]
        facts.append(("veh_engine_litres", self._text("litres")))
        card = JobCard(
            car=self._text("car"),
            complaint=self._text("complaint"),
            who=self._text("who"),
            learner=self.query_one("#learner", Cycle).value == "learner",
        )
        self.app.begin_job(NewJob(card, tuple((name, said) for name, said in facts if said)))

    def say(self, words: str) -> None:
        """Say why the job cannot begin."""
        self.query_one("#problem", Static).update(content(words))

    def _text(self, name: str) -> str:
        return self.query_one(f"#{name}", Input).value.strip()

    def action_close(self) -> None:
        """Back to the start page."""
        self.app.show_start()

    def action_turn(self) -> None:
        """Change the line at hand."""
        if isinstance(self.focused, Cycle):
            self.focused.action_turn(1)

    def action_help(self) -> None:
        """Show all keys."""
        self.app.show_keys("Keys on the card", self.KEYS)
