"""Readings of fuel delivery, ignition and compression, battery and grounds, counters and papers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from engine.car.fuelling import pump_flow
from engine.car.mixture_loop import numbers
from engine.car.scene import Scene
from engine.measured import Answer

Take = Callable[[Scene], Answer | None]
REVS = 1000.0
"""Revolutions over which misfires are counted."""
RMS_OF_PEAK = 0.3
"""A meter's AC reading over the peak to peak of charging ripple (common practice: about a third)."""


def _rail(state: str, scene: Scene) -> float:
    return scene.at(state).fuel.rail


def _hose_off(scene: Scene) -> float:
    """Return the rail with the regulator's vacuum hose off: the manifold no longer pulls on it."""
    idle = scene.at("idle")
    return idle.fuel.rail + idle.air.vacuum


def _dead_head(scene: Scene) -> float:
    volts = scene.at("idle").volts.pump
    return scene.engine.fuel.pump_deadhead_kpa * (volts / 13.6) ** 2


def _volume(scene: Scene) -> float:
    return 30.0 * pump_flow(scene.engine, 0.0, scene.at("koeo").volts.pump + 0.6)


def _high_side(state: str, scene: Scene) -> float | None:
    return scene.at(state).fuel.high_side if scene.engine.fuel_system == "direct" else None


def _balance(scene: Scene) -> float:
    """Return the flow of the injector that stands out most against the mean of its bank, %."""
    worst = 0.0
    for index in range(len(scene.engine.banks)):
        flows = [scene.engine.cylinders[number - 1].injector_flow for number in numbers(scene.engine, index)]
        mean = sum(flows) / len(flows)
        worst = max((worst, *(100.0 * (flow / mean - 1.0) for flow in flows)), key=abs)
    return worst


# ------------------------------------------------------------------------- misfire, compression


def _rate(state: str, scene: Scene) -> float:
    return scene.rate(state)[0]


def _count(state: str, scene: Scene) -> float:
    return float(round(scene.rate(state)[0] / 100.0 * REVS / 2.0))


def _least_drop(scene: Scene) -> float:
    """Return the smallest fall of speed when each cylinder is cut in turn: a weak one is hardly missed."""
    idle, found = scene.at("idle"), []
    for missed, cylinder in zip(idle.misfires, scene.engine.cylinders, strict=True):
        flow = min(cylinder.injector_flow, 1.0)
        found.append(70.0 * (1.0 - missed) ** 2 * max(1.0 - 2.1 * (1.0 - flow), 0.05))
    return min(found)


def _kilovolts(when: str, scene: Scene) -> float:
    """Return the firing voltage of the cylinder that stands out most."""
    usual = 9.0 if when == "idle" else 16.0
    volts = [c.spark_kv if when == "idle" else c.spark_kv_snap for c in scene.engine.cylinders]
    return max(volts, key=lambda kv: abs(kv - usual))


def _compressions(scene: Scene) -> list[float]:
    thinner = scene.at("koeo").air.baro / 101.0
    return [cylinder.compression_kpa * thinner for cylinder in scene.engine.cylinders]


def _wet_gain(scene: Scene) -> float:
    return min(scene.engine.cylinders, key=lambda cylinder: cylinder.compression_kpa).wet_gain_kpa


def _spread(scene: Scene) -> float:
    found = _compressions(scene)
    return 0.8 * 100.0 * (max(found) - min(found)) / max(found) + 1.0


# ----------------------------------------------------------------------------------- supplies


def _battery(state: str, scene: Scene) -> float:
    """Return battery volts; a smart generator without loads holds what it likes."""
    volts = scene.at(state).volts.battery
    sound = scene.engine.electrics.charge_v > 13.8
    if state in ("idle", "2500") and sound and scene.facts.get("veh_smart_charging") == "yes":
        return scene.chance.between(f"smart-{state}", 12.5, 14.9)
    return volts


def _ripple(scene: Scene) -> float:
    peak = scene.engine.electrics.ripple_mv
    return peak * RMS_OF_PEAK if ripple_kind(scene) == "rms_meter" else peak


