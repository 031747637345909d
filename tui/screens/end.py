"""The conclusion, or an honest open end: what, how firm, why, what now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from textwrap import wrap
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from engine.catalogue import Drive
from engine.concluding import drive_words
from engine.proving import UNPROVEN
from tui.keys import Key, bindings
from tui.screens.base import JobScreen
from tui.screens.dialogs import WritePage
from tui.session import JobSession
from tui.text import COLUMN, RANKS, content, cut, hanging, joined, padded, plain, stacked

_INDENT = 18


DRIVE_WORDS = (
    (Drive.DO_NOT_DRIVE.value, "it is not driven"),
    (Drive.WITH_CARE.value, "it is driven with care"),
    (Drive.MAY_DRIVE.value, "it may be driven"),
)
"""What a person may decide."""


class EndScreen(JobScreen):
    """Where the walk has come to."""

    KEYS: ClassVar[tuple[Key, ...]] = (
        Key(
            "enter",
            "repaired",
            "repaired",
            "It is repaired: what was done, then the proof readings are asked anew",
        ),
        Key("e", "report", "report", "The report: read it, save it"),
        Key("m", "may drive?", "drive", "May the car be driven? Worked out; a person decides"),
        Key("d", "proof later", "due", "Repaired, the proof put off until a day"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(KEYS)]
    SHOWS_SUSPECTS = False
    HERE = "conclusion"

    def __init__(self, session: JobSession) -> None:
        super().__init__(session)
        self._cells = COLUMN
        """Cells for which everything was laid out last."""

    def compose_body(self) -> ComposeResult:
        """Lay out the conclusion or the open end."""
        yield Static(stacked(self.lines()), id="end", markup=False)

    def compose_foot(self) -> ComposeResult:
        """Say what the next page holds while it is out of sight."""
        yield Static("", id="below", markup=False)

    def refresh_keys(self) -> None:
        """Lay everything out for the width there is; say which keys work and what is still below."""
        if not self.has_frame():
            return
        cells = self.body_cells()
        if cells > 0 and cells != self._cells:
            self._cells = cells
            self.query_one("#end", Static).update(stacked(self.lines()))
            self.call_after_refresh(super().refresh_keys)
        super().refresh_keys()
        page, below = self.page_key(), self.query_one("#below", Static)
        is_more = page is not None and page.key == "pagedown"
        below.display = is_more
        below.update(content(" Below: not condemned and why, not checked, what testing saved", "$quiet"))

    def lines(self) -> list[Content]:
        """Return everything that is to be said."""
        data = self.job_session.gathered()
        head = self._status_lines(data)
        if data["found"] is not None:
            return [*head, *self._found(data)]
        return [*head, *self._open(data)]

    def _row(self, label: str, text: str) -> Content:
        return hanging(label, text, indent=_INDENT, cells=self._cells)

    def _listed(self, text: str) -> Content:
        """Return one entry of a list, its further lines set in."""
        lines = wrap(plain(text), max(self._cells - 4, 20)) or [""]
        return stacked([content(f"  {lines[0]}"), *(content(f"    {line}") for line in lines[1:])])

    def _status_lines(self, data: Mapping[str, Any]) -> list[Content]:
        if data["repair"] is None:
            return []
        lines = [joined([("Now: ", "bold"), (str(data["status"]), "bold")])]
        if self.is_unproven():
            lines.append(content("Enter asks the proof readings again whenever the car is there."))
        return lines

    def _found(self, data: Mapping[str, Any]) -> list[Content]:
        found = data["found"]
        name = (found["labels"][0] if found["labels"] else "no fault found here").upper()
        side = f", {found['side_words']}" if found["side_words"] else ""
        cylinder = f", cylinder {found['cylinder']}" if found["cylinder"] else ""
        strength = (found["strength"].replace("-", " "), "bold reverse")
        lines = [
            joined([(f"{name}{side}{cylinder}", "bold"), "   ", strength]),
            content(found["because"]),
        ]
        lines += [content(f"Also found: {also['label']} {also['side']}".rstrip()) for also in found["also"]]
        if found["missing"]:
            lines.append(self._row("Not proven", "missing: " + "; ".join(found["missing"])))
        lines += self._undo()
        effort = f", about {found['minutes_of_repair']:g} min" if found["minutes_of_repair"] else ""
        lines.append(self._row("Repair", f"{found['repair'].rstrip('.')}{effort}"))
        lines += self._drive(data)
        lines.append(self._row("If it is left", found["if_left"]))
        if found["proof_words"]:
            lines.append(self._row("Proof of repair", found["proof_words"]))
        return [*lines, *self._cleared(data)]

    def _cleared(self, data: Mapping[str, Any]) -> list[Content]:
        lines: list[Content] = []
        if data["not_condemned"]:
            lines.append(content("Not condemned, and why", "bold"))
            why: dict[str, list[str]] = {}
            for entry in data["not_condemned"]:
                why.setdefault(f"{entry['verdict']} ({entry['by']})", []).append(entry["label"])
            lines += [self._listed(f"{'; '.join(labels)}: {reason}") for reason, labels in why.items()]
        unchecked = [
            entry["what"] + (f" ({entry['why']})" if entry["why"] else "") for entry in data["not_checked"]
        ]
        more = f"; and {len(unchecked) - 6} more" if len(unchecked) > 6 else ""
        lines.append(self._row("Not checked", ("; ".join(unchecked[:6]) or "nothing that was asked") + more))
        sources = sorted({limit["source"] for limit in data["limits"]})
        if sources:
            others = f", and {len(sources) - 3} others" if len(sources) > 3 else ""
            named = ", ".join(cut(source, 44) for source in sources[:3])
            lines.append(self._row("Limits rest on", named + others))
        if data["saving"]["shop"]:
            lines.append(self._row("Tested first", data["saving"]["shop"].removeprefix("Tested first: ")))
        return lines

    def _drive(self, data: Mapping[str, Any]) -> list[Content]:
        drive = data["drive"]
        worst, reasons = self.job_session.walk.drive()
        lines = [self._row("Drive", drive_words(worst))]
        if reasons:
            lines.append(self._row("", "because: " + ", ".join(reasons[:3])))
        if drive["decided"]:
            decided = dict(DRIVE_WORDS)[drive["decided"]]
            lines.append(self._row("", f"decided by {drive['who']}: {decided}"))
        else:
            lines.append(self._row("", "nobody has decided yet; a person does: m"))
        return lines

    def _undo(self) -> list[Content]:
        left = self.job_session.walk.state.left
        catalogue = self.job_session.catalogue
        return [
            self._row("Undo first" if place == 0 else "", f"[ ] {catalogue.left[item].label}")
            for place, item in enumerate(left)
            if item in catalogue.left
        ]

    def _open(self, data: Mapping[str, Any]) -> list[Content]:
        end = self.job_session.walk.state.open_end or {"say": "Nothing is concluded.", "suspects": []}
        lines = [content("OPEN END: NO FAULT IS NAMED", "bold"), content(end["say"]), *self._undo()]
        outweighed = end.get("outweighed")
        if outweighed:
            labels = ", ".join(outweighed["labels"]) or "nothing wrong"
            lines.append(self._row("Last step's word", f"{labels}; outweighed, so it is not named"))
            if outweighed["repair"]:
                lines.append(self._row("", f"its repair, if a test bears it out: {outweighed['repair']}"))
        if end.get("separate"):
            lines.append(content("Would separate them", "bold"))
            lines += [self._listed(text) for text in end["separate"]]
        if end["suspects"]:
            lines.append(content("Suspects left", "bold"))
        for rank, suspect in zip(RANKS, end["suspects"], strict=False):
            place = self.job_session.place(suspect["side"])
            lines.append(self._listed(f"{padded(rank, 8)}{suspect['label']} {place}".rstrip()))
        lines += self._drive(data)
        return [*lines, *self._cleared(data)]

    # ------------------------------------------------------------- commands

    def line_keys(self) -> Sequence[Key]:
        """Leave out what does not apply to how the walk ended."""
        keys = list(super().line_keys())
        state = self.job_session.walk.state
        seen: set[str] = set()
        kept = []
        for key in keys:
            if key.action in ("repaired", "due") and (state.concluded is None or self._is_fixed()):
                continue
            if key.action == "repaired" and self.is_unproven():
                key = replace(key, label="prove it", help="Ask the proof readings of the repair again")
            if key.key in seen:
                continue
            seen.add(key.key)
            kept.append(key)
        return kept

    def hidden_keys(self) -> frozenset[str]:
        """There is no step here to ask why and how of."""
        return super().hidden_keys() | frozenset("wh")

    def is_unproven(self) -> bool:
        """Tell whether the concluded fault was repaired and its proof is still to be made."""
        walk = self.job_session.walk
        proof = walk.state.proof
        open_proof = proof is not None and proof["result"] == UNPROVEN
        return walk.state.concluded is not None and walk.state.concluded["has_proof"] and open_proof

    def _is_fixed(self) -> bool:
        proof = self.job_session.walk.state.proof
        return proof is not None and proof["result"] == "fixed"

    def action_repaired(self) -> None:
        """Ask what was done, then go on to the proof."""
        self._ask_repair(None)

    def action_due(self) -> None:
        """Ask what was done, then when the proof is due."""
        self._ask_repair("due")

    def _ask_repair(self, then: str | None) -> None:
        session = self.job_session
        done = session.walk.state.concluded
        if done is None or self._is_fixed():
            return
        if session.walk.state.left:
            self.app.desk.show_undo_list(session)
            return
        if self.is_unproven():
            last = str(session.walk.state.repairs[-1]["what"])
            self._repaired(last, then) if then is None else self._ask_day(None)
            return
        advised = str(done["repair"])
        page = WritePage(
            "What was repaired?", note=f"Advised: {advised}", hint="Enter alone: done as advised"
        )

        def keep(what: str | None) -> None:
            self._repaired(what if what is None else what.strip() or advised, then)

        self.app.push_screen(page, keep)

    def _repaired(self, what: str | None, then: str | None) -> None:
        if what is None:
            return
        if then is None:
            if self.app.attempt(lambda: self.job_session.walk.repaired(what)):
                self.app.desk.go_on(self.job_session)
            return
        self._ask_day(what)

    def _ask_day(self, what: str | None) -> None:
        """Ask until when the proof is put off; *what* was repaired is kept unless it is on disk already."""
        page = WritePage("When is the proof due?", hint="Friday, or a date")
        self.app.push_screen(page, lambda when: self._due(what, when))

    def _due(self, what: str | None, when: str | None) -> None:
        if when is None:
            return
        walk = self.job_session.walk

        def keep() -> None:
            if what is not None:
                walk.repaired(what)
            walk.due(when or "not said")
            self.job_session.job.advance()

        if self.app.attempt(keep):
            self.app.say(f"Repaired, unproven; proof due {when or 'not said'}.")
            self.app.desk.close_job()

    def action_why(self) -> None:
        """Say why this was concluded."""
        self.action_suspects()

    def action_how(self) -> None:
        """Show the path it rests on."""
        self.action_path()
