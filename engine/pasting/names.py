"""What a name in a log means: the quantity, the bank and sensor, and what is in doubt.

Names are recognised by words of the trade and by the parameter names of the diagnostic standard, never by the
format of a particular tool. Source of the standard's short names (SHRTFT1, LOAD_PCT, FUELSYS1, O2S11 …):
SAE J1979, from memory.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal, TypeAlias

LONGEST_NAME = 160
"""Characters of a name that are looked at."""
Statistic: TypeAlias = Literal["min", "max", "mean", "swing", "cross"]
"""What is taken of many values; the catalogue's own way of combining takes when none is named."""


@dataclass(frozen=True, slots=True)
class Named:
    """What a name can mean."""

    quantities: tuple[str, ...]
    """The quantity; several when the name leaves it open."""
    bank: int | None = None
    sensor: int | None = None
    """1 ahead of the catalyst, 2 behind it."""
    frozen: bool = False
    """The name says that it belongs to the freeze frame."""
    statistic: Statistic | None = None
    doubt: str = ""
    """What has to be asked about the name before its value counts; empty when it is plain."""


@dataclass(frozen=True, slots=True)
class Signal:
    """What a reading of the catalogue takes from live data."""

    quantity: str
    statistic: Statistic | None
    frozen: bool


def words_of(name: str) -> str:
    """Return a name as it is compared: one case, single blanks for all other signs."""
    plain = unicodedata.normalize("NFKC", name[:LONGEST_NAME]).casefold()
    return " ".join(re.sub(r"[^0-9a-zλ]+", " ", plain).split())


_COMMANDED = re.compile(r"\b(?:commanded|requested|target|desired|setpoint|command|cmd)\b")
_QUANTITIES: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (quantity, re.compile(pattern))
    for quantity, pattern in (
        ("ff_dtc", r"dtcfrzf|freeze ?frame (?:dtc|code|trouble code)|code that stored the freeze frame"),
        ("dtc_stored", r"\b(?:stored|confirmed)\b.*\b(?:codes?|dtcs?)\b|^(?:stored|confirmed)$"),
        ("dtc_pending", r"\bpending\b.*\b(?:codes?|dtcs?)\b|^pending$"),
        ("dtc_permanent", r"\bpermanent\b.*\b(?:codes?|dtcs?)\b|^permanent$"),
        ("km_since_clear", r"\bclr dist\b|distance (?:since|after)\b.*\bclear"),
        ("warmups_since_clear", r"\bwarm ups?\b|\bwarmups?\b"),
        ("throttle_cmd", r"\btac pct\b|commanded throttle|throttle (?:actuator )?(?:command|cmd)"),
        ("purge", r"\bevap pct\b|\bpurge\b.*\b(?:duty|command|cmd|valve|flow)\b|commanded (?:evap\w*|purge)"),
        ("egr_cmd", r"\begr pct\b|commanded egr|egr (?:command|cmd)\b"),
        ("stft", r"\bstft|\bshrtft|\bshort (?:term )?(?:fuel )?trim|\bshort term ft\b"),
        ("ltft", r"\bltft|\blongft|\blong (?:term )?(?:fuel )?trim|\blong term ft\b"),
        ("trim", r"\bfuel trim\b"),
        ("wb_ma", r"\bpump(?:ing)? current\b"),
        ("lambda", r"\beq rat\d*|\bequivalence ratio\b|\blambda(?:\d\d)?\b(?! (?:sensor|probe))|λ"),
        ("o2", r"\bh?o2(?:s\d{0,2})?\b|\bh?o2 ?b\d|\b(?:oxygen|lambda) (?:sensor|probe)"),
        ("loop", r"\bfuel ?sys\d?\b|\bfuel system (?:\d )?status\b|\bfuel system \d\b|\bloop\b"),
        ("trans_temp", r"\b(?:transmission|gearbox)\b.*\btemp"),
        ("ect", r"\bect\b|\bcoolant\b"),
        ("iat", r"\biat\b|\b(?:intake|inlet) (?:air )?temp"),
        ("maf", r"\bmaf\b|\bair ?flow\b|\bair mass\b"),
        ("map", r"\bmap\b|\b(?:manifold|intake|inlet) (?:manifold )?(?:absolute |air )?pressure"),
        ("railp", r"\bfrp\b|\brail pressure\b"),
        ("fuel_level", r"\bfli\b|\bfuel (?:tank )?level\b"),
        ("ethanol", r"\balch pct\b|\bethanol\b"),
        ("inj_ms", r"\binj(?:ector)? (?:pw|pulse|opening|on)\b|\binjection (?:time|pulse)\b"),
        ("knock", r"\bknock retard\b"),
        ("load", r"\bload pct\b|\b(?:calculated|calc|engine) (?:engine )?load\b|\bload$|\bload value\b"),
        ("speed", r"\bvss\b|\b(?:vehicle|road) speed\b"),
        ("rpm", r"\brpm\b|\bengine speed\b"),
        ("codes", r"^(?:trouble )?codes?$|^dtcs?$"),
    )
)  # fmt: skip
"""Tried in order; the first that is found counts."""
_MAY_BE_COMMANDED = frozenset({"throttle_cmd", "purge", "egr_cmd"})
_SEVERAL = {"trim": ("stft", "ltft"), "codes": ("dtc_stored", "dtc_pending", "dtc_permanent")}
_OTHER_THINGS = re.compile(r"\babsolute load\b|\bload abs\b|\bair fuel ratio\b|\bafr\b|\bbaro|\bresistance\b")

