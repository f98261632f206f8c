"""What fills the pipe at a plug, and why it may not freeze to a plug that holds."""

from __future__ import annotations

from dataclasses import dataclass

from layoutcheck.document.waters import Waters, waters_of
from layoutcheck.physics.slush import (
    GLYCOL_DENSITY,
    freezing_point,
    freezing_points,
    is_as_water,
    still_liquid,
)
from layoutcheck.quantities import Fluid, FluidKind, UnitSystem, show_temperature
from layoutcheck.rules.case import Case, PlacedPlug

FLUID = "fluid-freezes"


@dataclass(frozen=True)
class Filling:
    """What fills the pipe at a plug. fluid: None where nothing is stated of it.

    solid: whether it freezes as plain water does. What nobody stated is taken as plain water.
    """

    fluid: Fluid | None
    solid: bool

    @property
    def missing(self) -> tuple[str, ...]:
        """Say what must be known before a freeze of it can be reckoned with."""
        if self.solid or self.fluid is None:
            return ()
        return (f"proof that {self.fluid.text} freezes to a plug that holds",)


def waters(case: Case) -> Waters:
    """Give which water each pipe is in, found once."""
    return case.network.geometry("waters", lambda: waters_of(case.layout))


def filling_at(case: Case, plug: PlacedPlug) -> Filling:
    """Give what fills the pipe at a plug."""
    fluid = waters(case).fluid_of(case.layout, case.pipe_of(plug))
    trace = case.pack.number(FLUID, "trace")
    return Filling(fluid, fluid is None or is_as_water(fluid, trace))


def slush_in_words(fluid: Fluid, units: UnitSystem) -> str:
    """Say what becomes of a fluid that is not plain water, in one or two sentences."""
    start = freezing_point(fluid)
    if start is not None:
        coldest = freezing_points().points[fluid.kind.value][-1]
        liquid = still_liquid(fluid, coldest) or 0.0
        at, cold = (show_temperature(t, units) for t in (start, coldest))
        return (
            f"{fluid.text[:1].upper()}{fluid.text[1:]} begins to freeze at {at}, and at {cold} "
            f"{100 * liquid:.0f} % of it is still liquid: slush, and what slush holds is not known."
        )
    if fluid.kind in GLYCOL_DENSITY:
        share = "is not stated" if fluid.share is None else "is more than the figures kept cover"
        return f"How much {fluid.kind} is in the water {share}. It leaves slush, not a plug."
    if fluid.kind is FluidKind.BRINE:
        return "Brine leaves slush, not a plug, and salt weakens the bond of ice to the wall."
    return (
        f"Stated: {fluid.text}. What is in the water is not known: glycol and salt leave slush, "
        "and salt weakens the bond of ice to the wall."
    )
