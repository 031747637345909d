"""Readings of oxygen sensors: signals, circuits, heaters, forced steps."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from engine.car.forced import FORCED_LEAN, FORCED_RICH, forced_trace, forced_volts
from engine.car.hidden import SENSORS, bank_index, sensor_at
from engine.car.mixture_loop import shown_lambda
from engine.car.points import DEFICIT_MOST, EXCESS_MOST
from engine.car.scene import Scene
from engine.car.traces import trim_swing
from engine.car.zirconia_cell import shown_volts
from engine.formulas.electrical import platinum_ratio
from engine.measured import Answer
from engine.traces.metrics import measure

Take = Callable[[Scene], Answer | None]
OPEN_LINE = 1e6
SOUND_WIRE = 0.3
"""Ohm of a few metres of loom with two terminals; common practice."""
HEATER_C = 250.0
"""Heater 30 s after a cold start, °C; chosen."""
SLOWEST_READER = 5.0
"""Samples a second below which crossings cannot be counted (common practice)."""
FED_V = 0.90
SHORTED_V = 1.275
"""The most a data item of a switching sensor shows."""
PUMP_MA_LEAN, PUMP_MA_RICH = 3.3, 5.5
"""Pump current over departure of lambda from 1, mA; each type of sensor has its own; illustrative."""


def _metric(place: str, state: str, what: str, scene: Scene) -> float | None:
    if not scene.switching(place):
        return None
    found = scene.signal(place, state)
    match what:
        case "min":
            return found.low
        case "max":
            return found.high
        case "mean":
            return found.mean
        case "cross":
            return found.crossings_per_10s if _counts(scene) else None
        case "lr_ms":
            return _ms(found.lean_to_rich)
        case _:
            return _ms(found.rich_to_lean)


def _ms(seconds: float | None) -> float | None:
    return None if seconds is None else max(1000.0 * seconds, 1.0)


def _counts(scene: Scene) -> bool:
    rate = scene.facts.get("kit_reader_rate", 10.0)
    return isinstance(rate, float) and (rate >= SLOWEST_READER or "OS" in _tools(scene))


def _tools(scene: Scene) -> tuple[str, ...]:
    tools = scene.facts.get("kit_tools", ())
    return tools if isinstance(tools, tuple) else ()


def _swing(bank: str, scene: Scene) -> float | None:
    return trim_swing(scene.engine, scene.at("2500"), bank_index(bank)) if scene.has(bank) else None


def _lambda(bank: str, state: str, scene: Scene) -> float | None:
    found = scene.bank(bank, state) if scene.wide(f"{bank}s1") else None
    return None if found is None else found.lambda_shown


def _cut(bank: str, scene: Scene) -> float | None:
    """Return the highest lambda a wide-band sensor reaches in a fuel cut of 3 s."""
    if not scene.wide(f"{bank}s1"):
        return None
    return shown_lambda(sensor_at(scene.engine, f"{bank}s1"), 2.2)


def _pump_current(bank: str, scene: Scene) -> float | None:
    shown = _lambda(bank, "2500", scene)
    if shown is None:
        return None
    return (shown - 1.0) * (PUMP_MA_LEAN if shown > 1.0 else PUMP_MA_RICH)


def _recorded(place: str, scene: Scene) -> str | None:
    return "recorded" if scene.switching(place) else None


def _snap(scene: Scene) -> str:
    """Return what the upstream sensor of bank 1 does on a snap of the throttle."""
    idle, sensor = scene.at("idle"), sensor_at(scene.engine, "b1s1")
    if sensor.signal != "ok" or not sensor.input_good:
        return "no_response"
    rich, lean = (forced_volts(scene.engine, idle, "b1s1", step) for step in (FORCED_RICH, FORCED_LEAN))
    reach = abs(rich - lean)
    if reach < (0.06 if sensor.kind == "wide" else 0.3):
        return "no_response"
    if scene.at("snap").banks[0].lambda_seen > 1.0:
        return "long_lean"
    return "stays_rich" if idle.banks[0].lambda_seen < 0.95 else "brief_lean_then_rich"


# ----------------------------------------------------------------------------------- circuits


def _bias(place: str, scene: Scene) -> float | None:
    """Return live-data volts of a cold sensor; a leaky dead element pulls the bias down."""
    if not scene.switching(place):
        return None
    sensor = sensor_at(scene.engine, place)
    if sensor.signal == "ok" and sensor.gain < 0.3 and sensor.centre_v < 0.3:
        return min(sensor.bias_v, scene.chance.between(f"leaky-{place}", 0.10, 0.45))
    return shown_volts(sensor, 5.0, scene.engine.ambient_c) - sensor.ground_offset_v


def _unplugged(place: str, fed: float | None, scene: Scene) -> float | None:
    """Return live-data volts with the sensor unplugged, its signal wire open or joined to something.

    Args:
        place: the sensor.
        fed: volts put on the harness's signal pin; None leaves it open.
        scene: the car.
    """
    if not scene.switching(place):
        return None
    sensor = sensor_at(scene.engine, place)
    if not sensor.input_good:
        return sensor.bias_v
    wire = "ok" if sensor.short_inside else sensor.signal
    if wire == "open":
        return sensor.bias_v
    if wire == "short_supply":
        return SHORTED_V if fed != 0.0 else 0.3
    if wire == "short_ground":
        return 0.0 if not fed else 0.02
    return sensor.bias_v if fed is None else fed + 0.01 * (fed == 0.0)


def _harness(place: str, scene: Scene) -> float | None:
    if not scene.switching(place):
        return None
    sensor = sensor_at(scene.engine, place)
    wire = "ok" if sensor.short_inside else sensor.signal
    if wire == "short_supply":
        return scene.at("koeo").volts.battery - 0.2
    return 0.0 if wire in ("short_ground", "open") else sensor.bias_v


def _wire(place: str, scene: Scene) -> float | None:
    """Return the worse of both signal wires from end to end, ohm; a short to something leaves them whole."""
    if not scene.switching(place):
        return None
    return OPEN_LINE if sensor_at(scene.engine, place).signal == "open" else SOUND_WIRE


def _insulation(place: str, scene: Scene) -> float | None:
    return sensor_at(scene.engine, place).insulation_kohm if scene.has(place) else None


def _ground(place: str, scene: Scene) -> float | None:
    return 1000.0 * sensor_at(scene.engine, place).ground_offset_v if scene.has(place) else None


# ------------------------------------------------------------------------------------ heaters


def _body(place: str, scene: Scene) -> float | None:
    if not scene.has(place):
        return None
    return scene.engine.ambient_c + scene.chance.between(f"body-{place}", 0.0, 8.0)


def _ohms(place: str, scene: Scene) -> float | None:
    if not scene.has(place):
        return None
    at_20 = sensor_at(scene.engine, place).heater_ohms
    body = _body(place, scene) or 20.0
    return OPEN_LINE if at_20 >= OPEN_LINE else at_20 * platinum_ratio(body) / platinum_ratio(20.0)


def _feed(place: str, scene: Scene) -> float | None:
    return scene.at("koeo").volts.heater_feed if scene.has(place) else None


def _amps(place: str, scene: Scene) -> float | None:
    if not scene.has(place):
        return None
    sensor = sensor_at(scene.engine, place)
    if not sensor.heater_driven or sensor.heater_ohms >= OPEN_LINE:
        return 0.0
    hot = sensor.heater_ohms * platinum_ratio(HEATER_C) / platinum_ratio(20.0)
    return scene.at("cold").volts.heater_feed / hot


def _driver(place: str, scene: Scene) -> str | None:
    if not scene.has(place):
        return None
    return "switching" if sensor_at(scene.engine, place).heater_driven else "always_high"


def _tip(place: str, scene: Scene) -> str | None:
    if not scene.has(place):
        return None
    if scene.chance.happens(f"seized-{place}", 0.08):
        return "not_removed"
    found = scene.looks.get(f"o2_tip_{place}")
    if isinstance(found, str):
        return found
    cruise = scene.bank(place, "2500")
    return "black_soot" if cruise is not None and cruise.lambda_true < 0.93 else "grey_tan"


# ------------------------------------------------------------------------------- forced steps


def _forced_v(place: str, step: float, scene: Scene) -> float | None:
    if not scene.switching(place):
        return None
    return forced_volts(scene.engine, scene.at("2500" if step < 1.0 else "idle"), _gas_of(place, scene), step)


def _gas_of(place: str, scene: Scene) -> str:
    """Return the sensor whose harness is read: crossed upstream sensors show on the other's."""
    if scene.engine.upstream_crossed and place.endswith("s1") and scene.engine.two_banks:
        return f"b{2 - bank_index(place)}s1"
    return place


