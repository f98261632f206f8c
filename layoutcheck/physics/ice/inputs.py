"""What the freezing model is given, and the figures it takes when nothing is stated."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.ice.closure import EXCHANGE, EXCHANGE_OF_WARM, Orientation
from layoutcheck.physics.properties import FREEZING_POINT
from layoutcheck.physics.ranges import Range
from layoutcheck.quantities.materials import Material

FITTED_CONDUCTANCE = 58.0
"""Conductance of a jacket filled with CO2 snow, W/(m2 K): the one fitted parameter of the model.

Fitted so that the likely time to a plug is 30 minutes on a 2 in schedule 40 carbon steel pipe,
level, water and room at 68 degF, jacket four outside diameters long, plug two outside diameters
long. The 30 minutes are common practice, no published source. Nothing else is fitted."""

FITTED_DIAMETER = 0.0603
"""Outside diameter of the pipe that the one point is for, m (2 in)."""

JACKET_CONDUCTANCES: dict[Coolant, Range] = {
    Coolant.CARBON_DIOXIDE: Range(
        0.6 * FITTED_CONDUCTANCE, FITTED_CONDUCTANCE, 1.6 * FITTED_CONDUCTANCE
    ),
    Coolant.NITROGEN: Range(60.0, 120.0, 250.0),
}
"""Jacket conductance to the pipe's outer surface, W/(m2 K).

CO2: fitted value, with a spread that is our own choice (snow packs and gaps differ from jacket to
jacket). Nitrogen: film boiling on a cylinder of 60 mm gives about 70 to 110 by the Bromley (1950)
form (from memory, calculated); more once the wall is cold enough to wet. The spread is our own
choice; not measured."""

AMBIENT_CONDUCTANCE = Range(5.0, 10.0, 15.0)
"""Bare pipe to room, natural convection and radiation together, W/(m2 K): common practice, no
published source; frost and wind can raise it."""

COVERED_PIPE = Range(1.0, 2.0, 5.0)
"""Film of a covered pipe, W/(m2 K): 25 mm of mineral wool on a 60 mm pipe, by hand 0.04 / (0.03
ln(55 / 30)) = 2.2 with a film in series, less on larger pipe (own choice). Water warmer than the
room is taken to lose no more than this but in the low case: warm pipe is covered, and keeps it."""

MODEL_ERROR = 0.25
"""Relative error of the model itself, laid on top of the spread of its inputs. Our own choice,
never tighter than the 18 % that one paper claims for one rig (Li and Liu 2022, FDMP 18(3),
abstract only)."""

DEFAULT_SOLID_DIAMETERS = 2.0
"""Needed solid length in outside diameters: our own choice; common practice, no published
source."""

START_TEMPERATURE_SPREAD = 2.0
"""Uncertainty of the water's start temperature, K (own choice)."""

SOLID_LENGTH_SPREAD = 0.1
"""Relative uncertainty of the needed solid length (own choice)."""

HORIZON = 48.0 * 3600.0
"""How long the model watches a freeze before it says the pipe does not close, s (own choice)."""

COLDEST_CALLED_WARM = 293.15
"""The start temperature of practice (K, 68 degF), no published source. Warmer water in a pipe that
rises is not answered without its column, and in a level pipe not at all: the one point that the
closure for level pipe was checked at is the fitted one, from 68 degF."""

ASSUMED_COLUMN = 3.0
"""Rising water below a jacket where its length is not stated, m: a storey (own choice)."""

LONGEST_COLUMN = 30.0
"""Longest column of warm water that the model was checked for, m (see the tests)."""

_HOTTEST_START = FREEZING_POINT + 90.0
_LONGEST = 10.0


class FreezeInputError(ValueError):
    """An input no pipe or jacket can have. Names the field and what would be right, in SI."""

    def __init__(self, name: str, value: float, least: float, most: float, unit: str) -> None:
        """Keep what was found and between what it must lie."""
        super().__init__(name, value, least, most, unit)
        self.name, self.value, self.least, self.most, self.unit = name, value, least, most, unit

    def __str__(self) -> str:
        """Say it in one sentence."""
        return (
            f"{self.name} is {self.value:g} {self.unit}; it must lie between {self.least:g} and "
            f"{self.most:g} {self.unit}"
        )


