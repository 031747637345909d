"""The schemas in trees/schema: read once, their words, and a quick yes for a file that fits.

Almost every file that is checked is right, and the full validator needs several times as long as
reading the file did. `fits` answers only yes or no, for the keywords these schemas use; whatever it
refuses goes to the full validator, which finds the words for it. A test holds the two equal.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any, TypeAlias

SCHEMAS = (
    "tree",
    "overlay",
    "readings",
    "worked",
    "faults",
    "findings",
    "limits",
    "codes",
    "instruments",
    "cautions",
)
"""Names of the shipped schemas; each describes one kind of file."""

Fits: TypeAlias = Callable[[Any], bool]

_ANNOTATIONS = frozenset({"$schema", "$id", "title", "description", "errorMessage", "definitions"})
_OF_MAPS = frozenset(
    {"properties", "additionalProperties", "propertyNames", "required", "minProperties", "dependencies"}
)


@cache
def load_schema(name: str) -> dict[str, Any]:
    """Return a shipped schema, `common` included, as the file has it."""
    text = files("trees").joinpath("schema", f"{name}.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def vocabulary(schema_name: str) -> frozenset[str]:
    """Return every key that a schema names, in it or in the shared parts it refers to."""
    return frozenset(_keys(load_schema(schema_name), schema_name, set()))


def fits(schema_name: str, data: object) -> bool:
    """Tell whether plain data fits a schema."""
    return _compiled(schema_name)(data)


def unique_words(found: list[Any]) -> Iterator[int]:
    """Return the places of words given again; maps and lists are not compared, that is quadratic."""
    seen: set[str | int | float] = set()
    for index, word in enumerate(found):
        if isinstance(word, str | int | float):
            if word in seen:
                yield index
            seen.add(word)


def _target(reference: str, file: str) -> tuple[str, str]:
    """Return file and definition that a `$ref` names."""
    other, _, definition = reference.partition("#/definitions/")
    return other.removesuffix(".schema.json") or file, definition


def _keys(schema: object, file: str, seen: set[tuple[str, str]]) -> Iterator[str]:
    """Walk a schema and what it refers to."""
    if isinstance(schema, list):
        for part in schema:
            yield from _keys(part, file, seen)
    if not isinstance(schema, dict):
        return
    if isinstance(schema.get("$ref"), str):
        target = _target(schema["$ref"], file)
        if target not in seen:
            seen.add(target)
            yield from _keys(load_schema(target[0])["definitions"][target[1]], target[0], seen)
    for keyword, part in schema.items():
        if keyword == "properties" and isinstance(part, dict):
            yield from part
            yield from _keys(list(part.values()), file, seen)
        elif keyword not in ("definitions", "enum", "const"):
            yield from _keys(part, file, seen)


@cache
def _compiled(name: str) -> Fits:
    return _Compiler().part(load_schema(name), name)


class _Compiler:
    """Turns schemas into nested functions; definitions are compiled once and may be recursive."""

    def __init__(self) -> None:
        self._definitions: dict[tuple[str, str], Fits] = {}

    def part(self, schema: Mapping[str, Any], file: str) -> Fits:
        """Return the function that answers for one schema of *file*."""
        if "$ref" in schema:
            return self._reference(_target(schema["$ref"], file))
        tests: list[Fits] = []
        for keyword, wanted in schema.items():
            if keyword in _SIMPLE:
                tests.append(_SIMPLE[keyword](wanted))
            elif keyword in ("allOf", "anyOf", "oneOf"):
                tests.append(_choice(keyword, [self.part(branch, file) for branch in wanted]))
            elif keyword == "not":
                tests.append(_not(self.part(wanted, file)))
            elif keyword == "items":
                tests.append(_items(self.part(wanted, file)))
            elif keyword == "if":
                branches = [self.part(schema.get(way, {}), file) for way in ("then", "else")]
                tests.append(_if(self.part(wanted, file), *branches))
            elif keyword not in _ANNOTATIONS and keyword not in _OF_MAPS and keyword not in ("then", "else"):
                raise ValueError(f"{file}.schema.json uses {keyword}, which schema_files does not know")
        if not _OF_MAPS.isdisjoint(schema):
            tests.append(self._map(schema, file))
        return tests[0] if len(tests) == 1 else lambda found: all(test(found) for test in tests)

    def _reference(self, target: tuple[str, str]) -> Fits:
        definitions = self._definitions
        if target not in definitions:
            definitions[target] = lambda found: False  # stands in while a recursive one is compiled
            definitions[target] = self.part(load_schema(target[0])["definitions"][target[1]], target[0])
            return definitions[target]
        return lambda found: definitions[target](found)

    def _map(self, schema: Mapping[str, Any], file: str) -> Fits:
        """Return one function for all that is said about a map's keys."""
        known = {key: self.part(part, file) for key, part in schema.get("properties", {}).items()}
        others = schema.get("additionalProperties", True)
        other = (lambda found: others) if isinstance(others, bool) else self.part(others, file)
        key_fits = self.part(schema.get("propertyNames", {}), file)
        required = frozenset(schema.get("required", ()))
        least = schema.get("minProperties", 0)
        partners = tuple(schema.get("dependencies", {}).items())

        def fit(found: Any) -> bool:
            if not isinstance(found, dict):
                return True
            if len(found) < least or not required <= found.keys():
                return False
            if any(key in found and not found.keys() >= set(needed) for key, needed in partners):
                return False
            return all(key_fits(key) and known.get(key, other)(value) for key, value in found.items())

        return fit


