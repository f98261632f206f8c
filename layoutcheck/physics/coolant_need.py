"""How many kilograms of coolant a freeze and its hold take.

The mass is a heat balance and nothing else. Liquid is put in to
- fill the jacket with snow (or liquid nitrogen) that still stands there when the plug is made;
- take the heat of the freeze out of pipe, ice and water;
- meet the heat that leaks from the room through the jacket while that goes on;
- meet the heat that the pipe brings while the plug is held (it falls with time: the ice adds it
  up), and the heat that leaks from the room through the jacket.
A stated share of what leaves the nozzle stays in the jacket; the rest blows into the room.

Nothing here is fitted. The one fitted parameter of the project is the conductance of the jacket,
and it is fitted to a time. That a 2 in line then takes about 18 lb of carbon dioxide is an outcome
of this balance, to be compared with common practice; the share of the cooling that reaches the
pipe is likewise an output. The inputs are own choices, stated below with their ranges: round
values that were not adjusted afterwards. The figure of practice was known when they were chosen, so
that the likely value meets it is no proof of them; their range is what carries weight.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from layoutcheck.physics.coolant import (
    COOLANT_TEMPERATURE,
    Coolant,
    CylinderStateError,
    Supply,
)
from layoutcheck.physics.figures import (
    Figure,
    Status,
    require_not_negative,
    require_positive,
)
from layoutcheck.physics.ranges import Range

RESERVE_FRACTION = Figure(
    0.25,
    "1",
    "a quarter more than planned, so that one bad cylinder does not end the hold",
    Status.OWN_CHOICE,
)
JACKET_GAP = Figure(
    0.025, "m", "free space between pipe and jacket where none is stated", Status.OWN_CHOICE
)


@dataclass(frozen=True, slots=True)
class Handling:
    """What happens between the nozzle and the pipe. All own choices, not fitted.

    Parameters:
        kept: share of what leaves the nozzle as snow or liquid that stays in the jacket, 0 to 1.
        leak: heat transfer from room to jacket over its outer surface, W/m2K. Two is a jacket in
            foam, eight a bare one with frost (natural convection and radiation in still air come
            to about ten, from memory).
        packing: bulk density of what fills the jacket, kg/m3. Fresh snow is loose; solid carbon
            dioxide is 1,562 kg/m3.
        source: where the three come from.
        status: how far that was checked.
    """

    kept: Range
    leak: Range
    packing: Range
    source: str
    status: Status

    def __post_init__(self) -> None:
        """Refuse shares that are none and negative properties."""
        if not 0.0 < self.kept.low <= self.kept.high <= 1.0:
            raise ValueError(f"kept must lie above 0 and up to 1, found {self.kept}")
        require_not_negative(leak=self.leak.low, packing=self.packing.low)


HANDLING: Mapping[Coolant, Handling] = MappingProxyType(
    {
        Coolant.CARBON_DIOXIDE: Handling(
            kept=Range(0.6, 0.8, 0.95),
            leak=Range(2.0, 4.0, 8.0),
            packing=Range(300.0, 500.0, 800.0),
            source="own choices; the density of loose snow is from memory, with low confidence",
            status=Status.OWN_CHOICE,
        ),
        Coolant.NITROGEN: Handling(
            kept=Range(0.6, 0.8, 0.95),
            leak=Range(2.0, 4.0, 8.0),
            packing=Range(600.0, 806.0, 806.0),
            source="own choices; the likely density is that of the liquid, the low one bubbles",
            status=Status.OWN_CHOICE,
        ),
    }
)


@dataclass(frozen=True, slots=True)
class Jacket:
    """The space round the pipe that holds the coolant.

    Parameters:
        pipe_outside_diameter: m.
        outside_diameter: inside diameter of the jacket's shell, m, larger than the pipe.
        length: m, along the pipe.
    """

    pipe_outside_diameter: float
    outside_diameter: float
    length: float

    def __post_init__(self) -> None:
        """Refuse a jacket that does not go round the pipe."""
        require_positive(
            pipe_outside_diameter=self.pipe_outside_diameter,
            outside_diameter=self.outside_diameter,
            length=self.length,
        )
        if self.outside_diameter <= self.pipe_outside_diameter:
            raise ValueError("the jacket must be wider than the pipe")

    @classmethod
    def round_pipe(cls, *, pipe_outside_diameter: float, length: float) -> Jacket:
        """Make a jacket with the usual gap, where the document states none. Metres."""
        wide = pipe_outside_diameter + 2.0 * JACKET_GAP.value
        return cls(pipe_outside_diameter, wide, length)

    @property
    def volume(self) -> float:
        """Space that the coolant fills, m3."""
        return self._end_area * self.length

    @property
    def surface(self) -> float:
        """Outer surface that takes heat from the room, with both ends, m2."""
        return math.pi * self.outside_diameter * self.length + 2.0 * self._end_area

    @property
    def _end_area(self) -> float:
        return 0.25 * math.pi * (self.outside_diameter**2 - self.pipe_outside_diameter**2)


@dataclass(frozen=True, slots=True)
class Count:
    """Whole cylinders: low, likely, high."""

    low: int
    likely: int
    high: int


@dataclass(frozen=True, slots=True)
class CoolantNeed:
    """What one plug takes, in kg of liquid drawn, low / likely / high.

    Parameters:
        fill: to fill the jacket with what still stands there when the plug is made.
        freeze: to take the heat of the freeze and of the room meanwhile.
        hold: to hold the plug for the stated time. It is put in as top-ups.
        reserve: on top of the three.
        total: the sum, to have on hand.
        hold_rate: kg/s drawn on average while holding; 0 for no hold.
        cylinders: full cylinders that give `total` as liquid.
        share_reaching_pipe: heat of the freeze over the cooling in fill and freeze. An output.
        cooling: J per kg of liquid.
    """

    coolant: Coolant
    fill: Range
    freeze: Range
    hold: Range
    reserve: Range
    total: Range
    hold_rate: Range
    cylinders: Count
    share_reaching_pipe: Range
    cooling: float

    @property
    def until_plug(self) -> Range:
        """Drawn until the plug stands, kg: the jacket's filling and the freeze."""
        return self.fill.plus(self.freeze)

    @property
    def jacket_lasts(self) -> float:
        """Shortest time in which a full jacket is used up while holding, s; may be infinite."""
        rate = self.hold_rate.high
        return self.fill.low / rate if rate > 0.0 else math.inf


