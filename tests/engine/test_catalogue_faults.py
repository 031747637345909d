"""The catalogues of faults, findings, codes, cautions and limits: what each entry must hold.

Read here as plain YAML, so that these checks do not lean on the loader they would otherwise test. Numbers
that can be worked out from a document outside the project are worked out again, the document named beside
the check.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

CATALOGUE = Path(__file__).resolve().parents[2] / "trees" / "catalogue"


def read(name: str) -> dict[str, Any]:
    """Return one catalogue file."""
    data: dict[str, Any] = yaml.safe_load((CATALOGUE / f"{name}.yaml").read_text(encoding="utf-8"))
    return data


FAULTS = read("faults")["faults"]
FINDINGS = read("findings")["findings"]
LEFT = read("findings")["left"]
CODES = read("codes")["codes"]
GROUPS = read("codes")["groups"]
CAUTIONS = read("cautions")["cautions"]
LIMITS = read("limits")["limits"]

OWN_FILES = ("faults", "findings", "codes", "cautions", "limits")
SENSOR_GATE = {"heater-good", "wiring-good", "sensor-ground-good", "no-exhaust-leak", "no-misfire"}


def ids(name: str) -> set[str]:
    """Return every id of a catalogue file, its slots written out."""
    written: set[str] = set()
    for family in read(name)[name]:
        parts = re.split(r"\{([^}]*)\}", family)
        choices = [part.split(",") if at % 2 else [part] for at, part in enumerate(parts)]
        written |= {"".join(word) for word in itertools.product(*choices)}
    return written


QUANTITIES = ids("readings") | ids("worked")


def texts(data: object) -> Iterator[str]:
    """Yield every text of a file, keys included."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield str(key)
            yield from texts(value)
    elif isinstance(data, list):
        for value in data:
            yield from texts(value)
    elif isinstance(data, str):
        yield data


# -------------------------------------------------------------------- all files


@pytest.mark.parametrize("name", OWN_FILES)
def test_texts_hold_no_marks_of_a_working_paper(name: str) -> None:
    mark = re.compile(r"\bT\d+(\.\d+|\b)|\bC\d+\.\d+|\[[A-Z]{1,2}\]|https?:|\bTODO\b")
    assert [text for text in texts(read(name)) if mark.search(text)] == []


@pytest.mark.parametrize("name", OWN_FILES)
def test_words_stay_words_in_either_version_of_yaml(name: str) -> None:
    """YAML 1.1 reads a bare no, off or yes as a truth value; only the flags of the format may be one."""
    flags = {"seen", "decided_by_repair", "ends_with_repair", "only_when_known"}

    def stray(data: object, key: str) -> Iterator[str]:
        if isinstance(data, bool) and key not in flags:
            yield key
        elif isinstance(data, dict):
            for inner, value in data.items():
                assert isinstance(inner, str), f"{key}: {inner!r}"
                yield from stray(value, inner)
        elif isinstance(data, list):
            for value in data:
                yield from stray(value, key)

    assert list(stray(read(name), name)) == []


# ----------------------------------------------------------------------- faults


@pytest.mark.parametrize("fault", FAULTS)
def test_fault_is_whole(fault: str) -> None:
    entry = FAULTS[fault]
    assert 1 <= entry["prior"] <= 100
    assert entry["drive"] in {"may-drive", "with-care", "do-not-drive"}
    assert entry["side"] in {"none", "bank", "upstream", "downstream", "any-sensor"}
    assert entry["parts"] in {"none", "small", "medium", "large", "very-large"}
    assert entry["minutes"] is None or entry["minutes"] > 0
    for text in ("repair", "proof", "if_left"):
        assert entry[text].rstrip().endswith("."), text
        assert not QUANTITIES & set(re.findall(r"[a-z0-9]+(?:_[a-z0-9]+)+", entry[text])), text


