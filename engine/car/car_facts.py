"""What the papers say of a drawn car: size, banks, metering, sensors, and the maker's figures to hand.

The shares are one author's picture of the cars on the road, no statistic.
"""

from __future__ import annotations

from engine.car.chance import Chance
from engine.measured import Answer

_ENGINES = {
    (3, 1.0): 8,
    (4, 1.2): 8,
    (4, 1.4): 16,
    (4, 1.6): 20,
    (4, 2.0): 24,
    (6, 2.5): 6,
    (6, 3.0): 12,
    (8, 4.4): 4,
}
"""Cylinders and litres."""
GIVEN_SHARE = 0.7
"""Share of cars whose maker's figures are to hand."""


def car_facts(chance: Chance) -> dict[str, Answer]:
    """Return the facts of a car: answers of the readings ``veh_*``."""
    cylinders, litres = chance.weighed("engine", _ENGINES)
    banks = 2 if cylinders >= 6 and chance.happens("banks", 0.85) else 1
    turbo = chance.happens("turbo", 0.5 if litres <= 1.6 else 0.25)
    system = chance.weighed(
        "fuel-system",
        {"direct": 75, "port_returnless": 20, "port_return": 5}
        if turbo
        else {"direct": 15, "port_returnless": 45, "port_return": 40},
    )
    wide = chance.happens("wide", 0.75 if system == "direct" else 0.15)
    gearbox = chance.weighed("gearbox", {"manual": 55, "automatic": 30, "dual_clutch": 10, "cvt": 5})
    year = int(chance.between("year", 2001, 2023))
    return {
        "veh_engine_litres": float(litres),
        "veh_cylinders": float(cylinders),
        "veh_banks": float(banks),
        "veh_upstream_type": "wide" if wide else "narrow",
        "veh_downstream_type": "narrow",
        "veh_extra_sensors": ("none",),
        "veh_hybrid": chance.weighed("hybrid", {"no": 95, "mild": 5}),
        "veh_start_stop": "yes" if year >= 2012 and chance.happens("start-stop", 0.6) else "no",
        "veh_fuel": "petrol",
        "veh_gearbox": gearbox,
        "veh_first_registered": float(100 * year + int(chance.between("month", 1, 13))),
        "veh_smart_charging": "yes" if year >= 2010 and chance.happens("smart", 0.3) else "no",
        "veh_idle_unthrottled": "no",
        "veh_air_metering": chance.weighed(
            "metering", {"maf": 20, "both": 75, "map": 5} if turbo else {"maf": 35, "both": 25, "map": 40}
        ),
        "veh_fuel_system": system,
        "veh_induction": "turbo" if turbo else "na",
        "veh_throttle": "electronic" if year >= 2005 or chance.happens("throttle", 0.6) else "cable",
        "veh_egr": chance.weighed("egr", {"none": 40, "external": 45, "internal": 15}),
        "veh_o2_bias_v": chance.weighed("bias", {0.45: 80, 0.0: 15, 0.5: 5}),
    }


def kit_facts(kit: tuple[str, ...], chance: Chance) -> dict[str, Answer]:
    """Return the facts of the van: answers of the readings ``kit_*``."""
    contact = chance.happens("contact", 0.5)
    return {
        "kit_tools": tuple(sorted(kit)),
        "kit_meter_mohm": 10.0,
        "kit_meter_rate": 3.0,
        "kit_reader_rate": chance.weighed("reader-rate", {10.0: 60, 6.0: 30, 2.0: 10}),
        "kit_temp_tool": ("contact" if contact else "infrared") if "IR" in kit else "none",
        "kit_hc_scale": "hexane",
    }


def maker_facts(facts: dict[str, Answer], chance: Chance) -> dict[str, Answer]:
    """Return the maker's figures of a car that are to hand: answers of the readings ``spec_*``."""
    if not chance.happens("data", GIVEN_SHARE):
        return {}
    turbo, direct = facts["veh_induction"] == "turbo", facts["veh_fuel_system"] == "direct"
    pressure = {"direct": 450.0, "port_return": 300.0}.get(str(facts["veh_fuel_system"]), 380.0)
    figures: dict[str, Answer] = {
        "spec_fuel_pressure": pressure,
        "spec_fuel_flow_30s": round(0.6 * usual_volume(facts), -1),
        "spec_leak10_kpa": 60.0,
        "spec_heater_ohms_min": 4.0,
        "spec_heater_ohms_max": 8.0,
        "spec_idle_rpm": idle_speed(facts),
        "spec_compression": 1000.0 if not direct else 950.0,
        "spec_cam_err_max": 5.0,
        "spec_minutes_to_80": 12.0,
        "spec_thermostat_c": 95.0 if turbo else 92.0,
        "spec_closed_loop_s": 90.0,
        "spec_ethanol_max": 10.0,
        "spec_co_idle": 0.3,
        "spec_co_fast": 0.2,
        "spec_lambda_min": 0.97,
        "spec_lambda_max": 1.03,
    }
    if facts["veh_throttle"] == "electronic":
        figures["spec_throttle_cmd_idle"] = 4.5
    if turbo:
        figures["spec_boost"] = 190.0
    return figures


def number(facts: dict[str, Answer], name: str) -> float:
    """Return a fact that is a number.

    Raises:
        TypeError: it is none.
    """
    found = facts[name]
    if not isinstance(found, float):
        raise TypeError(f"{name} is not a number")
    return found


def idle_speed(facts: dict[str, Answer]) -> float:
    """Return the warm idle speed the control unit aims at, 1/min: few cylinders idle faster."""
    if facts["veh_induction"] == "turbo":
        return 780.0
    return 700.0 if number(facts, "veh_cylinders") >= 6 else 750.0


def usual_volume(facts: dict[str, Answer]) -> float:
    """Return the fuel a sound pump delivers in 30 s, mL: by the air at full throttle."""
    per_litre = 73.75 if facts["veh_induction"] == "turbo" else 43.33
    return 750.0 * number(facts, "veh_engine_litres") * per_litre / 130.0