@dataclass(frozen=True, slots=True)
class _Case:
    """One corner of the ranges."""

    heat: float
    time: float
    hold_heat: float
    hold_time: float
    kept: float
    leak: float
    packing: float


@dataclass(frozen=True, slots=True)
class _Masses:
    """Liquid drawn in one case, kg."""

    fill: float
    freeze: float
    hold: float
    share: float


def _masses(*, case: _Case, jacket: Jacket, supply: Supply, warmth: float) -> _Masses:
    room_heat = case.leak * jacket.surface * warmth
    useful = supply.cooling * case.kept
    fill = case.packing * jacket.volume / (supply.liquid_share * case.kept)
    freeze = (case.heat + room_heat * case.time) / useful
    drawn = (fill + freeze) * supply.cooling
    return _Masses(
        fill=fill,
        freeze=freeze,
        hold=(case.hold_heat + room_heat * case.hold_time) / useful,
        share=case.heat / drawn if drawn > 0.0 else 0.0,
    )


def coolant_needed(
    *,
    heat_to_freeze: Range,
    freeze_time: Range,
    hold_heat: Range,
    hold_time: float,
    jacket: Jacket,
    supply: Supply,
    ambient_temperature: float,
    handling: Handling | None = None,
    reserve_fraction: float = RESERVE_FRACTION.value,
) -> CoolantNeed:
    """Work out the liquid that one plug takes, from the first injection to the end of the work.

    Parameters:
        heat_to_freeze: heat taken from pipe and water until the plug stands, J.
        freeze_time: time until the plug stands, s.
        hold_heat: heat that flows through the pipe into the jacket in all of the hold, J.
        hold_time: from the plug standing to the end of the work, s.
        jacket: its space and surface.
        supply: what is drawn from.
        ambient_temperature: room, K.
        handling: shares and losses; None takes the stated own choices.
        reserve_fraction: share of fill, freeze and hold to add, 0 or more.

    Returns:
        Masses low / likely / high. Low pairs the small heat with good handling, high the reverse.

    Raises:
        ValueError: a negative or infinite input. A freeze that never ends has no coolant need:
            the caller must say so instead of asking.
        CylinderStateError: the cylinder holds no liquid.
    """
    ends = (heat_to_freeze.low, freeze_time.low, hold_heat.low)
    for value in (*ends, heat_to_freeze.high, freeze_time.high, hold_heat.high):
        require_not_negative(heat_or_time=value)
    require_not_negative(hold_time=hold_time, reserve_fraction=reserve_fraction)
    require_positive(ambient_temperature=ambient_temperature)
    chosen = handling or HANDLING[supply.coolant]
    warmth = max(0.0, ambient_temperature - COOLANT_TEMPERATURE[supply.coolant])
    best_kept_first = (chosen.kept.high, chosen.kept.likely, chosen.kept.low)
    corners = zip(
        heat_to_freeze.values,
        freeze_time.values,
        hold_heat.values,
        (hold_time,) * 3,
        best_kept_first,
        chosen.leak.values,
        chosen.packing.values,
        strict=True,
    )
    cases = [
        _masses(case=_Case(*corner), jacket=jacket, supply=supply, warmth=warmth)
        for corner in corners
    ]
    return _need(cases=cases, hold_time=hold_time, reserve_fraction=reserve_fraction, supply=supply)


def _need(
    *, cases: list[_Masses], hold_time: float, reserve_fraction: float, supply: Supply
) -> CoolantNeed:
    fill = Range(*(case.fill for case in cases))
    freeze = Range(*(case.freeze for case in cases))
    hold = Range(*(case.hold for case in cases))
    planned = fill.plus(freeze).plus(hold)
    reserve = planned.scaled(reserve_fraction)
    total = planned.plus(reserve)
    shares = sorted(case.share for case in cases)
    return CoolantNeed(
        coolant=supply.coolant,
        fill=fill,
        freeze=freeze,
        hold=hold,
        reserve=reserve,
        total=total,
        hold_rate=hold.map(lambda mass: mass / hold_time) if hold_time else Range.exactly(0.0),
        cylinders=Count(*(cylinders_for(mass, supply) for mass in total.values)),
        share_reaching_pipe=Range(shares[0], shares[1], shares[2]),
        cooling=supply.cooling,
    )


def cylinders_for(mass: float, supply: Supply) -> int:
    """Full cylinders that give a mass of liquid.

    Parameters:
        mass: kg of liquid to draw.
        supply: size of a cylinder and its usable share.

    Returns:
        Whole cylinders, never too few.

    Raises:
        CylinderStateError: the cylinder gives no liquid at all at its temperature.
    """
    require_not_negative(mass=mass)
    each = supply.usable_per_cylinder
    if each <= 0.0:
        raise CylinderStateError("a cylinder this warm gives no liquid before it is vapour only")
    return math.ceil(mass / each)