@pytest.mark.parametrize("fault", FAULTS)
def test_fault_rests_on_findings_that_exist(fault: str) -> None:
    entry = FAULTS[fault]
    named = [*entry["proven_by"], *entry.get("exclude_first", [])]
    assert entry["proven_by"], "a fault that nothing decides would be proven by nothing"
    assert len(named) == len(set(named)), "what decides and what is excluded first are different facts"
    assert [finding for finding in named if finding not in FINDINGS] == []


def test_every_proof_needs_the_complaint() -> None:
    assert read("faults")["proven_needs"] == ["complaint-carried"]
    assert set(read("faults")["proven_needs"]) <= set(FINDINGS)


@pytest.mark.parametrize(
    "fault", [fault for fault, entry in FAULTS.items() if fault.startswith(("o2_up_", "o2_down_"))]
)
def test_no_sensor_is_condemned_before_its_surroundings_and_a_witness(fault: str) -> None:
    entry = FAULTS[fault]
    response = {
        "witness-saw-rich-missed",
        "witness-saw-lean-missed",
        "forced-step-slow",
        "centre-reads-lean",
        "centre-reads-rich",
    }
    assert set(entry["exclude_first"]) >= SENSOR_GATE
    assert set(entry["proven_by"]) <= response


@pytest.mark.parametrize("fault", ["cat_worn", "cat_blocked"])
def test_no_catalyst_is_condemned_before_what_ruins_it(fault: str) -> None:
    causes = {"no-misfire", "mixture-in-order", "no-oil-or-coolant-burning", "no-exhaust-leak"}
    assert set(FAULTS[fault]["exclude_first"]) >= causes


def test_a_worn_catalyst_is_told_from_a_sooted_one() -> None:
    assert "soot-excluded" in FAULTS["cat_worn"]["exclude_first"]
    assert "rich-cause-cured" in FAULTS["cat_sooted"]["exclude_first"]


def test_a_poisoned_sensor_needs_the_poison_and_its_source() -> None:
    for poison in ("silicone", "ash", "additive"):
        needed = set(FAULTS[f"o2_up_contam_{poison}"]["exclude_first"])
        assert {f"{poison}-on-tip", f"{poison}-source-known"} <= needed


def test_what_only_a_second_reading_decides_waits_for_it() -> None:
    waiting = {fault for fault, entry in FAULTS.items() if entry.get("decided_by_repair")}
    assert waiting >= {
        "maf_under",
        "exh_leak_pre_sensor",
        "vac_leak_small",
        "vac_leak_large",
        "vac_leak_gasket_bank",
        "throttle_dirty",
        "low_voltage",
        "fuel_reg_high",
    }


# --------------------------------------------------------------------- findings


def test_stop_findings_forbid_driving() -> None:
    forbidden = {finding for finding, entry in FINDINGS.items() if entry.get("drive") == "do-not-drive"}
    assert forbidden >= {
        "fuel-leak",
        "no-oil",
        "oil-milky",
        "coolant-low",
        "overheating",
        "flashing-lamp",
        "brake-pedal-bad",
        "brake-hose-pinched",
        "booster-leaking",
        "exhaust-in-cabin",
        "exhaust-glowing",
        "belt-slipped",
        "charging-dead",
        "something-left-fitted",
    }


def test_stop_findings_ask_for_care() -> None:
    careful = {finding for finding, entry in FINDINGS.items() if entry.get("drive") == "with-care"}
    assert careful >= {"lamp-never-lights", "reduced-power-felt", "stalling", "fuel-smell-unfound"}


def test_a_cure_of_something_else_does_not_end_a_leak_or_missing_oil() -> None:
    lasting = ("fuel-leak", "no-oil", "oil-milky", "coolant-low", "brake-pedal-bad", "exhaust-in-cabin")
    assert [finding for finding in lasting if FINDINGS[finding].get("ends_with_repair")] == []


def test_labels_tell_findings_apart() -> None:
    labels = [entry["label"].strip() for entry in FINDINGS.values()]
    assert len(labels) == len(set(labels))


def test_everything_left_says_how_it_is_undone() -> None:
    assert all(entry["label"] and entry["undone"] for entry in LEFT.values())
    assert "pedal assist felt" in LEFT["brake-hose-clamped"]["undone"]