_BOTH = (
    re.compile(r"\bb(?:ank)? ?(?P<bank>\d) ?s(?:ensor)? ?(?P<sensor>\d)\b"),
    re.compile(r"\bs(?:ensor)? ?(?P<sensor>\d) ?b(?:ank)? ?(?P<bank>\d)\b"),
    re.compile(r"\bh?o2s(?P<sensor>\d) b(?:ank)? ?(?P<bank>\d)\b"),
    re.compile(r"\b(?:h?o2s?|eq rat|lambda|shrtft|longft|stft|ltft) ?(?P<bank>\d)(?P<sensor>\d)\b"),
)
_BANK = (
    re.compile(r"\bb(?:ank)? ?(?P<bank>\d)\b"),
    re.compile(r"\b(?:shrtft|longft|stft|ltft|term ft|trim|lambda|fuel ?sys(?:tem)?) ?(?P<bank>\d)\b"),
)
_SENSOR = (
    re.compile(r"\bs(?:ensor)? ?(?P<sensor>\d)\b"),
    re.compile(r"\bh?o2s(?P<sensor>\d)\b"),
)
_AHEAD = re.compile(r"\b(?:upstream|front|pre ?cat\w*)\b")
_BEHIND = re.compile(r"\b(?:downstream|rear|post ?cat\w*|behind)\b")
_FROZEN = re.compile(r"\b(?:freeze|frozen|ff)\b")
_STATISTICS: tuple[tuple[Statistic, re.Pattern[str]], ...] = (
    ("min", re.compile(r"\b(?:min|minimum|lowest)\b")),
    ("max", re.compile(r"\b(?:max|maximum|highest|peak)\b")),
    ("mean", re.compile(r"\b(?:mean|avg|average)\b")),
    ("cross", re.compile(r"\b(?:cross(?:es|ings?)?|cross counts?)\b")),
)


def understand_name(name: str, unit: str = "") -> Named | None:
    """Return what a name means, or None when it is no quantity that is known here.

    Args:
        name: a heading or the text before a value.
        unit: the unit that stands by it; tells a sensor's current from its voltage.
    """
    words = words_of(name)
    if not words or _OTHER_THINGS.search(words):
        return None
    quantity = next((known for known, pattern in _QUANTITIES if pattern.search(words)), None)
    if quantity is None or (_COMMANDED.search(words) and quantity not in _MAY_BE_COMMANDED):
        return None
    if quantity == "o2" and unit.casefold() == "ma":
        quantity = "wb_ma"
    bank, sensor = _place(words)
    if (bank or 1) > 2 or (sensor or 1) > 2:
        return None
    doubt = ""
    if quantity == "lambda" and not re.search(r"lambda|λ", words):
        doubt = "some displays call 1/lambda the equivalence ratio"
    if quantity == "loop" and bank == 2:
        doubt = "fuel system 2 is usually bank 2, not always"
    statistic = next((known for known, pattern in _STATISTICS if pattern.search(words)), None)
    quantities = _SEVERAL.get(quantity, (quantity,))
    return Named(quantities, bank, sensor, bool(_FROZEN.search(words)), statistic, doubt)


