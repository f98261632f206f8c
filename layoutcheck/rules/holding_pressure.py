"""holding-pressure: the ice holds the head at the plug, with a factor."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np

from layoutcheck.network.cut import opened_pieces
from layoutcheck.network.jacket import wholly_on
from layoutcheck.network.stretches import TOLERANCE, Stretches
from layoutcheck.physics.ice.answer_types import FreezeOutcome
from layoutcheck.physics.ice.inputs import SOLID_LENGTH_SPREAD
from layoutcheck.physics.ranges import Range
from layoutcheck.physics.strength import HOLDING_FACTOR, HoldingPressure, holding_pressure
from layoutcheck.quantities.rough import PRESSURE, rough_pair
from layoutcheck.quantities.shown import UnitSystem, show_pressure_pair
from layoutcheck.rules.base import PlacingRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn, Role
from layoutcheck.rules.estimates import Freeze, freeze_of
from layoutcheck.rules.heads import Head, heads_of
from layoutcheck.rules.outcome import Amount, Dimension, Gravity, Judgement, Outcome
from layoutcheck.rules.pack import Figure, Tighter


class PlugHolds(PlacingRule):
    """The ice holds the head that stands at the plug while the work is open.

    Reason: A plug that slides or crushes lets the whole line out at the opened work.
    Figure: Head times 4, against the lesser of shear at the wall (0.20 MPa) and compression of
        the ice (5 MPa), with the low end of the solid length: nine tenths of the jacket. All of the
        jacket must lie on straight pipe of one kind: no tee, fitting, valve, end or opened place
        under it.
    Source: Shear: low side of 0.28 +/- 0.08 MPa for ice on aluminium, AIP Advances 9, 055304
        (2019), read; not steel and not a pipe. Compression: low end of Petrovic (2003),
        J. Mater. Sci., 10.1023/A:1021134128038, read. The factor of 4 is an own choice. No
        published shear value for ice in steel pipe was found. One rig held 3.43 MPa (498 psi) for
        ten minutes (Liu et al., Water 16(2) 202, 2024, abstract only); which size and length did
        was not read, so it vouches for nothing here. A pack may set the strength.
    Does not apply: Never; every plug is judged.
    Undecided: Where a source's pressure, a pump's shut-off head or a height is missing, where the
        water's temperature is missing, where the model can not say that the pipe closes, and where
        something other than pipe lies under the jacket, for which neither figure nor model is made.
    Does not see: Blows, vibration and water hammer. Pressure trapped between two plugs makes them
        grip harder and is never credited.
    """

    name = "holding-pressure"
    cures = CUTS | {Cure.MOVE}
    rests_on = RestsOn.HEAD
    role = Role.HOLDS_BACK
    needs = frozenset(
        {
            Blank.MATERIAL,
            Blank.SOURCES,
            Blank.PRESSURE,
            Blank.PUMP_LOCK,
            Blank.SIZE,
            Blank.HEIGHT,
            Blank.LEVEL,
        }
    )
    gravity = Gravity.LIFE
    gravity_reason = "A plug that lets go shoots out at the open line"
    reason = "A plug that slides or crushes lets the line out at the opened work."
    source = "AIP Advances 9, 055304 (2019); Petrovic (2003), 10.1023/A:1021134128038"
    waivable = False
    voids_estimate = False  # it judges the estimate itself
    figures = (
        Figure(
            key="factor",
            built_in=HOLDING_FACTOR.value,
            dimension=Dimension.FRACTION,
            tighter=Tighter.MORE,
            source="own choice, no published source",
            meaning="Factor between the head and what the ice would hold.",
        ),
        Figure(
            key="compression",
            built_in="5 MPa",
            dimension=Dimension.PRESSURE,
            tighter=Tighter.LESS,
            source="Petrovic (2003), J. Mater. Sci., 10.1023/A:1021134128038, low end",
            meaning="Strength of ice in compression. The factor is taken off it.",
        ),
    )

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Compare the head with what the ice holds, and see that the plug closes at all."""
        head = heads_of(case).at(plug.spot)
        if head.pressure is None:
            return self._undecided(plug, "head unknown", "The head is not known.", head.missing)
        holds = self._holds(case, plug.pipe, plug.jacket)
        measured = Amount(head.pressure, Dimension.PRESSURE)
        required = Amount(holds.allowed, Dimension.PRESSURE)
        shown, most = _written(head.pressure, holds.allowed, case.layout.units)
        sentence = (
            f"{shown} from {head.by}; {most} is what {case.length(holds.plug_length)} of ice "
            f"may be asked to hold ({holds.governing}, factor {holds.factor:g})."
        )
        if head.pressure > holds.allowed + 1.0:
            return self.says(
                plug_subject(plug),
                Outcome.BROKEN,
                "too weak",
                sentence,
                measured=measured,
                required=required,
                todo="Lower the pressure, use a longer jacket, or freeze where the head is less.",
            )
        freeze = freeze_of(case, plug)
        if not freeze.closes:
            return self._open(plug, freeze, head)
        if under := self._besides_pipe(case, plug):
            says = (
                f"Under the jacket lies more than pipe ({under}): how much ice holds is not known."
            )
            missing = (f"proof by trial that plug {plug.id} holds over {under}",)
            return self._undecided(plug, "more than pipe under the jacket", says, missing)
        return self.says(
            plug_subject(plug),
            Outcome.HOLDS,
            "strong enough",
            sentence,
            measured=measured,
            required=required,
        )

    def _open(self, plug: PlacedPlug, freeze: Freeze, head: Head) -> Judgement:
        """Say that the plug does not surely close over the length that the head needs."""
        del head
        if freeze.missing:
            says = "Whether the pipe freezes shut is not known."
            return self._undecided(plug, "freeze unknown", says, freeze.missing)
        answer = freeze.answer
        if answer is not None and answer.outcome is FreezeOutcome.DOES_NOT_CLOSE:
            todo = "Use a longer jacket or a colder coolant, or let the water cool first."
            return self.says(
                plug_subject(plug), Outcome.BROKEN, "does not close", answer.reason, todo=todo
            )
        why = answer.reason if answer is not None else "The model has no answer for this pipe."
        missing = (f"proof by trial that plug {plug.id} closes",)
        return self._undecided(plug, "closing in doubt", why, missing)

    def _undecided(
        self, plug: PlacedPlug, reason: str, sentence: str, missing: tuple[str, ...]
    ) -> Judgement:
        return self.says(
            plug_subject(plug),
            Outcome.UNDECIDED,
            reason,
            sentence,
            missing=missing,
            todo="State what is missing.",
        )

    def _besides_pipe(self, case: Case, plug: PlacedPlug) -> str:
        """Name what interrupts the pipe under the jacket itself; nothing where it is all pipe."""
        network = case.network
        if plug.spot.piece in opened_pieces(network):
            return "the opened pipe"
        if plug.spot.piece in network.solid:
            return network.solid[plug.spot.piece]
        near = case.worlds.all_pipe.near(plug.spot, plug.jacket / 2)
        inside = near.nodes[near.distances < plug.jacket / 2 - TOLERANCE].tolist()
        return next((network.interruptions[n][0] for n in inside if n in network.interruptions), "")

    def _holds(self, case: Case, pipe: str, jacket: float) -> HoldingPressure:
        low = (1.0 - SOLID_LENGTH_SPREAD) * jacket
        return holding_pressure(
            bore=case.network.dimensions[pipe].inside_diameter,
            plug_length=Range(low, jacket, jacket),
            factor=case.pack.number(self.name, "factor"),
            compression=case.pack.number(self.name, "compression"),
        )

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow where the head is no more than the ice may be asked to hold."""
        network = case.network
        free = np.ones(len(network.pieces), dtype=bool)
        free[[*opened_pieces(network), *network.solid]] = False
        on_pipe = wholly_on(
            case.worlds.all_pipe,
            Stretches.everywhere(network.length).only(free),
            plug.jacket / 2,
            asked=~free,
            nodes=network.interruptions.nodes,
        )
        return self._allows_by_head(case, plug).meet(on_pipe)

    def _allows_by_head(self, case: Case, plug: PlacedPlug) -> Stretches:
        if heads_of(case).at(plug.spot).pressure is None:
            # What is not known where the plug stands can not steer it; the finding stays.
            return Stretches.everywhere(case.network.length)
        network = case.network
        allowed: dict[float, float] = {}  # by bore: a site has few of them, and many pipes
        for name, pipe in network.dimensions.items():
            if pipe.inside_diameter not in allowed:
                allowed[pipe.inside_diameter] = self._holds(case, name, plug.jacket).allowed
        limits = [allowed[pipe.inside_diameter] for pipe in network.dimensions.values()]
        return heads_of(case).where_at_most(network.of_pipes(limits, -np.inf))

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what the places allowed depend on: the jacket, and whether its head is known."""
        return plug.jacket, heads_of(case).at(plug.spot).pressure is None

    def settles(self, case: Case, plug: PlacedPlug) -> bool:
        """Run the freezing model where the plug stands: a plug must close to hold."""
        freeze = freeze_of(case, plug)
        return freeze.closes or bool(freeze.missing)


def _written(head: float, allowed: float, units: UnitSystem) -> tuple[str, str]:
    """Write the pressures (Pa) as rough as they are known; too much never looks borne."""
    pair = rough_pair(head, allowed, PRESSURE, units)
    return (
        show_pressure_pair(head, allowed, units)
        if pair is None
        else (f"about {pair[0]}", f"about {pair[1]}")
    )