# ------------------------------------------------------------------------ codes


def span(code: str) -> tuple[str, int, int]:
    """Return letter, first and last number of a code or range."""
    first, _, last = code.partition("-")
    assert not last or last[0] == first[0], code
    return first[0], int(first[1:], 16), int((last or first)[1:], 16)


def find(code: str) -> str:
    """Return the narrowest entry that holds *code*."""
    letter, number, _ = span(code)
    holding: list[str] = [
        entry for entry in CODES if span(entry)[0] == letter and span(entry)[1] <= number <= span(entry)[2]
    ]
    return min(holding, key=lambda entry: span(entry)[2] - span(entry)[1], default="")


@pytest.mark.parametrize("code", CODES)
def test_code_is_written_as_the_standard_writes_it(code: str) -> None:
    """Letter P, C, B or U, first digit 0 to 3, three hexadecimal digits; from memory of SAE J2012."""
    assert re.fullmatch(r"[PCBU][0-3][0-9A-F]{3}(-[PCBU][0-3][0-9A-F]{3})?", code)
    _, first, last = span(code)
    assert first < last if "-" in code else first == last
    assert CODES[code]["groups"], "a code leads somewhere"
    assert [group for group in CODES[code]["groups"] if group not in GROUPS] == []


def test_codes_stand_in_order() -> None:
    spans = [span(code) for code in CODES]
    assert spans == sorted(spans, key=lambda entry: ("PCBU".index(entry[0]), entry[1]))


@pytest.mark.parametrize("code", [code for code, entry in CODES.items() if "side" in entry])
def test_side_of_a_code_agrees_with_its_words_and_with_wider_entries(code: str) -> None:
    side, words = CODES[code]["side"], CODES[code]["means"]
    assert re.fullmatch(r"b[12](s[123])?", side)
    assert re.findall(r"bank (\d)", words) == [side[1]]
    if len(side) == 4:
        place = {"1": "upstream", "2": "downstream", "3": "third"}[side[3]]
        assert place in words
    letter, first, last = span(code)
    for other, entry in CODES.items():
        wider = span(other)
        if wider[0] == letter and wider[1] <= first and last <= wider[2]:
            assert entry.get("side", side) == side


@pytest.mark.parametrize("code", [code for code, entry in CODES.items() if "bank" in entry["means"]])
def test_code_that_names_a_bank_has_it_as_side(code: str) -> None:
    several = "banks" in CODES[code]["means"] or "of a bank" in CODES[code]["means"]
    assert several or "side" in CODES[code]


@pytest.mark.parametrize(
    ("code", "group", "side"),
    [
        ("P0130", "upstream-circuit", "b1s1"),
        ("P0133", "upstream-slow", "b1s1"),
        ("P0135", "heater", "b1s1"),
        ("P0136", "downstream-circuit", "b1s2"),
        ("P0141", "heater", "b1s2"),
        ("P0150", "upstream-circuit", "b2s1"),
        ("P0155", "heater", "b2s1"),
        ("P0161", "heater", "b2s2"),
        ("P0171", "lean", "b1"),
        ("P0172", "rich", "b1"),
        ("P0174", "lean", "b2"),
        ("P0175", "rich", "b2"),
        ("P2195", "upstream-circuit", "b1s1"),
        ("P2196", "upstream-circuit", "b1s1"),
        ("P0420", "catalyst", "b1"),
        ("P0430", "catalyst", "b2"),
        ("P0102", "air-count", None),
        ("P0107", "air-count", None),
        ("P0113", "intake-temperature", None),
        ("P0118", "coolant-temperature", None),
        ("P0122", "throttle-pedal", None),
        ("P0303", "misfire", None),
        ("P0562", "supply-voltage", None),
        ("P1234", "maker-defined", None),
        ("P32FF", "maker-defined", None),
    ],
)
def test_codes_mean_what_the_standard_says(code: str, group: str, side: str | None) -> None:
    """Meaning and position of the codes met most; from memory of SAE J2012."""
    entry = CODES[find(code)]
    assert group in entry["groups"]
    assert entry.get("side") == side


