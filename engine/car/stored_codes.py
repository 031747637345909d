"""Codes as the control unit sets them: from what it measures, by the thresholds of ordinary self-tests.

The thresholds are chosen; a draw belonging to the car moves each a little, so that a small fault sets its
code on one car and not on the next. Meanings of the codes from memory of SAE J2012.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial

from engine.car.hidden import bank_index, places, sensor_at
from engine.car.looks import MISSES, misses_at_random
from engine.car.scene import Scene
from engine.car.traces import hot_store
from engine.measured import Answer

Found = tuple[str, float]
"""A code and how far the measured value is past its threshold: from 1 stored, from 0.75 pending."""
PENDING = 0.75
_STATES = ("idle", "2500", "load")


class CodesOfCar:
    """The codes of one car, worked out once."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self._found: dict[str, float] | None = None

    @property
    def found(self) -> Mapping[str, float]:
        """Every code with its strength, the strongest first."""
        if self._found is None:
            strengths: dict[str, float] = {}
            for code, strength in _every(self.scene):
                moved = strength * (1.0 + self.scene.chance.normal(f"code-{code[:4]}", 0.0, 0.06))
                strengths[code] = max(strengths.get(code, 0.0), moved)
            ordered = sorted(strengths.items(), key=lambda one: -one[1])
            self._found = {code: strength for code, strength in ordered if strength >= PENDING}
        return self._found

    def stored(self) -> tuple[str, ...]:
        """Return the stored codes."""
        return tuple(sorted(code for code, strength in self.found.items() if strength >= 1.0))

    def pending(self) -> tuple[str, ...]:
        """Return the pending codes: every fresh one, and what has shown only once."""
        return tuple(sorted(self.found))

    def first(self) -> str | None:
        """Return the stored code that owns the freeze frame."""
        return next((code for code, strength in self.found.items() if strength >= 1.0), None)


def _every(scene: Scene) -> Iterator[Found]:
    yield from ((code, 2.0) for code in scene.circuit_codes)
    for part in (
        _fuel_trim,
        _sensors,
        _heaters,
        _catalysts,
        _misfires,
        _air,
        _temperatures,
        _fuel,
        _electrics,
    ):
        yield from part(scene)


def _luck(scene: Scene, key: str, probability: float, strength: float) -> float:
    """Return a strength when this car's self-test sees the fault, else 0."""
    return strength if scene.chance.happens(f"code-{key}", probability) else 0.0


def _fuel_trim(scene: Scene) -> Iterator[Found]:
    for index in range(len(scene.engine.banks)):
        totals = [scene.at(state).banks[index].total for state in _STATES]
        lean, rich = ("P0171", "P0172") if index == 0 else ("P0174", "P0175")
        yield lean, max(totals) / 12.0
        yield rich, -min(totals) / 9.5
        if index == 0 and totals[2] < 8.0:
            yield "P2187", _luck(scene, "P2187", 0.35, totals[0] / 15.0)
        if index == 0 and totals[2] > -4.0:
            yield "P2188", _luck(scene, "P2188", 0.35, -totals[0] / 10.0)
    if scene.engine.upstream_crossed:
        yield "P0040", _luck(scene, "P0040", 0.4, 2.0)


def _sensors(scene: Scene) -> Iterator[Found]:
    for place in places(scene.engine):
        codes = _NAMES[place]
        sensor = sensor_at(scene.engine, place)
        if sensor.signal == "short_ground":
            yield codes["low"], 2.0
        elif sensor.signal == "short_supply":
            yield codes["high"], 2.0
        elif sensor.signal == "open":
            yield ("P2237" if sensor.kind == "wide" and place == "b1s1" else codes["open"]), 2.0
        elif sensor.gain < 0.3:
            yield codes["dead"], _luck(scene, f"dead-{place}", 0.5, 2.0)
            yield _stuck(place, sensor.centre_v), 1.9
        elif place.endswith("s1"):
            yield from _slow(scene, place)
            yield from _centre(scene, place)
        elif max(sensor.rise_s, sensor.fall_s) > 0.6:
            yield codes["slow"], max(sensor.rise_s, sensor.fall_s) / 1.2
        if sensor.ground_offset_v > 0.05:
            yield codes["high"], _luck(scene, f"offset-{place}", 0.7, sensor.ground_offset_v / 0.22)


_NAMES: Mapping[str, Mapping[str, str]] = {
    "b1s1": {"low": "P0131", "high": "P0132", "open": "P0134", "dead": "P0130", "slow": "P0133"},
    "b2s1": {"low": "P0151", "high": "P0152", "open": "P0154", "dead": "P0150", "slow": "P0153"},
    "b1s2": {"low": "P0137", "high": "P0138", "open": "P0140", "dead": "P0136", "slow": "P0139"},
    "b2s2": {"low": "P0157", "high": "P0158", "open": "P0160", "dead": "P0156", "slow": "P0159"},
}


