"""Carbon dioxide in a cylinder at rest, and as it leaves the nozzle, by the equation of state.

Source: R. Span and W. Wagner, A new equation of state for carbon dioxide, J. Phys. Chem. Ref. Data
25(6), 1996, as CoolProp computes it. The values are kept in a table, since CoolProp takes seconds
to load its fluids, and each run of the command line would wait for it. A test makes the table anew
with CoolProp and holds what is read between its rows to it.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

TABLE = Path(__file__).with_name("carbon_dioxide.json")


@dataclass(frozen=True)
class Saturated:
    """The table: rows from the critical point (K) to the triple point (K).

    They are equally far apart in the cube root of the temperature below the critical point: density
    and enthalpy run nearly straight in it as they close on each other there.
    liquid_enthalpy: J/kg. vapour_density: kg/m3. cold_gas_enthalpy: J/kg, of the gas at 1 atm and
    the sublimation point, on the same scale.
    """

    critical: float
    triple: float
    liquid_enthalpy: tuple[float, ...]
    vapour_density: tuple[float, ...]
    cold_gas_enthalpy: float

    @property
    def roots(self) -> np.ndarray:
        """Give the cube root (K^1/3) of each row's temperature below the critical point."""
        last = np.cbrt(self.critical - self.triple)
        return np.linspace(0.0, last, len(self.liquid_enthalpy))


@functools.lru_cache(maxsize=1)
def saturated_table() -> Saturated:
    """Give the table, read once."""
    rows = json.loads(TABLE.read_text(encoding="utf-8"))
    rows.pop("note")
    for name in ("liquid_enthalpy", "vapour_density"):
        rows[name] = tuple(rows[name])
    return Saturated(**rows)


@functools.lru_cache(maxsize=256)
def saturated(temperature: float) -> tuple[float, float]:
    """Give the liquid's enthalpy (J/kg) and the vapour's density (kg/m3) of a cylinder at rest.

    Parameters:
        temperature: K, from the triple point to the critical point; warmer by a hair counts as
            critical.

    Source: see the module. Within 1e-8 of CoolProp, but for the last half kelvin below the critical
    point: there within 1e-4.
    """
    root = np.cbrt(max(saturated_table().critical - temperature, 0.0))
    enthalpy, density = _between_the_rows()(root)
    return float(enthalpy), float(density)


@functools.lru_cache(maxsize=1)
def _between_the_rows() -> Callable[[float], np.ndarray]:
    """Give what reads both columns at a root (K^1/3), made once."""
    from scipy.interpolate import CubicSpline  # noqa: PLC0415 - only for carbon dioxide

    table = saturated_table()
    return CubicSpline(table.roots, np.column_stack([table.liquid_enthalpy, table.vapour_density]))
