"""Air: what the engine swallows, what leaks in or out, the manifold pressure that goes with it."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from engine.car.parameters import Engine
from engine.car.points import BOOSTED_PEAK_AIR, PEAK_AIR, Point
from engine.car.settled import State
from engine.formulas.air import GAS_CONSTANT_AIR, ZERO_CELSIUS, flow_per_area
from engine.formulas.atmosphere import barometric_pressure

LEAK_CD = 0.8
"""Discharge coefficient of a sharp hole (handbooks: 0.6 to 0.85)."""
EXPANSION = 1.0 / 1.4
CLEARANCE = 6.0
"""Volume ratio that decides how much burnt gas stays behind: clearance and valve overlap together."""
_FILLING = ((200.0, 0.80), (700.0, 0.845), (2500.0, 0.918), (3000.0, 0.909), (5500.0, 0.878), (7000.0, 0.80))
"""Volumetric efficiency over manifold density without burnt gas, by speed; chosen."""
PRESSURE_PER_FLOW = 1.095
"""Back-pressure of a free exhaust, kPa per g/s of air and litre of the bank."""
FRICTION_KPA = 190.0
"""Mean pressure of friction and gas exchange at no load, kPa, that extra back-pressure adds to."""
CLOSED_THROTTLE = 0.67
"""Flow of the shut throttle over that of a healthy warm idle."""
CAM_LOSS = 0.0165
"""Loss of filling per degree of late or early valve timing; chosen."""
THROTTLE_LOSS_KPA = 1.0


@dataclass(frozen=True, slots=True)
class Breath:
    """The air side of one state; g/s, kPa absolute, °C."""

    baro: float
    rpm: float
    map: float
    iat: float
    total: float
    metered: float
    through_throttle: float
    bank_air: tuple[float, ...]
    """True air of each bank."""
    bank_share: tuple[float, ...]
    """What a control unit that reckons by flow thinks each bank gets, true and without leaks."""
    back_pressure: tuple[float, ...]
    leaks: tuple[tuple[str, float], ...]
    purge: float
    """Vapour and air through a purge valve that should be shut."""
    reckoned: float
    """Air a control unit with a sound manifold sensor reckons."""
    egr: float


def barometer(engine: Engine) -> float:
    """Return the barometric pressure at the engine's altitude, kPa."""
    return float(barometric_pressure(engine.altitude_m)["pressure"]) + engine.weather_kpa


def filling(rpm: float) -> float:
    """Return the volumetric efficiency without burnt gas left behind, by speed."""
    for (low, first), (high, last) in itertools.pairwise(_FILLING):
        if rpm <= high:
            return first + (last - first) * (max(rpm, low) - low) / (high - low)
    return _FILLING[-1][1]


def breathed(
    litres: float, rpm: float, pressure: float, celsius: float, back: float, efficiency: float
) -> float:
    """Return the air drawn by a displacement, g/s: speed-density with burnt gas staying behind.

    Source: ideal gas law; loss by burnt gas as in engine textbooks (from memory):
        (r - (p_exhaust / p_intake)^(1/1.4)) / (r - 1).
    """
    left: float = (CLEARANCE - (back / pressure) ** EXPANSION) / (CLEARANCE - 1.0)
    density = pressure / (GAS_CONSTANT_AIR / 1e3 * (celsius + ZERO_CELSIUS))
    return efficiency * max(left, 0.05) * litres * rpm / 120.0 * density


@dataclass(frozen=True, slots=True)
class _Frame:
    """What stays the same while a state is solved."""

    engine: Engine
    baro: float
    celsius: float
    litres: float
    """Of one bank."""
    loss: float

    def banks(self, rpm: float, pressure: float, backs: tuple[float, ...], egr: float) -> tuple[float, ...]:
        """Return the air each bank draws, g/s."""
        efficiency = filling(rpm) * self.engine.breathing * self.loss * (1.0 - egr)
        return tuple(
            breathed(self.litres, rpm, pressure, self.celsius, self.baro + back, efficiency) for back in backs
        )

    def backs(self, flows: tuple[float, ...]) -> tuple[float, ...]:
        """Return the back-pressure of each bank, kPa gauge."""
        return tuple(
            PRESSURE_PER_FLOW / self.litres * flow * bank.exhaust_restriction
            for flow, bank in zip(flows, self.engine.banks, strict=True)
        )

    def solve(
        self, rpm: float, total: float, egr: float, ceiling: float
    ) -> tuple[float, tuple[float, ...], tuple[float, ...]]:
        """Return manifold pressure, air and back-pressure of each bank for a total the ceiling allows."""
        flows = (total / len(self.engine.banks),) * len(self.engine.banks)
        backs = self.backs(flows)
        pressure = 40.0
        for _ in range(14):
            flows = self.banks(rpm, pressure, backs, egr)
            ratio = total / sum(flows)
            pressure *= ratio**0.7
            backs = self.backs(flows)
            if abs(ratio - 1.0) < 1e-7:
                break
        if pressure > ceiling:
            return ceiling, self.banks(rpm, ceiling, backs, egr), backs
        scale = total / sum(flows)
        return pressure, tuple(flow * scale for flow in flows), backs


