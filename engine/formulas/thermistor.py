"""Thermistors of coolant and intake air: temperature from resistance."""

from __future__ import annotations

import math

from engine.formulas.declaring import Argument, Formula, FormulaError, Result, Results

ZERO_CELSIUS = 273.15
COLDEST, HOTTEST = -40.0, 150.0
"""Temperatures in degC a vehicle thermistor is built for."""


def _in_range(reciprocal: float, ohms: float) -> Results:
    """Return the temperature in degC for 1/T, refusing what no vehicle thermistor shows."""
    temp = 1.0 / reciprocal - ZERO_CELSIUS if reciprocal > 0.0 else math.inf
    if not COLDEST - 0.5 <= temp <= HOTTEST + 0.5:
        found = f"{temp:.0f} °C" if math.isfinite(temp) else "no temperature at all"
        raise FormulaError(
            f"ohms is {ohms:g} Ω: that is {found}, outside {COLDEST:g} to {HOTTEST:g} °C; open, short or "
            "another sensor"
        )
    return {"temp": temp}


def thermistor_temp(ohms: float, r0: float, t0: float, beta: float) -> Results:
    """Return the temperature in degC of a thermistor by the beta formula.

    Args:
        ohms: measured resistance, ohm.
        r0: resistance at *t0*, ohm.
        t0: reference temperature, degC.
        beta: material constant, K.

    Raises:
        FormulaError: the temperature lies outside -40 to 150 degC.
    Source: beta formula of thermistor data sheets (from memory): 1/T = 1/T0 + ln(R/R0)/B.
    """
    return _in_range(1.0 / (t0 + ZERO_CELSIUS) + math.log(ohms / r0) / beta, ohms)


def steinhart_hart(ohms: float, a: float, b: float, c: float) -> Results:
    """Return the temperature in degC of a thermistor by the three-term logarithmic fit.

    Args:
        ohms: measured resistance, ohm.
        a: constant term, 1/K.
        b: factor of ln R, 1/K.
        c: factor of (ln R) cubed, 1/K.

    Raises:
        FormulaError: the temperature lies outside -40 to 150 degC.
    Source: J. S. Steinhart and S. R. Hart, Deep-Sea Research 15 (1968) 497 (from memory).
    """
    log = math.log(ohms)
    return _in_range(a + b * log + c * log**3, ohms)


_OHMS = Argument("ohms", "Ω", "measured resistance", low=1, high=1e6)
_TEMP = (Result("temp", "°C", "temperature of the thermistor"),)

FORMULAS = (
    Formula(
        "thermistor_temp",
        "temperature of a thermistor (beta)",
        (
            _OHMS,
            Argument("r0", "Ω", "resistance at the reference temperature", low=1, high=1e6),
            Argument("t0", "°C", "reference temperature", low=-40, high=150),
            Argument("beta", "K", "material constant", low=500, high=10000),
        ),
        _TEMP,
        "-40 to 150 °C; within about 1 °C from 0 to 100 °C, 2 °C at -30 °C; sensor unplugged",
        "from memory of thermistor data sheets",
        thermistor_temp,
    ),
    Formula(
        "steinhart_hart",
        "temperature of a thermistor (three terms)",
        (
            _OHMS,
            Argument("a", "", "constant term, 1/K", low=-0.1, high=0.1),
            Argument("b", "", "factor of ln R, 1/K", low=-0.1, high=0.1),
            Argument("c", "", "factor of (ln R) cubed, 1/K", low=-0.01, high=0.01),
        ),
        _TEMP,
        "-40 to 150 °C; sensor unplugged",
        "from memory of a deep-sea research paper of 1968",
        steinhart_hart,
    ),
)
