"""Parameters of the diagnostic interface: bytes to values, bytes to trouble codes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from engine.errors import shown
from engine.formulas import obd_words
from engine.formulas.declaring import Argument, Formula, FormulaError, Result, Results, Value

Decoded: TypeAlias = dict[str, Value]
Maxima: TypeAlias = tuple[int, int, int, int]

DEFAULT_MAXIMA: Maxima = (0, 0, 0, 0)
"""Bytes of PID 4F when the default scaling holds."""
NO_FRAME = "no frame stored"
NOT_USED = "sensor not used for trim"


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of service 01: how many data bytes it has and what they mean."""

    title: str
    sizes: tuple[int, ...]
    results: tuple[Result, ...]
    decode: Callable[[bytes, Maxima], Decoded]


def _word(data: bytes, at: int = 0) -> int:
    return data[at] * 256 + data[at + 1]


def _trim(raw: int) -> float:
    return (raw - 128) * 100.0 / 128.0


def _listed(found: Iterator[str]) -> str:
    return " ".join(found) or "none"


def _bits(raw: int, words: tuple[str, ...]) -> Iterator[str]:
    return (word for bit, word in enumerate(words) if raw >> bit & 1)


# ---------------------------------------------------------------------------- parameters of one number


def _number(title: str, name: str, unit: str, size: int, scale: Callable[[bytes], float]) -> Parameter:
    """Return a parameter of one value that PID 4F does not rescale."""
    return Parameter(title, (size,), (Result(name, unit, title),), lambda data, _: {name: float(scale(data))})


def _percent(title: str, name: str) -> Parameter:
    return _number(title, name, "%", 1, lambda data: data[0] * 100.0 / 255.0)


def _temperature(title: str, name: str) -> Parameter:
    return _number(title, name, "°C", 1, lambda data: data[0] - 40.0)


def _trims(term: str, bank: int) -> Parameter:
    """Return a trim parameter; a second byte, if sent, is for the bank two further on."""
    names = (f"{term}_trim_b{bank}", f"{term}_trim_b{bank + 2}")
    results = tuple(Result(name, "%", f"{term}-term trim, bank {name[-1]}") for name in names)
    return Parameter(
        f"{term}-term trim, bank {bank}",
        (1, 2),
        results,
        lambda data, _: dict(zip(names, map(_trim, data), strict=False)),
    )


# --------------------------------------------------------------------------------- parameters in words


def _support(first: int) -> Parameter:
    """Return the list of supported parameters after PID *first*."""

    def decode(data: bytes, _: Maxima) -> Decoded:
        bits = int.from_bytes(data, "big")
        return {"supported": _listed(f"{first + at:02X}" for at in range(1, 33) if bits >> (32 - at) & 1)}

    return Parameter("parameters supported", (4,), (Result("supported", "", "parameters supported"),), decode)


def _monitors(data: bytes, _: Maxima) -> Decoded:
    lamp, continuous, supported, incomplete = data
    present = list(_bits(continuous, obd_words.CONTINUOUS_MONITORS))
    waiting = list(_bits(continuous & continuous >> 4, obd_words.CONTINUOUS_MONITORS))
    spark = not continuous & 0x08
    if spark:  # with compression ignition the other monitors mean something else
        present += _bits(supported, obd_words.OTHER_MONITORS)
        waiting += _bits(supported & incomplete, obd_words.OTHER_MONITORS)
    return {
        "lamp": "on" if lamp & 0x80 else "off",
        "codes": float(lamp & 0x7F),
        "ignition": "spark" if spark else "compression",
        "supported": ", ".join(present) or "none",
        "not_complete": ", ".join(waiting) or "none",
    }


def _frame_code(data: bytes, _: Maxima) -> Decoded:
    return {"code": code_of(data) if any(data) else NO_FRAME}


def _fuel_system(data: bytes, _: Maxima) -> Decoded:
    decoded: Decoded = {}
    for number, raw in enumerate(data, start=1):
        if raw not in obd_words.FUEL_SYSTEM:
            raise FormulaError(
                f"bytes: {raw:02X} is no status of fuel system {number}: one bit is set at a time"
            )
        decoded[f"system_{number}"] = obd_words.FUEL_SYSTEM[raw]
    return decoded


