"""Where an issue is: the elements it selects, the camera that frames them, and its picture."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from layoutcheck.document.models import DrawingKind, Junction, Layout
from layoutcheck.document.paths import DrawnPath, Positions
from layoutcheck.report.drawing.compose import place_scene
from layoutcheck.report.drawing.facts import Facts
from layoutcheck.report.drawing.items import items_of
from layoutcheck.report.drawing.scene import Point
from layoutcheck.report.model import At, Finding, Report

# An IFC GlobalId: 22 characters, of which the first holds two bits (ISO 16739-1,
# IfcGloballyUniqueId; from memory).
_GLOBAL_ID = re.compile(r"[0-3][0-9A-Za-z_$]{21}")
_SNAPSHOT_WIDTH = 1000
# The camera looks down from this far (m) over what it shows, and shows this much (m) round it.
_ABOVE, _ROUND = 2.0, 2.0

Spot = tuple[float, float, float]


@dataclass(frozen=True)
class Stand:
    """Something at a junction, or at a station (m) of a pipe."""

    junction: str | None
    pipe: str | None
    station: float | None

    @classmethod
    def of(cls, at: At) -> Stand:
        """Take a place of a report."""
        return cls(at.junction, at.pipe, None if at.station is None else at.station.value)


@dataclass(frozen=True)
class Views:
    """What the views of one report share."""

    facts: Facts

    @classmethod
    def of(cls, layout: Layout, report: Report) -> Views:
        """Gather it. Pure."""
        return cls(Facts.of(layout, report))

    def selected(self, finding: Finding) -> list[str]:
        """Give the GlobalIds of the elements that a finding is about."""
        return sorted({self._refs[n] for n in self._elements(finding) if n in self._refs})

    def snapshot(self, finding: Finding, title: str) -> bytes:
        """Draw the place of a finding under its title; the whole where it has no place."""
        from layoutcheck.report.drawing.files import scene_png  # noqa: PLC0415 - slow to load

        points = [p for s in self._stands(finding) if (p := self._drawn(s)) is not None]
        facts = replace(self.facts, highlight=finding.id)
        return scene_png(place_scene(facts, points, title), width=_SNAPSHOT_WIDTH)

    def camera(self, finding: Finding) -> tuple[Spot, float] | None:
        """Give where a camera that looks down stands (m), and how much it shows (m).

        In the model's own coordinates; None where the layout has them not: it is no plan to scale,
        or a height is missing.
        """
        spots = [s for stand in self._stands(finding) if (s := self._spot(stand)) is not None]
        if not spots:
            return None
        (left, right), (near, far), (_, top) = [
            (min(s[i] for s in spots), max(s[i] for s in spots)) for i in range(3)
        ]
        at = (left + right) / 2, (near + far) / 2, top + _ABOVE
        return at, max(right - left, far - near) + 2 * _ROUND

    @cached_property
    def _refs(self) -> dict[str, str]:
        """Give the IFC GlobalIds that the layout knows: element's id -> GlobalId."""
        x = self.facts.layout
        groups = x.junctions, x.pipes, x.fittings, x.valves, x.pumps, x.equipment, x.sources
        return {
            item.id: item.ref
            for group in (*groups, x.outlets)
            for item in group
            if item.ref is not None and _GLOBAL_ID.fullmatch(item.ref)
        }

    @cached_property
    def _known(self) -> dict[str, Stand]:
        """Give where each element with a symbol, and each plug, stands; a plug as 'plug F1'."""
        found = {i.id: Stand(i.junction, i.pipe, i.station) for i in items_of(self.facts)}
        for plug in self.facts.report.plugs:
            found[f"plug {plug.id}"] = Stand.of(plug.at)
        return found

    def _elements(self, finding: Finding) -> Iterator[str]:
        """Name the elements that a finding is about."""
        subject = finding.subject
        for named in (subject, *subject.elements, *finding.concerns):
            name = f"plug {named.id}" if named.kind == "plug" else named.id
            yield name
            stand = self._known.get(name)
            if named.kind == "plug" and stand is not None and stand.pipe is not None:
                yield stand.pipe
        for at in self._ats(finding):
            yield from (n for n in (at.pipe, at.element, at.junction) if n is not None)

    @staticmethod
    def _ats(finding: Finding) -> tuple[At, ...]:
        return (*((finding.where,) if finding.where else ()), *finding.way)

    def _stands(self, finding: Finding) -> list[Stand]:
        """Give the places that a finding is about."""
        names = dict.fromkeys(self._elements(finding))
        found = [self._known[n] for n in names if n in self._known]
        return [*found, *(Stand.of(at) for at in self._ats(finding))]

    def _drawn(self, stand: Stand) -> Point | None:
        """Give a place on the drawing."""
        drawn = self.facts.drawn
        if stand.junction is not None:
            return drawn.points.get(stand.junction)
        if stand.pipe is None or stand.pipe not in drawn.paths:
            return None
        return drawn.paths[stand.pipe].at(self._share(stand))

    def _share(self, stand: Stand) -> float:
        length = self.facts.network.pipe_length[stand.pipe or ""]
        return min(max((stand.station or 0.0) / length, 0.0), 1.0) if length else 0.0

    def _spot(self, stand: Stand) -> Spot | None:
        """Give a place in the model's coordinates (m)."""
        layout, network = self.facts.layout, self.facts.network
        scale = layout.drawing.scale
        if scale is None or layout.drawing.kind is not DrawingKind.PLAN:
            return None
        if stand.junction is not None:
            junction = self._junctions[stand.junction]
            at, height = junction.at, junction.elevation
        elif stand.pipe in self._paths:
            at = self._paths[stand.pipe].at(self._share(stand))
            height = network.elevation_at(network.spot(stand.pipe, stand.station or 0.0))
        else:
            return None
        if at is None or height is None or math.isnan(height):
            return None
        return at[0] * scale, at[1] * scale, height

    @cached_property
    def _junctions(self) -> dict[str, Junction]:
        return {j.id: j for j in self.facts.layout.junctions}

    @cached_property
    def _paths(self) -> dict[str, DrawnPath]:
        layout = self.facts.layout
        positions = Positions(layout)
        return {p.id: path for p in layout.pipes if (path := positions.path(p)) is not None}