def test_ranges_count_in_hexadecimal() -> None:
    assert find("P014C") != find("P0140")
    assert "cam-timing" in CODES[find("P001A")]["groups"]


@pytest.mark.parametrize("group", GROUPS)
def test_group_weighs_faults_that_exist(group: str) -> None:
    weigh = GROUPS[group].get("weigh", {})
    assert [fault for fault in weigh if fault not in FAULTS] == []
    assert [factor for factor in weigh.values() if not 0.02 <= factor <= 50] == []
    assert any(group in entry["groups"] for entry in CODES.values()), "no code is in this group"


def test_causes_rank_before_consequences() -> None:
    order = ["supply-voltage", "heater", "misfire", "lean", "upstream-slow", "catalyst"]
    ranks = [GROUPS[group]["rank"] for group in order]
    assert ranks == sorted(set(ranks)), "each lower than the next"
    assert GROUPS["five-volt-supply"]["rank"] == GROUPS["supply-voltage"]["rank"]
    assert GROUPS["rich"]["rank"] == GROUPS["low-fuel-pressure"]["rank"] == GROUPS["lean"]["rank"]


# --------------------------------------------------------------------- cautions


@pytest.mark.parametrize("caution", CAUTIONS)
def test_caution_is_one_line_with_the_danger_first(caution: str) -> None:
    entry = CAUTIONS[caution]
    assert len(entry["line"]) <= 76
    assert re.match(r"[A-Z]+S(?: [A-Z]+)?: \S", entry["line"]), "begins with a verb in capitals"
    assert len(entry["say"]) > len(entry["line"]) - 10
    assert set(entry.get("only_if", {})) <= QUANTITIES | {"any", "all", "not"}


def test_cautions_of_some_cars_only() -> None:
    assert {caution for caution, entry in CAUTIONS.items() if "only_if" in entry} == {
        "C-HYB",
        "C-LPG",
        "C-GDI",
    }
    hybrid = CAUTIONS["C-HYB"]["only_if"]["any"]
    assert hybrid == [{"veh_hybrid": {"is_not": "no"}}, {"veh_start_stop": {"is_not": "no"}}]


# ----------------------------------------------------------------------- limits


@pytest.mark.parametrize("limit", LIMITS)
def test_limit_has_unit_and_source(limit: str) -> None:
    entry = LIMITS[limit]
    assert isinstance(entry["unit"], str)
    source = entry["source"]
    assert source["kind"] in {"published", "common-practice", "from-memory", "maker", "shop", "derived"}
    assert source["of"].strip()
    assert "value" in entry or "relative" in entry or "cases" in entry


@pytest.mark.parametrize("limit", [limit for limit, entry in LIMITS.items() if "maker" in entry])
def test_makers_figure_is_a_figure_of_the_maker(limit: str) -> None:
    """A reading of the papers; the level of a signal wire is the maker's design figure too."""
    reading = LIMITS[limit]["maker"]["reading"]
    assert reading.startswith("spec_") or reading == "veh_o2_bias_v"
    assert reading in QUANTITIES


@pytest.mark.parametrize("limit", LIMITS)
def test_limit_rests_on_readings_that_exist(limit: str) -> None:
    entry = LIMITS[limit]
    named = [entry[kind]["reading"] for kind in ("relative", "at") if kind in entry]
    named += [quantity for case in entry.get("cases", []) for quantity in case["when"]]
    assert [name for name in named if name not in QUANTITIES] == []


