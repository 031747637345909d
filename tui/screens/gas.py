"""The gas page: the gases of the job at idle and 2500 rpm, what they say together and what they cannot."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from engine.catalogue import Reading
from engine.gases.analysis import Where, analyse
from engine.gases.from_job import GASES, STATES, fuel_of, reading_of, samples_of
from engine.gases.telling import told
from tui.keys import Key
from tui.screens.figures import Figure, FigurePage
from tui.session import JobSession
from tui.text import COLUMN, content, hanging, stacked
from tui.widgets.entries import Slot
from tui.widgets.lines import KeyLine

if TYPE_CHECKING:
    from tui.screens.step import StepScreen

NAMES = {"co": "CO", "co2": "CO₂", "o2": "O₂", "hc": "HC", "no": "NO", "lambda": "lambda shown"}
STATE_WORDS = {"idle": "idle", "2500": "2500 rpm"}
NOTE = "Carbon monoxide kills: outdoors or extracted. Probe 30 cm in, analyser zeroed and leak-checked."


def asks_gas(reading: Reading) -> bool:
    """Tell whether a reading is one of the gases of this page."""
    return any(reading.id == reading_of(gas, state) for gas in GASES for state in STATES)


class GasPage(ModalScreen[int]):
    """Shows both samples; ``t`` types what the step asks for, ``c`` says where the probe is."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,enter", "close", show=False),
        Binding("t", "type", show=False),
        Binding("c", "where", show=False),
        Binding("pagedown", "page_down", show=False),
        Binding("pageup", "page_up", show=False),
    ]
    AUTO_FOCUS = "#gas-body"

    def __init__(self, session: JobSession, step: StepScreen | None = None) -> None:
        """Take the job, and the step that asks, if one does."""
        super().__init__(classes="page")
        self.session, self.step = session, step
        self.where: Where = "after"
        self.taken = 0

    def compose(self) -> ComposeResult:
        """Lay out heading, table and words, and the keys."""
        with Vertical(classes="sheet"):
            yield Static(content("Exhaust gas", "bold"), classes="sheet-title", markup=False)
            with VerticalScroll(id="gas-body", can_focus=True):
                yield Static("", id="gas", markup=False)
            yield KeyLine((), id="keys")

    def on_mount(self) -> None:
        """Draw."""
        self._draw()

    def on_resize(self, _: events.Resize) -> None:
        """Draw as wide as there is room."""
        self.call_after_refresh(self._draw)

    def on_screen_resume(self) -> None:
        """Coming back from a field."""
        if self.is_mounted:
            self._draw()

    # ------------------------------------------------------------- drawing

    def _draw(self) -> None:
        situation = self.session.walk.state.situation()
        lines = [content(NOTE), content(""), *self._table()]
        for state, sample in samples_of(situation).items():
            head = f"{STATE_WORDS[state]}, {self.where} the catalyst"
            if sample is None:
                lines.append(content(f"{head}: CO, CO₂, O₂ and HC are needed together.", "bold"))
                continue
            lines.append(content(head, "bold"))
            before = ""
            for label, line in told(analyse(sample, fuel=fuel_of(situation), where=self.where)):
                lines.append(hanging("" if label == before else label, line, indent=12, cells=COLUMN))
                before = label
        lines.append(content("Rules of thumb of the trade; the maker's data and local limits come first."))
        self.query_one("#gas", Static).update(stacked(lines))
        self.call_after_refresh(lambda: self.query_one("#keys", KeyLine).show(self._keys()))

    def _table(self) -> list[Content]:
        rows = [content(f"{'':14}" + "".join(f"{STATE_WORDS[state]:>14}" for state in STATES), "bold")]
        for gas in GASES:
            cells = "".join(f"{self._value(reading_of(gas, state)):>14}" for state in STATES)
            rows.append(content(f"{NAMES[gas]:14}{cells}"))
        return [*rows, content("")]

    def _value(self, name: str) -> str:
        value = self.session.walk.state.values().get(name)
        return "-" if value is None else self.session.words(name, value.answer)

    def _keys(self) -> tuple[Key, ...]:
        other = "before" if self.where == "after" else "after"
        keys = [
            Key("escape", "back", "close"),
            Key("c", f"probe {other} catalyst", "where"),
        ]
        if self.query_one("#gas-body").max_scroll_y > 0:
            keys.append(Key("pagedown", "more", "page_down"))
        if self._open_slots():
            keys.insert(0, Key("t", "type what is asked", "type"))
        return tuple(keys)

    # ------------------------------------------------------------- commands

    def _open_slots(self) -> list[Slot]:
        if self.step is None:
            return []
        return [slot for slot in self.step.ways.open_slots() if asks_gas(slot.reading)]

    def action_type(self) -> None:
        """Ask the next gas that the step asks and nobody has typed."""
        slots = self._open_slots()
        if not slots:
            return
        slot = slots[0]
        reading = slot.reading
        page = FigurePage(
            reading,
            self.session.settings.unit(reading.unit),
            lambda typed: self.session.hear(reading, typed),
            note=f"{len(slots)} to type; as the analyser shows it, settled for 30 s.",
            asks_source=False,
        )
        self.app.push_screen(page, lambda figure: self._typed(slot, figure))

    def _typed(self, slot: Slot, figure: Figure | None) -> None:
        if figure is None or self.step is None:
            return
        if not self.step.record(slot, figure.heard, figure.typed):
            return
        self.taken += 1
        self.step.ways.fill_in(slot, figure.typed)
        self._draw()
        self.action_type()

    def action_where(self) -> None:
        """The probe sits on the other side of the catalyst, or there is none."""
        self.where = "before" if self.where == "after" else "after"
        self._draw()

    def action_page_down(self) -> None:
        """Turn on."""
        self.query_one("#gas-body", VerticalScroll).scroll_page_down(animate=False)

    def action_page_up(self) -> None:
        """Turn back."""
        self.query_one("#gas-body", VerticalScroll).scroll_page_up(animate=False)

    def action_close(self) -> None:
        """Back, with how many were typed; when the step has all it asked, the walk goes on."""
        self.dismiss(self.taken)
