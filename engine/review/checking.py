"""``layby check``: YAML, schema, references and review of the shipped files, or of some given ones."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from engine.errors import Problem
from engine.library import assemble_documents, kind_of_file, not_repeated, shipped_files
from engine.loading import signature_of
from engine.review.reviewing import review
from engine.schema_check import check_schema
from engine.yaml_text import Document, read_yaml

DEMO = "demo"
"""Folder of readings files, which are no definitions."""


_NAME = re.compile(rb"^  ([a-z][a-z0-9-]*):", re.MULTILINE)
MOST_BYTES = 2 * 1024 * 1024
"""More than any definition file may hold; the reader says so of a larger one."""


def check(paths: Sequence[Path | str] = ()) -> tuple[Problem, ...]:
    """Return everything wrong in the shipped files, or in the given files against the shipped catalogue.

    Args:
        paths: trees, catalogues, overlays, or folders of them; a tree or catalogue of a shipped name stands
            for the shipped one. None means all that is shipped.
    """
    shipped = shipped_files()
    if not paths:
        return _check(shipped, {name: read_yaml(content, name) for name, content in shipped.items()}, None)
    given, problems = _read(paths)
    documents = {name: read_yaml(content, name) for name, content in given.items()}
    files = {**_not_replaced(shipped, documents), **given}
    overlays = any(kind_of_file(name, document) == "overlay" for name, document in documents.items())
    if not overlays:  # what is laid over a tree needs the tree itself
        outlined = {n: documents.get(n) or _outlined(content, n) for n, content in files.items()}
        plain = _found_by_reading(files, outlined, frozenset(given))
        if any(problem.level == "error" for problem in plain):
            return tuple(sorted({*problems, *plain}))
    everything = {name: documents.get(name) or read_yaml(content, name) for name, content in files.items()}
    found = set(_check(files, everything, frozenset(given)))
    if overlays and not any(problem.level == "error" for problem in found):
        found |= _brought_about(files, everything, shipped)
    return tuple(sorted({*problems, *found}))


def _brought_about(
    files: Mapping[str, bytes], documents: Mapping[str, Document], shipped: Mapping[str, bytes]
) -> set[Problem]:
    """Return what an overlay brings about in the trees it is laid over."""
    base = {name: read_yaml(content, name) for name, content in shipped.items()}
    before, _ = assemble_documents(base, shipped)
    after, wrong = assemble_documents(documents, files)
    if any(problem.level == "error" for problem in wrong):
        return set()
    return set(review(after)) - set(review(before))


def _check(
    files: Mapping[str, bytes], documents: Mapping[str, Document], only: frozenset[str] | None
) -> tuple[Problem, ...]:
    found = set(_found_by_reading(files, documents, only))
    library, by_loading = assemble_documents(documents, files)
    if not any(problem.level == "error" for problem in (*found, *by_loading)):
        found |= set(review(library, only))
    return tuple(sorted(found))


def _found_by_reading(
    files: Mapping[str, bytes], documents: Mapping[str, Document], only: frozenset[str] | None
) -> set[Problem]:
    """Return what schema and references say of the files in question, without a review."""
    by_schema = {
        problem
        for name, document in documents.items()
        if only is None or name in only
        for problem in (*document.problems, *check_schema(document, kind_of_file(name, document)))
    }
    _, by_loading = assemble_documents(documents, files)
    told = {
        problem for problem in not_repeated(by_loading, by_schema) if only is None or problem.file in only
    }
    return by_schema | told


def _outlined(content: bytes, name: str) -> Document:
    """Return a shipped tree's head and the names of its steps and conclusions; a catalogue whole.

    Shipped trees are in order, so their names can be picked out by their indentation. That is all that the
    references of another file need, and reading them whole would take most of the time.
    """
    if "/catalogue/" in name:
        return read_yaml(content, name)
    head, begun, body = content.partition(b"\nsteps:\n")
    document = read_yaml(head, name)
    if not begun or not isinstance(document.data, dict):
        return read_yaml(content, name)
    steps, _, conclusions = body.partition(b"\nconclusions:\n")
    for key, part in (("steps", steps), ("conclusions", conclusions)):
        document.data[key] = {match.decode(): None for match in _NAME.findall(part)}
    return document


def _read(paths: Sequence[Path | str]) -> tuple[dict[str, bytes], list[Problem]]:
    """Return the content of all files named, and what could not be read."""
    given: dict[str, bytes] = {}
    problems: list[Problem] = []
    for path in map(Path, paths):
        names = _definitions_in(path) if path.is_dir() else [path]
        if not names:
            problems.append(Problem(str(path), 1, 1, "error", "", "no .yaml file in this folder"))
        for name in names:
            try:
                with name.open("rb") as file:
                    given[str(name)] = file.read(MOST_BYTES)
            except OSError as error:
                reason = (error.strerror or "cannot be read").lower()
                problems.append(Problem(str(name), 1, 1, "error", "", reason))
    return given, problems


def _definitions_in(folder: Path) -> list[Path]:
    """Return the definition files below a folder, readings of demonstration cars left out."""
    return [path for path in sorted(folder.rglob("*.yaml")) if DEMO not in path.relative_to(folder).parts]


def _not_replaced(shipped: Mapping[str, bytes], given: Mapping[str, Document]) -> dict[str, bytes]:
    """Return the shipped files that no given file stands for."""
    trees = {signature.id for document in given.values() if (signature := signature_of(document))}
    catalogues = {kind_of_file(name, document) for name, document in given.items()}
    kept = {}
    for name, content in shipped.items():
        stem = name.rsplit("/", 1)[-1].removesuffix(".yaml")
        replaced = stem in (catalogues if "/catalogue/" in name else trees)
        if not replaced:
            kept[name] = content
    return kept