def _stuck(place: str, centre: float) -> str:
    lean = centre < 0.5
    return {
        "b1s1": "P2195" if lean else "P2196",
        "b2s1": "P2197" if lean else "P2198",
        "b1s2": "P2270" if lean else "P2271",
        "b2s2": "P2272" if lean else "P2273",
    }[place]


def _slow(scene: Scene, place: str) -> Iterator[Found]:
    sensor = sensor_at(scene.engine, place)
    lag = max(sensor.rise_s, sensor.fall_s)
    yield _NAMES[place]["slow"], lag / 0.30


def _centre(scene: Scene, place: str) -> Iterator[Found]:
    """Yield what the rear sensor's mean says of the front one's centre."""
    if not scene.switching(f"{place[:2]}s2") or scene.at("2500").banks[bank_index(place)].loop != "closed":
        return
    off = scene.at("2500").banks[bank_index(place)].lambda_seen - 1.0
    lean, rich = ("P2096", "P2097") if place == "b1s1" else ("P2098", "P2099")
    yield lean, _luck(scene, lean, 0.6, off / 0.016)
    yield rich, _luck(scene, rich, 0.6, -off / 0.016)


def _heaters(scene: Scene) -> Iterator[Found]:
    feed = scene.at("idle").volts.heater_feed
    for place, code in (("b1s1", "P0135"), ("b1s2", "P0141"), ("b2s1", "P0155"), ("b2s2", "P0161")):
        if scene.has(place):
            sensor = sensor_at(scene.engine, place)
            dead = sensor.heater_ohms > 40.0 or not sensor.heater_driven or feed < 5.0
            yield code, 2.0 if dead else 0.0


def _catalysts(scene: Scene) -> Iterator[Found]:
    for index, bank in enumerate(scene.engine.banks):
        sound = bank.upstream.signal == "ok" and bank.upstream.gain > 0.3 and bank.downstream.gain > 0.3
        if sound and scene.at("2500").banks[index].loop == "closed":
            yield ("P0420", "P0430")[index], 0.0145 / max(hot_store(bank.catalyst, "2500"), 1e-4)


def _misfires(scene: Scene) -> Iterator[Found]:
    random = misses_at_random(scene)
    worst: dict[int, float] = {}
    for state in ("idle", "load"):
        for number, share in enumerate(scene.at(state).misfires, start=1):
            worst[number] = max(worst.get(number, 0.0), 100.0 * share)
    top = max(worst.values())
    if random:
        yield "P0300", top / 3.0
        return
    for number, share in worst.items():
        if share >= MISSES:
            yield f"P03{number:02d}", share / 3.0
    flows = [cylinder.injector_flow for cylinder in scene.engine.cylinders]
    uneven = 1.0 - min(flows) / max(flows)
    side = scene.engine.bank_of(1 + flows.index(min(flows)))
    yield ("P219A", "P219B")[side], _luck(scene, "P219", 0.35, uneven / 0.18)


def _air(scene: Scene) -> Iterator[Found]:
    engine, idle = scene.engine, scene.at("idle")
    off = abs(engine.air.meter_gain_high - 1.0)
    yield "P0101", _luck(scene, "P0101", 0.6, off / 0.13) if engine.metering == "maf" else 0.0
    if engine.map_sensor:
        shift = engine.air.map_offset_kpa
        yield "P0106", _luck(scene, "P0106", 0.6, abs(shift) / 3.5)
        yield ("P0108" if shift > 0.0 else "P0107"), _luck(scene, "P0108", 0.5, abs(shift) / 5.5)
    aimed = engine.idle_rpm + (90.0 if scene.at("idle").coolant.shown < 60.0 else 0.0)
    yield "P0507", _luck(scene, "P0507", 0.8, (idle.rpm - aimed - 140.0 * (aimed > engine.idle_rpm)) / 120.0)
    yield (
        "P0506",
        _luck(scene, "P0506", 0.7, (engine.idle_rpm - idle.rpm) / 75.0 if engine.air.plate_dirt else 0.0),
    )
    yield "P2119", _luck(scene, "P2119", 0.3, engine.air.plate_dirt / 0.55)
    yield "P0402", _luck(scene, "P0402", 0.7, engine.air.egr_share_idle / 0.15)
    yield "P0016", abs(engine.air.cam_error_deg) / 8.0
    pull = scene.at("load").air
    if engine.induction != "na":
        yield "P0299", (pull.boost_target - pull.boost_actual) / 22.0
        yield "P0234", (pull.boost_actual - pull.boost_target) / 18.0


def _temperatures(scene: Scene) -> Iterator[Found]:
    warm = scene.at("idle").coolant
    yield "P0116", (warm.true - warm.shown) / 25.0 if warm.true > 70.0 else 0.0
    yield "P0118", 2.0 if warm.shown < -20.0 else 0.0
    yield "P0128", (80.0 - warm.shown) / 8.0 if warm.true < 80.0 else 0.0
    yield "P0217", (warm.true - 98.0) / 10.5
    air = scene.at("koeo").air
    yield "P0111", (air.iat - air.iat_shown) / 18.0
    yield "P0113", 2.0 if air.iat_shown < -30.0 < scene.engine.ambient_c - 15.0 else 0.0


