"""Lines of bytes as the diagnostic interface sends them: ``41 0C 0B B8``, with or without a frame heading.

Source: replies of SAE J1979 / ISO 15031-5 (41 live data, 42 freeze frame, 43, 47 and 4A codes); headings of
ISO 15765-4 frames (7E8 to 7EF and a length); from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from engine.formulas.obd import NO_FRAME, PARAMETERS, code_of
from engine.formulas.registry import FormulaError, Value, formula
from engine.pasting.names import Named


@dataclass(frozen=True, slots=True)
class RawValue:
    """One value decoded from bytes."""

    line: int
    title: str
    """What the parameter is called."""
    named: Named
    text: str
    """The value with its unit, or words."""


_ONE: Mapping[str, tuple[str, int | None]] = {
    "load": ("load", None), "coolant_temp": ("ect", None), "intake_temp": ("iat", None),
    "short_trim_b1": ("stft", 1), "short_trim_b2": ("stft", 2), "long_trim_b1": ("ltft", 1),
    "long_trim_b2": ("ltft", 2), "manifold_pressure": ("map", None), "engine_speed": ("rpm", None),
    "vehicle_speed": ("speed", None), "air_flow": ("maf", None), "purge": ("purge", None),
    "fuel_level": ("fuel_level", None), "commanded_throttle": ("throttle_cmd", None),
    "system_1": ("loop", 1), "system_2": ("loop", 2), "code": ("ff_dtc", None),
}  # fmt: skip
"""Result of a decoded parameter -> quantity and bank."""
_SENSOR_RUNS = (0x14, 0x24, 0x34)
"""First parameter of the eight sensors of each kind."""
_OF_SENSOR = {"voltage": "o2", "lambda": "lambda", "current": "wb_ma"}
_CODES = {0x43: "dtc_stored", 0x47: "dtc_pending", 0x4A: "dtc_permanent"}
_TWO_BANKS = ((1, 1), (1, 2), (1, 3), (1, 4), (2, 1), (2, 2), (2, 3), (2, 4))
_FOUR_BANKS = ((1, 1), (1, 2), (2, 1), (2, 2), (3, 1), (3, 2), (4, 1), (4, 2))


def decode(lines: Sequence[tuple[int, str]]) -> tuple[list[RawValue], list[tuple[int, str, str]]]:
    """Return the values in lines of bytes, and the lines that say nothing here with the reason.

    Of several control units that answer, the first by its heading is the engine's; the others are left out.
    """
    engine = min((unit for _, text in lines if (unit := _control_unit(text))), default="")
    rest = [
        (n, text, "another control unit answers here") for n, text in lines if _control_unit(text) > engine
    ]
    replies = [(n, text, _payload(text)) for n, text in lines if _control_unit(text) <= engine]
    data = [payload for _, _, payload in replies]
    scaling = next((d[2:6].hex() for d in data if d[:2] == b"\x41\x4f" and len(d) >= 6), "")
    places = _places(data)
    found: list[RawValue] = []
    for number, text, payload in replies:
        try:
            values = list(_values(number, payload, places, scaling))
        except FormulaError as error:
            rest.append((number, text, str(error)))
            continue
        found += values
        if not values:
            rest.append((number, text, "these bytes hold nothing that is asked here"))
    return found, rest


def _control_unit(text: str) -> str:
    """Return the heading of a frame, 7E8 to 7EF, or nothing for a line without one."""
    found = re.match(r"7[Ee][89A-Fa-f](?=[ :])", text)
    return found[0].upper() if found is not None else ""


def _payload(text: str) -> bytes:
    """Return the bytes of a reply, without the heading and filling of a frame."""
    tokens = re.split(r"[ :,>]+", text.strip(" >"))
    if len(tokens) > 2 and _control_unit(text):
        frame = bytes.fromhex("".join(tokens[1:]))
        return frame[1 : 1 + frame[0]] if 1 <= frame[0] <= 7 else b""
    digits = "".join(token for token in tokens if len(token) % 2 == 0)
    return bytes.fromhex(digits)


def _places(data: Sequence[bytes]) -> tuple[tuple[int, int], ...] | None:
    """Return bank and sensor of the eight sensors as the car itself lists them; None when it did not."""
    if any(reply[:2] == b"\x41\x1d" for reply in data):
        return _FOUR_BANKS
    return _TWO_BANKS if any(reply[:2] == b"\x41\x13" for reply in data) else None


def _values(
    number: int, payload: bytes, places: tuple[tuple[int, int], ...] | None, scaling: str
) -> Iterator[RawValue]:
    if not payload:
        return
    service = payload[0]
    if service in _CODES:
        yield RawValue(number, "trouble codes", Named((_CODES[service],)), _codes(payload[1:]))
        return
    if service not in (0x41, 0x42):
        raise FormulaError("no reply with live data (41), a freeze frame (42) or codes (43, 47, 4A)")
    at = 1
    while at < len(payload):
        pid = payload[at]
        start = at + 1 + (service == 0x42)
        if pid not in PARAMETERS:
            raise FormulaError(f"parameter {pid:02X} is not known here")
        sizes = PARAMETERS[pid].sizes
        size = len(payload) - start if len(payload) - start in sizes else min(sizes)
        data = payload[start : start + size]
        results = formula("obd_value").compute(pid=f"{pid:02X}", bytes=data.hex(), scaling=scaling)
        for name, value in results.items():
            named = _named(pid, name, service == 0x42, places)
            text = _text(pid, name, value)
            if named is not None and text:
                yield RawValue(number, PARAMETERS[pid].title, named, text)
        at = start + size


def _named(pid: int, result: str, frozen: bool, places: tuple[tuple[int, int], ...] | None) -> Named | None:
    first = next((run for run in _SENSOR_RUNS if run <= pid < run + 8), None)
    if first is not None and result in _OF_SENSOR:
        bank, sensor = (places or _TWO_BANKS)[pid - first]
        doubt = ""
        if places is None and pid - first > 1:
            doubt = "the car did not list its sensors (parameter 13 or 1D), so the place is a guess"
            bank, sensor = (_FOUR_BANKS if pid - first < 4 else _TWO_BANKS)[pid - first]
        return (
            Named((_OF_SENSOR[result],), bank, sensor, frozen, None, doubt) if max(bank, sensor) < 3 else None
        )
    if result not in _ONE:
        return None
    quantity, bank_of = _ONE[result]
    doubt = "fuel system 2 is usually bank 2, not always" if result == "system_2" else ""
    return Named((quantity,), bank_of, None, frozen, None, doubt)


def _text(pid: int, result: str, value: Value) -> str:
    if isinstance(value, str):
        return "" if value in (NO_FRAME, "not present") else value
    unit = next((one.unit for one in PARAMETERS[pid].results if one.name == result), "")
    return f"{value:.6f}".rstrip("0").rstrip(".") + (f" {unit}" if unit else "")


def _codes(data: bytes) -> str:
    """Return the codes of a reply; the count that newer interfaces send before them is left out."""
    if len(data) % 2:
        data = data[1 : 1 + 2 * data[0]]
    pairs = (data[at : at + 2] for at in range(0, len(data) - 1, 2))
    return " ".join(dict.fromkeys(code_of(pair) for pair in pairs if any(pair))) or "none"