def _frame(engine: Engine, point: Point) -> _Frame:
    baro = barometer(engine)
    warmer = point.warmer if engine.induction == "na" else point.boosted_warmer
    loss = max(0.3, 1.0 - CAM_LOSS * abs(engine.air.cam_error_deg))
    return _Frame(engine, baro, engine.ambient_c + warmer, engine.litres / len(engine.banks), loss)


def hole_flow(diameter: float, inside: float, outside: float, celsius: float) -> float:
    """Return the air a round hole lets in (positive) or out (negative), g/s."""
    area = math.pi / 4.0 * diameter * diameter
    if inside > outside:
        return -area * flow_per_area(outside, inside, celsius, LEAK_CD)
    return area * flow_per_area(inside, outside, celsius, LEAK_CD)


def _leaks(engine: Engine, pressure: float, baro: float, charge: float) -> tuple[tuple[str, float], ...]:
    """Return the flow of every leak by place: behind the throttle, ahead of it, out of the charge pipe."""
    inside = {"charge": max(charge, baro), "after_meter": baro - 0.3}
    return tuple(
        (place, hole_flow(diameter, inside.get(place, pressure), baro, engine.ambient_c))
        for place, diameter in engine.air.leaks
        if diameter > 0.0
    )


def peak_air(engine: Engine, baro: float = 101.0) -> float:
    """Return the healthy air at full throttle and peak speed, g/s."""
    return engine.litres * (PEAK_AIR if engine.induction == "na" else BOOSTED_PEAK_AIR) * baro / 101.0


def breathe(engine: Engine, state: State, point: Point, lost: float, idle_target: float) -> Breath:
    """Return the air side of a state in which the engine burns fuel.

    Args:
        engine: the engine.
        state: the state.
        point: its operating point.
        lost: lost share of all cycles, which slows the idle.
        idle_target: idle speed the control unit aims at, 1/min.
    """
    frame = _frame(engine, point)
    if state == "wot":
        return _full_throttle(frame)
    if point.rpm:
        boosted = engine.induction != "na"
        wanted = (point.boosted_air if boosted else point.air) * engine.litres
        wanted *= frame.baro / 101.0 if state in ("load", "snap") else 1.0
        return _held(frame, state, point.rpm, wanted)
    return _idling(frame, state, lost, idle_target)


def _extra(frame: _Frame, total: float) -> float:
    """Return by what share restricted exhausts and late valves raise the air that no load needs."""
    healthy = PRESSURE_PER_FLOW / frame.litres * total / len(frame.engine.banks)
    shares = [bank.exhaust_restriction - 1.0 for bank in frame.engine.banks]
    late = 0.007 * abs(frame.engine.air.cam_error_deg)
    return 1.0 + healthy * sum(shares) / len(shares) / FRICTION_KPA + late


def _held(frame: _Frame, state: State, rpm: float, wanted: float) -> Breath:
    """Return a state whose air the driver holds."""
    total = wanted * (_extra(frame, wanted) if state in ("2500", "reload") else 1.0)
    ceiling = max(frame.baro - 1.0, boost(frame.engine, frame.baro)[1])
    pressure, flows, backs = frame.solve(rpm, total, 0.0, ceiling)
    return _breath(frame, rpm, pressure, sum(flows), flows, backs, 0.0)


def _idling(frame: _Frame, state: State, lost: float, target_rpm: float) -> Breath:
    """Return idle: the throttle takes back what leaks in until it is shut, then the engine speeds up."""
    engine = frame.engine
    healthy = engine.idle_air * engine.litres * (1.0 if state == "idle" else 1.6)
    wanted = healthy * _extra(frame, healthy) * target_rpm / engine.idle_rpm
    egr = engine.air.egr_share_idle if state == "idle" else 0.0
    starved = 1.0 - 0.35 * egr - 0.35 * max(0.0, engine.air.plate_dirt - 0.3)
    rpm, wanted = target_rpm * starved * max(0.45, 1.0 - 0.86 * lost), wanted * starved
    pressure, flows, backs = frame.solve(rpm, wanted, egr, frame.baro - 1.0)
    drawn = sum(flow for place, flow in _leaks(engine, pressure, frame.baro, frame.baro) if place != "charge")
    drawn += hole_flow(engine.fuel.purge_leak_mm, pressure, frame.baro, engine.ambient_c)
    least = CLOSED_THROTTLE * healthy * (1.0 - engine.air.plate_dirt)
    if wanted - drawn < least:
        ratio = min((least + drawn) / wanted, 4.0)
        rpm *= ratio**1.09
        pressure, flows, backs = frame.solve(rpm, wanted * ratio, egr, frame.baro - 1.0)
    return _breath(frame, rpm, pressure, sum(flows), flows, backs, egr)