@pytest.mark.parametrize(
    ("lower", "higher"),
    [
        ("trim_rich_fault", "trim_rich"),
        ("trim_rich", "trim_rich_watch"),
        ("trim_rich_watch", "trim_lean_watch"),
        ("trim_lean_watch", "trim_lean"),
        ("trim_lean", "trim_lean_fault"),
        ("lambda_rich", "lambda_right_low"),
        ("lambda_right_low", "lambda_centre_low"),
        ("lambda_centre_high", "lambda_right_high"),
        ("lambda_right_high", "lambda_lean"),
        ("o2_cross_slow", "o2_cross_good"),
        ("forced_rich_weak", "forced_rich_good"),
        ("forced_lean_good", "forced_lean_weak"),
        ("forced_ms_good", "forced_ms_slow"),
        ("heater_ohms_shorted", "heater_ohms_min"),
        ("heater_ohms_max", "heater_ohms_high"),
        ("heater_ohms_high", "heater_ohms_open"),
        ("heater_amps_none", "heater_amps_min"),
        ("batt_rest_low", "batt_rest_good"),
        ("batt_charge_good", "batt_charge_high"),
        ("batt_charge_high", "batt_charge_over"),
        ("ect_reads_cold", "ect_err_low"),
        ("ect_warm_min", "ect_overheat"),
        ("fill_low", "fill_good"),
    ],
)
def test_bands_do_not_cross(lower: str, higher: str) -> None:
    assert LIMITS[lower]["unit"] == LIMITS[higher]["unit"]
    assert LIMITS[lower]["value"] < LIMITS[higher]["value"]


def test_a_limit_is_widened_outward() -> None:
    """Not to hand, a maker's figure makes it harder to condemn and harder to clear."""
    for low, high in (("heater_ohms_min", "heater_ohms_max"), ("o2_bias_low", "o2_bias_high")):
        assert LIMITS[low]["widen"] < 0 < LIMITS[high]["widen"]
    assert LIMITS["heater_ohms_max"]["value"] + LIMITS["heater_ohms_max"]["widen"] <= 30
    assert LIMITS["heater_ohms_min"]["value"] + LIMITS["heater_ohms_min"]["widen"] >= 1


def test_dilution_limits_follow_the_fuels_greatest_carbon_dioxide() -> None:
    """0.91 of the dry CO₂ of a complete burn: CH_x O_y with dry air of 20.95 % oxygen.

    Compositions: petrol as in the exhaust gas balance, H/C 1.7261 and O/C 0.0175; E85 CH2.74 O0.385, LPG
    CH2.525 and natural gas CH4 as in UN Regulation 83; from memory.
    """
    cases = {case["when"]["veh_fuel"]["is"]: case["value"] for case in LIMITS["gas_dilution"]["cases"]}
    stated = {"petrol": LIMITS["gas_dilution"]["value"], **cases}
    for fuel, hydrogen, oxygen in (
        ("petrol", 1.7261, 0.0175),
        ("flex", 2.74, 0.385),
        ("lpg", 2.525, 0.0),
        ("cng", 4.0, 0.0),
    ):
        needed = 1 + hydrogen / 4 - oxygen / 2
        nitrogen = needed * (100 - 20.95) / 20.95
        greatest = 100 / (1 + nitrogen)
        assert stated[fuel] == pytest.approx(0.91 * greatest, abs=0.06), fuel


def test_open_heater_limit_is_the_cold_limit_at_full_heat() -> None:
    """Platinum law r(t)/r(0) = 1 + 3.9083e-3 t - 5.775e-7 t², IEC 60751; from memory."""

    def law(temperature: float) -> float:
        return 1 + 3.9083e-3 * temperature - 5.775e-7 * temperature**2

    hot = LIMITS["heater_ohms_high"]["value"] * law(700) / law(20)
    assert hot < LIMITS["heater_ohms_open"]["value"] < 1.1 * hot


def test_cranking_limit_rises_with_temperature() -> None:
    """Load-test practice, 9.6 V at about 20 °C falling to 8.5 V at -18 °C; common practice."""
    entry = LIMITS["batt_crank_min"]
    points = entry["at"]["points"]
    assert points == sorted(points)
    assert [volts for _, volts in points] == sorted(volts for _, volts in points)
    assert points[0] == [-18, 8.5]
    assert points[-1] == [21, 9.6]
    assert entry["value"] == points[0][1]
    assert entry["value"] + entry["widen"] == pytest.approx(points[-1][1])
