"""Trees and catalogues together, as one job walks them.

The shipped files are right when they are shipped (the tests and ``layby check`` see to it), so they are
loaded without their schemas. A shop's own files are checked against theirs first.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import cache
from importlib.resources import files as resources
from importlib.resources.abc import Traversable
from pathlib import Path, PurePosixPath
from types import MappingProxyType

from engine.catalogue import Catalogue
from engine.catalogue_loading import CATALOGUES, Sources, load_catalogue
from engine.errors import DefinitionError, LaybyError, Problem, did_you_mean, shown
from engine.loading import TreeSource, load_trees, signature_of
from engine.local_lines import LineKind, Lines, LocalLine
from engine.overlays import Overlay, add_entries, laid_over_catalogue
from engine.overlays_in_trees import add_to_tree, laid_over_tree
from engine.parts import Part, Report
from engine.schema_check import check_schema
from engine.situation import Point, Situation
from engine.tree import Origin, Tree
from engine.yaml_text import Document, read_yaml

FOLDERS = ("catalogue", "procedures", "symptoms")
"""Folders of definition files, in the order they are read."""
SHOP = "shop"
"""First part of the name of a shop's file among the definition files."""
PASSED = f"{SHOP}/passed"
"""Name among the definition files under which the last day is kept on which a weight had ended."""


@dataclass(frozen=True, slots=True)
class Library:
    """Everything a walk is made of; two with the same digest give the same walk."""

    catalogue: Catalogue
    trees: Mapping[str, Tree]
    origins: Mapping[str, Origin]
    """Tree -> where it is written."""
    digest: str
    """SHA-256 over names and contents of all definition files."""
    files: Mapping[str, bytes]
    """The definition files, for the journal of a job: name with forward slashes -> content."""
    local: tuple[LocalLine, ...] = ()
    """The lines of the shop's own files, in the order they are laid over."""

    def tree(self, tree_id: str) -> Tree:
        """Return a tree.

        Raises:
            LaybyError: there is no such tree; the line names the nearest.
        """
        found = self.trees.get(tree_id)
        if found is None:
            near = did_you_mean(tree_id, self.trees) or f": there are {', '.join(self.trees)}"
            raise LaybyError(f"no tree {shown(tree_id)}{near}")
        return found

    def prior_lines(self, situation: Situation) -> Mapping[str, LocalLine]:
        """Return fault -> the shop's line that sets its weight for this car; the last that fits."""
        point = Point(situation)
        return {
            line.subject: line
            for line in self.local
            if line.kind is LineKind.WEIGHT
            and line.at is None
            and line.in_force
            and (line.cars is None or point.truth(line.cars) is True)
        }

    def prior_factors(self, situation: Situation) -> Mapping[str, float]:
        """Return what the priors of the catalogue are multiplied by for this car: fault -> factor.

        Weights for every car are in the priors already; a fault that only these concern is left out.
        """
        always = {
            line.subject: line.times
            for line in self.local
            if line.kind is LineKind.WEIGHT and line.at is None and line.in_force and line.cars is None
        }
        return {
            fault: line.times / always.get(fault, 1.0)
            for fault, line in self.prior_lines(situation).items()
            if line.cars is not None
        }

    def limit_line(self, limit: str, situation: Situation) -> LocalLine | None:
        """Return the shop's line behind a limit for this car, or None where the shipped figure stands."""
        point = Point(situation)
        for line in reversed(self.local):
            figure = line.kind in (LineKind.LIMIT, LineKind.MAKER) and limit in line.names
            if figure and line.in_force and (line.cars is None or point.truth(line.cars) is True):
                return line
        return None


