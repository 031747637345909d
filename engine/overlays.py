"""A shop's own files laid over the shipped catalogues: limits, maker's figures, weights, and what it adds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from engine.catalogue import Catalogue, FaultTable, Limit
from engine.catalogue_entries import source_of
from engine.catalogue_loading import Sources
from engine.condition_loading import ConditionLoader, Known
from engine.errors import shown
from engine.loading.sources import LEAST_WEIGHT, MOST_WEIGHT, origin
from engine.local_figures import LocalFigure
from engine.local_lines import LineKind, Lines, LocalLine, cars_words
from engine.parts import Part, Report
from engine.tree import Condition
from engine.wording import number_words
from engine.yaml_text import Document

_ADDED = {
    "readings": "readings.readings",
    "faults": "faults.faults",
    "findings": "findings.findings",
    "limits": "limits.limits",
    "cautions": "cautions.cautions",
}
SHOP_PREFIX = "shop-"
EVERY_TREE = "catalogue"
"""What a file extends that changes figures and weights only, whatever the tree."""
_SLIP_OF_UNIT = 5.0
"""A figure this many times the shipped one (or this fraction) was probably meant in another unit."""


@dataclass(frozen=True, slots=True)
class Overlay:
    """One file of a shop."""

    root: Part
    passed: str
    """The last day that has passed: what holds until then has ended."""

    @classmethod
    def of(cls, document: Document, report: Report, passed: str = "") -> Overlay:
        """Return the overlay written in *document*."""
        return cls(Part.root(document, report), passed)

    @property
    def extends(self) -> str:
        """The tree it is laid over, or ``catalogue``."""
        return self.root.text("extends")

    def has_ended(self, part: Part) -> bool:
        """Tell whether the last day of a line has passed."""
        return part.has("until") and part.text("until") <= self.passed


def local_line(
    part: Part,
    kind: LineKind,
    subject: str,
    change: str,
    names: tuple[str, ...] = (),
    cars: Condition | None = None,
) -> LocalLine:
    """Return the line written at *part* as people read it."""
    return LocalLine(
        kind=kind,
        subject=subject,
        change=change,
        names=names or (subject,),
        cars=cars,
        cars_words=cars_words(part),
        by=part.maybe_text("by") or None,
        on=part.maybe_text("on") or None,
        reason=part.maybe_text("reason") or None,
        until=part.maybe_text("until") or None,
        origin=origin(part),
    )


# -------------------------------------------------------------------------- added


def add_entries(overlays: Iterable[Overlay], sources: Sources, lines: Lines) -> None:
    """Add the shop's own readings, faults, findings, limits and cautions to the catalogue's sections."""
    for overlay in overlays:
        for kind, part in overlay.root.entries("add"):
            if kind not in _ADDED:
                part.unknown_key("catalogue", kind, _ADDED)
                continue
            for name, entry in part.entries():
                if not name.startswith(SHOP_PREFIX):
                    entry.key_problem(f"found {shown(name)}: a shop's own names begin with {SHOP_PREFIX}")
                label = entry.maybe_text("label") or entry.maybe_text("line") or ""
                lines.add(local_line(entry, LineKind.ADDED, name, f"{kind.rstrip('s')}: {label}"))
            sources.add(_ADDED[kind], part)


# ------------------------------------------------------------------------ figures


def laid_over_catalogue(catalogue: Catalogue, overlays: Iterable[Overlay], lines: Lines) -> Catalogue:
    """Return the catalogue with the shop's limits, maker's figures and weights for every car."""
    over = _Figures(catalogue, lines, dict(catalogue.limits), ConditionLoader(Known.of(catalogue)))
    for overlay in overlays:
        for part in overlay.root.items("limits"):
            over.change_limit(part)
        for part in overlay.root.items("makers"):
            over.add_maker(part)
        for part in overlay.root.items("weights"):
            if not part.has("at"):
                over.weigh(part, overlay)
    return replace(catalogue, limits=over.limits, faults=_with_priors(catalogue.faults, lines))


def _with_priors(table: FaultTable, lines: Lines) -> FaultTable:
    """Return the faults with the last weight that holds for every car."""
    faults = dict(table.faults)
    for line in lines.found:
        if line.kind is LineKind.WEIGHT and line.in_force and line.at is None and line.cars is None:
            shipped = table.faults[line.subject]
            faults[line.subject] = replace(shipped, prior=shipped.prior * line.times)
    return replace(table, faults=faults)


@dataclass(slots=True)
class _Figures:
    """The limits as the lines read so far leave them."""

    catalogue: Catalogue
    lines: Lines
    limits: dict[str, Limit]
    conditions: ConditionLoader

    def _cars(self, part: Part) -> Condition | None:
        return self.conditions.load(part.get("cars")) if part.has("cars") else None

    def change_limit(self, part: Part) -> None:
        """Take another figure for a limit."""
        name, value, cars = part.text("limit"), part.number("value"), self._cars(part)
        limit = self.limits.get(name)
        if limit is None:
            part.unknown("limit", name, self.limits, "limit")
            return
        shipped = self.catalogue.limits[name]
        if cars is not None and limit.relative is not None:
            part.key_problem(f"{name} follows another quantity: it changes for every car or for none", "cars")
        _check_figure(part, shipped, value)
        change = f"{_words(shipped)} -> {number_words(value, limit.unit)}"
        line = local_line(part, LineKind.LIMIT, name, change, cars=cars)
        source = source_of(part.get("source")) if part.has("source") else line.source
        if cars is not None:
            figure = LocalFigure.of(value, source)
            self.limits[name] = replace(limit, cases=((cars, figure), *limit.cases))
        else:
            self.limits[name] = replace(
                limit, value=value, cases=(), relative=None, table_of=None, table=(), source=source
            )
        self.lines.add(line)

    def add_maker(self, part: Part) -> None:
        """Take a maker's figure for cars that match, in every limit that follows it."""
        reading, value, cars = part.text("reading"), part.number("value"), self._cars(part)
        about = self.catalogue.readings.get(reading)
        if about is None:
            part.unknown("reading", reading, self.catalogue.readings, "reading")
            return
        own = [one for one in self.limits.values() if one.maker is not None and one.maker.reading == reading]
        if not own:
            part.problem(f"no limit takes {shown(reading)} as the maker's figure", "reading")
            return
        low, high = about.reject
        if (low is not None and value < low) or (high is not None and value > high):
            bounds = " to ".join("any" if end is None else f"{end:g}" for end in (low, high))
            part.problem(f"found {value:g}: {reading} lies within {bounds} {about.unit}".rstrip(), "value")
        names = tuple(limit.id for limit in own)
        change = f"not to hand -> {number_words(value, about.unit)}"
        line = local_line(part, LineKind.MAKER, reading, change, names, cars)
        source = source_of(part.get("source")) if part.has("source") else line.source
        for limit in own:
            if limit.maker is not None and cars is not None:
                followed = value * limit.maker.times + limit.maker.plus
                figure = LocalFigure.of(followed, source, is_makers=True)
                self.limits[limit.id] = replace(limit, cases=((cars, figure), *limit.cases))
        self.lines.add(line)

    def weigh(self, part: Part, overlay: Overlay) -> None:
        """Take a fault's weight before anything is measured."""
        line = weight_of(part, overlay, self.catalogue, self._cars(part))
        if line is not None:
            self.lines.add(line)


