"""known-practice: the freeze is no larger and no longer than what crews are known to have done."""

from __future__ import annotations

from layoutcheck.quantities.shown import show_duration
from layoutcheck.rules.base import PlugRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.estimates import freeze_of
from layoutcheck.rules.outcome import (
    Amount,
    Dimension,
    Gravity,
    Judgement,
    Outcome,
    Severity,
    estimated,
    metres,
)
from layoutcheck.rules.pack import Figure, Tighter

_INCH = 0.0254
LARGEST_INCHES = 12.0
LONGEST = 8 * 3600.0


class KnownPractice(PlugRule):
    """The freeze is no larger and no longer than what crews are known to have done.

    Reason: A model runs for any pipe; it does not show that anybody has frozen one like it.
    Figure: 12 in nominal; 8 h until the plug is due.
    Source: Own choice, no published source. A power company reports plugs up to 800 mm, by crews
        with 25 years of them (EDF, RGN 2011 no 1, abstract only): not this trade.
    Does not apply: Never; every plug is judged.
    Undecided: Where the freezing time is not known; that is told by the rules that need it, so
        here only the size is judged.
    Does not see: What a crew has done before.
    """

    name = "known-practice"
    severity = Severity.CAUTION
    gravity = Gravity.FLOOD
    gravity_reason = "Nobody is known to have made such a plug hold"
    reason = "A model runs for any pipe; it does not show that anybody has frozen one like it."
    source = "own choice, no published source"
    figures = (
        Figure(
            key="size",
            built_in="12 in",
            dimension=Dimension.LENGTH,
            tighter=Tighter.LESS,
            source="own choice, no published source",
            meaning="Largest nominal size of pipe that is taken as known to be frozen.",
        ),
        Figure(
            key="time",
            built_in="8 h",
            dimension=Dimension.DURATION,
            tighter=Tighter.LESS,
            source="own choice, no published source",
            meaning="Longest freeze, until the plug is due, that is taken as known.",
        ),
    )

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Judge one plug where it stands."""
        size, longest = (case.pack.number(self.name, key) for key in ("size", "time"))
        if plug.inches * _INCH > size + 1e-9:
            says = f"Pipe of {plug.inches:g} in is larger than what is known to have been frozen."
            return self._beyond(plug, "too large", says, metres(plug.inches * _INCH), metres(size))
        answer = freeze_of(case, plug).answer
        time = None if answer is None else answer.time_to_plug
        if time is not None and time.high > longest:
            says = f"A freeze of up to {show_duration(time.high)} is longer than what is known."
            measured = estimated(time.high, Dimension.DURATION)
            limit = Amount(longest, Dimension.DURATION)
            return self._beyond(plug, "too long", says, measured, limit)
        says = "Pipe of this size has been frozen, in a time like this."
        return self.says(plug_subject(plug), Outcome.HOLDS, "known", says)

    def _beyond(
        self, plug: PlacedPlug, reason: str, says: str, measured: Amount, required: Amount
    ) -> Judgement:
        return self.says(
            plug_subject(plug),
            Outcome.BROKEN,
            reason,
            says,
            measured=measured,
            required=required,
            todo="Drain the line instead, or have it planned and tried by people who have done "
            "such a freeze.",
        )