def _forced_ms(place: str, rich: bool, scene: Scene) -> float | None:
    if not scene.switching(place):
        return None
    first, last = (FORCED_LEAN, FORCED_RICH) if rich else (FORCED_RICH, FORCED_LEAN)
    found = measure(*forced_trace(scene.engine, scene.at("2500"), _gas_of(place, scene), first, last))
    return _ms(found.lean_to_rich if rich else found.rich_to_lean)


def _forced_lambda(bank: str, step: float, scene: Scene) -> float | None:
    if not scene.wide(f"{bank}s1"):
        return None
    return forced_volts(scene.engine, scene.at("idle"), _gas_of(f"{bank}s1", scene), step)


def _answers(place: str, scene: Scene) -> bool:
    """Tell whether an upstream sensor passes its middle both ways under forced steps."""
    idle = scene.at("idle")
    rich, lean = (forced_volts(scene.engine, idle, place, step) for step in (FORCED_RICH, FORCED_LEAN))
    if sensor_at(scene.engine, place).kind == "wide":
        return rich < 0.97 < 1.03 < lean
    return rich > 0.45 > lean


def _forced_trim(bank: str, rich: bool, scene: Scene) -> float | None:
    """Return the change of the short-term trim under a forced step: none in open loop or of a dead sensor."""
    idle = scene.bank(bank, "idle")
    if idle is None:
        return None
    if idle.loop != "closed" or not _answers(f"{bank}s1", scene):
        return 0.0
    return max(-14.0, DEFICIT_MOST - idle.total) if rich else min(15.0, EXCESS_MOST - idle.total)


