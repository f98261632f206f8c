"""trapped-water: no section is shut at all ends while ice grows into it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from layoutcheck.document.models import Moment
from layoutcheck.document.named import Named
from layoutcheck.network.stretches import TOLERANCE
from layoutcheck.physics.coolant import COOLANT_TEMPERATURE, Coolant
from layoutcheck.physics.trapped import TrappedPressure, trapped_pressure
from layoutcheck.quantities import UnitSystem
from layoutcheck.quantities.rough import PRESSURE, VOLUME, rough, rough_beside
from layoutcheck.quantities.shown import show_pressure, show_pressure_pair
from layoutcheck.rules.base import COMMON_PRACTICE, Rule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import ALL_CURES, Blank, Cure, RestsOn
from layoutcheck.rules.estimates import freeze_of
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.heads import WEIGHT, elevations_at, heads_of
from layoutcheck.rules.outcome import (
    Amount,
    Change,
    Dimension,
    Gravity,
    Judgement,
    Outcome,
    Subject,
    estimated,
)
from layoutcheck.rules.pack import Figure, Tighter
from layoutcheck.rules.sections import Section, sections_of


class TrappedWater(Rule):
    """No section is shut at all ends while ice grows into it.

    Reason: Ice takes nine per cent more room than its water. In a shut section that pressure
        bursts pipe: over 1000 bar was reported between two frozen ends.
    Figure: Start pressure and rise against the weakest pipe's own limit, or 200 psi for valves and
        joints where that is less. The rise is nine per cent of the ice over the give of water and
        pipe (Korteweg), with all the ice of a long hold, and the model's high end.
    Source: Calculated; moduli and allowable stresses from memory but copper's (secondary). Akyurt
        et al., JKAU Eng. Sci. 16(1) (2005), abstract only, for the 1000 bar.
    Does not apply: Where nothing is frozen.
    Undecided: Where water may get out but nothing says that it surely does (an outlet that may
        draw, a valve that passes or whose state is not stated), and where a number is missing
        without which it would hold. Where what is known is too much already, should the plug close,
        the rule is broken: doubt whether it closes makes nothing safe.
    Does not see: Air in the pipe, which would help, and is never counted on. The trade's setback
        alone is never taken as proof. A check valve and a reducing valve let nothing back. A
        source takes water back: a backflow preventer or meter that stops it must be in the
        document as a check valve; a pump set is taken to have one. A valve or outlet that is shut
        for the work counts only where the opened work lies in the same section.
    """

    name = "trapped-water"
    cures = ALL_CURES - {Cure.WAIT, Cure.BRING}
    rests_on = RestsOn.SECTION
    of_place = True
    needs = frozenset({Blank.WORK, Blank.VALVE_STATE})
    gravity = Gravity.LIFE
    gravity_reason = "Shut-in water bursts the pipe"
    reason = "Ice takes more room than its water; in a shut section that bursts pipe."
    source = "calculated; Akyurt et al., JKAU Eng. Sci. 16(1) (2005), abstract only"
    waivable = False
    figures = (
        Figure(
            key="valves_and_joints",
            built_in="200 psi",
            dimension=Dimension.PRESSURE,
            tighter=Tighter.LESS,
            source=f"{COMMON_PRACTICE}: a usual cold-water rating of light valves and joints",
            meaning="Pressure that valves and joints of a shut section stand, if pipe stands more.",
        ),
    )

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each section that ice grows into."""
        for section in sections_of(case):
            yield self._judge_section(case, section)

    def judge_about(self, case: Case, plug: PlacedPlug) -> Iterator[Judgement]:
        """Judge each section that the ice of one plug grows into."""
        for section in sections_of(case):
            if plug.id in section.plugs:
                yield self._judge_section(case, section)

    def _judge_section(self, case: Case, section: Section) -> Judgement:
        subject = Subject("section", section.name, section.bounds)
        concerns = _concerns(section)
        if section.reliefs:
            sentence = f"Water that the ice pushes gets out at {section.reliefs[0]}."
            return self.says(subject, Outcome.HOLDS, "relieved", sentence, concerns=concerns)
        lacking = self._lacking(case, section)
        pressed = self._pressure(case, section)
        if pressed is None:
            outcome = Outcome.UNDECIDED if section.doubtful or lacking else Outcome.BROKEN
            rest = self._rest(case, section, concerns, outcome, lacking)
            return self.says(subject, outcome, "shut", _SHUT, **rest)
        limit = self._limit(case, pressed)
        if lacking and (limit is None or pressed.pressure <= limit):
            # With what is known it would hold; what is not known may be worse.
            rest = self._rest(case, section, concerns, Outcome.UNDECIDED, lacking)
            return self.says(subject, Outcome.UNDECIDED, "shut", _SHUT, **rest)
        return self._compare(case, section, pressed, limit, least=bool(lacking))

    def _limit(self, case: Case, pressed: TrappedPressure) -> float | None:
        """Give what pipes, valves and joints of a section stand, Pa; None if not known."""
        weakest = case.pack.number(self.name, "valves_and_joints")
        return None if pressed.limit is None else min(pressed.limit, weakest)

    def _compare(
        self,
        case: Case,
        section: Section,
        pressed: TrappedPressure,
        limit: float | None,
        *,
        least: bool,
    ) -> Judgement:
        """Hold the pressure against the limit.

        least: whether something is not known, so that the pressure is the least it may come to.
        """
        units = case.layout.units
        comes_to, most = _written(pressed.pressure, limit, units)
        sentence = (
            f"Shut at all ends: about {rough(pressed.volume, VOLUME, units)} of water, into which "
            f"ice pushes about {rough(pressed.expansion, VOLUME, units)}; the pressure could come "
            f"to {comes_to}"
        )
        if least:
            sentence = (
                "Not known yet: whether the pipe freezes shut, or all that adds to the pressure. "
                f"If it does, it comes to at least this. {sentence}"
            )
        sentence += (
            "; the pipes' limit is not known."
            if limit is None
            else f"; its pipes, valves and joints take at most {most}."
        )
        if limit is not None and pressed.pressure <= limit:
            outcome, reason = Outcome.HOLDS, "within the limit"
        elif section.doubtful or limit is None:
            outcome, reason = Outcome.UNDECIDED, "shut if in doubt"
        else:
            outcome, reason = Outcome.BROKEN, "shut"
        rating = Fact("the pressure rating of its pipes", "pipes.*.pressure_rating")
        lacking = () if limit is not None else (rating,)
        concerns = _concerns(section)
        rest = (
            {}
            if outcome is Outcome.HOLDS
            else self._rest(case, section, concerns, outcome, lacking)
        )
        rest["concerns"] = concerns
        return self.says(
            Subject("section", section.name, section.bounds),
            outcome,
            reason,
            sentence,
            measured=estimated(pressed.pressure, Dimension.PRESSURE),
            required=None if limit is None else Amount(limit, Dimension.PRESSURE),
            **rest,
        )

    def _rest(
        self,
        case: Case,
        section: Section,
        concerns: tuple[Named, ...],
        outcome: Outcome,
        lacking: tuple[str, ...],
    ) -> dict[str, object]:
        missing = (*map(_way_out_fact, section.doubtful), *lacking)
        # The valve under the wrench can not be what stands open meanwhile.
        valves = [v for v in section.valves if v not in _opened(case)]
        return {
            "concerns": concerns,
            "missing": missing if outcome is Outcome.UNDECIDED else (),
            "todo": _way_out(section, valves),
            "changes": _changes(section, valves),
        }

    def _lacking(self, case: Case, section: Section) -> tuple[str, ...]:
        """Give what is missing for a number of the pressure."""
        lacking: list[str] = []
        for plug_id in sorted(set(section.plugs)):
            plug = case.plug(plug_id)
            freeze = freeze_of(case, plug)
            lacking += freeze.missing
            for moment in Moment:
                lacking += heads_of(case, moment).at(plug.spot).missing
            if freeze.missing:
                continue
            if not freeze.closes or freeze.answer is None:
                lacking.append(f"a freeze that surely closes at plug {plug_id}")
            elif freeze.answer.ice_volume_in_hold is None:
                lacking.append(f"air warm enough to stop the ice beyond the jacket of {plug_id}")
        if np.isnan(case.network.elevation[list(section.nodes)]).any():
            lacking += elevations_at(case.network, section.nodes)
        return tuple(dict.fromkeys(lacking))

    def _pressure(self, case: Case, section: Section) -> TrappedPressure | None:
        """Work out the pressure, or the least it comes to where something is not known.

        None where there is no water at all to give way.
        """
        segments = [s for s in section.segments if s.length > TOLERANCE]
        volume = math.fsum(s.volume for s in segments)
        if not segments or not volume > 0.0:
            return None
        starts = [0.0]
        coldest = math.inf
        for plug in map(case.plug, section.plugs):
            heads = [heads_of(case, moment).at(plug.spot).pressure for moment in Moment]
            drop = _drop(case, plug, section)
            starts += [head + WEIGHT * drop for head in heads if head is not None]
            coldest = min(coldest, COOLANT_TEMPERATURE[Coolant(plug.coolant.value)])
        # Half of a plug's ice grows to each side; all of it is taken as grown after closing.
        ice = math.fsum(_ice_of(case, case.plug(name)) / 2 for name in section.plugs)
        return trapped_pressure(
            segments=segments,
            frozen_volume=min(ice, volume),
            start_pressure=max(starts),
            coldest_temperature=coldest,
        )


