"""Words for the coded parameters of service 01: tables only.

Source: SAE J1979 / ISO 15031-5 and SAE J1979-DA, from memory; paraphrased.
"""

from __future__ import annotations

from collections.abc import Mapping

FUEL_SYSTEM: Mapping[int, str] = {
    0x00: "not present",
    0x01: "open loop, not ready",
    0x02: "closed loop",
    0x04: "open loop, driving condition",
    0x08: "open loop, system fault",
    0x10: "closed loop with sensor fault",
}

REQUIREMENT: Mapping[int, str] = {
    0x01: "OBD II (California)",
    0x02: "OBD (US federal)",
    0x03: "OBD and OBD II",
    0x04: "OBD I",
    0x05: "none",
    0x06: "EOBD",
    0x07: "EOBD and OBD II",
    0x08: "EOBD and OBD",
    0x09: "EOBD, OBD and OBD II",
    0x0A: "JOBD",
    0x0B: "JOBD and OBD II",
    0x0C: "JOBD and EOBD",
    0x0D: "JOBD, EOBD and OBD II",
}

FUEL_TYPE: Mapping[int, str] = {
    0x00: "not available",
    0x01: "petrol",
    0x02: "methanol",
    0x03: "ethanol",
    0x04: "diesel",
    0x05: "LPG",
    0x06: "CNG",
    0x07: "propane",
    0x08: "electric",
    0x09: "bifuel, on petrol",
    0x0A: "bifuel, on methanol",
    0x0B: "bifuel, on ethanol",
    0x0C: "bifuel, on LPG",
    0x0D: "bifuel, on CNG",
    0x0E: "bifuel, on propane",
    0x0F: "bifuel, on electric power",
    0x10: "bifuel, electric and combustion",
    0x11: "hybrid petrol",
    0x12: "hybrid ethanol",
    0x13: "hybrid diesel",
    0x14: "hybrid electric",
}

CONTINUOUS_MONITORS = ("misfire", "fuel system", "components")
"""Bits 0, 1, 2 of byte B: supported; bits 4, 5, 6 the same: not complete."""

OTHER_MONITORS = (
    "catalyst",
    "heated catalyst",
    "evaporative system",
    "secondary air",
    "A/C refrigerant",
    "oxygen sensor",
    "oxygen sensor heater",
    "EGR or valve timing",
)
"""Bits 0 to 7 of bytes C (supported) and D (not complete), spark ignition."""

SENSORS_TWO_BANKS = ("b1s1", "b1s2", "b1s3", "b1s4", "b2s1", "b2s2", "b2s3", "b2s4")
"""Bits 0 to 7 of PID 13."""

SENSORS_FOUR_BANKS = ("b1s1", "b1s2", "b2s1", "b2s2", "b3s1", "b3s2", "b4s1", "b4s2")
"""Bits 0 to 7 of PID 1D, sent instead of PID 13."""
