"""The physical state of one engine: what a fault changes, and nothing else.

``engine.car.settling.settle(engine, state) -> Settled`` solves one operating state: off, koeo, crank, cold
(just started after a soak), cool (stopped, 40 °C at most), idle, 2500, snap, load, wot, overrun, reload (2500
straight after 20 min at load); road is read as load. ``engine.car.traces.oxygen_trace(engine, settled, place,
seconds=10.0, rate=50.0) -> (times, volts)`` gives the signal of the sensor at b1s1, b2s1, b1s2 or b2s2.
Both are cached, so a state is solved once per engine. ``engine.car.settled.Settled`` holds true values and
what the control unit believes:

state, running, rpm; ``air``: baro, map, map_shown, vacuum, total, metered, maf_shown, leaks (by name), iat,
iat_shown, load_calc, throttle_cmd, boost_target, boost_actual, wastegate_duty, egr_share, crankcase;
``fuel``: rail (gauge), across (pressure over the injector), high_side, demand, pulse_ms; ``banks``, one each:
air, fuel, short, long, total (%), needed (%), loop, lambda_true (burnt mixture), lambda_seen (gas at the
sensor), lambda_shown (what the sensor makes of it), misfire (lost charge 0-1), engine_out, after_catalyst
(``Gas``: co co2 o2 h2 %, hc ppm hexane, no ppm, dry), in_c, out_c, back_pressure; ``misfires``
(share per cylinder), ``stalls``; ``tailpipe`` (Gas, and its ``lambda_``); ``coolant``: true, shown;
``volts``: battery, pump, heater_feed, ref5, engine_drop, ecu_drop, feed_drop (V).
Reference cars: ``engine.car.reference_cars``. Besides: ``traces.trim_swing``, ``forced.forced_trace`` and
``forced.forced_volts`` (propane, fuel cut), ``fuelling.pump_flow`` (mL/s), ``zirconia_cell.shown_volts``,
``surroundings.thermistor_ohms``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

SensorKind: TypeAlias = Literal["switching", "wide", "none"]
Wire: TypeAlias = Literal["ok", "open", "short_ground", "short_supply"]
LeakPlace: TypeAlias = Literal[
    "manifold", "pcv", "booster", "gasket_b1", "gasket_b2", "after_meter", "charge"
]
Metering: TypeAlias = Literal["maf", "map"]
Induction: TypeAlias = Literal["na", "turbo", "supercharged"]
FuelSystem: TypeAlias = Literal["port_return", "port_returnless", "direct"]
TrackDesign: TypeAlias = Literal["sum", "half", "offset"]


@dataclass(frozen=True, slots=True)
class Zirconia:
    """One oxygen sensor with its heater and wires."""

    kind: SensorKind = "switching"
    rise_s: float = 0.055
    """Time constant of the volts from lean to rich, s."""
    fall_s: float = 0.050
    """Time constant of the volts from rich to lean, s."""
    diffusion_s: float = 0.105
    """Time constant of the porous layer ahead of the electrode: a lag of the mixture, s; grows with age."""
    gain: float = 1.0
    """Share of the cell's swing that is left; near 0 the sensor is dead."""
    centre_v: float = 0.45
    """Where 0.45 V of a sound cell comes out; a dead sensor sits here, V."""
    shift: float = 0.0
    """Lambda it takes for 1, minus 1: -0.03 calls a true 0.97 stoichiometric (reads lean)."""
    reference_oxygen: float = 0.2095
    """Oxygen on the reference air side, share; falls when it is contaminated or the body is cracked."""
    heater_ohms: float = 6.0
    """Heater at 20 °C, ohm; 1e6 is burnt out."""
    heater_driven: bool = True
    """The control unit's driver switches the heater."""
    signal: Wire = "ok"
    short_inside: bool = False
    """A short to ground or supply is inside the sensor, not in the harness."""
    ground_offset_v: float = 0.012
    """Signal ground above the control unit's ground with loads on, V; adds to the shown volts."""
    bias_v: float = 0.45
    """What the control unit puts on an open signal by design, V."""
    input_good: bool = True
    """The control unit's input reads what is on its pin."""
    insulation_kohm: float = 20_000.0
    """Signal to heater and to case, sensor side, kohm."""


@dataclass(frozen=True, slots=True)
class Catalyst:
    """One catalyst."""

    store_g: float = 0.08
    """Oxygen it gives and takes within a swing of the loop, hot, g; a swing at 2500 brings about 0.015."""
    active: float = 1.0
    """Share of the conversion of a sound catalyst that is left; about 0.35 worn out."""
    soot: float = 0.0
    """Share of the surface masked by soot; burns off in 20 min at load (state reload)."""


