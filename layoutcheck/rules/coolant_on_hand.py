"""coolant-on-hand: freeze, hold and reserve against the cylinders on site."""

from __future__ import annotations

import math
from collections.abc import Iterator

from layoutcheck.document.models import Stock
from layoutcheck.physics.coolant import Coolant, CylinderStateError, Supply
from layoutcheck.quantities.rough import MASS, rough_pair
from layoutcheck.quantities.shown import UnitSystem, show_mass_pair
from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn
from layoutcheck.rules.estimates import coolant_plans, mass_each, stock_of
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.outcome import Dimension, Gravity, Judgement, Outcome, Subject, estimated
from layoutcheck.rules.pack import Tighter


class CoolantOnHand(Rule):
    """What is on site covers the freeze, the hold for the whole work, and a reserve.

    Reason: A plug that is no longer fed lets go with the line open.
    Figure: The high end of freeze, hold and a quarter in reserve, or the schedule's own mass if
        that is more, against the usable part of the cylinders on site.
    Source: Calculated by heat balance; handling shares and the reserve are own choices. Usable
        part of a CO2 cylinder: CoolProp and the filling density of 49 CFR 173.304a (read on
        mirrors of the code). The conductance of the jacket is fitted to common practice, no
        published source.
    Does not apply: To a coolant that no plug uses.
    Undecided: Where no stock, no storage temperature, no work duration or no freezing time is
        known.
    Does not see: Cylinders that are not full, and coolant spilled.
    """

    name = "coolant-on-hand"
    cures = CUTS | {Cure.MOVE, Cure.BRING}
    rests_on = RestsOn.HEAD
    needs = frozenset({Blank.WATER, Blank.STOCK, Blank.WORK, Blank.SIZE})
    gravity = Gravity.FLOOD
    gravity_reason = "A plug no longer fed lets go with the line open"
    reason = "A plug that is no longer fed lets go with the line open."
    source = "calculated; see layoutcheck.physics.coolant"
    safer = Tighter.MORE

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each coolant that a plug uses."""
        plans = coolant_plans(case)
        for coolant in CoolantName:
            users = [p.id for p in case.plugs if p.coolant is coolant]
            if users:
                masses = [plans[p].mass for p in users]
                missing = [m for p in users for m in plans[p].missing]
                yield self._judge_coolant(case, coolant, math.fsum(masses), missing)

    def _judge_coolant(
        self, case: Case, coolant: CoolantName, needed: float, missing: list[str]
    ) -> Judgement:
        subject = Subject("stock", coolant.value)
        stock = stock_of(case, coolant)
        if not stock:
            missing = [*missing, Fact(f"the {coolant} on hand", "site.stock")]
        if missing or not math.isfinite(needed):
            return self.says(
                subject,
                Outcome.UNDECIDED,
                "not known",
                "Whether there is enough coolant is not known.",
                missing=tuple(dict.fromkeys(missing)),
                todo="State what is missing.",
            )
        usable = math.fsum(_usable(s) for s in stock)
        want, have = _written(needed, usable, case.layout.units)
        short = usable < needed
        return self.says(
            subject,
            Outcome.BROKEN if short else Outcome.HOLDS,
            "too little" if short else "enough",
            f"{have} usable on site; freeze, hold and reserve may take {want}.",
            measured=estimated(usable, Dimension.MASS),
            required=estimated(needed, Dimension.MASS),
            todo=f"Bring more {coolant} before the first cylinder is opened." if short else "",
        )


def _usable(stock: Stock) -> float:
    """Give the mass (kg) of liquid that a stock gives."""
    supply = Supply(Coolant(stock.coolant.value), mass_each(stock), stock.storage_temperature)
    try:
        return stock.cylinders * supply.usable_per_cylinder
    except CylinderStateError:
        return 0.0


def _written(needed: float, usable: float, units: UnitSystem) -> tuple[str, str]:
    """Write the masses (kg) as rough as they are known; too little never looks enough."""
    pair = rough_pair(needed, usable, MASS, units)
    return (
        show_mass_pair(needed, usable, units)
        if pair is None
        else (f"about {pair[0]}", f"about {pair[1]}")
    )