def load_library(
    shop: Path | None = None, *, files: Mapping[str, bytes] | None = None, today: date | None = None
) -> Library:
    """Return the shipped trees and catalogues, with a shop's own files laid over them.

    Args:
        shop: folder of the shop's files; None for none.
        files: definition files pinned in a job, to be loaded instead of the shipped ones.
        today: the day by which weights have ended; None for the calendar's. Pinned files know theirs.

    Raises:
        DefinitionError: something in the files is wrong; carries every problem with file and line.
    """
    if files is not None:
        return _load(files, files.get(PASSED, b"").decode("ascii", errors="replace"))
    if shop is None:
        return _shipped()
    files = {**shipped_files(), **shop_files(shop)}
    library = _load(files, day_before(today))
    ended = [line.until for line in library.local if line.ended and line.until is not None]
    if not ended:
        return library
    files = {**files, PASSED: max(ended).encode()}  # so that a job judges by the weights it began with
    return replace(library, files=MappingProxyType(files), digest=_digest(files))


def day_before(today: date | None = None) -> str:
    """Return the last day that has passed, like ``2026-05-31``; by the calendar when *today* is None."""
    return ((today or datetime.now(UTC).astimezone().date()) - timedelta(days=1)).isoformat()


@cache
def _shipped() -> Library:
    return _load(shipped_files(), "")


def _load(files: Mapping[str, bytes], passed: str) -> Library:
    documents = {name: read_yaml(content, name) for name, content in files.items() if name != PASSED}
    library, found = assemble_documents(documents, files, passed=passed)
    by_schema = [
        problem
        for name, document in documents.items()
        if name.startswith(f"{SHOP}/")
        for problem in check_schema(document, kind_of_file(name, document))
    ]
    problems = [*by_schema, *not_repeated(found, by_schema)]
    errors = [problem for problem in problems if problem.level == "error"]
    if errors:
        raise DefinitionError(errors)
    return library


def not_repeated(found: Iterable[Problem], by_schema: Iterable[Problem]) -> Iterator[Problem]:
    """Return what the loaders found, without what the schema said of the same file better."""
    wrong = [problem for problem in by_schema if problem.level == "error"]
    lines = {(problem.file, problem.line) for problem in wrong}
    files = {problem.file for problem in wrong}
    for problem in found:
        missing = problem.message.endswith("is missing here") and problem.file in files
        if not missing and (problem.file, problem.line) not in lines:
            yield problem


# --------------------------------------------------------------------------- files


@cache
def shipped_files() -> Mapping[str, bytes]:
    """Return the shipped definition files: ``trees/…`` -> content."""
    root = resources("trees")
    found = {}
    for folder in FOLDERS:
        inside = root.joinpath(folder)
        for entry in sorted(inside.iterdir(), key=_name) if inside.is_dir() else ():
            if entry.name.endswith(".yaml"):
                found[f"trees/{folder}/{entry.name}"] = entry.read_bytes()
    return MappingProxyType(found)


@cache
def shipped_documents() -> Mapping[str, Document]:
    """Return the shipped definition files, read."""
    return MappingProxyType({name: read_yaml(content, name) for name, content in shipped_files().items()})


def _name(entry: Traversable) -> str:
    return entry.name


def shop_files(shop: Path) -> dict[str, bytes]:
    """Return a shop's definition files: ``shop/…`` -> content.

    Raises:
        LaybyError: the folder or a file in it cannot be read.
    """
    if not shop.is_dir():
        raise LaybyError(f"{shop}: no such folder; --shop takes a folder of the shop's own files")
    found = {}
    try:
        for path in sorted(shop.rglob("*.yaml")):
            inside = path.relative_to(shop)
            if not any(part.startswith(".") for part in inside.parts):  # what editors keep beside a file
                found[f"{SHOP}/{inside.as_posix()}"] = path.read_bytes()
    except OSError as error:
        raise LaybyError(f"{error.filename or shop}: {error.strerror}") from error
    return found


def schema_place(kind: str) -> str:
    """Return where the schema of a kind of file is, as an editor takes it: ``file:///…``."""
    return Path(str(resources("trees").joinpath("schema", f"{kind}.schema.json"))).absolute().as_uri()