def _check_figure(part: Part, shipped: Limit, value: float) -> None:
    """Report a figure that cannot be meant: the other sign, or far from the shipped one."""
    if shipped.value is None or part.get("value").data is None:
        return
    was = number_words(shipped.value, shipped.unit)
    if value * shipped.value < 0 and shipped.unit != "°C":
        part.problem(f"found {value:g}, and the shipped figure is {was}: write {-value:g}", "value")
    elif shipped.value and value and shipped.unit != "°C":
        ratio = value / shipped.value
        if not 1 / _SLIP_OF_UNIT < ratio < _SLIP_OF_UNIT:
            unit = shipped.unit or "a bare number"
            message = f"found {value:g}, and the shipped figure is {was}: is it in {unit}?"
            part.problem(message, "value", level="warning")


def _words(limit: Limit) -> str:
    """Return a limit's general figure in words."""
    if limit.relative is not None:
        return f"{limit.relative.times:g} x {limit.relative.reading}"
    if limit.value is not None:
        return number_words(limit.value, limit.unit) + (" and by the car" if limit.cases else "")
    if limit.cases:
        return " or ".join(dict.fromkeys(number_words(value, limit.unit) for _, value in limit.cases))
    return "by the maker's figure"


def weight_of(
    part: Part, overlay: Overlay, catalogue: Catalogue, cars: Condition | None = None
) -> LocalLine | None:
    """Return the line of a changed weight, or None when it names no fault."""
    name, times, ended = part.text("fault"), part.number("times"), overlay.has_ended(part)
    if name not in catalogue.faults.faults:
        part.unknown("fault", name, catalogue.faults.faults, "fault")
        return None
    if not LEAST_WEIGHT <= times <= MOST_WEIGHT:
        part.problem(f"found {times:g}: a weight lies between {LEAST_WEIGHT} and {MOST_WEIGHT:g}", "times")
        times = 1.0
    if ended:
        until = part.text("until")
        part.problem(
            f"ended on {until}: this weight is not used; write a later day, or take the line out",
            "until",
            level="warning",
        )
    prior = catalogue.faults.faults[name].prior
    at = part.maybe_text("at") or None
    change = (
        f"weight x {times:g} at {at}" if at else f"prior weight {prior:g} -> {prior * times:g} (x {times:g})"
    )
    line = local_line(part, LineKind.WEIGHT, name, change, cars=cars)
    return replace(line, at=at, times=times, ended=ended)