@dataclass(frozen=True, slots=True)
class FreezeInputs:
    """One pipe, one jacket, one coolant.

    Attributes:
        outside_diameter: m.
        wall: wall thickness, m.
        material: of the pipe wall.
        coolant: solid CO2 or liquid nitrogen.
        jacket_length: m.
        start_temperature: of the water, K.
        ambient_temperature: of the room, K.
        orientation: how the pipe lies.
        needed_solid_length: m; none for two outside diameters, or the jacket if that is shorter.
        jacket_conductance: W/(m2 K); none for the coolant's default.
        ambient_conductance: bare pipe to room, W/(m2 K).
        horizon: longest freeze that is watched, s.
        column_below: length of the water that rises to the jacket from below it, m; none where it
            is not known. Of no account in a level pipe.

    Raises:
        FreezeInputError: a value is not a number, not positive, or out of its physical bounds.
    """

    outside_diameter: float
    wall: float
    material: Material
    coolant: Coolant
    jacket_length: float
    start_temperature: float
    ambient_temperature: float = 293.15
    orientation: Orientation = Orientation.HORIZONTAL
    needed_solid_length: float | None = None
    jacket_conductance: Range | None = None
    ambient_conductance: Range = field(default=AMBIENT_CONDUCTANCE)
    horizon: float = HORIZON
    column_below: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no pipe can have."""
        _between("outside diameter", self.outside_diameter, 0.004, 2.0, "m")
        _between("wall", self.wall, 1e-4, 0.49 * self.outside_diameter, "m")
        _between("jacket length", self.jacket_length, 0.01, _LONGEST, "m")
        _between("start temperature", self.start_temperature, FREEZING_POINT, _HOTTEST_START, "K")
        _between("ambient temperature", self.ambient_temperature, 233.15, 333.15, "K")
        _between("horizon", self.horizon, 60.0, 30.0 * 86400.0, "s")
        if self.needed_solid_length is not None:
            _between("needed solid length", self.needed_solid_length, 1e-3, _LONGEST, "m")
        if self.column_below is not None:
            _between("column below", self.column_below, 0.0, 1e4, "m")
        for name, conductance, least in (
            ("jacket conductance", self.conductance, 0.1),
            ("ambient conductance", self.ambient_conductance, 0.0),
        ):
            _between(name, conductance.low, least, conductance.high, "W/(m2 K)")
            _between(name, conductance.high, least, 1e5, "W/(m2 K)")

    @property
    def solid_length(self) -> float:
        """Needed solid length in force, m."""
        if self.needed_solid_length is not None:
            return self.needed_solid_length
        return min(DEFAULT_SOLID_DIAMETERS * self.outside_diameter, self.jacket_length)

    @property
    def conductance(self) -> Range:
        """Jacket conductance in force, W/(m2 K)."""
        if self.jacket_conductance is not None:
            return self.jacket_conductance
        return JACKET_CONDUCTANCES[self.coolant]

    @property
    def is_level(self) -> bool:
        """Whether the pipe does not rise."""
        return self.orientation is Orientation.HORIZONTAL

    @property
    def is_warm(self) -> bool:
        """Whether the water is warmer than the start temperature of practice."""
        return self.start_temperature > COLDEST_CALLED_WARM + 1e-3

    @property
    def exchange(self) -> Range:
        """Constant of the exchange along the pipe; nought in a level one."""
        if self.is_level:
            return Range.exactly(0.0)
        return EXCHANGE_OF_WARM if self.is_warm else EXCHANGE

    @property
    def column(self) -> float:
        """Rising water below the jacket that is reckoned with, m."""
        return ASSUMED_COLUMN if self.column_below is None else self.column_below

    @property
    def extrapolated(self) -> float | None:
        """How many times as wide the pipe is as the one the jacket's contact was fitted to.

        None on that pipe, and where the contact is not the fitted one.
        """
        fitted = self.jacket_conductance is None and self.coolant is Coolant.CARBON_DIOXIDE
        wide = self.outside_diameter / FITTED_DIAMETER
        return wide if fitted and not 0.98 < wide < 1.02 else None

    @property
    def inside_radius(self) -> float:
        """Inside radius, m."""
        return 0.5 * self.outside_diameter - self.wall


def _between(name: str, value: float, least: float, most: float, unit: str) -> None:
    if not (math.isfinite(value) and least <= value <= most):
        raise FreezeInputError(name, value, least, most, unit)