@dataclass(frozen=True, slots=True)
class Bank:
    """What one bank of cylinders has for itself."""

    upstream: Zirconia = field(default_factory=Zirconia)
    downstream: Zirconia = field(default_factory=Zirconia)
    catalyst: Catalyst = field(default_factory=Catalyst)
    exhaust_leak_mm: float = 0.0
    """Round hole ahead of the upstream sensor, mm."""
    exhaust_restriction: float = 1.0
    """Back-pressure over that of a free exhaust at the same flow."""
    injector_flow: float = 1.0
    """Flow of all injectors of the bank over new."""


@dataclass(frozen=True, slots=True)
class Cylinder:
    """What one cylinder has for itself; the first half of them is bank 1."""

    injector_flow: float = 1.0
    """Injector flow over new."""
    drip_g_s: float = 0.0
    """Fuel passing the closed injector at 300 kPa, g/s."""
    spark_miss_idle: float = 0.0
    """Share of its cycles that the spark fails at idle, 0-1."""
    spark_miss_2500: float = 0.0
    """Share of its cycles that the spark fails at 2500 1/min without load, 0-1."""
    spark_miss_load: float = 0.0
    """Share of its cycles that the spark fails under load, 0-1."""
    spark_kv: float = 9.0
    """Firing voltage at idle, kV."""
    spark_kv_snap: float = 16.0
    """Firing voltage on a snap of the throttle, kV."""
    compression_kpa: float = 1225.0
    """Cranking compression, throttle open, sea level, kPa gauge."""
    wet_gain_kpa: float = 40.0
    """Gain of compression after oil, kPa."""
    leakdown_pct: float = 8.0
    leakdown_path: Literal["none", "intake", "exhaust", "crankcase", "coolant", "next_cylinder"] = "none"


@dataclass(frozen=True, slots=True)
class AirPath:
    """Intake, air meter, manifold sensor, throttle, boost."""

    leaks: tuple[tuple[LeakPlace, float], ...] = ()
    """Holes as (place, diameter in mm); behind the throttle of an air-meter car the idle dies from about 3 mm
    for 2 L, 4 mm for 3 L. manifold, pcv and booster serve all cylinders, a gasket one bank;
    after_meter lies between meter and throttle; charge between compressor and throttle (boost)."""
    filter_kpa: float = 2.0
    """Loss of pressure over filter and duct at the engine's healthy peak flow, kPa; goes with the square."""
    meter_gain_low: float = 1.0
    """Air meter: shown over true at small flow (0 g/s)."""
    meter_gain_high: float = 1.0
    """Air meter: shown over true at the flow of a pull (about 17 g/s per litre) and above."""
    meter_zero: float = 0.15
    """Shown flow with the engine stopped, g/s."""
    map_offset_kpa: float = 0.0
    """Manifold pressure sensor: shown minus true, kPa."""
    iat_series_ohm: float = 0.0
    """Resistance in the intake air sensor's circuit, ohm."""
    iat_factor: float = 1.0
    """Resistance of the intake air sensor over its curve."""
    plate_dirt: float = 0.0
    """Share of the idle passage of the throttle closed by deposit, 0-1."""
    tracks_gap_v: float = 0.0
    """Throttle track B away from where track A puts it, V."""
    tracks_dropout: bool = False
    tracks_design: TrackDesign = "sum"
    boost_target_kpa: float = 0.0
    """Requested manifold pressure in a pull, kPa absolute; 0 without boost."""
    wastegate_stuck: float = 0.0
    """Share of the wastegate's travel it cannot open any more, 0-1 (1: shut for good)."""
    wastegate_leak: float = 0.0
    """Share of the wastegate's opening it cannot close any more, 0-1."""
    cam_error_deg: float = 0.0
    """Valve timing late against the crank, degrees of crank."""
    egr_share_idle: float = 0.0
    """Exhaust gas in the charge at idle through the EGR valve, share; 0.3 stuck open."""
    crankcase_kpa: float = -0.7
    """Crankcase pressure at idle with a sound valve, kPa gauge."""


@dataclass(frozen=True, slots=True)
class FuelPath:
    """Tank to injector, vapours, and the fuel itself."""

    regulator_kpa: float = 300.0
    """Pressure setting, kPa: over the manifold (port_return), else gauge; low side of a direct system."""
    pump_share: float = 1.0
    """Free flow of the pump over new; from about 0.3 it starves in a pull, from 0.6 at full throttle."""
    pump_deadhead_kpa: float = 560.0
    """Pressure of the pump with the return shut, kPa."""
    pump_amps: float = 5.5
    pump_ohm: float = 0.1
    """Resistance of the pump's feed and ground, ohm."""
    filter_kpa: float = 1.0
    """Drop over the filter at the fuel burnt in a pull (5 mL/s for 3 L), kPa; goes with the flow squared, the
    whole flow of the pump passes it. From about 300 the rail starves in a pull, from 50 at full throttle."""
    hold_loss_kpa: float = 20.0
    """Pressure lost in 10 min after shut-off through check valve and regulator, kPa."""
    hold_branch: Literal["supply_clamp", "return_clamp", "neither"] = "neither"
    """What stops the loss when clamped."""
    diaphragm_g_s: float = 0.0
    """Fuel drawn through the regulator's diaphragm at idle vacuum, g/s."""
    high_side_share: float = 1.0
    """High-pressure rail over request (direct only)."""
    ethanol_pct: float = 5.0
    """Ethanol in the fuel, % vol; the control unit reckons with 5."""
    burnable: float = 1.0
    """Share of the injected mass that burns like petrol: below 1 with water or stale ends."""
    miss_by_fuel: float = 0.0
    """Share of all cycles that fail under load because of the fuel (water, diesel), 0-1."""
    purge_duty_idle: float = 8.0
    """Purge command at idle, %."""
    purge_leak_mm: float = 0.0
    """Hole the purge valve leaves when shut, mm."""
    vapour_share: float = 0.07
    """Fuel in what the purge hose brings, share of mass: 0 empty canister, 0.15 after refuelling."""
    oil_fuel_g_s: float = 0.0
    """Fuel evaporating from the engine oil into the intake, warm, g/s."""


