"""The registry of formulas: names, arguments, refusals."""

from __future__ import annotations

import ast
import inspect
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formulas.registry import FORMULAS, SAME, FormulaError, formula, names
from engine.units import parse_unit

# name: arguments with units (? may be left out), results with units
FIXED = {
    "total_trim": ("short % long %", "total %"),
    "combined_trim": ("short % long %", "combined %"),
    "leak_from_trims": (
        "trim1 % air1 g/s trim2 % air2 g/s map? kPa baro? kPa temp? °C cd? -",
        "additive g/s proportional % hole mm",
    ),
    "leak_flow": ("hole mm map kPa baro? kPa temp? °C cd? -", "flow g/s"),
    "lambda_from_gas": ("co % co2 % o2 % hc? ppm no? ppm fuel? - hc_as? - pef? -", "lambda -"),
    "co_corrected": ("co % co2 % fuel? -", "co %"),
    "stoich_afr": ("fuel? - h_c? - o_c? -", "afr -"),
    "lambda_from_afr": ("afr - fuel? - stoich? -", "lambda -"),
    "afr_from_lambda": ("lambda - fuel? - stoich? -", "afr -"),
    "nernst_emf": ("o2_reference - o2_exhaust - temp °C", "emf mV slope mV/decade"),
    "sensor_voltage": ("lambda - temp °C fuel? -", "emf mV"),
    "heater_load": ("volts V ohms Ω duty? %", "current A power W"),
    "joint_resistance": ("drop V current A", "resistance Ω"),
    "air_flow": ("ve % litres L rpm rpm pressure kPa temp °C", "flow g/s"),
    "volumetric_efficiency": ("maf g/s litres L rpm rpm pressure kPa temp °C", "ve %"),
    "barometric_pressure": ("altitude m", "pressure kPa"),
    "station_pressure": ("qnh hPa altitude m", "pressure kPa"),
    "injector_flow": ("flow same dp1 kPa dp2 kPa", "flow same"),
    "injector_pressure": ("gauge kPa baro kPa map kPa", "dp kPa"),
    "injector_duty": ("pulse ms rpm rpm", "duty %"),
    "leak_down": ("start kPa end kPa seconds s", "rate kPa/min held %"),
    "thermistor_temp": ("ohms Ω r0 Ω t0 °C beta K", "temp °C"),
    "steinhart_hart": ("ohms Ω a - b - c -", "temp °C"),
    "track_agreement": ("v1 V v2 V vref V design - offset? V", "error %"),
    "battery_charge": ("volts V", "charge %"),
    "catalyst_ratio": ("down - up -", "ratio -"),
    "trouble_code": ("bytes -", "code -"),
    "conformity": ("value same u same lower? same upper? same", "probability -"),
    "instrument_limit": (
        "reading? same percent? % counts? - resolution? same class? - span? same", "limit same u same",
    ),
    "heater_ohms_at_20": ("ohms Ω temp °C", "ohms Ω"),
    "crank_voltage_limit": ("temp °C", "limit V"),
    "dilution_limit": ("fuel? -", "limit %"),
    "misfire_rate": ("count - revolutions -", "rate %"),
    "difference": ("a same b same", "difference same"),
    "ratio": ("a same b same", "ratio -"),
    "sum": ("a same b? same c? same d? same e? same f? same g? same h? same", "sum same"),
    "greatest": ("a same b? same c? same d? same e? same f? same g? same h? same", "greatest same"),
    "least": ("a same b? same c? same d? same e? same f? same g? same h? same", "least same"),
}  # fmt: skip


@pytest.mark.parametrize("name", FIXED)
def test_names_and_units_stay_fixed(name: str) -> None:
    def unit(text: str) -> str:
        return {SAME: "same", "": "-"}.get(text, text)

    arguments, results = FIXED[name]
    found = formula(name)
    assert arguments == " ".join(
        f"{one.name}{'' if one.required else '?'} {unit(one.unit)}" for one in found.arguments
    )
    assert results == " ".join(f"{one.name} {unit(one.unit)}" for one in found.results)


def test_nothing_else_is_registered() -> None:
    assert set(names()) == {*FIXED, "obd_value"}


def test_defaults() -> None:
    defaults = {one.name: one.default for one in formula("leak_from_trims").arguments if not one.required}
    assert defaults == {"map": 35.0, "baro": 101.325, "temp": 20.0, "cd": 0.8}
    defaults = {one.name: one.default for one in formula("lambda_from_gas").arguments if not one.required}
    assert defaults == {"hc": 0.0, "no": 0.0, "fuel": "petrol", "hc_as": "hexane", "pef": 0.52}
    assert formula("heater_load").arguments[-1].default == 100.0


@pytest.mark.parametrize("name", names())
def test_every_formula_says_unit_range_and_source(name: str) -> None:
    found = formula(name)
    assert found.title
    assert found.range
    kinds = ("published", "from memory", "common practice", "derived", "SAE J1979")
    assert any(kind in found.source for kind in kinds)
    assert inspect.getdoc(found.function)
    for argument in found.arguments:
        assert argument.meaning
        if argument.unit not in (SAME, "mV/decade"):
            assert parse_unit(argument.unit) == argument.unit
    assert len({result.name for result in found.results}) == len(found.results)