def _full_throttle(frame: _Frame) -> Breath:
    """Return full throttle at peak speed: the filter's loss and the back-pressure go with the flow."""
    engine = frame.engine
    peak = peak_air(engine)
    _, reached = boost(engine, frame.baro)
    flows = (peak / len(engine.banks),) * len(engine.banks)
    pressure = frame.baro
    for _ in range(30):
        loss = (engine.air.filter_kpa + THROTTLE_LOSS_KPA) * (sum(flows) / peak) ** 2
        boosted = reached - (loss - 3.0) * reached / frame.baro
        step = max(frame.baro - loss if reached <= 0.0 else boosted, 20.0)
        pressure += 0.5 * (step - pressure)
        found = frame.banks(engine.peak_rpm, pressure, frame.backs(flows), 0.0)
        change = max(abs(new - old) for new, old in zip(found, flows, strict=True))
        flows = tuple(old + 0.5 * (new - old) for new, old in zip(found, flows, strict=True))
        if change < 1e-4 and abs(step - pressure) < 1e-3:
            break
    return _breath(frame, engine.peak_rpm, pressure, sum(flows), flows, frame.backs(flows), 0.0)


def boost(engine: Engine, baro: float) -> tuple[float, float]:
    """Return the wastegate's duty, %, and the pressure reached in a pull, kPa; both 0 without boost."""
    air = engine.air
    if engine.induction == "na" or air.boost_target_kpa <= 0.0:
        return 0.0, 0.0
    lost = -sum(flow for place, flow in _leaks(engine, baro, baro, air.boost_target_kpa) if place == "charge")
    share = lost / peak_air(engine)
    missing = max(0.0, share - 0.01) * 5.0 + 0.7 * air.wastegate_leak
    gain = (air.boost_target_kpa - baro) * max(0.1, 1.0 - missing) + 37.0 * air.wastegate_stuck
    duty = 48.0 + 500.0 * share + 60.0 * air.wastegate_leak - 43.0 * air.wastegate_stuck
    return min(max(duty, 5.0), 92.0), baro + gain - 1.0


def _drawn(frame: _Frame, pressure: float, total: float) -> tuple[tuple[tuple[str, float], ...], float]:
    """Return the leaks and the flow of a purge valve that should be shut, g/s.

    A hole larger than the engine's appetite lets in no more than the engine swallows.
    """
    engine = frame.engine
    charge = pressure * 1.05 if pressure > frame.baro else frame.baro
    leaks = _leaks(engine, pressure, frame.baro, charge)
    purge = hole_flow(engine.fuel.purge_leak_mm, min(pressure, frame.baro), frame.baro, engine.ambient_c)
    part = min(1.0, 0.98 * total / max(sum(flow for _, flow in leaks) + purge, 1e-9))
    if 0.0 < part < 1.0:
        return tuple((place, part * flow) for place, flow in leaks), part * purge
    return leaks, purge


def _breath(
    frame: _Frame,
    rpm: float,
    pressure: float,
    total: float,
    flows: tuple[float, ...],
    backs: tuple[float, ...],
    egr: float,
) -> Breath:
    """Return the whole air side from the solved pressure: leaks, metered air, what each bank gets of it."""
    engine = frame.engine
    leaks, purge = _drawn(frame, pressure, total)
    metered = max(total - sum(flow for _, flow in leaks) - purge, 0.05)
    shares = tuple(flow / sum(flows) for flow in flows)
    one_sided = [
        sum(flow for place, flow in leaks if place == f"gasket_b{bank + 1}") for bank in range(len(flows))
    ]
    common = total - sum(one_sided)
    bank_air = tuple(common * share + own for share, own in zip(shares, one_sided, strict=True))
    sound = _Frame(engine, frame.baro, frame.celsius, frame.litres, 1.0)
    healthy_backs = tuple(PRESSURE_PER_FLOW / frame.litres * flow for flow in flows)
    return Breath(
        baro=frame.baro,
        rpm=rpm,
        map=pressure,
        iat=frame.celsius,
        total=total,
        metered=metered,
        through_throttle=total - sum(flow for place, flow in leaks if place != "charge") - purge,
        bank_air=bank_air,
        bank_share=shares,
        back_pressure=backs,
        leaks=leaks,
        purge=purge,
        reckoned=sum(sound.banks(rpm, pressure, healthy_backs, 0.0)),
        egr=egr,
    )
