"""One sample of exhaust gas: lambda, dilution, plausibility, and what the combination says.

Source: lambda and CO corrected as the formulas `lambda_from_gas` and `co_corrected` say; the line of complete
combustion is derived from the fuel's greatest dry CO2; the pattern of the gases is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.formulas.declaring import FormulaError
from engine.formulas.fuel_types import FUELS
from engine.formulas.registry import formula

Where = Literal["before", "after"]

AIR_OXYGEN = 20.95
"""% vol of dry air. From memory of ISO 2533."""
OFF_LINE_CO2 = 1.0
"""% CO2 off the line of complete combustion from which a reading is doubted. Choice of this program."""
LAMBDA_GAP = 0.03
"""Between the lambda shown and the one of the gases. Common practice."""
RICH, LEAN = 0.97, 1.03
"""Lambda. Common practice; the bounds of the test at raised idle too."""
MISFIRE_HC, MISFIRE_O2 = 600.0, 0.8
"""ppm as hexane, %. Common practice, read together."""
DILUTED_O2 = 1.0
"""% above which a weak sample counts as diluted. Common practice."""
LEAST_CARBON = 6.0
"""% CO + CO2; below it a sample is not valid. From memory of 40 CFR 51 subpart S."""
RICH_CO = 1.0
"""% CO that a right mixture does not reach even before the catalyst. Common practice."""
CLEAN = {"co": 0.2, "hc": 50.0, "no": 100.0, "o2": 0.3}
"""Most behind a working, warm catalyst: %, ppm, ppm, %. Common practice."""
RAW = {"co": 1.0, "hc": 250.0, "no": 2500.0, "o2": 1.5}
"""Most ahead of the catalyst of a warm engine in order: %, ppm, ppm, %. Common practice."""


@dataclass(frozen=True, slots=True)
class Sample:
    """Gases read at one engine state; % vol dry, HC in ppm as hexane, NO in ppm."""

    co: float
    co2: float
    o2: float
    hc: float
    no: float | None = None
    """None with a four-gas analyser."""
    shown: float | None = None
    """The analyser's own lambda."""
    sensor_lambda: float | None = None
    """Of a wide-band sensor at the same state."""
    trim: float | None = None
    """Total trim at the same state, %; of two banks the mean."""


@dataclass(frozen=True, slots=True)
class Analysis:
    """What one sample says."""

    lambda_gas: float | None
    lambda_why: str
    """Why there is no lambda of the gases; empty when there is."""
    carbon: float
    """CO + CO2, %."""
    least_carbon: float
    """Below it, with oxygen above 1 %, the sample is diluted."""
    co_corrected: float | None
    diluted: bool
    line_o2: float | None
    """O2 that goes with this CO2 when all fuel burns, %; None where the line does not hold."""
    pattern: str
    says: str
    plausible: tuple[str, ...]
    """What does not fit together; empty when all does."""
    other_ways: tuple[str, ...]
    """What the analyser, the sensor and the trims say of the same mixture."""
    cannot: tuple[str, ...]
    """What these gases cannot say."""


def analyse(sample: Sample, *, fuel: str = "petrol", where: Where = "after") -> Analysis:
    """Return what a sample says.

    Args:
        sample: the gases.
        fuel: one of the fuels of the formulas.
        where: before or after the catalyst (a car without one: before).
    """
    carbon = sample.co + sample.co2
    least = float(formula("dilution_limit").compute(fuel=fuel)["limit"])
    found, why = _lambda(sample, fuel)
    corrected = None
    if LEAST_CARBON <= carbon <= 20.0:
        result = formula("co_corrected").compute(co=sample.co, co2=sample.co2, fuel=fuel)
        corrected = float(result["co"])
    line = _line_o2(sample, fuel)
    diluted = carbon < least and sample.o2 > DILUTED_O2 and sample.hc < MISFIRE_HC and sample.co < RICH_CO
    pattern, says = _combination(sample, found, diluted, where)
    return Analysis(
        lambda_gas=found, lambda_why=why, carbon=carbon, least_carbon=least, co_corrected=corrected,
        diluted=diluted, line_o2=line, pattern=pattern, says=says,
        plausible=_doubts(sample, found, line, fuel), other_ways=_other_ways(sample, found),
        cannot=_cannot(sample, found, where),
    )  # fmt: skip


def _lambda(sample: Sample, fuel: str) -> tuple[float | None, str]:
    try:
        result = formula("lambda_from_gas").compute(
            co=sample.co, co2=sample.co2, o2=sample.o2, hc=sample.hc, no=sample.no or 0.0, fuel=fuel
        )
    except FormulaError as error:
        return None, str(error)
    return float(result["lambda"]), ""


def _line_o2(sample: Sample, fuel: str) -> float | None:
    if sample.co >= 0.5 or sample.hc >= 300.0:
        return None
    return AIR_OXYGEN * (1.0 - sample.co2 / FUELS[fuel].greatest_co2)


