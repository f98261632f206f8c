"""Writes the drawn network into a draft: junctions, pipes with what texts say of them, blocks."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property, reduce

import shapely

from layoutcheck.document.models import DrawingKind
from layoutcheck.importers.draft import Document, Draft, metres, rounded
from layoutcheck.importers.dxf.lines import Drawn, Edge, Spot
from layoutcheck.importers.dxf.mapping import BlockKind, DrawingMap, Heights, LayerMap
from layoutcheck.importers.dxf.said import Said, said_by
from layoutcheck.importers.dxf.sheet import Block, Label, Sheet
from layoutcheck.importers.sizing import larger
from layoutcheck.quantities import parse_elevation, parse_length
from layoutcheck.quantities.names import small

# A text belongs to a pipe within so many times its own height, unless the map says how far.
_HEIGHTS_AWAY = 3.0
# So many snaps a marked point may lie off its pipe, where the map says no more of it.


@dataclass
class Writer:
    """Writes the drawn network into a draft."""

    draft: Draft
    means: DrawingMap
    drawn: Drawn
    names: list[str] = field(default_factory=list)
    pipes: list[Document] = field(default_factory=list)

    def write(self, sheet: Sheet) -> None:
        """Write junctions, pipes with what texts say of them, and blocks."""
        for number, spot in enumerate(self.drawn.nodes, start=1):
            at = [rounded(spot[0]), rounded(spot[1])]
            height = self._height(spot)
            self.names.append(self.draft.add("junctions", f"J{number}", elevation=height, at=at))
        said = self._labels(sheet.labels)
        self._upright(sheet.labels)
        for index, edge in enumerate(self.drawn.edges):
            self._pipe(edge, said.get(index, []))
        self._largest()
        for block in sorted(sheet.blocks, key=lambda b: (b.at, b.name, b.tag)):
            self._stand(block)
        if not any("elevation" in j for j in self._junctions.values()):
            self.draft.gap("The drawing gives no heights")
        bare = [p["id"] for p in self.pipes if self._is_unmeasured(p)]
        if bare:
            self.draft.gap("Neither a text nor a scale gives the length: it is not known", *bare)
        self._loose_ends()

    @cached_property
    def _degree(self) -> list[int]:
        return self.drawn.degree()

    @cached_property
    def _junctions(self) -> dict[str, Document]:
        return {j["id"]: j for j in self.draft.lists["junctions"]}

    @cached_property
    def _layers(self) -> dict[str, LayerMap]:
        return {name.upper(): layer for name, layer in self.means.layers.items()}

    @cached_property
    def _shapes(self) -> list[shapely.LineString]:
        return [shapely.LineString([p[:2] for p in e.points]) for e in self.drawn.edges]

    @cached_property
    def _edge_tree(self) -> shapely.STRtree:
        return shapely.STRtree(self._shapes)

    @cached_property
    def _node_tree(self) -> shapely.STRtree:
        return shapely.STRtree([shapely.Point(node[:2]) for node in self.drawn.nodes])

    def _height(self, spot: Spot) -> str | None:
        scale = self.means.scale
        if scale is None or self.means.heights is Heights.NONE:
            return None
        return metres(scale * (spot[2] if self.means.heights is Heights.Z else spot[1]))

    def _said(self, label: Label) -> Said:
        size = self.draft.names.sizes.get(small(label.text))
        return said_by(label.text, self.means.units) if size is None else Said(size=size)

    def _labels(self, labels: list[Label]) -> dict[int, list[Said]]:
        """Give each text to the nearest pipe within reach."""
        said: dict[int, list[Said]] = {}
        tree = self._edge_tree
        for label in sorted(labels, key=lambda x: (x.at, x.text)):
            read = self._said(label)
            if read.height is not None:
                continue
            spot, reach = shapely.Point(label.at), self.means.text_reach
            reach = _HEIGHTS_AWAY * label.high if reach is None else reach
            near = tree.query_nearest(spot, max_distance=reach or 1e-9)
            if len(near) == 0:
                self.draft.leave_out("A text that is near no pipe", label.text)
                continue
            if read == Said():
                says = "A text beside a pipe that may be a size or a length; it was not taken"
                self.draft.gap(says, label.text)
                continue
            said.setdefault(int(near[0]), []).append(read)
            if len(near) > 1:
                self.draft.gap("A text that is as near to another pipe", label.text)
        return said

    def _pipe(self, edge: Edge, said: list[Said]) -> None:
        layer = self._layers[edge.layer]
        size = None if layer.size is None else layer.size.text
        length = tag = None
        for read in said:
            size, length, tag = read.size or size, read.length or length, tag or read.name
        rise = None if length or self.means.scale is not None else self._rise(edge)
        own = self.draft.add(
            "pipes",
            tag or f"P{len(self.pipes) + 1}",
            from_=self.names[edge.start],
            to=self.names[edge.end],
            size=size,
            material=layer.material.value,
            wall=layer.wall,
            length=length or rise,
            via=[[rounded(x), rounded(y)] for x, y, _ in edge.points[1:-1]] or None,
        )
        self.pipes.append(self.draft.lists["pipes"][-1])
        told = size is not None and layer.size is not None and size == layer.size.text
        if size is not None:
            self.draft.origin("size", "layer" if told else "text", own)
        origin = "text" if length else "levels" if rise else "drawing to scale"
        if length or rise or self.means.scale is not None:
            self.draft.origin("length", origin, own)
        if rise:
            says = "An upright pipe between two levels is taken as long as they lie apart"
            self.draft.assume(says, own)

    def _largest(self) -> None:
        """Give pipes without a size the largest of the drawing; without any they have none."""
        sizes = [p["size"] for p in self.pipes if "size" in p]
        bare = [p for p in self.pipes if "size" not in p]
        if bare and not sizes:
            self.draft.gap("Neither a text nor the map gives the size", *(p["id"] for p in bare))
            return
        for pipe in bare:
            pipe["size"] = reduce(larger, sorted(set(sizes)))
            self.draft.gap("No size: taken as the largest of the drawing", pipe["id"])

    def _stand(self, block: Block) -> None:
        """Put a block where it stands: at a junction, or at a station on a pipe."""
        place, own = self._place(block), block.tag or block.name
        if place is None:
            self.draft.leave_out("A block that is on no pipe", f"{own} at {block.at[:2]}")
            return
        means = block.means
        match means.kind:
            case BlockKind.VALVE:
                own = self.draft.add("valves", own, kind=means.valve.value, **place)
                self.draft.gap("The drawing does not say how the valve stands", own)
            case BlockKind.PUMP:
                self.draft.add("pumps", own, **place)
            case BlockKind.SOURCE:
                self.draft.add("sources", own, kind=means.source.value, **place)
            case BlockKind.OUTLET:
                self.draft.add("outlets", own, **place)
            case BlockKind.FITTING if "junction" in place:
                self._junctions[place["junction"]]["fitting"] = means.fitting.value
            case BlockKind.FITTING:
                self.draft.add("fittings", own, kind=means.fitting.value, **place)
            case _:
                kind = means.equipment
                assert kind is not None
                self.draft.add("equipment", own, kind=kind.value, **place)

    def _place(self, block: Block) -> Document | None:
        spot = shapely.Point(block.at[:2])
        reach = max(self.means.snap, 1e-9)
        gap, node = _nearest(self._node_tree, spot)
        if gap <= reach:
            return self._at_node(block, node)
        off, index = _nearest(self._edge_tree, spot)
        if off > max(reach, block.means.reach or 0.0):
            return None
        pipe = self.pipes[index]
        shape = self._shapes[index]
        share = float(shape.project(spot, normalized=True))
        length = self._length(pipe, shape)
        if length is None:  # such a pipe is cut where something stands, but for a corner or so
            return None
        return {"pipe": pipe["id"], "station": metres(share * length)}

    def _at_node(self, block: Block, node: int) -> Document | None:
        """Put a block at a junction; a valve at a tee belongs on one of its pipes."""
        meets = self._degree[node]
        if block.means.kind in {BlockKind.VALVE, BlockKind.PUMP} and meets > 2:
            says = "Stands on a tee: on which of its pipes is it? Left out"
            self.draft.gap(says, block.tag or block.name)
            return None
        return {"junction": self.names[node]}

    def without_station(self, sheet: Sheet) -> list[Spot]:
        """Give where blocks stand on lines of which neither a text nor a scale tells the length."""
        if self.means.scale is not None:
            return []
        said = self._labels(sheet.labels)
        measured = {i for i, reads in said.items() if any(r.length for r in reads)}
        found = []
        for block in sheet.blocks:
            spot = shapely.Point(block.at[:2])
            gap, _ = _nearest(self._node_tree, spot)
            off, index = _nearest(self._edge_tree, spot)
            beside = off <= max(self.means.snap, 1e-9, block.means.reach or 0.0)
            if gap > max(self.means.snap, 1e-9) and beside and index not in measured:
                on = self._shapes[index].interpolate(self._shapes[index].project(spot))
                found.append((on.x, on.y, block.at[2]))
        return found

    def _upright(self, labels: list[Label]) -> None:
        """Give the junctions that are drawn at a level's height that height."""
        reads = [(self._said(t).height, t) for t in labels]
        levels = [(t.at[1], t.high, height) for height, t in reads if height is not None]
        if self.means.heights is not Heights.NONE or self.means.kind is not DrawingKind.RISER:
            return
        for own, spot in zip(self.names, self.drawn.nodes, strict=True):
            near = [(abs(y - spot[1]), h) for y, high, h in levels if abs(y - spot[1]) <= high]
            if near and len({h for _, h in near}) == 1:
                self._junctions[own]["elevation"] = near[0][1]
                self.draft.origin("elevation", "text of a level", own)

    def _rise(self, edge: Edge) -> str | None:
        """Give how far a pipe drawn straight up rises between two levels."""
        ends = [self._junctions[self.names[n]].get("elevation") for n in (edge.start, edge.end)]
        xs = [p[0] for p in edge.points]
        if None in ends or max(xs) - min(xs) > self.means.snap:
            return None
        low, high = (parse_elevation(e) for e in ends)
        return metres(abs(high - low)) if high != low else None

    def _is_unmeasured(self, pipe: Document) -> bool:
        return "length" not in pipe and self.means.scale is None

    def _length(self, pipe: Document, shape: shapely.LineString) -> float | None:
        if "length" in pipe:
            return parse_length(pipe["length"])
        return None if self.means.scale is None else float(shape.length) * self.means.scale

    def _loose_ends(self) -> None:
        """Ask what each end of a line is that has nothing at it."""
        # A valve, pump or heater at the end of a line does not close it: water may be behind it.
        ends = [*self.draft.lists["sources"], *self.draft.lists["outlets"]]
        ends += [g for g in self.draft.lists["equipment"] if g["kind"] == BlockKind.TANK.value]
        taken = {e.get("junction") for e in ends}
        shut = {
            j["id"] for j in self.draft.lists["junctions"] if j.get("fitting") in {"cap", "blind"}
        }
        for node, meets in enumerate(self._degree):
            own = self.names[node]
            if meets == 1 and own not in taken | shut:
                self.draft.gap("A line ends with nothing drawn: what ends it?", own)


def _nearest(tree: shapely.STRtree, spot: shapely.Point) -> tuple[float, int]:
    """Give the distance to the nearest of a tree's shapes, and its number; the first of equals."""
    numbers, away = tree.query_nearest(spot, return_distance=True)
    return float(away[0]), min(map(int, numbers))