def _sensors(words: tuple[str, ...]) -> Parameter:
    return Parameter(
        "oxygen sensors present",
        (1,),
        (Result("sensors", "", "oxygen sensors present"), Result("count", "", "how many")),
        lambda data, _: {"sensors": _listed(_bits(data[0], words)), "count": float(data[0].bit_count())},
    )


def _coded(title: str, name: str, words: Mapping[int, str]) -> Parameter:
    return Parameter(
        title,
        (1,),
        (Result(name, "", title),),
        lambda data, _: {name: words.get(data[0], f"value {data[0]:02X}, not in this table")},
    )


# -------------------------------------------------------------------- oxygen sensors and their scaling


def _narrow(data: bytes, _: Maxima) -> Decoded:
    return {"voltage": data[0] / 200.0, "trim": NOT_USED if data[1] == 0xFF else _trim(data[1])}


def _lambda(raw: int, maxima: Maxima) -> float:
    return raw * float(maxima[0] or 2) / 65536.0


def _wide_voltage(data: bytes, maxima: Maxima) -> Decoded:
    return {
        "lambda": _lambda(_word(data), maxima),
        "voltage": _word(data, 2) * float(maxima[1] or 8) / 65536.0,
    }


def _wide_current(data: bytes, maxima: Maxima) -> Decoded:
    share = (_word(data, 2) - 32768) / 32768.0
    return {"lambda": _lambda(_word(data), maxima), "current": share * float(maxima[2] or 128)}


def _manifold(data: bytes, maxima: Maxima) -> Decoded:
    return {"manifold_pressure": data[0] * (maxima[3] * 10.0 or 255.0) / 255.0}


def _maxima(data: bytes, _: Maxima) -> Decoded:
    named = zip(_MAXIMA, data, (1.0, 1.0, 1.0, 10.0), strict=True)
    return {result.name: raw * worth if raw else "default scaling" for result, raw, worth in named}


_MAXIMA = (
    Result("lambda_max", "", "greatest lambda of 24-2B, 34-3B and 44"),
    Result("voltage_max", "V", "greatest voltage of 24-2B"),
    Result("current_max", "mA", "greatest current of 34-3B"),
    Result("pressure_max", "kPa", "greatest manifold pressure of 0B"),
)
_LAMBDA = Result("lambda", "", "air over the air the fuel needs")
_VOLTAGE = Result("voltage", "V", "sensor voltage")