@pytest.mark.parametrize("name", names())
def test_declared_defaults_are_the_functions_own(name: str) -> None:
    found = formula(name)
    for parameter in inspect.signature(found.function).parameters.values():
        if parameter.default is not inspect.Parameter.empty:
            declared = next(one for one in found.arguments if one.name == parameter.name)
            assert (declared.default or None) == (parameter.default or None)


NUMBERS = [
    (name, argument.name, bound)
    for name in names()
    for argument in formula(name).arguments
    for bound in ("low", "high")
    if argument.kind == "number" and getattr(argument, bound) is not None
]


def _usual(name: str) -> dict[str, float | str]:
    """Return values inside every range, for the arguments that must be given."""
    values: dict[str, float | str] = {}
    for argument in formula(name).arguments:
        if not argument.required:
            continue
        if argument.kind == "text":
            values[argument.name] = argument.choices[0] if argument.choices else "0C"
        else:
            low = argument.low if argument.low is not None else 1.0
            high = argument.high if argument.high is not None else low + 100.0
            values[argument.name] = low + (high - low) / 2
    return values


@pytest.mark.parametrize(("name", "argument", "bound"), NUMBERS)
def test_just_outside_a_range_is_refused_in_one_line(name: str, argument: str, bound: str) -> None:
    declared = next(one for one in formula(name).arguments if one.name == argument)
    limit = float(getattr(declared, bound))
    outside = math.nextafter(limit, -math.inf if bound == "low" else math.inf)
    with pytest.raises(FormulaError) as refusal:
        formula(name).compute(**{**_usual(name), argument: outside})
    line = str(refusal.value)
    assert line.startswith(f"{name}: {argument} is ")
    assert declared.allowed in line
    assert "\n" not in line


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, "12", True])
def test_what_is_no_finite_number_is_refused(value: float | str) -> None:
    with pytest.raises(FormulaError, match="total_trim: short is "):
        formula("total_trim").compute(short=value, long=1.0)


def test_missing_and_unknown_arguments_are_named() -> None:
    with pytest.raises(FormulaError, match="long missing: long is long-term trim"):
        formula("total_trim").compute(short=1.0)
    with pytest.raises(
        FormulaError, match=r"no argument 'lng' \(did you mean 'long'\?\); it takes short, long"
    ):
        formula("total_trim").compute(short=1.0, lng=2.0)
    with pytest.raises(FormulaError, match="fuel is 'diesel': write one of petrol"):
        formula("co_corrected").compute(co=0.5, co2=12.0, fuel="diesel")
    with pytest.raises(FormulaError, match=r"pid is 12\.0: write parameter, hexadecimal as text"):
        formula("obd_value").compute(pid=12.0, bytes="00")


def test_an_unknown_formula_names_the_nearest() -> None:
    with pytest.raises(FormulaError, match="no formula 'total_trm': did you mean total_trim"):
        formula("total_trm")
    with pytest.raises(FormulaError, match="there are total_trim, "):
        formula("zzzz")


def test_dividing_by_nothing_is_refused() -> None:
    with pytest.raises(FormulaError, match="ratio: b is 0"):
        formula("ratio").compute(a=1.0, b=0.0)
    with pytest.raises(FormulaError, match="no finite answer"):
        formula("sum").compute(a=1e308, b=1e308)


@given(st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=8))
def test_plain_arithmetic(numbers: list[float]) -> None:
    values = dict(zip("abcdefgh", numbers, strict=False))
    assert formula("sum").compute(**values) == {"sum": pytest.approx(math.fsum(numbers), abs=1e-3)}
    assert formula("greatest").compute(**values) == {"greatest": max(numbers)}
    assert formula("least").compute(**values) == {"least": min(numbers)}
    pair = {"a": numbers[0], "b": numbers[-1]}
    assert formula("difference").compute(**pair) == {"difference": numbers[0] - numbers[-1]}


def test_shifted_readings_may_lie_a_little_outside() -> None:
    gas = {"co": -0.01, "co2": 15.0, "o2": 0.1}
    with pytest.raises(FormulaError):
        formula("lambda_from_gas").compute(**gas)
    shifted = formula("lambda_from_gas").sampled(**gas)
    assert shifted is not None
    assert 1.0 < float(shifted["lambda"]) < 1.01
    assert formula("lambda_from_gas").sampled(co=0.0, co2=0.2, o2=0.1) is None


def test_formulas_need_neither_numpy_nor_pint() -> None:
    folder = Path(inspect.getfile(formula)).parent
    for file in folder.glob("*.py"):
        tree = ast.parse(file.read_text("utf-8"))
        for node in tree.body:
            modules = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            modules += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not {one.split(".")[0] for one in modules} & {"numpy", "pint", "scipy", "cantera", "tui"}


def test_the_table_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        FORMULAS["total_trim"] = formula("sum")  # type: ignore[index]
