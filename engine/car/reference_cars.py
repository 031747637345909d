"""The three reference cars: chosen inside ordinary ranges, not measured on a car."""

from __future__ import annotations

from dataclasses import replace

from engine.car.parameters import AirPath, Bank, Cooling, Cylinder, Engine, FuelPath, Zirconia

TWO_BANKS = Engine()
"""3.0 L six, two banks, air meter and manifold sensor, port injection with return, switching sensors."""

ONE_BANK = Engine(
    litres=1.6,
    cylinders=(Cylinder(),) * 4,
    banks=(Bank(),),
    metering="map",
    fuel_system="port_returnless",
    fuel=FuelPath(regulator_kpa=380.0, pump_deadhead_kpa=620.0),
    cooling=Cooling(minutes_to_80=8.0),
    idle_rpm=750.0,
    idle_air=1.5,
)
"""1.6 L four, one bank, manifold sensor, port injection without return (380 kPa gauge)."""

TURBO = Engine(
    litres=1.6,
    cylinders=(Cylinder(),) * 4,
    banks=(Bank(upstream=replace(Zirconia(), kind="wide")),),
    induction="turbo",
    fuel_system="direct",
    air=AirPath(boost_target_kpa=190.0),
    fuel=FuelPath(regulator_kpa=450.0, pump_deadhead_kpa=700.0),
    cooling=Cooling(thermostat_c=95.0, minutes_to_80=7.0),
    idle_rpm=780.0,
    idle_air=1.5,
    peak_rpm=5000.0,
    breathing=0.955,
)
"""1.6 L four, one bank, turbo, direct injection, air meter and manifold sensor, wide-band upstream."""
