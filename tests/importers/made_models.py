"""Building models made of layouts by ifcopenshell, to be read in again.

Each pipe is cut where something stands on it, as models have it: pipe segments between elements,
with ports, bodies, quantities, properties and materials. A riser diagram is not to scale, so the
developed length is a quantity (that is where a model would have it) and the bodies are schematic.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, cast

import ifcopenshell
import ifcopenshell.api.context
import ifcopenshell.api.owner
import ifcopenshell.api.project
import ifcopenshell.api.root
import ifcopenshell.api.unit
import ifcopenshell.guid

from layoutcheck.document import Layout
from layoutcheck.document.models import Pipe
from layoutcheck.document.paths import Positions
from layoutcheck.quantities import explicit_dimensions, pipe_dimensions

Spot = tuple[float, float, float]
# What stands on a pipe: stations of its faces and of its middle (m), and its id.
Event = tuple[float, float, float, str]

# Our class -> its IFC4 class and, for IFC2x3, the occurrence class that its type belongs to.
CLASSES = {
    "pipe": ("IfcPipeSegment", "IfcFlowSegment"),
    "fitting": ("IfcPipeFitting", "IfcFlowFitting"),
    "valve": ("IfcValve", "IfcFlowController"),
    "pump": ("IfcPump", "IfcFlowMovingDevice"),
    "heater": ("IfcBoiler", "IfcEnergyConversionDevice"),
    "cooler": ("IfcChiller", "IfcEnergyConversionDevice"),
    "tank": ("IfcTank", "IfcFlowStorageDevice"),
}
VALVES = {"check": "CHECK", "pressure reducing": "PRESSUREREDUCING", "control": "REGULATING"}
UNITS = {"METRE": 1.0, "MILLIMETRE": 0.001, "foot": 0.3048}
SPREAD = 40.0  # junctions without a drawn position are put this far apart (m)


@dataclass(frozen=True)
class Piece:
    """A length of a layout's pipe, as one segment: stations of its ends, and of its anchors."""

    name: str
    pipe: str
    start: float
    end: float
    anchor: float
    first: Spot


@dataclass
class Made:
    """A model made of a layout, and how its pieces belong to the layout's pipes."""

    model: Any
    pieces: dict[str, list[Piece]] = field(default_factory=dict)


