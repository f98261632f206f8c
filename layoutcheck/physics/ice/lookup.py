"""Material curves of many pipes at once: temperature from enthalpy, heat-flow potential from that.

Straight lines between tabulated points; the first and the last line go on. A look-up gives the
value and its slope.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layoutcheck.physics.ice.tables import Curve, Tables

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lines:
    """Straight pieces one after another: where each starts, its value there, and its slope."""

    start: Numbers
    value: Numbers
    slope: Numbers

    @classmethod
    def through(cls, at: Numbers, values: Numbers) -> Lines:
        """Make the lines through points."""
        return cls(at[:-1], values[:-1], np.diff(values) / np.diff(at))

    def read(self, x: Numbers, piece: NDArray[np.intp]) -> tuple[Numbers, Numbers]:
        """Give value and slope at x on the pieces named."""
        slope = self.slope[piece]
        return self.value[piece] + (x - self.start[piece]) * slope, slope

    @classmethod
    def chained(cls, lines: Sequence[Lines]) -> Lines:
        """Put the pieces of several materials behind one another."""
        return cls(
            np.concatenate([one.start for one in lines]),
            np.concatenate([one.value for one in lines]),
            np.concatenate([one.slope for one in lines]),
        )


def _enthalpies(of: Curve) -> Numbers:
    steps = np.arange(of.temperature_of.size, dtype=np.float64)
    return np.asarray(of.first_enthalpy + of.enthalpy_step * steps, dtype=np.float64)


def _temperatures(of: Curve) -> Numbers:
    steps = np.arange(of.potential_of.size, dtype=np.float64)
    return np.asarray(of.first_temperature + of.temperature_step * steps, dtype=np.float64)


class Water:
    """Ice, the interval of freezing, and liquid water."""

    def __init__(self, tables: Tables) -> None:
        """Join the curves of ice and liquid."""
        ice, liquid, self.latent = tables.ice, tables.liquid, tables.latent
        self._ice, self._liquid = ice, liquid
        self._last_of_ice = ice.temperature_of.size - 2
        self._last = ice.temperature_of.size + liquid.temperature_of.size - 2
        freezing = Lines(
            np.zeros(1), np.array([-tables.mush]), np.array([tables.mush / self.latent])
        )
        cold = Lines.through(_enthalpies(ice), ice.temperature_of - tables.mush)
        warm = Lines.through(_enthalpies(liquid), liquid.temperature_of)
        self._temperature = Lines.chained([cold, freezing, warm])
        self._potential = Lines.chained(
            [
                Lines.through(_temperatures(ice), ice.potential_of),
                Lines.through(_temperatures(liquid), liquid.potential_of),
            ]
        )
        self._cold_pieces = ice.potential_of.size - 1

    def temperature(self, enthalpy: Numbers) -> tuple[Numbers, Numbers]:
        """Temperature (K, relative to freezing) and its slope against enthalpy (K m3/J)."""
        ice, liquid = self._ice, self._liquid
        place = np.where(
            enthalpy < 0.0,
            np.minimum((enthalpy - ice.first_enthalpy) / ice.enthalpy_step, self._last_of_ice),
            np.where(
                enthalpy < self.latent,
                self._last_of_ice + 1.0,
                self._last_of_ice + 2.0 + (enthalpy - self.latent) / liquid.enthalpy_step,
            ),
        )
        piece = np.clip(place, 0.0, self._last - 1.0).astype(np.intp)
        return self._temperature.read(enthalpy, piece)

    def potential(self, temperature: Numbers) -> tuple[Numbers, Numbers]:
        """Heat-flow potential (W/m; below zero in ice) and the conductivity there (W/(m K))."""
        ice, liquid = self._ice, self._liquid
        cold = (temperature - ice.first_temperature) / ice.temperature_step
        place = np.where(
            temperature < 0.0,
            np.minimum(cold, self._cold_pieces - 1.0),
            self._cold_pieces + temperature / liquid.temperature_step,
        )
        piece = np.clip(place, 0.0, self._potential.start.size - 1.0).astype(np.intp)
        return self._potential.read(temperature, piece)


class Walls:
    """The walls of several pipes: one material for each row that is asked for."""

    def __init__(self, curves: Sequence[Curve], rows: Sequence[int]) -> None:
        """Take the curve of each pipe, and how many rows (slices) each pipe has."""
        kinds: dict[int, int] = {}
        which = np.array([kinds.setdefault(id(one), len(kinds)) for one in curves])
        unlike = [next(one for one in curves if id(one) == key) for key in kinds]
        self._pieces = unlike[0].temperature_of.size - 1
        material = np.repeat(which, rows)
        self._offset = (material * self._pieces)[:, None]
        self._first_of = np.array([one.first_enthalpy for one in unlike])[material][:, None]
        self._step = np.array([one.enthalpy_step for one in unlike])[material][:, None]
        self._coldest = unlike[0].first_temperature
        self._between = unlike[0].temperature_step
        self._temperature = Lines.chained(
            [Lines.through(_enthalpies(one), one.temperature_of) for one in unlike]
        )
        self._potential = Lines.chained(
            [Lines.through(_temperatures(one), one.potential_of) for one in unlike]
        )

    def of_rows(self, rows: NDArray[np.bool_]) -> Walls:
        """Give the walls of some of the rows."""
        part = copy(self)
        part._offset, part._first_of = self._offset[rows], self._first_of[rows]
        part._step = self._step[rows]
        return part

    def temperature(self, enthalpy: Numbers) -> tuple[Numbers, Numbers]:
        """Temperature (K, relative to freezing) and its slope against enthalpy (K m3/J)."""
        place = (enthalpy - self._first_of) / self._step
        piece = np.clip(place, 0.0, self._pieces - 1.0).astype(np.intp) + self._offset
        return self._temperature.read(enthalpy, piece)

    def potential(self, temperature: Numbers) -> tuple[Numbers, Numbers]:
        """Heat-flow potential (W/m) and the conductivity there (W/(m K))."""
        place = (temperature - self._coldest) / self._between
        piece = np.clip(place, 0.0, self._pieces - 1.0).astype(np.intp) + self._offset
        return self._potential.read(temperature, piece)
