"""Catalogue files -> `engine.catalogue.Catalogue`, every reference checked.

The entries of a section may come from several files: the shipped one and the shop's own additions.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, cast

from engine.catalogue import (
    Catalogue,
    Caution,
    Code,
    CodeGroup,
    Codes,
    Drive,
    Fault,
    FaultTable,
    Finding,
    Instrument,
    Left,
)
from engine.catalogue_entries import (
    KINDS,
    Entry,
    Names,
    accuracies,
    limit_of,
    matching,
    reading_of,
    worked_of,
)
from engine.condition_loading import ANY_CODE, PLACE, ConditionLoader, Known, Quantity
from engine.errors import Problem, shown
from engine.expansion import MOST_MEMBERS, members
from engine.parts import Part, Report
from engine.yaml_text import Document

CATALOGUES: Mapping[str, tuple[str, ...]] = {
    "readings": ("words", "groups", "readings"),
    "worked": ("worked",),
    "faults": ("outside", "proven_needs", "faults"),
    "findings": ("findings", "left"),
    "limits": ("limits",),
    "codes": ("groups", "codes"),
    "instruments": ("states", "instruments"),
    "cautions": ("cautions",),
}
"""Catalogue file -> its sections."""

_CODE_RUN = re.compile(r"([PCBU][0-9A-F]{4})(?:-([PCBU][0-9A-F]{4}))?")
_SIDES = ("none", "bank", "upstream", "downstream", "any-sensor")
_PARTS = ("none", "small", "medium", "large", "very-large")
_DRIVES = tuple(str(drive) for drive in Drive)


@dataclass(slots=True)
class Sources:
    """The sections of all catalogue files, each from one or several places."""

    report: Report = field(default_factory=Report)
    sections: dict[str, list[Part]] = field(default_factory=dict)

    def add_document(self, name: str, document: Document) -> None:
        """Take in a catalogue file of the kind *name*."""
        root = Part.root(document, self.report)
        if not isinstance(root.data, dict):
            root.problem(f"found {shown(root.data)}, expected the {name} catalogue")
            return
        for section in CATALOGUES[name]:
            if root.has(section):
                self.add(f"{name}.{section}", root.get(section))

    def add(self, section: str, part: Part) -> None:
        """Take in one more map of entries of a section such as ``readings.readings``."""
        self.sections.setdefault(section, []).append(part)

    def entries(self, section: str) -> Iterable[tuple[str, Part]]:
        """Return the keys and values of a section."""
        for part in self.sections.get(section, ()):
            yield from part.entries()

    def written_out(self, section: str) -> dict[str, Entry]:
        """Return the entries of a section by id, families written out."""
        out: dict[str, Entry] = {}
        for family, part in self.entries(section):
            ids = members(family)
            if len(ids) > MOST_MEMBERS:
                part.key_problem(f"this family stands for more than {MOST_MEMBERS} ids")
                continue
            if not isinstance(part.data, dict):
                part.problem(f"found {shown(part.data)}, expected a map of keys")
                continue
            for name, words in ids:
                if name in out:
                    part.key_problem(f"{shown(name)} is written twice, first on line {out[name].line}")
                else:
                    out[name] = Entry(name, part, words, family)
        return out


def load_catalogue(sources: Sources) -> tuple[Catalogue, tuple[Problem, ...]]:
    """Return the catalogue and everything wrong in its files; with errors it is not fit for use."""
    return _Loader(sources).load()


class _Loader:
    def __init__(self, sources: Sources) -> None:
        self.sources = sources
        written = sources.written_out
        self.readings = written("readings.readings")
        self.worked = written("worked.worked")
        self.faults = dict(sources.entries("faults.faults"))
        self.findings = dict(sources.entries("findings.findings"))
        self.limits = dict(sources.entries("limits.limits"))
        self.code_groups = dict(sources.entries("codes.groups"))
        self.words = {
            key: part.data for key, part in sources.entries("readings.words") if isinstance(part.data, str)
        }
        self.names = self._names()
        self.conditions = ConditionLoader(self.names.known)

    def _names(self) -> Names:
        quantities = {name: _quantity(entry) for name, entry in self.readings.items()}
        for name, entry in self.worked.items():
            unit = _raw_text(entry.part, "unit")
            quantities.setdefault(name, Quantity("num" if unit else "worked", unit))
        quantities[ANY_CODE] = Quantity("codes", "")
        limits = {name: _raw_text(part, "unit") for name, part in self.limits.items()}
        known = Known(quantities, limits, self.findings.keys(), self.code_groups.keys())
        tools = {name for name, _ in self.sources.entries("instruments.instruments")}
        return Names(known, frozenset(tools), self.words, frozenset(self.readings))

    def load(self) -> tuple[Catalogue, tuple[Problem, ...]]:
        readings = {name: reading_of(entry, self.names) for name, entry in self.readings.items()}
        worked = {name: worked_of(entry, self.names) for name, entry in self.worked.items()}
        self._cycles()
        catalogue = Catalogue(
            readings=readings,
            reading_groups=self._groups(),
            worked=worked,
            faults=self._fault_table(),
            findings={name: _finding(name, part) for name, part in self.findings.items()},
            left={
                name: Left(name, part.text("label"), part.text("undone"))
                for name, part in self.sources.entries("findings.left")
            },
            limits={name: limit_of(name, part, self.names) for name, part in self.limits.items()},
            codes=Codes(self._codes(), self._code_groups()),
            instruments={
                name: Instrument(name, part.text("label"), part.number("setup"), accuracies(part, self.names))
                for name, part in self.sources.entries("instruments.instruments")
            },
            state_minutes={
                name: part.as_number() or 0.0 for name, part in self.sources.entries("instruments.states")
            },
            cautions={
                name: self._caution(name, part) for name, part in self.sources.entries("cautions.cautions")
            },
            words=self.words,
        )
        return catalogue, self.sources.report.sorted

    def _groups(self) -> dict[str, tuple[str, ...]]:
        """Return the groups of readings, patterns written out."""
        groups = {}
        for name, part in self.sources.entries("readings.groups"):
            ids: dict[str, None] = {}
            for pattern, item in part.texts():
                found = matching(pattern, self.readings)
                if not found:
                    item.problem(f"no reading is named like {shown(pattern)}")
                ids.update(dict.fromkeys(found))
            groups[name] = tuple(ids)
            if name in self.readings:
                part.key_problem(f"{shown(name)} is a reading; a group needs a name of its own")
        return groups

    def _cycles(self) -> None:
        """Report worked values that rest on themselves."""
        state: dict[str, Literal["open", "done"]] = {}

        def visit(name: str, trail: tuple[str, ...]) -> None:
            if state.get(name) == "done" or name not in self.worked or len(trail) > 60:
                return
            if state.get(name) == "open":
                if name in self.readings:  # a rate may be read, or worked out from counts
                    return
                loop = " -> ".join([*trail[trail.index(name) :], name])
                self.worked[name].part.key_problem(f"this value rests on itself: {loop}")
                return
            state[name] = "open"
            for other in self.worked[name].inputs():
                visit(other, (*trail, name))
            state[name] = "done"

        for name in self.worked:
            visit(name, ())

    def _fault_table(self) -> FaultTable:
        label, prior, share = "something else", 1.0, 0.02
        for part in self.sources.sections.get("faults.outside", ()):
            label, prior, share = part.text("label"), part.number("prior"), part.number("share")
        needs = tuple(
            text
            for part in self.sources.sections.get("faults.proven_needs", ())
            for text in self._finding_names(part)
        )
        faults = {name: self._fault(name, part) for name, part in self.faults.items()}
        return FaultTable(faults, label, prior, share, needs)

    def _finding_names(self, part: Part) -> tuple[str, ...]:
        names = list(part.texts())
        for text, item in names:
            if text not in self.findings:
                item.unknown("finding", text, self.findings)
        return tuple(text for text, _ in names)

    def _fault(self, name: str, part: Part) -> Fault:
        minutes = part.get("minutes").data
        prior = part.number("prior")
        if prior <= 0 and part.has("prior"):
            part.problem(f"found {prior:g}: a prior weight is above 0", "prior")
        return Fault(
            id=name,
            label=part.text("label"),
            system=part.text("system"),
            side=cast("Literal['none']", part.one_of("side", _SIDES)),
            prior=prior,
            repair=part.text("repair"),
            minutes=None if minutes is None else part.number("minutes"),
            parts=cast("Literal['none']", part.one_of("parts", _PARTS)),
            proof=part.text("proof"),
            if_left=part.text("if_left"),
            drive=Drive(part.one_of("drive", _DRIVES)),
            directions=tuple(text for text, _ in part.texts("directions")),
            proven_by=self._finding_names(part.get("proven_by")),
            exclude_first=self._finding_names(part.get("exclude_first")),
            decided_by_repair=part.flag("decided_by_repair"),
            only_if=self.conditions.load(part.get("only_if")) if part.has("only_if") else None,
        )

    def _codes(self) -> tuple[Code, ...]:
        codes = []
        for name, part in self.sources.entries("codes.codes"):
            run = _CODE_RUN.fullmatch(name)
            if run is None:
                part.key_problem(f"{shown(name)} is no code: write P0172 or P0300-P0312")
                continue
            first, last = run.group(1), run.group(2) or run.group(1)
            if last < first or last[0] != first[0]:
                part.key_problem(f"{shown(name)} runs backwards: the lower code comes first")
            groups = list(part.texts("groups"))
            for text, item in groups:
                if text not in self.code_groups:
                    item.unknown("group of codes", text, self.code_groups)
            side = part.maybe_text("side")
            if side and not PLACE.fullmatch(side):
                part.problem(f"found {shown(side)}, expected a place such as b1 or b2s1", "side")
            codes.append(Code(first, last, part.text("means"), tuple(text for text, _ in groups), side))
        return tuple(codes)

    def _code_groups(self) -> dict[str, CodeGroup]:
        groups = {}
        for name, part in self.code_groups.items():
            weigh = []
            for fault, value in part.entries("weigh"):
                if fault not in self.faults:
                    value.unknown_key("fault", fault, self.faults)
                weigh.append((fault, value.as_number() or 1.0))
            groups[name] = CodeGroup(name, part.text("label"), int(part.number("rank")), tuple(weigh))
        return groups

    def _caution(self, name: str, part: Part) -> Caution:
        only_if = self.conditions.load(part.get("only_if")) if part.has("only_if") else None
        return Caution(name, part.text("line"), part.text("say"), only_if, part.flag("only_when_known"))


def _finding(name: str, part: Part) -> Finding:
    side = cast("Literal['none']", part.one_of("side", ("none", "bank", "sensor"), "none"))
    drive = Drive(part.one_of("drive", _DRIVES)) if part.has("drive") else None
    return Finding(name, part.text("label"), side, drive, part.flag("ends_with_repair"))


def _raw_text(part: Part, key: str) -> str:
    found = part.get(key).data
    return found if isinstance(found, str) else ""


def _quantity(entry: Entry) -> Quantity:
    kind = _raw_text(entry.part, "kind")
    choices = entry.part.get("choices").data
    if kind not in KINDS:
        kind = "one" if isinstance(choices, dict) else "num"
    return Quantity(
        cast("Literal['num']", kind),
        _raw_text(entry.part, "unit"),
        tuple(choices) if isinstance(choices, dict) else (),
    )
