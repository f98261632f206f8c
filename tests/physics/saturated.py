"""Make the table of saturated carbon dioxide: `python -m tests.physics.saturated`."""

from __future__ import annotations

import json
from dataclasses import asdict

import numpy as np
from CoolProp import CoolProp
from CoolProp.CoolProp import PropsSI

from layoutcheck.physics.carbon_dioxide import TABLE, Saturated
from layoutcheck.physics.coolant import SUBLIMATION_TEMPERATURE, TRIPLE_POINT_TEMPERATURE

NOTE = (
    "Made with CoolProp (Span and Wagner, 1996) by python -m tests.physics.saturated. Rows from "
    "the critical to the triple point, equally far apart in the cube root of the temperature "
    "below critical."
)
# The critical temperature of Span and Wagner, K.
CRITICAL = 304.1282
ROWS = 400
# More than the equation of state is good for; the last digits of CoolProp are its own.
DIGITS = 11


def made() -> Saturated:
    """Make the table."""
    triple = TRIPLE_POINT_TEMPERATURE.value
    roots = np.linspace(0.0, np.cbrt(CRITICAL - triple), ROWS + 1)
    temperatures = np.clip(CRITICAL - roots**3, triple, CRITICAL).tolist()
    return Saturated(
        critical=CRITICAL,
        triple=triple,
        liquid_enthalpy=tuple(_digits(PropsSI("H", "T", t, "Q", 0.0, "CO2")) for t in temperatures),
        vapour_density=tuple(_digits(PropsSI("D", "T", t, "Q", 1.0, "CO2")) for t in temperatures),
        cold_gas_enthalpy=_digits(_cold_gas_enthalpy()),
    )


def _cold_gas_enthalpy() -> float:
    # The equation of state ends at the triple point. The gas at 1 atm is close to ideal there, so
    # the gas branch is followed 22 K further down.
    gas = CoolProp.AbstractState("HEOS", "CO2")
    gas.specify_phase(CoolProp.iphase_gas)
    gas.update(CoolProp.PT_INPUTS, 101325.0, SUBLIMATION_TEMPERATURE.value)
    return float(gas.hmass())


def _digits(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def main() -> None:
    """Write the table."""
    rows = {"note": NOTE, **asdict(made())}
    TABLE.write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
