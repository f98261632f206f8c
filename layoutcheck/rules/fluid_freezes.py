"""fluid-freezes: what fills the pipe freezes solid, as plain water does."""

from __future__ import annotations

from layoutcheck.physics.slush import TRACE
from layoutcheck.quantities import Fluid
from layoutcheck.rules.base import PlugRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Blank, Cure, RestsOn
from layoutcheck.rules.fillings import FLUID, Filling, filling_at, slush_in_words
from layoutcheck.rules.outcome import Dimension, Gravity, Judgement, Outcome
from layoutcheck.rules.pack import Figure, Tighter

AS_WATER = "The pipe holds plain water."


class FluidFreezes(PlugRule):
    """What fills the pipe freezes solid, as plain water does.

    Reason: Glycol, brine and whatever else is in the water stay liquid between the grains of the
        ice: slush, that lets go.
    Figure: No more than 0.5 % of glycol by mass.
    Source: Own choice, no published source: by the lever rule a fiftieth is then still liquid at
        -10 degC. Freezing points: Melinder's curves as CoolProp carries them. That salts weaken
        the bond of ice: Raraty and Tabor (1958), 10.1098/rspa.1958.0076, abstract only.
    Does not apply: Never; every plug is judged.
    Undecided: With more glycol than that, or of unknown share; with brine, treated water of
        unknown kind, and anything else. The freezing time is that of plain water, so nothing that
        rests on it is decided either.
    Does not see: What nobody stated: it is taken as plain water, and said so. What a sample shows
        is for the crew to find out before the first injection.
    """

    name = FLUID
    cures = frozenset({Cure.MOVE})
    rests_on = RestsOn.PIPE
    needs = frozenset({Blank.FLUID})
    gravity = Gravity.FLOOD
    gravity_reason = "Slush looks like ice from outside and lets go"
    reason = "Glycol, brine and inhibitors leave slush that lets go, where plain water leaves ice."
    source = "own choice; freezing points: Melinder's curves as carried by CoolProp"
    figures = (
        Figure(
            key="trace",
            built_in=TRACE.value,
            dimension=Dimension.FRACTION,
            tighter=Tighter.LESS,
            source="own choice, no published source",
            meaning="Share of glycol by mass up to which water counts as plain.",
        ),
    )

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Judge one plug where it stands."""
        filling, subject = filling_at(case, plug), plug_subject(plug)
        if filling.fluid is None:
            says = "What fills the pipe is not stated; it is taken as plain water."
            return self.says(
                subject, Outcome.HOLDS, "taken as plain water", says, assumed=(AS_WATER,)
            )
        if filling.solid:
            says = f"Stated: {filling.fluid.text}. It freezes solid."
            return self.says(subject, Outcome.HOLDS, "freezes solid", says)
        return self._slush(case, plug, filling, filling.fluid)

    def _slush(self, case: Case, plug: PlacedPlug, filling: Filling, fluid: Fluid) -> Judgement:
        return self.says(
            plug_subject(plug),
            Outcome.UNDECIDED,
            f"not plain water: {fluid.kind}",
            slush_in_words(fluid, case.layout.units),
            missing=filling.missing,
            todo="Do not freeze this. Flush the pipe to plain water and state that, or shut it off "
            "and drain it.",
        )