def ripple_kind(scene: Scene) -> str:
    """Return how the ripple is measured: the meter first, as the catalogue has it."""
    tools = scene.facts.get("kit_tools", ())
    return "rms_meter" if isinstance(tools, tuple) and "MM" in tools else "pp_scope"


def _drop(which: str, scene: Scene) -> float:
    volts = scene.at("idle").volts
    return 1000.0 * {"engine": volts.engine_drop, "ecu": volts.ecu_drop, "feed": volts.feed_drop}[which]


# ------------------------------------------------------------------------------------- papers


def _distance(scene: Scene) -> float:
    found = scene.looks.get("odometer_km")
    return found if isinstance(found, float) else round(scene.chance.between("km", 15_000, 230_000), -1)


def _since_clear(scene: Scene) -> float:
    fresh = "battery_off" in scene.events or scene.chance.happens("cleared", 0.1)
    return round(
        scene.chance.between("since-clear", 5, 60) if fresh else scene.chance.between("km", 300, 9000)
    )


TAKES: Mapping[str, Take] = {
    "fuelp_koeo": partial(_rail, "koeo"),
    "fuelp_idle": partial(_rail, "idle"),
    "fuelp_2500": partial(_rail, "2500"),
    "fuelp_load": partial(_rail, "load"),
    "fuelp_idle_vacoff": _hose_off,
    "fuelp_deadhead": _dead_head,
    "fuelp_leak10_kpa": lambda scene: scene.engine.fuel.hold_loss_kpa,
    "fuelp_filter_drop": lambda scene: scene.at("load").fuel.filter_drop,
    "fuel_flow_ml_30s": _volume,
    "fuel_pump_amps": lambda scene: scene.engine.fuel.pump_amps,
    "fuel_pump_v": lambda scene: scene.at("idle").volts.pump,
    "fuel_level_pct": lambda scene: scene.chance.between("level", 12.0, 95.0),
    "fuel_ethanol_pct": lambda scene: scene.engine.fuel.ethanol_pct,
    "railp_idle": partial(_high_side, "idle"),
    "railp_load": partial(_high_side, "load"),
    "inj_ms_idle": lambda scene: scene.at("idle").fuel.pulse_ms,
    "inj_balance_pct": _balance,
    "misfire_rate_idle": partial(_rate, "idle"),
    "misfire_rate_load": partial(_rate, "load"),
    "misfire_count_idle": partial(_count, "idle"),
    "misfire_count_load": partial(_count, "load"),
    "misfire_revs_idle": lambda scene: REVS,
    "misfire_revs_load": lambda scene: REVS,
    "drop_test_min_rpm": _least_drop,
    "spark_kv_idle": partial(_kilovolts, "idle"),
    "spark_kv_snap": partial(_kilovolts, "snap"),
    "comp_low": lambda scene: min(_compressions(scene)),
    "comp_high": lambda scene: max(_compressions(scene)),
    "comp_wet_gain": _wet_gain,
    "rel_comp_spread": _spread,
    "leakdown_worst_pct": lambda scene: max(c.leakdown_pct for c in scene.engine.cylinders),
    "batt_v_koeo": partial(_battery, "koeo"),
    "batt_v_crank": partial(_battery, "crank"),
    "batt_v_idle": partial(_battery, "idle"),
    "batt_v_2500": partial(_battery, "2500"),
    "batt_v_loads": lambda scene: scene.at("2500").volts.loaded,
    "charge_ripple_mv": _ripple,
    "gnd_drop_mv_engine": partial(_drop, "engine"),
    "gnd_drop_mv_ecu": partial(_drop, "ecu"),
    "feed_drop_mv_ecu": partial(_drop, "feed"),
    "ref5v_koeo": lambda scene: scene.at("koeo").volts.ref5,
    "odometer_km": _distance,
    "km_since_clear": _since_clear,
    "warmups_since_clear": lambda scene: min(round(_since_clear(scene) / 22.0), 255.0),
}
"""How each of these readings is taken from a car; None where the car has it not."""
