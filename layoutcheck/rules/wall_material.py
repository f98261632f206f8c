"""wall-material: the pipe's wall tolerates the coolant's temperature."""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import replace

import numpy as np

from layoutcheck.document.models import Moment
from layoutcheck.document.named import Named
from layoutcheck.network import Spot
from layoutcheck.network.jacket import wholly_on
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
from layoutcheck.quantities import Material, PipeDimensions
from layoutcheck.rules.base import PlacingRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.heads import Head, heads_of
from layoutcheck.rules.outcome import Dimension, Gravity, Judgement, Outcome
from layoutcheck.rules.pack import Figure, Tighter

_OUTCOMES = {
    Tolerance.TOLERATES: Outcome.HOLDS,
    Tolerance.DOES_NOT: Outcome.BROKEN,
    Tolerance.ASK: Outcome.UNDECIDED,
}
_GRAVEST = (Outcome.BROKEN, Outcome.UNDECIDED, Outcome.HOLDS)


class WallMaterial(PlacingRule):
    """The pipe's wall tolerates the coolant's temperature.

    Reason: Cold makes many pipes brittle; a crack beside the plug lets the line out.
    Figure: The wall's lowest service temperature against the coolant's, by material, for every
        pipe that the jacket covers. Carbon steel with solid CO2: hoop stress under the jacket no
        more than 0.3 of the allowable stress.
    Source: ASME B31.3-2016, notes to Table 323.2.2 and Fig 323.2.2A (read), the 0.3 from memory;
        Table A-1 minimums for austenitic stainless steel and copper, from memory. These are design
        rules: they neither permit nor forbid a temporary freeze.
    Does not apply: Never; every plug is judged.
    Undecided: Where no source decides: carbon steel with nitrogen or at higher stress, cast and
        ductile iron, every plastic, lined and unknown pipe. The document may name who accepted it.
    Does not see: Defects, residual stress, bending, blows, and joints under the jacket.
    """

    name = "wall-material"
    cures = CUTS | {Cure.MOVE}
    rests_on = RestsOn.HEAD
    needs = frozenset({Blank.MATERIAL})
    gravity = Gravity.LIFE
    gravity_reason = "A brittle wall cracks under pressure beside the crew"
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
        """Judge every wall under the jacket; what is said is the gravest, of its own pipe first."""
        found = [self._judge_pipe(case, plug, pipe.id) for pipe in case.pipes_under(plug)]
        gravest = min(found, key=lambda j: _GRAVEST.index(j.outcome))
        alike = (j for j in found if j.outcome is gravest.outcome)
        return replace(gravest, concerns=tuple(c for j in alike for c in j.concerns))

    def _judge_pipe(self, case: Case, plug: PlacedPlug, pipe: str) -> Judgement:
        """Judge a pipe's wall, with the highest head of both moments under the jacket."""
        heads = _heads_under(case, plug, pipe)
        known = [head.pressure for head in heads if head.pressure is not None]
        highest = max(known) if len(known) == len(heads) else None
        verdict = self._verdict(case, plug, pipe, highest)
        outcome = _OUTCOMES[verdict.tolerance]
        clause = f" ({verdict.clause}; {verdict.status})" if verdict.clause else ""
        asked = outcome is Outcome.UNDECIDED
        unknown = tuple(dict.fromkeys(m for head in heads for m in head.missing))
        which = "" if pipe == plug.pipe else f"Pipe {pipe}, under the jacket too: "
        return self.says(
            plug_subject(plug),
            outcome,
            # Another coolant, or another pipe, is another finding: no waiver of this one covers it.
            f"{verdict.tolerance} {plug.coolant}",
            f"{which}{verdict.reason}{clause}",
            missing=(_wall_fact(case, verdict.missing, pipe), *unknown) if asked else (),
            assumed=verdict.cautions,
            concerns=(Named("pipe", pipe),),
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
        """Allow what keeps the whole jacket on walls that tolerate the coolant at their head."""
        pipes, points = case.pipes_of_pieces, self._allows_points(case, plug)
        return wholly_on(case.worlds.all_pipe, points, plug.jacket / 2, asked=pipes).only(pipes)

    def _allows_points(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Give every single point whose wall tolerates the coolant at the head there."""
        heads = [heads_of(case, moment) for moment in Moment]
        heads_known = _heads_known(case, plug)
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
        """Say what they depend on: the jacket, the coolant, and whether the head is known."""
        return plug.jacket, plug.coolant, _heads_known(case, plug)

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


def _heads_under(case: Case, plug: PlacedPlug, pipe: str) -> list[Head]:
    """Give the heads of both moments at the edges of what a jacket covers of a pipe.

    A head falls or rises evenly along a piece, so the highest is at an edge.
    """
    network = case.network
    covered = [(i, at) for i, span in case.under(plug) for at in span if network.pipe_of[i] >= 0]
    spots = [Spot(i, at) for i, at in covered if network.pieces.elements[i] == pipe]
    return [heads_of(case, moment).at(spot) for moment in Moment for spot in spots]


def _heads_known(case: Case, plug: PlacedPlug) -> bool:
    """Tell whether all heads at a plug's mark are known: else they can not steer it."""
    return all(heads_of(case, moment).at(plug.spot).pressure is not None for moment in Moment)


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


def _wall_fact(case: Case, missing: str, pipe: str) -> Fact:
    """Say what a wall's answer waits for: its material, or somebody's acceptance of it."""
    bare = case.network.pipes[pipe].material is Material.UNKNOWN
    field = "material" if bare else "low_temperature_accepted_by"
    return Fact(f"{missing} (pipe {pipe})", f"pipes.{pipe}.{field}")