def _witness(scene: Scene) -> tuple[str, ...]:
    """Return what moved besides the sensor on trial: speed, the analyser on the van, the other bank."""
    seen = {"rpm"}
    if "GA" in _tools(scene):
        seen.add("analyser")
    if scene.engine.two_banks and (_answers("b1s1", scene) or _answers("b2s1", scene)):
        seen.add("other_bank")
    return tuple(sorted(seen))


def _forced_speed(scene: Scene) -> float:
    """Return the change of speed at first propane: an engine short of fuel somewhere picks up."""
    idle = scene.at("idle")
    lean = max(bank.lambda_true for bank in idle.banks)
    drawn = sum(flow for place, flow in idle.air.leaks if place not in ("charge", "after_meter"))
    share = drawn / idle.air.total
    return -15.0 + min(350.0 * share, 55.0) + min(max(lean - 1.02, 0.0) * 500.0, 40.0)


def _bank_match(scene: Scene) -> str | None:
    if not scene.engine.two_banks:
        return None
    if scene.engine.upstream_crossed:
        return "other_bank"
    return "same_bank" if _answers("b1s1", scene) else "neither"


def _table() -> dict[str, Take]:
    found: dict[str, Take] = {
        "o2_snap_pattern": _snap,
        "forced_rich_witness": _witness,
        "forced_lean_witness": _witness,
        "forced_rich_rpm": _forced_speed,
        "forced_bank_match": _bank_match,
    }
    for place in SENSORS:
        for what in ("min", "max", "mean", "cross", "lr_ms", "rl_ms"):
            found[f"o2_{place}_{what}_2500"] = partial(_metric, place, "2500", what)
        found[f"o2_{place}_cross_reload"] = partial(_metric, place, "reload", "cross")
        for name, take in (
            ("bias_koeo", _bias), ("harness_v", _harness), ("wire_ohms", _wire),
            ("sig_gnd_ohms", _insulation), ("gnd_drop_mv", _ground),
        ):  # fmt: skip
            found[f"o2_{place}_{name}"] = partial(take, place)
        for name, fed in (("open_v", None), ("gnd_v", 0.0), ("sub_v", FED_V)):
            found[f"o2_{place}_{name}"] = partial(_unplugged, place, fed)
        for name, take in (("ohms", _ohms), ("body_c", _body), ("supply_v", _feed), ("amps", _amps)):
            found[f"heater_{name}_{place}"] = partial(take, place)
        found[f"heater_ctrl_{place}"] = partial(_driver, place)
        found[f"forced_rich_{place}_v"] = partial(_forced_v, place, FORCED_RICH)
        found[f"forced_lean_{place}_v"] = partial(_forced_v, place, FORCED_LEAN)
        if place.endswith("s1"):
            found |= _upstream(place)
    return found


def _upstream(place: str) -> dict[str, Take]:
    bank = place[:2]
    found: dict[str, Take] = {
        f"o2_{place}_mean_idle": partial(_metric, place, "idle", "mean"),
        f"o2_{place}_cross_idle": partial(_metric, place, "idle", "cross"),
        f"o2_{place}_wot": partial(_metric, place, "wot", "max"),
        f"o2_{place}_trace_2500": partial(_recorded, place),
        f"mon_o2_{place}_lr_ms": partial(_metric, place, "2500", "lr_ms"),
        f"mon_o2_{place}_rl_ms": partial(_metric, place, "2500", "rl_ms"),
        f"o2_tip_{place}": partial(_tip, place),
        f"forced_rich_{place}_lr_ms": partial(_forced_ms, place, True),
        f"forced_lean_{place}_rl_ms": partial(_forced_ms, place, False),
        f"forced_rich_stft_{bank}": partial(_forced_trim, bank, True),
        f"forced_lean_stft_{bank}": partial(_forced_trim, bank, False),
        f"forced_rich_lam_{bank}": partial(_forced_lambda, bank, FORCED_RICH),
        f"forced_lean_lam_{bank}": partial(_forced_lambda, bank, FORCED_LEAN),
        f"stft_swing_{bank}_2500": partial(_swing, bank),
        f"lam_{bank}_overrun": partial(_cut, bank),
        f"wb_ma_{bank}_2500": partial(_pump_current, bank),
    }
    for state in ("idle", "2500", "load", "wot"):
        found[f"lam_{bank}_{state}"] = partial(_lambda, bank, state)
    return found


TAKES: Mapping[str, Take] = _table()
"""How each of these readings is taken from a car; None where the car has it not."""