@dataclass(frozen=True, slots=True)
class Cooling:
    """Coolant, its sensor, thermostat and fan; gearbox fluid."""

    thermostat_c: float = 92.0
    """Temperature the thermostat holds at idle, °C."""
    thermostat_open: float = 0.0
    """Share of its opening it cannot close any more, 0-1."""
    overheat_k: float = 0.0
    """Kelvin above the thermostat's temperature: fan, level, radiator or head gasket."""
    fan_works: bool = True
    sensor_series_ohm: float = 0.0
    """Resistance in the coolant sensor's circuit, ohm."""
    sensor_factor: float = 1.0
    """Resistance of the coolant sensor over its curve."""
    transmission_c: float = 80.0
    minutes_to_80: float = 9.0
    """Minutes of mixed running from 20 to 80 °C."""


@dataclass(frozen=True, slots=True)
class Electrics:
    """Battery, charging, supplies and grounds, pedal."""

    battery_rest_v: float = 12.5
    battery_mohm: float = 12.0
    """Inner resistance with its clamps, milliohm."""
    charge_v: float = 14.2
    """Volts the generator holds at the battery at idle; below the battery's rest it does not charge."""
    ripple_mv: float = 60.0
    """Peak to peak with loads on, mV."""
    ref5_v: float = 5.0
    engine_ground_ohm: float = 0.0013
    """Block to battery negative, ohm, carrying about 30 A with loads on."""
    ecu_ground_ohm: float = 0.005
    """Control unit ground pin to battery negative, ohm, carrying about 3 A."""
    feed_ohm: float = 0.03
    """Battery positive to the control unit's feed pin, ohm, about 4 A."""
    heater_feed_ohm: float = 0.5
    """Feed and fuse of the sensor heaters, ohm; 1e6 with the fuse blown."""
    pedal_gap_v: float = 0.0
    """Pedal track E away from where track D puts it, V."""
    pedal_dropout: bool = False
    pedal_design: TrackDesign = "half"
    reduced_power: bool = False
    """Something that is not the engine asks for less torque (transmission, brake signal)."""


@dataclass(frozen=True, slots=True)
class Engine:
    """One engine in its surroundings."""

    litres: float = 3.0
    cylinders: tuple[Cylinder, ...] = (Cylinder(),) * 6
    banks: tuple[Bank, ...] = (Bank(), Bank())
    metering: Metering = "maf"
    """What the control unit reckons the air from."""
    map_sensor: bool = True
    induction: Induction = "na"
    fuel_system: FuelSystem = "port_return"
    air: AirPath = field(default_factory=AirPath)
    fuel: FuelPath = field(default_factory=FuelPath)
    cooling: Cooling = field(default_factory=Cooling)
    electrics: Electrics = field(default_factory=Electrics)
    upstream_crossed: bool = False
    """The upstream sensors of the banks are plugged into each other's harness."""
    altitude_m: float = 0.0
    weather_kpa: float = -0.325
    """Barometer minus the standard atmosphere, kPa."""
    ambient_c: float = 20.0
    idle_rpm: float = 700.0
    """Target idle speed, warm, 1/min."""
    idle_air: float = 1.4
    """Warm idle air at sea level, g/s per litre."""
    peak_rpm: float = 5500.0
    fuelling_error: float = 0.015
    """Air the fuel path misses by calibration and build: 0.015 is the healthy +1.5 % of long-term trim."""
    breathing: float = 1.0
    """Volumetric efficiency over that of an ordinary engine."""
    learned: float = 1.0
    """Share of the long-term trim already learnt, 0 after a reset to 1."""

    @property
    def two_banks(self) -> bool:
        """Whether there is a second bank with its own upstream sensor."""
        return len(self.banks) == 2

    def bank_of(self, cylinder: int) -> int:
        """Return the index of the bank of a cylinder numbered from 1."""
        return 1 if self.two_banks and cylinder > len(self.cylinders) // 2 else 0
