"""The conclusion, or an honest open end: what, how firm, why, what now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from engine.catalogue import Drive
from engine.concluding import drive_words
from tui.keys import Key, bindings
from tui.screens.base import JobScreen
from tui.screens.dialogs import WritePage
from tui.text import RANKS, content, cut, hanging, joined, padded, stacked

_INDENT = 18


def row(label: str, text: str) -> Content:
    """Return a labelled text."""
    return hanging(label, text, indent=_INDENT)


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

    def compose_body(self) -> ComposeResult:
        """Lay out the conclusion or the open end."""
        yield Static(stacked(self.lines()), id="end", markup=False)

    def lines(self) -> list[Content]:
        """Return everything that is to be said."""
        data = self.job_session.gathered()
        head = self._status_lines(data)
        if data["found"] is not None:
            return [*head, *self._found(data)]
        return [*head, *self._open(data)]

    def _status_lines(self, data: Mapping[str, Any]) -> list[Content]:
        if data["repair"] is None:
            return []
        return [joined([("Now: ", "bold"), (str(data["status"]), "bold")])]

    def _found(self, data: Mapping[str, Any]) -> list[Content]:
        found = data["found"]
        name = (found["labels"][0] if found["labels"] else "no fault found here").upper()
        side = f", {found['side_words']}" if found["side_words"] else ""
        cylinder = f", cylinder {found['cylinder']}" if found["cylinder"] else ""
        lines = [
            joined(
                [
                    (f"{name}{side}{cylinder}", "bold"),
                    "   ",
                    (found["strength"].replace("-", " "), "bold reverse"),
                ]
            ),
            content(found["because"]),
        ]
        lines += [content(f"Also found: {also['label']} {also['side']}".rstrip()) for also in found["also"]]
        if found["missing"]:
            lines.append(row("Not proven: ", "missing " + "; ".join(found["missing"])))
        lines += self._undo()
        lines += self._cleared(data)
        effort = f", about {found['minutes_of_repair']:g} min" if found["minutes_of_repair"] else ""
        lines.append(row("Repair", f"{found['repair'].rstrip('.')}{effort}"))
        lines += self._drive(data)
        lines.append(row("If it is left", found["if_left"]))
        if found["proof_words"]:
            lines.append(row("Proof of repair", found["proof_words"]))
        return lines

    def _cleared(self, data: Mapping[str, Any]) -> list[Content]:
        lines: list[Content] = []
        if data["not_condemned"]:
            lines.append(content("Not condemned, and why", "bold"))
            lines += [
                content(padded(f"  {entry['label']}", 46) + f" {entry['verdict']}")
                for entry in data["not_condemned"]
            ]
        sources = sorted({limit["source"] for limit in data["limits"]})
        if sources:
            lines.append(
                row(
                    "Limits rest on",
                    ", ".join(cut(source, 44) for source in sources[:3])
                    + (" and others" if len(sources) > 3 else ""),
                )
            )
        unchecked = [
            entry["what"] + (f" ({entry['why']})" if entry["why"] else "") for entry in data["not_checked"]
        ]
        lines.append(row("Not checked", "; ".join(unchecked[:4]) or "nothing that was asked"))
        return lines

    def _drive(self, data: Mapping[str, Any]) -> list[Content]:
        drive = data["drive"]
        worst, reasons = self.job_session.walk.drive()
        lines = [row("Drive", drive_words(Drive(drive["decided"]) if drive["decided"] else worst))]
        if reasons:
            lines.append(row("", "because: " + ", ".join(reasons[:3])))
        who = f"decided by {drive['who']}" if drive["who"] else "nobody has decided yet: m"
        lines.append(row("", who))
        return lines

    def _undo(self) -> list[Content]:
        left = self.job_session.walk.state.left
        catalogue = self.job_session.catalogue
        return [
            row("Undo first" if place == 0 else "", f"[ ] {catalogue.left[item].label}")
            for place, item in enumerate(left)
            if item in catalogue.left
        ]

    def _open(self, data: Mapping[str, Any]) -> list[Content]:
        end = data["open_end"] or {"say": "Nothing is concluded.", "suspects": [], "separate": []}
        lines = [content("OPEN END: NO FAULT IS NAMED", "bold"), content(end["say"]), *self._undo()]
        lines.append(content("Suspects left", "bold"))
        for rank, suspect in zip(RANKS, end["suspects"], strict=False):
            place = self.job_session.place(suspect["side"])
            lines.append(content(f"  {padded(rank, 8)}{suspect['label']} {place}".rstrip()))
        if end["separate"]:
            lines += [
                content("Would separate them", "bold"),
                *(content(f"  {text}") for text in end["separate"]),
            ]
        lines += self._cleared(data)
        lines += self._drive(data)
        return lines

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
            if key.key in seen:
                continue
            seen.add(key.key)
            kept.append(key)
        return kept

    def hidden_keys(self) -> frozenset[str]:
        """There is no step here to ask why and how of."""
        return super().hidden_keys() | frozenset("wh")

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
        page = WritePage("What was repaired?", value=str(done["repair"]), note="Enter keeps the words below.")
        self.app.push_screen(page, lambda what: self._repaired(what, then))

    def _repaired(self, what: str | None, then: str | None) -> None:
        if what is None:
            return
        if then is None:
            if self.app.attempt(lambda: self.job_session.walk.repaired(what)):
                self.app.desk.go_on(self.job_session)
            return
        page = WritePage("When is the proof due?", hint="Friday, or a date")
        self.app.push_screen(page, lambda when: self._due(what, when))

    def _due(self, what: str, when: str | None) -> None:
        if when is None:
            return
        walk = self.job_session.walk

        def keep() -> None:
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
