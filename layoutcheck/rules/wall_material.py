"""wall-material: the pipe's wall tolerates the coolant's temperature."""

from __future__ import annotations

import math
from collections.abc import Hashable

import numpy as np

from layoutcheck.document.models import Moment
from layoutcheck.network.stretches import Stretches
from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.trapped import WALL_STRENGTH
from layoutcheck.physics.wall import (
    LOW_STRESS_RATIO,
    Tolerance,
    WallVerdict,
    stress_ratio,
    wall_verdict,
)
from layoutcheck.quantities import PipeDimensions
from layoutcheck.rules.base import PlacingRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.heads import heads_of
from layoutcheck.rules.outcome import Dimension, Judgement, Outcome
from layoutcheck.rules.pack import Figure, Tighter


class WallMaterial(PlacingRule):
    """The pipe's wall tolerates the coolant's temperature.

    Reason: Cold makes many pipes brittle; a crack beside the plug lets the line out.
    Figure: The wall's lowest service temperature against the coolant's, by material. Carbon steel
        with solid CO2: hoop stress at the plug no more than 0.3 of the allowable stress.
    Source: ASME B31.3-2016, notes to Table 323.2.2 and Fig 323.2.2A (read), the 0.3 from memory;
        Table A-1 minimums for austenitic stainless steel and copper, from memory. These are design
        rules: they neither permit nor forbid a temporary freeze.
    Does not apply: Never; every plug is judged.
    Undecided: Where no source decides: carbon steel with nitrogen or at higher stress, cast and
        ductile iron, every plastic, lined and unknown pipe. The document may name who accepted it.
    Does not see: Defects, residual stress, bending, blows, and joints under the jacket.
    """

    name = "wall-material"
    reason = "Cold makes many pipes brittle; a crack beside the plug lets the line out."
    source = "ASME B31.3-2016, notes to Table 323.2.2 and Fig 323.2.2A"
    figures = (
        Figure(
            key="stress_ratio",
            built_in=LOW_STRESS_RATIO.value,
            dimension=Dimension.FRACTION,
            tighter=Tighter.LESS,
            source="ASME B31.3-2016, stress-ratio rule of Fig 323.2.2B, from memory",
            meaning="Hoop stress over allowable, up to which carbon steel may meet solid CO2.",
        ),
    )

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Judge the wall under the jacket, with the higher head of the two moments."""
        heads = [heads_of(case, moment).at(plug.spot) for moment in Moment]
        known = [head.pressure for head in heads if head.pressure is not None]
        highest = max(known) if len(known) == len(heads) else None
        verdict = self._verdict(case, plug, plug.pipe, highest)
        outcome = {
            Tolerance.TOLERATES: Outcome.HOLDS,
            Tolerance.DOES_NOT: Outcome.BROKEN,
            Tolerance.ASK: Outcome.UNDECIDED,
        }[verdict.tolerance]
        clause = f" ({verdict.clause}; {verdict.status})" if verdict.clause else ""
        asked = outcome is Outcome.UNDECIDED
        unknown = tuple(dict.fromkeys(m for head in heads for m in head.missing))
        return self.says(
            plug_subject(plug),
            outcome,
            # Another coolant, or another pipe, is another finding: no waiver of this one covers it.
            f"{verdict.tolerance} {plug.coolant}",
            f"{verdict.reason}{clause}",
            missing=(f"{verdict.missing} (pipe {plug.pipe})", *unknown) if asked else (),
            assumed=verdict.cautions,
            concerns=(f"pipe {plug.pipe}",),
            todo="Have it decided before any coolant is let on." if asked else "",
        )

    def _verdict(
        self, case: Case, plug: PlacedPlug, pipe_id: str, pressure: float | None
    ) -> WallVerdict:
        pipe = case.network.pipes[pipe_id]
        ratio = _ratio(case.network.dimensions[pipe_id], WALL_STRENGTH[pipe.material].allowable)
        stress = None if pressure is None or ratio is None else ratio * pressure
        return wall_verdict(
            material=pipe.material,
            coolant=Coolant(plug.coolant.value),
            stress_ratio=stress,
            limit=case.pack.number(self.name, "stress_ratio"),
            accepted_by=pipe.low_temperature_accepted_by,
        )

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow the pipes whose wall tolerates the coolant at the head that stands there."""
        heads = [heads_of(case, moment) for moment in Moment]
        heads_known = all(h.at(plug.spot).pressure is not None for h in heads)
        found = case.network.of_pipes(self._head_limits(case, plug), -math.inf)
        free = found == math.inf
        limits = np.where(free, -math.inf, found)
        everywhere = Stretches.everywhere(case.network.length)
        by_head = everywhere.only(limits > -np.inf)
        if heads_known:
            for moment in heads:
                by_head = by_head.meet(moment.where_at_most(limits))
        low = np.where(free, everywhere.low, by_head.low)
        high = np.where(free, everywhere.high, by_head.high)
        return Stretches.between(low, high)

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what the places allowed depend on: the coolant, and whether the head is known."""
        heads = (heads_of(case, moment).at(plug.spot).pressure for moment in Moment)
        return plug.coolant, all(pressure is not None for pressure in heads)

    def _head_limits(self, case: Case, plug: PlacedPlug) -> list[float]:
        """Give the highest head (Pa) for each pipe: there are few kinds of wall, and many pipes."""
        limits: dict[Hashable, float] = {}
        found = []
        for (name, pipe), size in zip(
            case.network.pipes.items(), case.network.dimensions.values(), strict=True
        ):
            wall = (pipe.material, pipe.low_temperature_accepted_by, size)
            if wall not in limits:
                limits[wall] = self._head_limit(case, plug, name)
            found.append(limits[wall])
        return found

    def _head_limit(self, case: Case, plug: PlacedPlug, pipe_id: str) -> float:
        """Give the head (Pa) up to which a pipe's wall tolerates; inf for any, -inf for none."""
        if self._verdict(case, plug, pipe_id, None).tolerance is Tolerance.TOLERATES:
            return math.inf
        if self._verdict(case, plug, pipe_id, 0.0).tolerance is not Tolerance.TOLERATES:
            return -math.inf
        pipe = case.network.pipes[pipe_id]
        ratio = _ratio(case.network.dimensions[pipe_id], WALL_STRENGTH[pipe.material].allowable)
        return case.pack.number(self.name, "stress_ratio") / ratio if ratio else -math.inf


def _ratio(dimensions: PipeDimensions, allowable: float | None) -> float | None:
    """Give the stress ratio for each Pa of pressure."""
    if allowable is None:
        return None
    return stress_ratio(
        pressure=1.0,
        bore=dimensions.inside_diameter,
        wall=dimensions.wall,
        allowable=allowable,
    )