def _doubts(sample: Sample, found: float | None, line: float | None, fuel: str) -> tuple[str, ...]:
    """Return what looks like a slip of the pen, a wrong fuel or an analyser out of order."""
    doubts = []
    if sample.co + sample.co2 > FUELS[fuel].greatest_co2 + 1.0:
        doubts.append(
            f"CO + CO2 of {sample.co + sample.co2:.1f} % is more than this fuel can give: check the fuel, "
            "the decimal sign and the analyser's zero"
        )
    if 0.0 < sample.co2 < 2.0 and sample.o2 < 10.0:
        doubts.append(f"CO2 of {sample.co2:g} % with little oxygen: a factor of ten may be lost")
    if line is not None and sample.co2 >= 2.0:
        off = abs(sample.o2 - line)
        if off > AIR_OXYGEN * OFF_LINE_CO2 / FUELS[fuel].greatest_co2:
            doubts.append(
                f"with CO2 {sample.co2:g} % complete combustion leaves O2 {max(line, 0.0):.1f} %, read was "
                f"{sample.o2:g} %: a slip of the pen, another fuel, or a cell out of order"
            )
    if found is not None and sample.shown is not None and abs(sample.shown - found) > LAMBDA_GAP:
        doubts.append(
            f"the analyser shows lambda {sample.shown:.3f}, its gases give {found:.3f}: check fuel "
            "setting, HC scale and what was typed"
        )
    if sample.o2 < 0.0:
        doubts.append(f"O2 of {sample.o2:g} %: the zero has drifted; air should read 20.9")
    return tuple(doubts)


def _combination(sample: Sample, found: float | None, diluted: bool, where: Where) -> tuple[str, str]:
    """Return the name of the pattern and what it says; the first that fits."""
    if sample.co + sample.co2 < LEAST_CARBON:
        return "no valid sample", "Too little CO and CO2: probe out, hose open, engine not firing or cut off."
    if sample.hc >= MISFIRE_HC and sample.o2 >= MISFIRE_O2:
        if sample.co > 2.0 * RICH_CO:
            return "rich misfire", "So rich that it does not burn, or one cylinder flooded."
        return (
            "misfire",
            "Fuel and air leave together unburned: a cylinder does not fire. Lambda hardly moves by it.",
        )
    if diluted:
        return (
            "diluted or very lean",
            "Air in the sample, or a very lean mixture: these gases cannot tell the two apart. Exhaust, "
            "probe and hose first.",
        )
    if sample.co > RICH_CO and sample.o2 > DILUTED_O2:
        return "rich and lean together", "CO and O2 both high: one bank or cylinder rich, another lean."
    if found is not None and found < RICH:
        return "rich", "More fuel than air to burn it."
    if found is not None and found > LEAN:
        return "lean", "More air than fuel needs, or air that joined after the engine."
    return _right_mixture(sample, where)


def _right_mixture(sample: Sample, where: Where) -> tuple[str, str]:
    most = CLEAN if where == "after" else RAW
    no = sample.no if sample.no is not None else 0.0
    if where == "after" and sample.co > most["co"] and sample.hc > 2.0 * most["hc"]:
        return (
            "mixture right, not cleaned",
            "The catalyst is cold or does little: these are gases of an engine.",
        )
    if sample.hc > 2.0 * most["hc"]:
        return (
            "hydrocarbons alone",
            "Mixture right: early ignition, quenching, low compression or oil that burns.",
        )
    if no > 1.5 * most["no"]:
        return (
            "nitric oxide alone",
            "Mixture right: recirculation missing, hot engine, lean under load, or weak reduction.",
        )
    if sample.co > most["co"]:
        return "carbon monoxide a little high", "Near the right mixture, a trace rich or not fully cleaned."
    return "good", "Right mixture, " + (
        "and the catalyst cleans." if where == "after" else "usual gases of a warm engine."
    )


def _other_ways(sample: Sample, found: float | None) -> tuple[str, ...]:
    """Return what analyser, sensor and trims say beside the gases, and where they disagree."""
    ways = []
    if sample.shown is not None:
        ways.append(f"the analyser itself: lambda {sample.shown:.3f}")
    if sample.sensor_lambda is not None:
        gap = "" if found is None else f", {sample.sensor_lambda - found:+.3f} against the gases"
        ways.append(f"wide-band sensor: lambda {sample.sensor_lambda:.3f}{gap}")
        if found is not None and abs(sample.sensor_lambda - found) > LAMBDA_GAP:
            ways.append("sensor and gases disagree: exhaust leak, sensor, or gas changed by the catalyst")
    if sample.trim is not None:
        does = "adds" if sample.trim > 0 else "takes out"
        ways.append(
            f"total trim {sample.trim:+.1f} %: the control unit {does} {abs(sample.trim):.1f} % of fuel"
        )
        if found is not None and sample.trim > 8.0 and found < RICH:
            ways.append("rich gas, yet it adds fuel: the sensor, or what it sees, is in question")
        elif found is not None and sample.trim < -8.0 and found > LEAN:
            ways.append("lean gas, yet it takes fuel out: the sensor, or what it sees, is in question")
        elif found is not None and abs(sample.trim) > 8.0 and RICH <= found <= LEAN:
            ways.append("the trim puts right what is wrong: the gases look good because of it")
    return tuple(ways)


def _cannot(sample: Sample, found: float | None, where: Where) -> tuple[str, ...]:
    limits = ["which part is at fault: the gases tell the mixture and the burning, not the cause"]
    limits.append("which bank or cylinder: one tailpipe is the mean of all that flows into it")
    if where == "after":
        limits.append("how much the engine itself gives off: the catalyst has changed CO, HC and NO")
        if found is not None and found < 1.0:
            limits.append("how rich exactly: behind a hot catalyst rich gas can look up to 0.05 leaner")
    if sample.hc > 200.0:
        limits.append("lambda to a hundredth: the bench may see only half of the hydrocarbons")
    if sample.no is None:
        limits.append("anything about NO: it was not measured")
    limits.append("anything with secondary air blowing in, a leak ahead of the probe, or a cold engine")
    return tuple(limits)
