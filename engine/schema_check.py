"""Definition files against the schemas in trees/schema, in words and with line and column.

The schemas are draft-07, so that an editor completes and explains from the same files. Nothing of
the validator's own wording reaches a person; a schema's `errorMessage` is used where it has one.
jsonschema is imported when a file does not fit, not before.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from itertools import islice
from typing import TYPE_CHECKING, Any, cast

from engine.errors import DataPath, Problem, did_you_mean, nearest, shown
from engine.schema_files import SCHEMAS, fits, load_schema, unique_words, vocabulary

if TYPE_CHECKING:
    from jsonschema.exceptions import ValidationError
    from jsonschema.protocols import Validator

    from engine.yaml_text import Document

__all__ = ["SCHEMAS", "check_schema", "vocabulary"]

MOST_FOUND = 1000
"""Faults looked for in one file; keeps a hostile file quick."""
MOST_LISTED = 100
"""Problems listed of one file."""
MOST_WORDS = 14
"""Allowed words that a message lists at most."""

_TYPE_WORDS = {
    "string": "a text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "array": "a list",
    "object": "a map of keys",
    "null": "null",
}


def check_schema(document: Document, schema_name: str) -> tuple[Problem, ...]:
    """Return everything in *document* that its schema does not allow, sorted by place.

    What is missing is not reported of a file that could not be read to its end.

    Args:
        document: a file as `read_yaml` returns it; its own problems are not repeated.
        schema_name: one of `SCHEMAS`.
    """
    unread = any(problem.level == "error" for problem in document.problems)
    if document.data is None and () not in document.key_marks:
        message = "the file holds nothing: it begins with format: 1"
        return () if unread else (document.problem((), message),)
    if fits(schema_name, document.data):
        return ()
    errors = list(islice(_validator(schema_name).iter_errors(document.data), MOST_FOUND))
    if unread:
        errors = [error for error in errors if error.validator != "required"]
    meant = {
        tuple(error.absolute_path): _meant(error)
        for error in errors
        if error.validator == "additionalProperties"
    }
    misread = {problem.line for problem in document.problems if problem.level == "error"}
    found = {
        problem
        for error in errors
        for problem in _problems(document, error, meant.get(tuple(error.absolute_path), frozenset()))
        if problem.line not in misread
    }
    listed = sorted(found)[:MOST_LISTED]
    if len(found) > MOST_LISTED:
        last = listed[-1]
        message = f"more than {MOST_LISTED} problems in this file: the rest is not listed"
        listed.append(Problem(last.file, last.line, last.column, "error", "", message))
    return tuple(listed)


@cache
def _validator(name: str) -> Validator:
    """Return the validator of one schema, made once; jsonschema is imported only here."""
    from jsonschema import Draft7Validator, validators
    from referencing import Registry
    from referencing.jsonschema import DRAFT7

    resources = [
        (f"{part}.schema.json", DRAFT7.create_resource(load_schema(part))) for part in ("common", name)
    ]
    registry: Registry[Any] = Registry().with_resources(resources)
    extend = cast("Callable[..., Any]", validators.extend)
    strict = extend(Draft7Validator, {"pattern": _full_pattern, "uniqueItems": _unique_words})
    validator: Validator = strict(load_schema(name), registry=registry)
    return validator


def _full_pattern(
    validator: Validator, pattern: str, found: object, schema: Mapping[str, Any]
) -> Iterator[ValidationError]:
    """Match whole texts: `$` alone would let a line end pass."""
    from jsonschema.exceptions import ValidationError

    if isinstance(found, str) and re.fullmatch(pattern, found) is None:
        yield ValidationError("pattern")


def _unique_words(
    validator: Validator, unique: bool, found: object, schema: Mapping[str, Any]
) -> Iterator[ValidationError]:
    """Find words given twice; maps and lists are not compared, which would take quadratic time."""
    from jsonschema.exceptions import ValidationError

    if unique and isinstance(found, list):
        for index in unique_words(found):
            yield ValidationError(
                "uniqueItems", validator="uniqueItems", instance=found[index], path=(index,)
            )


def _meant(error: ValidationError) -> frozenset[str]:
    """Return the allowed keys that mistyped keys of one map stand for."""
    found: Any = error.instance
    allowed = _allowed_keys(error)
    near = (nearest(key, allowed) for key in found if key not in allowed)
    return frozenset(key for key in near if key)


def _allowed_keys(error: ValidationError) -> list[str]:
    schema: Any = error.schema
    return list(schema.get("properties", ()))


def _problems(document: Document, error: ValidationError, meant: frozenset[str]) -> Iterator[Problem]:
    """Turn one of the validator's errors into finished problems.

    Args:
        document: the file.
        error: what the validator found.
        meant: keys that are there under a mistyped name, so that they are not called missing.
    """
    path: DataPath = tuple(error.absolute_path)
    found: Any = error.instance
    wanted: Any = error.validator_value
    match error.validator:
        case _ if "propertyNames" in error.absolute_schema_path and isinstance(found, str):
            yield document.key_problem((*path, found), f"the key {shown(found)}: {_key_reason(error)}")
        case "additionalProperties":
            yield from _unknown_keys(document, path, found, _allowed_keys(error))
        case "dependencies":
            yield from _lonely_keys(document, path, found, wanted)
        case "required":
            missing = [f"{key}:" for key in wanted if key not in found and key not in meant]
            if missing:
                verb = "is" if len(missing) == 1 else "are"
                yield document.key_problem(path, f"{_and(missing)} {verb} missing here")
        case "oneOf" | "anyOf":
            yield from _choice_of_keys(document, path, error, meant)
        case "not" | "minProperties":
            yield document.key_problem(path, _reason(error))
        case _:
            yield document.problem(path, _reason(error))


def _reason(error: ValidationError) -> str:
    """Return what is wrong with one value in plain words."""
    schema: Any = error.schema
    found: Any = error.instance
    wanted: Any = error.validator_value
    if error.validator == "type":
        return _wrong_type(found, wanted, schema)
    said = schema.get("errorMessage")
    if isinstance(said, str):
        if error.validator == "not" or isinstance(found, dict | list):
            return said
        return f"found {shown(found)}: {said}"
    return _WORDING[str(error.validator)](found, wanted)


def _key_reason(error: ValidationError) -> str:
    schema: Any = error.schema
    return str(schema.get("errorMessage") or _reason(error))


def _enum(found: object, allowed: Iterable[object]) -> str:
    words = [str(word) for word in allowed]
    near = did_you_mean(found, words) if isinstance(found, str) else ""
    return f"found {shown(found)}, allowed: {_listed(words)}{near}"


_WORDING: Mapping[str, Callable[[Any, Any], str]] = {
    "enum": _enum,
    "const": lambda found, allowed: _enum(found, [allowed]),
    "pattern": lambda found, allowed: f"{shown(found)} is not written as it should be",
    "minItems": lambda found, least: f"the list has {len(found)} entries, at least {least} belong",
    "maxItems": lambda found, most: f"the list has {len(found)} entries, at most {most} belong",
    "minLength": lambda found, least: "the text is empty",
    "maxLength": lambda found, most: f"the text has {len(found)} characters, at most {most} fit",
    "minProperties": lambda found, least: "the map is empty: at least one key belongs here",
    "minimum": lambda found, least: f"found {shown(found)}, at least {least} is allowed",
    "maximum": lambda found, most: f"found {shown(found)}, at most {most} is allowed",
    "exclusiveMinimum": lambda found, least: f"found {shown(found)}, it must be above {least}",
    "exclusiveMaximum": lambda found, most: f"found {shown(found)}, it must be below {most}",
    "uniqueItems": lambda found, allowed: f"{shown(found)} stands twice in this list",
}


def _wrong_type(found: object, allowed: str | list[str], schema: Mapping[str, Any]) -> str:
    """Say what was found and expected, and guess the slip behind it."""
    kinds = [allowed] if isinstance(allowed, str) else allowed
    message = f"found {shown(found)}, expected {_or([_TYPE_WORDS[kind] for kind in kinds])}"
    if "string" in kinds:
        if isinstance(found, bool) or (isinstance(found, int | float) and "number" not in kinds):
            if not re.fullmatch(schema.get("pattern", ".*"), shown(found)):
                return f"found {shown(found)}: {schema.get('errorMessage', message)}"
            return f'{message}: put quotes around it: "{shown(found)}"'
        if isinstance(found, dict) and len(found) == 1 and "object" not in kinds:
            [(key, value)] = found.items()
            if isinstance(value, str) and " " in f"{key} {value}":
                text = f"{key}: {value}"
                better = text if len(text) <= 60 else f"{text[:59]}…"
                return f'{message}; a colon in an unquoted text makes a map: write "{better}"'
    if kinds == ["array"] and isinstance(found, str | int | float):
        return f"{message}: write [{shown(found).strip(chr(39))}]"
    if kinds == ["object"] and isinstance(found, str) and re.match(r"\w+:\S", found):
        return f"{message}: put a blank after the colon"
    return message


def _unknown_keys(
    document: Document, path: DataPath, found: Mapping[str, object], allowed: list[str]
) -> Iterator[Problem]:
    """Report each key that does not belong, at its own place."""
    free = [key for key in allowed if key not in found]
    for key, value in found.items():
        if key in allowed:
            continue
        near = did_you_mean(key, free) or did_you_mean(key, allowed)
        if not near and value is None:
            near = "; a comma inside braces ends a text: put quotes around a text that holds one"
        if not near:
            near = f"; allowed here: {_listed(free or allowed)}"
        yield document.key_problem((*path, key), f"unknown key {shown(key)}{near}")


def _lonely_keys(
    document: Document,
    path: DataPath,
    found: Mapping[str, object],
    partners: Mapping[str, list[str]],
) -> Iterator[Problem]:
    """Report keys that stand without the key they go with."""
    for key, needed in partners.items():
        for other in needed:
            if key in found and other not in found:
                message = f"{key}: stands only together with {other}:"
                yield document.key_problem((*path, key), message)


def _choice_of_keys(
    document: Document, path: DataPath, error: ValidationError, meant: frozenset[str]
) -> Iterator[Problem]:
    """Say which of several keys is missing or one too many; each branch is one `required`."""
    found: Any = error.instance
    branches: Any = error.validator_value
    keys = [str(key) for branch in branches for key in branch["required"]]
    present = [f"{key}:" for key in keys if key in found]
    if len(present) > 1:
        yield document.key_problem(path, f"only one of {_and(present)} can stand here")
    elif not meant.intersection(keys):
        count = "exactly one" if error.validator == "oneOf" else "at least one"
        message = f"{count} of {_or([f'{key}:' for key in keys])} belongs here"
        yield document.key_problem(path, message)


def _listed(words: list[str]) -> str:
    more = f" and {len(words) - MOST_WORDS} more" if len(words) > MOST_WORDS else ""
    return ", ".join(words[:MOST_WORDS]) + more


def _and(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def _or(words: list[str]) -> str:
    return " or ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
