"""Make the table of freezing points: `python -m tests.physics.freezing_points`."""

from __future__ import annotations

import json
from dataclasses import asdict

import numpy as np
from CoolProp.CoolProp import PropsSI

from layoutcheck.physics.slush import TABLE, FreezingPoints
from layoutcheck.quantities import FluidKind

NOTE = (
    "Made with CoolProp's incompressible liquids MPG and MEG (A. Melinder's freezing curves) by "
    "python -m tests.physics.freezing_points. Kelvin, by share by mass in even steps from 0 on."
)
LIQUIDS = {FluidKind.PROPYLENE_GLYCOL: "MPG", FluidKind.ETHYLENE_GLYCOL: "MEG"}
LARGEST = 0.6
ROWS = 60
DIGITS = 8


def made() -> FreezingPoints:
    """Make the table."""
    shares = np.linspace(0.0, LARGEST, ROWS + 1).tolist()
    points = {
        kind.value: tuple(_point(liquid, share) for share in shares)
        for kind, liquid in LIQUIDS.items()
    }
    return FreezingPoints(LARGEST, points)


def _point(liquid: str, share: float) -> float:
    # Temperature and pressure do not matter to the freezing point; CoolProp asks for some.
    found = PropsSI("T_freeze", "T", 300.0, "P", 101325.0, f"INCOMP::{liquid}[{share!r}]")
    return float(f"{found:.{DIGITS}g}")


def main() -> None:
    """Write the table."""
    rows = {"note": NOTE, **asdict(made())}
    TABLE.write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
