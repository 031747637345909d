"""The sound engine of a car: built from its facts, with the scatter of build, age and weather."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from engine.car.car_facts import idle_speed, number
from engine.car.chance import Chance
from engine.car.parameters import (
    AirPath,
    Bank,
    Catalyst,
    Cooling,
    Cylinder,
    Electrics,
    Engine,
    FuelPath,
    FuelSystem,
    Zirconia,
)
from engine.car.reference_cars import ONE_BANK, TURBO
from engine.measured import Answer

_PRESSURES: Mapping[str, tuple[FuelSystem, float, float]] = {
    "port_return": ("port_return", 300.0, 560.0),
    "port_returnless": ("port_returnless", 380.0, 620.0),
    "direct": ("direct", 450.0, 700.0),
}
"""System, regulator and dead head, kPa."""


class Even(Chance):
    """No scatter: every draw is the middle one, so that the reference cars come out as they are."""

    def share(self, key: str) -> float:
        """Return the middle."""
        return 0.5


EVEN = Even("even")


def sound_engine(facts: Mapping[str, Answer], chance: Chance) -> Engine:
    """Return the engine of a car without a fault.

    Args:
        facts: of the car.
        chance: its scatter; ``EVEN`` for none.
    """
    known = dict(facts)
    turbo = known["veh_induction"] != "na"
    base = TURBO if turbo else ONE_BANK
    litres, count = number(known, "veh_engine_litres"), int(number(known, "veh_cylinders"))
    banks = int(number(known, "veh_banks"))
    system, regulator, deadhead = _PRESSURES[str(known["veh_fuel_system"])]
    metering = str(known["veh_air_metering"])
    idle = idle_speed(known)
    return Engine(
        litres=litres,
        cylinders=tuple(_cylinder(chance, place) for place in range(1, count + 1)),
        banks=tuple(_bank(known, chance, f"b{place}") for place in range(1, banks + 1)),
        metering="map" if metering == "map" else "maf",
        map_sensor=metering != "maf",
        induction="turbo" if turbo else "na",
        fuel_system=system,
        air=AirPath(
            filter_kpa=chance.between("filter", 1.4, 2.6),
            meter_zero=chance.between("meter-zero", 0.0, 0.3),
            meter_gain_low=1.0 + (gain := chance.normal("meter", 0.0, 0.008)),
            meter_gain_high=1.0 + gain,
            map_offset_kpa=chance.normal("map", 0.0, 0.4),
            plate_dirt=chance.between("plate", 0.0, 0.12) if chance is not EVEN else 0.0,
            tracks_design="sum",
            boost_target_kpa=190.0 if turbo else 0.0,
            crankcase_kpa=chance.normal("crankcase", -0.7, 0.2),
        ),
        fuel=FuelPath(
            regulator_kpa=regulator * (1.0 + chance.normal("regulator", 0.0, 0.008)),
            pump_share=1.0 + chance.normal("pump", 0.0, 0.03),
            pump_deadhead_kpa=deadhead,
            pump_amps=5.5 + chance.normal("amps", 0.0, 0.3),
            filter_kpa=chance.between("fuel-filter", 0.6, 1.4),
            hold_loss_kpa=20.0 + chance.normal("hold", 0.0, 6.0),
            purge_duty_idle=max(8.0 + chance.normal("purge", 0.0, 3.0), 0.0),
            ethanol_pct=5.0 if chance is EVEN else float(chance.one_of("ethanol", (4, 5, 5, 6, 9))),
        ),
        cooling=_cooling(base, chance),
        electrics=_electrics(chance),
        altitude_m=0.0
        if chance is EVEN
        else chance.weighed("altitude", {0.0: 60, 250.0: 25, 600.0: 10, 1500.0: 5}),
        weather_kpa=-0.325 + chance.normal("weather", 0.0, 0.7),
        ambient_c=20.0 if chance is EVEN else round(chance.between("ambient", -3.0, 30.0)),
        idle_rpm=idle,
        idle_air=1.4 if count >= 6 else 1.5,
        peak_rpm=base.peak_rpm if turbo else 5500.0,
        fuelling_error=0.015 + chance.normal("fuelling", 0.0, 0.012),
        breathing=base.breathing * (1.0 + chance.normal("breathing", 0.0, 0.012)),
    )


def _cylinder(chance: Chance, place: int) -> Cylinder:
    return Cylinder(
        injector_flow=1.0 + chance.normal(f"injector-{place}", 0.0, 0.012),
        spark_kv=9.0 + chance.normal(f"kv-{place}", 0.0, 0.7),
        spark_kv_snap=16.0 + chance.normal(f"snap-kv-{place}", 0.0, 1.2),
        compression_kpa=1225.0 + chance.normal(f"compression-{place}", 0.0, 20.0),
        wet_gain_kpa=40.0 + chance.normal(f"wet-{place}", 0.0, 10.0),
        leakdown_pct=max(8.0 + chance.normal(f"leakdown-{place}", 0.0, 1.5), 2.0),
    )


def _bank(facts: Mapping[str, Answer], chance: Chance, bank: str) -> Bank:
    kind = "wide" if facts["veh_upstream_type"] == "wide" else "switching"
    bias = facts["veh_o2_bias_v"]
    sensor = Zirconia(bias_v=bias if isinstance(bias, float) else 0.45)
    return Bank(
        upstream=_sensor(
            replace(sensor, kind="wide" if kind == "wide" else "switching"), chance, f"{bank}s1"
        ),
        downstream=_sensor(sensor, chance, f"{bank}s2"),
        catalyst=Catalyst(store_g=round(0.08 + chance.normal(f"{bank}-store", 0.0, 0.01), 3)),
    )


def _sensor(sensor: Zirconia, chance: Chance, place: str) -> Zirconia:
    """Return a sensor with its scatter, in a few steps so that the loop's hunt is worked out only once."""
    worn = chance.one_of(f"{place}-worn", (0.95, 1.0, 1.05)) if chance is not EVEN else 1.0
    return replace(
        sensor,
        rise_s=sensor.rise_s * worn,
        fall_s=sensor.fall_s * worn,
        heater_ohms=round(6.0 + chance.normal(f"{place}-ohms", 0.0, 0.4), 1),
    )


def _cooling(base: Engine, chance: Chance) -> Cooling:
    return Cooling(
        thermostat_c=base.cooling.thermostat_c + chance.normal("thermostat", 0.0, 1.5),
        minutes_to_80=base.cooling.minutes_to_80 + chance.normal("warm-up", 0.0, 0.7),
        transmission_c=80.0 + chance.normal("transmission", 0.0, 4.0),
    )


def _electrics(chance: Chance) -> Electrics:
    return Electrics(
        battery_rest_v=12.55 + chance.normal("rest", 0.0, 0.05),
        charge_v=14.2 + chance.normal("charge", 0.0, 0.08),
        ripple_mv=max(60.0 + chance.normal("ripple", 0.0, 12.0), 10.0),
        ref5_v=5.0 + chance.normal("five", 0.0, 0.015),
        engine_ground_ohm=0.0013 + chance.normal("strap", 0.0, 0.0002),
        ecu_ground_ohm=0.005 + chance.normal("ecu-ground", 0.0, 0.0008),
        feed_ohm=0.03 + chance.normal("feed", 0.0, 0.003),
    )