_SHUT = "This section is shut at all ends while ice grows into it."


def _concerns(section: Section) -> tuple[Named, ...]:
    return tuple(Named("plug", p) for p in sorted(set(section.plugs)))


def _ice_of(case: Case, plug: PlacedPlug) -> float:
    """Give the most ice (m3) of a long hold; where the model gives none, the bore in the jacket.

    A plug whose freeze is in doubt may close all the same, and it is then that the pipe bursts.
    """
    answer = freeze_of(case, plug).answer
    if answer is not None and answer.ice_volume_in_hold is not None:
        return answer.ice_volume_in_hold.high
    return math.pi / 4.0 * case.dimensions_of(plug).inside_diameter ** 2 * plug.jacket


def _drop(case: Case, plug: PlacedPlug, section: Section) -> float:
    """Give how far (m) the lowest known place of a section lies under a plug: its pressure is most.

    Nothing where the plug's own height is not known.
    """
    heights = case.network.elevation[list(section.nodes)]
    here = case.network.elevation_at(plug.spot)
    return 0.0 if math.isnan(here) else here - float(np.nanmin(heights, initial=here))


def _opened(case: Case) -> set[str]:
    """Name the valves that the work opens."""
    work = case.layout.work
    return {i.valve for i in work.open if i.valve is not None} if work is not None else set()


