"""Draw a practice car: which car it is, what is wrong with it, what its driver says, what is on the van."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine.car.car_facts import car_facts, kit_facts, maker_facts
from engine.car.chance import Chance
from engine.car.complaints import complaint_of
from engine.car.faults import put_in
from engine.car.hidden import HiddenFault, bank_index
from engine.car.parameters import Engine
from engine.car.scene import Scene
from engine.car.sound import sound_engine
from engine.catalogue import Catalogue, Fault
from engine.errors import LaybyError, did_you_mean, shown
from engine.measured import Answer
from engine.tree import AllOf, AnyOf, ChoiceIs, Compare, Condition, Not

KITS: Mapping[tuple[str, ...], float] = {
    ("BG", "CG", "CL", "CR", "FG", "GA", "IR", "MM", "OS", "PR", "SB", "SM", "VG"): 45,
    ("CL", "CR", "FG", "IR", "MM", "PR", "SB", "VG"): 25,
    ("CR", "IR", "MM", "OS"): 15,
    ("CR", "MM"): 15,
}
"""Vans, by share."""
LEAST_SEVERITY = 0.25
NOTHING = "no_fault_found"
_TRIES = 400
_PER_CYLINDER = ("injector_leaking", "injector_clogged", "ign_coil", "ign_plug", "compression_low")
_NEEDS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "tps_track_disagree": {"veh_throttle": ("electronic",)},
    "throttle_dirty": {"veh_throttle": ("electronic",)},
    "fuel_reg_high": {"veh_fuel_system": ("port_return", "port_returnless")},
}
"""Cars on which a fault shows; besides what the catalogue says."""
_ONE_PLACE = ("oxygen sensing", "oxygen sensor wiring", "oxygen sensor heater")


@dataclass(frozen=True, slots=True)
class PracticeCar:
    """A car to find a fault on."""

    number: int
    seed: int
    facts: Mapping[str, Answer]
    """Answers of the readings ``veh_*``, ``kit_*`` and those ``spec_*`` that are to hand."""
    faults: tuple[HiddenFault, ...]
    complaint: tuple[str, ...]
    """What the driver says, then when it shows."""
    kit: tuple[str, ...]
    engine: Engine
    """With the faults in it."""
    sound: Engine
    """Without them."""


def draw_car(
    catalogue: Catalogue,
    seed: int,
    number: int,
    *,
    faults: Sequence[str] | None = None,
    many: int = 1,
    kit: Sequence[str] | None = None,
) -> PracticeCar:
    """Return a car; the same seed and number always give the same.

    Args:
        catalogue: where faults, their weights and the cars they belong to stand.
        seed: of the whole draw.
        number: of the car.
        faults: draw among these only; None for all.
        many: how many faults; 0 for a healthy car.
        kit: tools on the van; None draws a van.

    Raises:
        LaybyError: there is no such fault or tool, or no car can have so many of them.
    """
    chance = Chance(f"{seed}:{number}")
    table = _allowed(catalogue, faults)
    tools = _tools(catalogue, kit, chance)
    for attempt in range(_TRIES):
        draw = Chance(f"{seed}:{number}:{attempt}")
        facts = car_facts(draw)
        found = _faults(table, facts, draw, many, forced=faults is not None)
        if found is not None:
            facts |= kit_facts(tools, draw) | maker_facts(facts, draw)
            return make_car(facts, found, tools, seed=seed, number=number, chance=chance)
    raise LaybyError(f"no car can have {many} of {', '.join(sorted(table))} at once: allow more faults")


def make_car(
    facts: Mapping[str, Answer],
    faults: tuple[HiddenFault, ...],
    kit: tuple[str, ...],
    *,
    seed: int = 0,
    number: int = 0,
    chance: Chance | None = None,
) -> PracticeCar:
    """Return the car of given facts and faults.

    Args:
        facts: of car and van.
        faults: what is wrong with it.
        kit: tools on the van.
        seed: for the name of the car.
        number: for the name of the car.
        chance: its scatter; by seed and number when absent.
    """
    own = chance or Chance(f"{seed}:{number}")
    sound = sound_engine(facts, own)
    draft = put_in(sound, facts, faults, own)
    complaint = complaint_of(Scene(facts, draft, faults, own))
    return PracticeCar(number, seed, facts, faults, complaint, kit, draft.engine, sound)


def _allowed(catalogue: Catalogue, faults: Sequence[str] | None) -> dict[str, Fault]:
    known = catalogue.faults.faults
    for name in faults or ():
        if name not in known:
            raise LaybyError(f"no fault {shown(name)}{did_you_mean(name, known)}: `layby faults` lists them")
    return {name: fault for name, fault in known.items() if faults is None or name in faults}


def _tools(catalogue: Catalogue, kit: Sequence[str] | None, chance: Chance) -> tuple[str, ...]:
    if kit is None:
        return chance.weighed("kit", KITS)
    for tool in kit:
        if tool not in catalogue.instruments:
            near = did_you_mean(tool, catalogue.instruments)
            raise LaybyError(f"no tool {shown(tool)}{near}: one of {', '.join(catalogue.instruments)}")
    return tuple(kit)


def _faults(
    table: Mapping[str, Fault], facts: Mapping[str, Answer], draw: Chance, many: int, *, forced: bool
) -> tuple[HiddenFault, ...] | None:
    """Return faults this car can have, None when it cannot have so many of the allowed ones.

    When only some faults are allowed, first the fault is drawn and then the car for it, so that a rare car
    does not make its faults rare.
    """
    found: list[HiddenFault] = []
    fits = {name: fault for name, fault in table.items() if can_have(fault, facts)}
    if forced and many == 1:
        wanted = draw.weighed("wanted", {name: fault.prior for name, fault in table.items()})
        fits = {wanted: table[wanted]} if wanted in fits else {}
    for place in range(many):
        rest = {name: f.prior for name, f in fits.items() if _goes_with(f, [table[h.fault] for h in found])}
        if not rest:
            return None
        found.append(_hidden(table[draw.weighed(f"fault-{place}", rest)], facts, draw, place))
    return tuple(found)


def can_have(fault: Fault, facts: Mapping[str, Answer]) -> bool:
    """Tell whether a car can have a fault."""
    for fact, answers in _NEEDS.get(fault.id, {}).items():
        if facts[fact] not in answers:
            return False
    banks = facts["veh_banks"]
    if fault.id == "o2_swapped_banks" and banks != 2.0:
        return False
    return fault.only_if is None or holds(fault.only_if, facts)


def holds(condition: Condition, facts: Mapping[str, Answer]) -> bool:
    """Tell whether a condition on car facts holds; what speaks of anything else does not."""
    match condition:
        case ChoiceIs(quantity, how, values):
            inside = facts.get(quantity) in values
            return not inside if how == "is_not" else inside
        case AllOf(parts):
            return all(holds(part, facts) for part in parts)
        case AnyOf(parts):
            return any(holds(part, facts) for part in parts)
        case Not(part):
            return not holds(part, facts)
        case Compare(quantity, how, limit) if isinstance(limit, float | int):
            value = facts.get(quantity)
            if not isinstance(value, float):
                return False
            return {
                "below": value < limit, "above": value > limit, "at_least": value >= limit,
                "at_most": value <= limit,
            }[str(how)]  # fmt: skip
        case _:
            return False


def _goes_with(fault: Fault, others: Sequence[Fault]) -> bool:
    """Tell whether a fault can stand beside others: no two of one part, and none beside *no fault*."""
    for other in others:
        same = fault.id == other.id or NOTHING in (fault.id, other.id)
        one_sensor = fault.system in _ONE_PLACE and other.system in _ONE_PLACE
        opposed = fault.system == other.system and fault.system in ("air count", "boost", "throttle")
        if same or one_sensor or opposed or {fault.id, other.id} == {"cat_worn", "cat_sooted"}:
            return False
    return True


def _hidden(fault: Fault, facts: Mapping[str, Answer], draw: Chance, place: int) -> HiddenFault:
    banks = facts["veh_banks"]
    count = int(banks) if isinstance(banks, float) else 1
    side = draw.one_of(f"side-{place}", fault.sides(count))
    if fault.id == "o2_heater_supply" and draw.happens(f"fuse-{place}", 0.7):
        side = None
    direction = draw.one_of(f"direction-{place}", fault.directions) if fault.directions else None
    cylinder = None
    if fault.id in _PER_CYLINDER:
        cylinders = facts["veh_cylinders"]
        each = int(cylinders) // count if isinstance(cylinders, float) else 4
        cylinder = bank_index(side) * each + 1 + int(draw.share(f"cylinder-{place}") * each)
    severity = round(draw.between(f"severity-{place}", LEAST_SEVERITY, 1.0), 2)
    return HiddenFault(fault.id, side, cylinder, direction, severity)