def _table() -> dict[int, Parameter]:
    narrow = (_VOLTAGE, Result("trim", "%", "short-term trim of this sensor"))
    wide_current = (_LAMBDA, Result("current", "mA", "pump current"))
    pressure = (Result("manifold_pressure", "kPa", "manifold pressure, absolute"),)
    monitors = (
        Result("lamp", "", "warning lamp"),
        Result("codes", "", "codes stored"),
        Result("ignition", "", "kind of ignition"),
        Result("supported", "", "monitors the car has"),
        Result("not_complete", "", "monitors not ready"),
    )
    systems = (Result("system_1", "", "fuel system 1"), Result("system_2", "", "fuel system 2"))
    return {
        **{first: _support(first) for first in range(0x00, 0xE0, 0x20)},
        0x01: Parameter("monitors", (4,), monitors, _monitors),
        0x02: Parameter("code that stored the frame", (2,), (Result("code", "", "code"),), _frame_code),
        0x03: Parameter("fuel system status", (2,), systems, _fuel_system),
        0x04: _percent("calculated load", "load"),
        0x05: _temperature("coolant temperature", "coolant_temp"),
        0x06: _trims("short", 1),
        0x07: _trims("long", 1),
        0x08: _trims("short", 2),
        0x09: _trims("long", 2),
        0x0A: _number("fuel rail pressure, gauge", "fuel_pressure", "kPa", 1, lambda data: data[0] * 3.0),
        0x0B: Parameter("manifold pressure", (1,), pressure, _manifold),
        0x0C: _number("engine speed", "engine_speed", "rpm", 2, lambda data: _word(data) / 4.0),
        0x0D: _number("vehicle speed", "vehicle_speed", "km/h", 1, lambda data: data[0]),
        0x0E: _number(
            "timing advance before top dead centre", "timing", "°", 1, lambda data: data[0] / 2.0 - 64.0
        ),
        0x0F: _temperature("intake air temperature", "intake_temp"),
        0x10: _number("air flow", "air_flow", "g/s", 2, lambda data: _word(data) / 100.0),
        0x11: _percent("absolute throttle position", "throttle"),
        0x13: _sensors(obd_words.SENSORS_TWO_BANKS),
        **{pid: Parameter("switching oxygen sensor", (2,), narrow, _narrow) for pid in range(0x14, 0x1C)},
        0x1C: _coded("requirement the car meets", "requirement", obd_words.REQUIREMENT),
        0x1D: _sensors(obd_words.SENSORS_FOUR_BANKS),
        0x1F: _number("run time since start", "run_time", "s", 2, _word),
        0x21: _number("distance with the lamp on", "distance", "km", 2, _word),
        **{
            pid: Parameter("wide-band sensor, voltage", (4,), (_LAMBDA, _VOLTAGE), _wide_voltage)
            for pid in range(0x24, 0x2C)
        },
        0x2E: _percent("commanded purge", "purge"),
        0x2F: _percent("fuel level", "fuel_level"),
        0x33: _number("barometric pressure", "barometric_pressure", "kPa", 1, lambda data: data[0]),
        **{
            pid: Parameter("wide-band sensor, current", (4,), wide_current, _wide_current)
            for pid in range(0x34, 0x3C)
        },
        **{
            pid: _number(
                "catalyst temperature", "catalyst_temp", "°C", 2, lambda data: _word(data) / 10.0 - 40.0
            )
            for pid in range(0x3C, 0x40)
        },
        0x42: _number("control module voltage", "module_voltage", "V", 2, lambda data: _word(data) / 1000.0),
        0x43: _number("absolute load", "absolute_load", "%", 2, lambda data: _word(data) * 100.0 / 255.0),
        0x44: Parameter(
            "commanded lambda", (2,), (_LAMBDA,), lambda data, top: {"lambda": _lambda(_word(data), top)}
        ),
        0x45: _percent("relative throttle position", "relative_throttle"),
        0x46: _temperature("ambient temperature", "ambient_temp"),
        0x49: _percent("pedal position D", "pedal_d"),
        0x4A: _percent("pedal position E", "pedal_e"),
        0x4C: _percent("commanded throttle", "commanded_throttle"),
        0x4F: Parameter("greatest values of rescaled parameters", (4,), _MAXIMA, _maxima),
        0x51: _coded("fuel type", "fuel_type", obd_words.FUEL_TYPE),
    }


PARAMETERS: Mapping[int, Parameter] = _table()
"""Parameters of service 01 by number."""


# ----------------------------------------------------------------------------------------- typed bytes


def _bytes(name: str, text: str) -> bytes:
    """Return typed hexadecimal bytes; blanks are allowed between them."""
    digits = re.sub(r"[\s,]+", "", text).removeprefix("0x").removeprefix("0X")
    if not re.fullmatch(r"(?:[0-9A-Fa-f]{2})+", digits):
        raise FormulaError(f"{name} is {shown(text)}: write pairs of hexadecimal digits, such as 1A F8")
    return bytes.fromhex(digits)


def _pid(text: str) -> int:
    digits = text.strip().removeprefix("0x").removeprefix("0X")
    if not re.fullmatch(r"[0-9A-Fa-f]{1,2}", digits):
        raise FormulaError(f"pid is {shown(text)}: write one or two hexadecimal digits, such as 0C")
    pid = int(digits, 16)
    if pid not in PARAMETERS:
        known = " ".join(f"{one:02X}" for one in sorted(PARAMETERS))
        raise FormulaError(f"pid is {pid:02X}: not a parameter known here; known are {known}")
    return pid