_ONLY_IN_OVERLAYS = frozenset({"makers", "weights", "notes", "warn", "moves", "add"})
"""Keys by which a shop's file is known whose ``extends:`` was forgotten."""


def kind_of_file(name: str, document: Document) -> str:
    """Return the schema a definition file follows: a catalogue's name, ``tree`` or ``overlay``."""
    stem = PurePosixPath(name).stem
    if PurePosixPath(name).parent.name == "catalogue" and stem in CATALOGUES:
        return stem
    data = document.data
    if isinstance(data, dict) and "tree" not in data:
        if "extends" in data or _ONLY_IN_OVERLAYS & data.keys() or isinstance(data.get("limits"), list):
            return "overlay"
        return next((kind for kind in CATALOGUES if kind in data), "tree")
    return "tree"


# ------------------------------------------------------------------------ assembly


def assemble(files: Mapping[str, bytes]) -> tuple[Library, tuple[Problem, ...]]:
    """Return the library of these files and everything the loaders found wrong; never raises."""
    documents = {name: read_yaml(content, name) for name, content in files.items()}
    return assemble_documents(documents, files)


def assemble_documents(
    documents: Mapping[str, Document], files: Mapping[str, bytes], *, passed: str | None = None
) -> tuple[Library, tuple[Problem, ...]]:
    """Return the library of files already read, and everything wrong in them.

    Args:
        documents: the files by name, in the order they are laid over.
        files: their contents.
        passed: the last day that has passed, for weights that end; None for yesterday.
    """
    passed = day_before() if passed is None else passed
    problems = [problem for document in documents.values() for problem in document.problems]
    catalogues, shop, lines = Sources(), Report(), Lines()
    trees: dict[str, TreeSource] = {}
    overlays: list[Overlay] = []
    for name, document in documents.items():
        kind = kind_of_file(name, document)
        if kind in CATALOGUES:
            catalogues.add_document(kind, document)
        elif kind == "overlay":
            overlays.append(Overlay.of(document, shop, passed))
        else:
            _add_tree(trees, document, problems)
    add_entries(overlays, catalogues, lines)
    catalogue, found = load_catalogue(catalogues)
    problems += found
    if overlays:
        catalogue = laid_over_catalogue(catalogue, overlays, lines)
        for overlay in overlays:
            add_to_tree(overlay, trees, catalogue, lines)
    loaded, found = load_trees(trees, catalogue)
    problems += found
    for name in dict.fromkeys(overlay.extends for overlay in overlays if overlay.extends in loaded):
        own = [overlay for overlay in overlays if overlay.extends == name]
        loaded[name] = laid_over_tree(loaded[name], trees[name], own, catalogue, lines)
    problems += shop.problems
    library = Library(
        catalogue=catalogue,
        trees=MappingProxyType(loaded),
        origins=MappingProxyType({name: tree.origin for name, tree in loaded.items()}),
        digest=_digest(files),
        files=MappingProxyType(dict(files)),
        local=tuple(lines.found),
    )
    return library, tuple(sorted(set(problems)))


def _add_tree(trees: dict[str, TreeSource], document: Document, problems: list[Problem]) -> None:
    signature = signature_of(document)
    root = Part.root(document, Report())
    if signature is None:
        root.problem("this is no definition file: a tree begins with format: 1 and tree: its-name")
    elif signature.id in trees:
        first = trees[signature.id].document.file
        root.problem(f"the tree {shown(signature.id)} is written twice, first in {first}", "tree")
    else:
        trees[signature.id] = TreeSource(document, signature)
    problems += root.report.problems


def _digest(files: Mapping[str, bytes]) -> str:
    total = hashlib.sha256()
    for name in sorted(files):
        total.update(f"{name}\0{len(files[name])}\0".encode())
        total.update(files[name])
    return total.hexdigest()
