"""What one operating state of an engine comes to: true values, and what the control unit believes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias

from engine.formulas.mixture import lambda_from_gas

Loop: TypeAlias = Literal["open_cold", "closed", "open_load", "open_fault", "closed_fault"]
State: TypeAlias = Literal[
    "off", "koeo", "crank", "cold", "cool", "idle", "2500", "snap", "load", "wot", "overrun", "reload"
]


class Flow(NamedTuple):
    """Exhaust gas as moles (of whatever flow of charge it is reckoned for)."""

    co: float = 0.0
    co2: float = 0.0
    h2: float = 0.0
    h2o: float = 0.0
    o2: float = 0.0
    inert: float = 0.0
    """Nitrogen and argon, less half the NO."""
    no: float = 0.0
    fuel: float = 0.0
    """Carbon atoms of unburnt fuel, each with its hydrogen and oxygen."""


@dataclass(frozen=True, slots=True)
class Gas:
    """Dry exhaust gas as an analyser shows it: % vol, hydrocarbons in ppm hexane, NO in ppm."""

    co: float
    co2: float
    o2: float
    h2: float
    hc: float
    no: float

    @property
    def lambda_(self) -> float:
        """Lambda by the exhaust gas balance, constants of petrol; 2.5 stands for hardly any burnt gas."""
        if self.co2 < 1.0 or not 6.0 <= self.co + self.co2 <= 20.0:
            return 2.5
        return float(lambda_from_gas(self.co, self.co2, self.o2, self.hc, self.no)["lambda"])


@dataclass(frozen=True, slots=True)
class AirState:
    """Air and pressures; g/s, kPa absolute unless said, °C, %."""

    baro: float
    map: float
    map_shown: float
    vacuum: float
    """Depression of the manifold as a gauge shows it, kPa."""
    total: float
    """Air the engine swallows."""
    metered: float
    """Air that passes the meter."""
    maf_shown: float
    leaks: tuple[tuple[str, float], ...]
    """Unmetered air by place; what blows out of the charge pipe is negative."""
    iat: float
    iat_shown: float
    load_calc: float
    throttle_cmd: float
    boost_target: float
    """Requested and reached in a pull, 0 without boost."""
    boost_actual: float
    wastegate_duty: float
    egr_share: float
    crankcase: float
    """Gauge."""


@dataclass(frozen=True, slots=True)
class FuelState:
    """Pressures in kPa, flows in mL/s."""

    rail: float
    """Gauge; low side of a direct system."""
    across: float
    """Over the injector."""
    high_side: float
    """0 unless direct."""
    demand: float
    pump_flow: float
    filter_drop: float
    pulse_ms: float


@dataclass(frozen=True, slots=True)
class BankLoop:
    """What one bank comes to: its air, fuel and trims, and its mixture as it is and as it is seen."""

    air: float
    """g/s."""
    fuel: float
    """g/s, all that reaches its cylinders."""
    short: float
    """%."""
    long: float
    """%."""
    needed: float
    """Correction that would satisfy the sensor, %."""
    loop: Loop
    lambda_true: float
    """All air over all fuel of its cylinders."""
    lambda_seen: float
    """Lambda of the gas as the electrode meets it."""
    lambda_shown: float
    """What a wide-band sensor on this bank's harness makes of the gas it is in."""
    dilution: float
    """Seen over true: air drawn in ahead of the sensor and oxygen of missed charges."""
    misfire: float
    """Lost share of the charge."""
    tip_c: float
    """Electrode of the upstream sensor, °C."""


@dataclass(frozen=True, slots=True)
class BankState(BankLoop):
    """One bank of cylinders, its loop, gas and heat."""

    engine_out: Gas
    at_sensor: Gas
    """Engine-out with the air a leak ahead of the sensor adds."""
    after_catalyst: Gas
    in_c: float
    out_c: float
    """Shell ahead of and behind the catalyst, °C."""
    back_pressure: float
    """kPa gauge at the upstream port."""

    @property
    def total(self) -> float:
        """The total trim as the trade adds it, %."""
        return self.short + self.long


@dataclass(frozen=True, slots=True)
class Coolant:
    """Coolant temperature, °C."""

    true: float
    shown: float


@dataclass(frozen=True, slots=True)
class Volts:
    """Supplies and losses with loads as usual for the state, V."""

    battery: float
    loaded: float
    """At 1500-2000 1/min with lamps and rear screen on (at rest when the engine stands)."""
    pump: float
    heater_feed: float
    ref5: float
    engine_drop: float
    ecu_drop: float
    feed_drop: float


@dataclass(frozen=True, slots=True)
class Settled:
    """One engine in one state."""

    state: State
    running: bool
    rpm: float
    air: AirState
    fuel: FuelState
    banks: tuple[BankState, ...]
    misfires: tuple[float, ...]
    """Lost share of the cycles of each cylinder."""
    tailpipe: Gas
    coolant: Coolant
    volts: Volts
    knock_retard: float
    """Degrees of crank."""

    @property
    def stalls(self) -> bool:
        """Whether so many charges are lost that the engine would not keep running here."""
        return self.running and sum(self.misfires) > 0.6 * len(self.misfires)