def _is_number(found: object) -> bool:
    return isinstance(found, int | float) and not isinstance(found, bool)


def _is_whole(found: object) -> bool:
    return _is_number(found) and (isinstance(found, int) or (isinstance(found, float) and found.is_integer()))


_TYPES: Mapping[str, Fits] = {
    "string": lambda found: isinstance(found, str),
    "number": _is_number,
    "integer": _is_whole,
    "boolean": lambda found: isinstance(found, bool),
    "array": lambda found: isinstance(found, list),
    "object": lambda found: isinstance(found, dict),
    "null": lambda found: found is None,
}


def _type(wanted: str | list[str]) -> Fits:
    if isinstance(wanted, str):
        return _TYPES[wanted]
    tests = [_TYPES[kind] for kind in wanted]
    return lambda found: any(test(found) for test in tests)


def _equals(wanted: list[Any]) -> Fits:
    """Return a test for being one of *wanted*; true is not 1."""
    return lambda found: any(
        found == value and isinstance(found, bool) == isinstance(value, bool) for value in wanted
    )


def _pattern(wanted: str) -> Fits:
    match = re.compile(wanted).fullmatch
    return lambda found: not isinstance(found, str) or match(found) is not None


def _sized(kind: type[str] | type[list[Any]], holds: Fits) -> Fits:
    return lambda found: not isinstance(found, kind) or holds(len(found))


def _measured(holds: Fits) -> Fits:
    return lambda found: not _is_number(found) or holds(found)


def _unique(found: object) -> bool:
    return not isinstance(found, list) or next(unique_words(found), None) is None


_SIMPLE: Mapping[str, Callable[[Any], Fits]] = {
    "type": _type,
    "enum": _equals,
    "const": lambda wanted: _equals([wanted]),
    "pattern": _pattern,
    "minLength": lambda least: _sized(str, lambda size: bool(size >= least)),
    "maxLength": lambda most: _sized(str, lambda size: bool(size <= most)),
    "minItems": lambda least: _sized(list, lambda size: bool(size >= least)),
    "maxItems": lambda most: _sized(list, lambda size: bool(size <= most)),
    "minimum": lambda least: _measured(lambda found: bool(found >= least)),
    "maximum": lambda most: _measured(lambda found: bool(found <= most)),
    "exclusiveMinimum": lambda least: _measured(lambda found: bool(found > least)),
    "uniqueItems": lambda wanted: _unique,
}


def _choice(keyword: str, branches: list[Fits]) -> Fits:
    if keyword == "allOf":
        return branches[0] if len(branches) == 1 else lambda found: all(fit(found) for fit in branches)
    if keyword == "anyOf":
        return lambda found: any(fit(found) for fit in branches)
    return lambda found: sum(fit(found) for fit in branches) == 1


def _not(inner: Fits) -> Fits:
    return lambda found: not inner(found)


def _items(inner: Fits) -> Fits:
    return lambda found: not isinstance(found, list) or all(inner(entry) for entry in found)


def _if(condition: Fits, then: Fits, otherwise: Fits) -> Fits:
    return lambda found: then(found) if condition(found) else otherwise(found)