def _fuel(scene: Scene) -> Iterator[Found]:
    engine, pull = scene.engine, scene.at("load")
    watched = engine.fuel_system == "direct" or scene.chance.happens("rail-sensor", 0.4)
    aim = engine.fuel.regulator_kpa - (pull.air.vacuum if engine.fuel_system == "port_return" else 0.0)
    yield "P0087", (1.0 - pull.fuel.rail / aim) / 0.25 if watched else 0.0
    design = {"port_return": 300.0, "port_returnless": 380.0}.get(engine.fuel_system, 450.0)
    yield "P0088", (engine.fuel.regulator_kpa / design - 1.0) / 0.18 if watched else 0.0
    leak = engine.fuel.purge_leak_mm**2 / engine.litres * 3.0
    yield "P0496", _luck(scene, "P0496", 0.6, leak / 1.2)
    yield "P0441", _luck(scene, "P0441", 0.3, leak / 1.2)


def _electrics(scene: Scene) -> Iterator[Found]:
    parts, still, idle = scene.engine.electrics, scene.at("koeo").volts, scene.at("idle").volts
    if still.ref5 < 4.7:
        yield "P0642", 2.0
        yield from ((code, 1.8) for code in ("P0107", "P0122", "P2122") if still.ref5 < 4.0)
    yield "P0562", max((13.4 - idle.loaded) / 0.8, (12.2 - still.battery) / 0.3, (idle.ecu_drop - 0.1) / 0.28)
    yield "P2135", abs(scene.engine.air.tracks_gap_v) / 0.22
    yield "P2138", abs(parts.pedal_gap_v) / 0.10


# ------------------------------------------------------------------------------- readings


def _frame_state(code: str) -> str:
    """Return the state in which a code of this kind is usually set."""
    if code in ("P0087", "P0234", "P0299", "P0101") or code.startswith("P07"):
        return "load"
    if code[:3] == "P05" or code in ("P2187", "P2188", "P0402", "P0128") or code[:3] == "P01":
        return "idle" if code not in ("P0133", "P0153") else "2500"
    return "2500"


def _frame(what: str, scene: Scene) -> Answer | None:
    code = codes_of(scene).first()
    if code is None:
        return None
    state = _frame_state(code)
    at = scene.at(state)
    match what:
        case "rpm":
            return at.rpm
        case "speed":
            return {"idle": 0.0, "2500": 78.0, "load": 92.0}[state]
        case "load":
            return at.air.load_calc
        case "ect":
            return at.coolant.shown
        case "dtc":
            return (code,)
        case _:
            return at.banks[0].loop


def _frame_trim(which: str, bank: str, scene: Scene) -> float | None:
    code = codes_of(scene).first()
    found = scene.bank(bank, _frame_state(code)) if code is not None else None
    return None if found is None else (found.short if which == "stft" else found.long)


def codes_of(scene: Scene) -> CodesOfCar:
    """Return the codes of a car, worked out once."""
    if not isinstance(scene.codes, CodesOfCar):
        scene.codes = CodesOfCar(scene)
    return scene.codes


def _permanent(scene: Scene) -> tuple[str, ...]:
    registered = scene.facts.get("veh_first_registered")
    modern = isinstance(registered, float) and registered >= 201001.0
    return codes_of(scene).stored() if modern else ()


def _lamp(scene: Scene) -> str:
    """Return the lamp: flashing while so many charges are missed that the catalyst is at risk."""
    stored = codes_of(scene).stored()
    if any(code.startswith("P03") for code in stored):
        missed = scene.at("load").misfires
        if sum(missed) / len(missed) > 0.08:
            return "flashing"
    return "on" if stored else "normal"


def _incomplete(scene: Scene) -> tuple[str, ...]:
    fresh = "battery_off" in scene.events or scene.chance.happens("cleared", 0.1)
    return ("catalyst", "o2") if fresh else ("none",)


TAKES: Mapping[str, Callable[[Scene], Answer | None]] = {
    "dtc_stored": lambda scene: codes_of(scene).stored(),
    "dtc_pending": lambda scene: codes_of(scene).pending(),
    "dtc_permanent": _permanent,
    "mil_state": _lamp,
    "monitors_incomplete": _incomplete,
    **{f"ff_{what}": partial(_frame, what) for what in ("rpm", "speed", "load", "ect", "dtc", "loop")},
    **{
        f"ff_{which}_{bank}": partial(_frame_trim, which, bank)
        for which in ("stft", "ltft")
        for bank in ("b1", "b2")
    },
}
"""How each of these readings is taken from a car; None where the car has it not."""
