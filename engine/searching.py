"""Finding readings and faults by label, id, unit, tool or system."""

from __future__ import annotations

from typing import Any

from engine.catalogue import Catalogue, Reading


def search_readings(catalogue: Catalogue, word: str) -> list[dict[str, Any]]:
    """Return readings and worked values that fit every part of *word*, as plain data."""
    found = []
    for reading in catalogue.readings.values():
        tools = [catalogue.instruments[t].label if t in catalogue.instruments else t for t in reading.tools]
        text = " ".join((reading.id, reading.label, reading.unit, *reading.tools, *tools, reading.state))
        if _fits(word, text):
            found.append(_reading(reading, tools))
    for worked in catalogue.worked.values():
        formulas = [recipe.formula for recipe in worked.recipes]
        if _fits(word, " ".join((worked.id, worked.label, worked.unit, "worked", *formulas))):
            found.append(
                {
                    "id": worked.id,
                    "label": worked.label,
                    "unit": worked.unit,
                    "kind": "worked",
                    "formulas": formulas,
                }
            )
    return found


def search_faults(catalogue: Catalogue, word: str) -> list[dict[str, Any]]:
    """Return faults that fit every part of *word*, as plain data."""
    return [
        {
            "id": fault.id,
            "label": fault.label,
            "system": fault.system,
            "side": fault.side,
            "prior": fault.prior,
            "repair": fault.repair,
            "proof": fault.proof,
            "if_left": fault.if_left,
            "drive": fault.drive.value,
            "proven_by": list(fault.proven_by),
            "exclude_first": list(fault.exclude_first),
        }
        for fault in catalogue.faults.faults.values()
        if _fits(word, " ".join((fault.id, fault.label, fault.system, fault.repair)))
    ]


def _fits(word: str, text: str) -> bool:
    return all(part in text.casefold() for part in word.casefold().split())


def _reading(reading: Reading, tools: list[str]) -> dict[str, Any]:
    return {
        "id": reading.id,
        "label": reading.label,
        "unit": reading.unit,
        "kind": reading.kind,
        "tools": tools,
        "state": reading.state,
        "minutes": reading.minutes,
        "reject": list(reading.reject) if reading.kind == "num" else None,
        "usual": list(reading.usual) if reading.kind == "num" else list(reading.usual_choices),
        "choices": {choice.value: choice.label for choice in reading.choices},
        "takes": reading.takes,
        "keeps": reading.keeps,
    }