def _place(words: str) -> tuple[int | None, int | None]:
    for pattern in _BOTH:
        if (match := pattern.search(words)) is not None:
            return int(match["bank"]), int(match["sensor"])
    bank = next((int(m["bank"]) for pattern in _BANK if (m := pattern.search(words))), None)
    sensor = next((int(m["sensor"]) for pattern in _SENSOR if (m := pattern.search(words))), None)
    if sensor is None and _AHEAD.search(words):
        sensor = 1
    if sensor is None and _BEHIND.search(words):
        sensor = 2
    return bank, sensor


# --------------------------------------------------------------------------- from the catalogue's side

_EXACT: dict[str, str] = {
    "rpm_idle": "rpm", "rpm_crank": "rpm", "snap_max_rpm": "rpm", "throttle_cmd_idle": "throttle_cmd",
    "purge_duty_idle": "purge", "egr_cmd_idle": "egr_cmd", "fuel_level_pct": "fuel_level",
    "inj_ms_idle": "inj_ms", "trans_temp": "trans_temp", "fuel_ethanol_pct": "ethanol",
    "knock_retard_load": "knock", "km_since_clear": "km_since_clear", "ff_dtc": "ff_dtc",
    "warmups_since_clear": "warmups_since_clear", "dtc_stored": "dtc_stored", "dtc_pending": "dtc_pending",
    "dtc_permanent": "dtc_permanent", "ff_rpm": "rpm", "ff_speed": "speed", "ff_load": "load",
    "ff_ect": "ect", "ff_loop": "loop",
}  # fmt: skip
_FAMILIES: tuple[tuple[str, str, Statistic | None], ...] = (
    (r"(?:ff_)?stft_b[12](?:_\w+)?", "stft", None),
    (r"(?:ff_)?ltft_b[12](?:_\w+)?", "ltft", None),
    (r"stft_swing_b[12]_\w+", "stft", "swing"),
    (r"o2_b[12]s[12]_min_\w+", "o2", "min"),
    (r"o2_b[12]s[12]_max_\w+", "o2", "max"),
    (r"o2_b[12]s[12]_mean_\w+", "o2", "mean"),
    (r"o2_b[12]s[12]_cross_\w+", "o2", "cross"),
    (r"o2_b[12]s[12]_wot", "o2", "max"),
    (r"o2_b[12]s[12]_bias_koeo", "o2", None),
    (r"lam_b[12]_(?!overrun)\w+", "lambda", None),
    (r"lam_b[12]_overrun", "lambda", "max"),
    (r"wb_ma_b[12]_\w+", "wb_ma", None),
    (r"load_calc_\w+", "load", None),
    (r"maf_(?:koeo|idle|2500|load|peak)", "maf", None),
    (r"map_(?:koeo|idle|2500|load|wot)", "map", None),
    (r"ect_(?:cold|idle)", "ect", None),
    (r"iat_(?:cold|idle)", "iat", None),
    (r"railp_\w+", "railp", None),
    (r"loop_b[12]_\w+", "loop", None),
)


def signal_of(reading: str) -> Signal | None:
    """Return what a reading takes from live data, or None when no log can hold it under a known name."""
    frozen = reading.startswith("ff_")
    if reading in _EXACT:
        return Signal(_EXACT[reading], None, frozen)
    for pattern, quantity, statistic in _FAMILIES:
        if re.fullmatch(pattern, reading):
            return Signal(quantity, statistic, frozen)
    return None