@dataclass
class Maker:
    """Makes one model. ports: "nested", "related" (IfcRelConnectsPortToElement) or "none"."""

    layout: Layout
    schema: str = "IFC4"
    unit: str = "METRE"
    ports: str = "nested"
    seed: int | None = None

    def make(self) -> Made:
        self.positions = Positions(self.layout)
        self._project()
        self.made = Made(self.model)
        self.at: dict[str, Spot] = {}
        self.joints: dict[str, list[Any]] = {}
        for number, junction in enumerate(self.layout.junctions):
            # On a curve, so that no two pipes lie on one line.
            x, y = junction.at or (SPREAD * number, float(number**2))
            self.at[junction.id] = (x, y, junction.elevation or 0.0)
            self.joints[junction.id] = []
        for pipe in self._shuffled(list(self.layout.pipes)):
            self._pipe(pipe)
        for junction in self._shuffled(list(self.layout.junctions)):
            self._junction(junction)
        return self.made

    def _shuffled(self, rows: list[Any]) -> list[Any]:
        if self.seed is not None:
            random.Random(self.seed).shuffle(rows)
        return rows

    # --- the project -----------------------------------------------------------------------------

    def _project(self) -> None:
        self.model = ifcopenshell.api.project.create_file(version=cast("Any", self.schema))
        self.history = self._history()
        api = ifcopenshell.api
        project = api.root.create_entity(
            self.model, ifc_class="IfcProject", name="Made of a layout"
        )
        if self.unit == "foot":
            unit = api.unit.add_conversion_based_unit(self.model, name="foot")
        else:
            prefix = "MILLI" if self.unit == "MILLIMETRE" else None
            unit = api.unit.add_si_unit(self.model, unit_type="LENGTHUNIT", prefix=prefix)
        api.unit.assign_unit(self.model, units=[unit])
        self.context = api.context.add_context(self.model, context_type="Model")
        self.scale = UNITS[self.unit]
        assert project is not None
        # A storey that is moved and turned, so that placements have to be resolved as a chain.
        self.storey_frame = self._placement((1000.0, -500.0, 0.0), None, turned=True)

    def _history(self) -> Any:
        if self.schema != "IFC2X3":
            return None
        make = self.model.create_entity
        person = make(
            "IfcPersonAndOrganization", make("IfcPerson"), make("IfcOrganization", Name="x")
        )
        application = make("IfcApplication", person[1], "1", "tests", "tests")
        settings: Any = ifcopenshell.api.owner.settings
        settings.get_user = lambda file: person
        settings.get_application = lambda file: application
        return make(
            "IfcOwnerHistory",
            OwningUser=person,
            OwningApplication=application,
            ChangeAction="ADDED",
            CreationDate=1,
        )

    def _root(self, name: str, **fields: Any) -> Any:
        guid = ifcopenshell.guid.new()
        return self.model.create_entity(name, GlobalId=guid, OwnerHistory=self.history, **fields)

    def _local(self, spot: Spot) -> Spot:
        """Give a place in the turned and moved storey: (x, y) seen from it is (y', -x')."""
        x, y, z = spot[0] - 1000.0, spot[1] + 500.0, spot[2]
        return (y, -x, z)

    def _point(self, spot: Spot) -> Any:
        return self.model.create_entity(
            "IfcCartesianPoint", Coordinates=[c / self.scale for c in spot]
        )

    def _direction(self, way: Spot) -> Any:
        return self.model.create_entity("IfcDirection", DirectionRatios=list(way))

    def _placement(self, spot: Spot, parent: Any, turned: bool = False) -> Any:
        make = self.model.create_entity
        axes = {"Axis": self._direction((0, 0, 1)), "RefDirection": self._direction((0, 1, 0))}
        frame = make("IfcAxis2Placement3D", Location=self._point(spot), **(axes if turned else {}))
        return make("IfcLocalPlacement", PlacementRelTo=parent, RelativePlacement=frame)

    # --- elements --------------------------------------------------------------------------------

    def _element(self, kind: str, name: str, spots: list[Spot], **fields: Any) -> Any:
        """Make an element with a port at each spot; give it and its ports."""
        newer, older = CLASSES[kind]
        predefined = fields.pop("predefined", "NOTDEFINED")
        placement = self._placement(self._local(spots[0]), self.storey_frame)
        own: dict[str, Any] = {"Name": name, "ObjectPlacement": placement, **fields}
        if self.schema == "IFC2X3":
            typed = self._root(f"{newer}Type", Name=f"{kind} type", PredefinedType=predefined)
            element = self._root(older, **own)
            self._root("IfcRelDefinesByType", RelatedObjects=[element], RelatingType=typed)
        else:
            element = self._root(newer, PredefinedType=predefined, **own)
        return element, self._ports(element, placement, spots)

    def _ports(self, element: Any, placement: Any, spots: list[Spot]) -> list[Any]:
        if self.ports == "none":
            return []
        base = self._local(spots[0])
        made = []
        for spot in spots:
            here = self._local(spot)
            offset = (here[0] - base[0], here[1] - base[1], here[2] - base[2])
            made.append(
                self._root(
                    "IfcDistributionPort", ObjectPlacement=self._placement(offset, placement)
                )
            )
        listed = self._shuffled(list(made))
        if self.ports == "nested" and self.schema != "IFC2X3":
            self._root("IfcRelNests", RelatingObject=element, RelatedObjects=listed)
        else:
            for port in listed:
                self._root("IfcRelConnectsPortToElement", RelatingPort=port, RelatedElement=element)
        return made

    def _connect(self, one: list[Any], two: list[Any], index: int, other: int) -> None:
        """Connect two ports, now and then twice, as files in the wild do."""
        if self.ports == "none":
            return
        a, b = one[index], two[other]
        self._root("IfcRelConnectsPorts", RelatingPort=a, RelatedPort=b)
        if self.seed is not None and random.Random(a.id()).random() < 0.3:
            self._root("IfcRelConnectsPorts", RelatingPort=b, RelatedPort=a)

    # --- pipes -----------------------------------------------------------------------------------

    def _pipe(self, pipe: Pipe) -> None:
        length = self.positions.measured_length(pipe)
        assert length is not None
        events = self._events(pipe.id)
        bounds = [(0.0, 0.0, 0.0, ""), *events, (length, length, length, "")]
        pieces: list[Piece] = []
        here: tuple[list[Any], int] | None = None
        for number, (before, after) in enumerate(pairwise(bounds), start=1):
            name = pipe.id if not events else f"{pipe.id}.{number}"
            start, end = before[1], after[0]
            ports, first = self._segment(pipe, name, before, after, length)
            pieces.append(Piece(name, pipe.id, start, end, before[2], first))
            if here is None:
                self.joints[pipe.from_].append((ports, 0))
            else:
                self._connect(*_between(here, ports))
            if after[3]:
                device = self._on_pipe(after[3], pipe, after, length)
                self._connect(ports, device, 1, 0)
                here = (device, 1)
            else:
                self.joints[pipe.to].append((ports, 1))
        self.made.pieces[pipe.id] = pieces

    def _events(self, pipe: str) -> list[Event]:
        """Give what stands on a pipe: (start, end, middle, id)."""
        rows = []
        layout = self.layout
        for valve in layout.valves:
            if valve.pipe == pipe and valve.station is not None:
                half = valve.body / 2
                rows.append((valve.station - half, valve.station + half, valve.station, valve.id))
        points: tuple[Any, ...] = (*layout.pumps, *layout.equipment, *layout.fittings)
        for item in points:
            if item.pipe == pipe and item.station is not None:
                rows.append((item.station, item.station, item.station, item.id))
        return sorted(rows)

    def _spot(self, pipe: Pipe, station: float, length: float) -> Spot:
        """Give where a station lies: on the drawn path, at the height between its ends."""
        share = station / length
        path = self.positions.path(pipe)
        a, b = self.at[pipe.from_], self.at[pipe.to]
        x, y = path.at(share) if path else (a[0] + share * (b[0] - a[0]), a[1])
        return (x, y, a[2] + share * (b[2] - a[2]))

    def _face(self, pipe: Pipe, row: Event, length: float, side: int) -> Spot:
        """Give where a face of an element lies: from its middle, by its own true size."""
        middle = self._spot(pipe, row[2], length)
        half = (row[1] - row[0]) / 2
        if half == 0.0:
            return middle
        share = 1e-4 * length
        before = self._spot(pipe, row[2] - share, length)
        after = self._spot(pipe, row[2] + share, length)
        way = [b - a for a, b in zip(before, after, strict=True)]
        size = math.hypot(*way)
        moved = [m + side * half * w / size for m, w in zip(middle, way, strict=True)]
        return (moved[0], moved[1], moved[2])

    def _segment(
        self, pipe: Pipe, name: str, before: Event, after: Event, length: float
    ) -> tuple[list[Any], Spot]:
        """Make one segment, with its body, size, material and length."""
        start, end = before[1], after[0]
        path = self.positions.path(pipe)
        inner = [s * length for s in path.shares if start < s * length < end] if path else []
        corners = [self._spot(pipe, s, length) for s in inner]
        first, last = (self._face(pipe, r, length, s) for r, s in ((before, 1), (after, -1)))
        line = [first, *corners, last]
        if pipe.outside_diameter is not None and pipe.wall_thickness is not None:
            made = explicit_dimensions(pipe.outside_diameter, pipe.wall_thickness)
        else:
            made = pipe_dimensions(pipe.size, pipe.material, pipe.wall)
        body = self._body(line, made.outside_diameter / 2, made.wall)
        fields = {"predefined": "RIGIDSEGMENT", "Representation": body}
        element, ports = self._element("pipe", name, [line[0], line[-1]], **fields)
        nominal = (
            pipe.size.dn / 1000 if pipe.size.text.startswith("DN") else pipe.size.inches * 0.0254
        )
        self._facts(element, pipe, nominal, end - start)
        return ports, line[0]

    def _body(self, line: list[Spot], radius: float, wall: float) -> Any:
        make = self.model.create_entity
        base = self._local(line[0])
        points = []
        for spot in line:
            here = self._local(spot)
            points.append(self._point((here[0] - base[0], here[1] - base[1], here[2] - base[2])))
        fields = {"Directrix": make("IfcPolyline", Points=points), "Radius": radius / self.scale}
        fields["InnerRadius"] = (radius - wall) / self.scale
        if self.schema == "IFC2X3":
            fields |= {"StartParam": 0.0, "EndParam": float(len(line) - 1)}
        solid = make("IfcSweptDiskSolid", **fields)
        shape = make(
            "IfcShapeRepresentation",
            ContextOfItems=self.context,
            RepresentationIdentifier="Body",
            RepresentationType="AdvancedSweptSolid",
            Items=[solid],
        )
        return make("IfcProductDefinitionShape", Representations=[shape])

    def _facts(self, element: Any, pipe: Pipe, nominal: float, length: float) -> None:
        make = self.model.create_entity
        quantity = make("IfcQuantityLength", Name="Length", LengthValue=length / self.scale)
        measure = make("IfcPositiveLengthMeasure", nominal / self.scale)
        size = make("IfcPropertySingleValue", Name="NominalDiameter", NominalValue=measure)
        sets = [
            self._root(
                "IfcElementQuantity", Name="Qto_PipeSegmentBaseQuantities", Quantities=[quantity]
            ),
            self._root("IfcPropertySet", Name="Pset_PipeSegmentTypeCommon", HasProperties=[size]),
        ]
        for made in sets:
            self._root(
                "IfcRelDefinesByProperties",
                RelatedObjects=[element],
                RelatingPropertyDefinition=made,
            )
        material = make("IfcMaterial", Name=pipe.material.value)
        self._root("IfcRelAssociatesMaterial", RelatedObjects=[element], RelatingMaterial=material)

    # --- what stands on pipes and at junctions ---------------------------------------------------

    def _on_pipe(self, own: str, pipe: Pipe, row: Event, length: float) -> list[Any]:
        spots = [self._face(pipe, row, length, side) for side in (-1, 1)]
        kind, fields = self._kind(own)
        if self.ports == "none":
            fields["Representation"] = self._body(spots, 0.01, 0.002)
        return self._element(kind, own, spots, **fields)[1]

    def _kind(self, own: str) -> tuple[str, dict[str, Any]]:
        layout = self.layout
        for valve in layout.valves:
            if valve.id == own:
                predefined = VALVES.get(valve.kind.value, "ISOLATING")
                return "valve", {"predefined": predefined, "ObjectType": valve.kind.value}
        if any(p.id == own for p in layout.pumps):
            return "pump", {"predefined": "CIRCULATOR"}
        for gear in layout.equipment:
            if gear.id == own:
                return gear.kind.value, {}
        fitting = next(f for f in layout.fittings if f.id == own)
        return "fitting", {"predefined": "CONNECTOR", "ObjectType": fitting.kind.value}

    def _junction(self, junction: Any) -> None:
        """Make the element at a junction, connect its pipes, and hang on it what stands there."""
        ends = self.joints[junction.id]
        standing = self._standing(junction.id)
        alone = len(ends) == 1 and len(standing) == 1
        own, kind, fields = standing[0] if alone else self._plain(junction, len(ends))
        hung = [] if alone else standing
        spots = [self.at[junction.id]] * (len(ends) + len(hung))
        if self.ports == "none":
            fields["Representation"] = self._body([spots[0], spots[0]], 0.01, 0.002)
        _, ports = self._element(kind, own, spots, **fields)
        for number, (there, index) in enumerate(ends):
            self._connect(ports, there, number, index)
        for number, (name, what, more) in enumerate(hung, start=len(ends)):
            _, beside = self._element(what, name, spots[:1], **more)
            self._connect(ports, beside, number, 0)

    def _standing(self, junction: str) -> list[tuple[str, str, dict[str, Any]]]:
        """Give what stands at a junction: sources, outlets and equipment."""
        layout = self.layout
        found: list[tuple[str, str, dict[str, Any]]] = []
        for source in layout.sources:
            if source.junction == junction:
                vessel = source.kind.value == "expansion vessel"
                kind, predefined = ("tank", "EXPANSION") if vessel else ("fitting", "ENTRY")
                found.append((source.id, kind, {"predefined": predefined}))
        for outlet in layout.outlets:
            if outlet.junction == junction:
                found.append((outlet.id, "fitting", {"predefined": "EXIT"}))
        for gear in layout.equipment:
            if gear.junction == junction:
                found.append((gear.id, gear.kind.value, {}))
        return found

    def _plain(self, junction: Any, ends: int) -> tuple[str, str, dict[str, Any]]:
        shut = junction.fitting in {"cap", "blind"}
        joined = "TRANSITION" if junction.fitting == "reducer" else "CONNECTOR"
        predefined = "OBSTRUCTION" if shut else "JUNCTION" if ends > 2 else joined
        return junction.id, "fitting", {"predefined": predefined, "ObjectType": junction.fitting}


def _between(
    here: tuple[list[Any], int], ports: list[Any]
) -> tuple[list[Any], list[Any], int, int]:
    return here[0], ports, here[1], 0