def _changes(section: Section, valves: Sequence[str]) -> tuple[Change, ...]:
    """Give what could let the water out: an outlet to man, or a valve to leave open."""
    if section.outlets:
        return (Change("make outlet a bleed", section.outlets[0]),)
    return tuple(Change("leave valve open", v) for v in valves[:1])


def _way_out(section: Section, valves: Sequence[str]) -> str:
    """Say what gives the water a way out: an outlet, a valve, or the order of freezing."""
    if section.outlets:
        name = section.outlets[0]
        return (
            f"Make outlet {name} a bleed: open it, attended, as soon as the ice has closed. "
            "Or leave a valve at the section's edge open until the plugs are proven."
        )
    between = f"between {' and '.join(section.bounds)}"
    if valves:
        return (
            f"Leave valve {valves[0]} open until the plug is proven, or fit an outlet "
            f"that can bleed {between}."
        )
    if len(set(section.plugs)) > 1:
        return (
            f"Fit an outlet that can bleed {between}. Freezing one after the other is not "
            "enough: the first still grows while it is held."
        )
    return f"Fit an outlet that can bleed {between}, before freezing."


def _way_out_fact(place: Named) -> Fact:
    return Fact(f"whether water gets out at {place}", f"{place.kind}s.{place.id}.state")


def _written(pressure: float, limit: float | None, units: UnitSystem) -> tuple[str, str]:
    """Write a pressure (Pa) as rough as it is known, and its limit; never so that they look met."""
    if limit is None:
        return f"about {rough(pressure, PRESSURE, units, 'up')}", ""
    text = rough_beside(pressure, limit, PRESSURE, units)
    if text is None:
        return show_pressure_pair(pressure, limit, units)
    return f"about {text}", show_pressure(limit, units)