def _payload(pid: int, data: bytes, sizes: tuple[int, ...]) -> bytes:
    """Return the data bytes of *pid*, without the heading of a whole reply of service 01 or 02."""
    if len(data) in sizes:
        return data
    for heading, length in (
        (bytes((0x41, pid)), 2),
        (bytes((0x42, pid)), 3),
    ):  # service 02 adds a frame number
        if data.startswith(heading) and len(data) - length in sizes:
            return data[length:]
    wanted = " or ".join(str(size) for size in sizes)
    raise FormulaError(
        f"bytes: {len(data)} given, pid {pid:02X} has {wanted} (the data after the echo of the pid)"
    )


def obd_value(pid: str, bytes: str, scaling: str = "") -> Results:  # noqa: A002 -- the fixed argument name
    """Return the values of a parameter of service 01, or of a frozen frame (service 02).

    Args:
        pid: parameter, hexadecimal.
        bytes: data bytes, hexadecimal, blanks allowed; or the whole reply with 41 pid or 42 pid frame before.
        scaling: the four bytes of PID 4F, when the car sends other than the default scaling.

    Raises:
        FormulaError: the parameter is not known, or the number of bytes is wrong.
    Source: SAE J1979 / ISO 15031-5; 04 to 11 and 13 to 1B seen in a public table, the rest from memory.
    """
    number = _pid(pid)
    parameter = PARAMETERS[number]
    data = _payload(number, _bytes("bytes", bytes), parameter.sizes)
    top = _bytes("scaling", scaling) if scaling else b"\0\0\0\0"
    if len(top) != 4:
        raise FormulaError(f"scaling: {len(top)} bytes given, pid 4F has 4")
    return parameter.decode(data, (top[0], top[1], top[2], top[3]))


def code_of(data: bytes) -> str:
    """Return the trouble code of two bytes: letter, first digit 0 to 3, three hexadecimal digits.

    Source: SAE J2012 / ISO 15031-6, from memory.
    """
    return f"{'PCBU'[data[0] >> 6]}{data[0] >> 4 & 3}{data[0] & 15:X}{data[1]:02X}"


def trouble_code(bytes: str) -> Results:  # noqa: A002 -- the fixed argument name
    """Return the trouble code of two bytes.

    Args:
        bytes: two bytes, hexadecimal.

    Raises:
        FormulaError: not two bytes, or 00 00, which fills up a reply and is no code.
    Source: SAE J2012 / ISO 15031-6, from memory.
    """
    data = _bytes("bytes", bytes)
    if len(data) != 2:
        raise FormulaError(f"bytes: {len(data)} given, a trouble code has 2")
    if not any(data):
        raise FormulaError("bytes: 00 00 only fills up the reply, it is no code")
    return {"code": code_of(data)}


def _all_results() -> tuple[Result, ...]:
    found: dict[str, Result] = {}
    for parameter in PARAMETERS.values():
        for result in parameter.results:
            found.setdefault(result.name, result)
    return tuple(found.values())


FORMULAS = (
    Formula(
        "obd_value",
        "value of a parameter of the diagnostic interface",
        (
            Argument("pid", "", "parameter, hexadecimal", "text"),
            Argument("bytes", "", "data bytes after the echo, hexadecimal", "text"),
            Argument("scaling", "", "the four bytes of PID 4F, if not default", "text", optional=True),
        ),
        _all_results(),
        "service 01 and frozen frames, one control unit at a time; rail pressure is gauge, others absolute",
        "SAE J1979 / ISO 15031-5: 04 to 11 and 13 to 1B seen in a public table, the rest from memory",
        obd_value,
    ),
    Formula(
        "trouble_code",
        "trouble code of two bytes",
        (Argument("bytes", "", "two bytes, hexadecimal", "text"),),
        (Result("code", "", "trouble code"),),
        "two bytes, not 00 00",
        "from memory of SAE J2012 / ISO 15031-6",
        trouble_code,
    ),
)
