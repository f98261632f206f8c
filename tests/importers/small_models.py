"""Small building models, put down element by element by the spots of their ports (m)."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.guid

from layoutcheck.document import parse_layout
from layoutcheck.importers.draft import Imported
from layoutcheck.importers.ifc.read import read_ifc
from layoutcheck.report import check_document

Spot = tuple[float, float, float]


class Small:
    """A small model; elements are put down by the spots of their ports (m).

    prefix: of the metre that the model is written in, such as "MILLI".
    """

    def __init__(self, schema: Any = "IFC4", prefix: str | None = None) -> None:
        self.model: Any = ifcopenshell.file(schema=schema)
        self.unit = 0.001 if prefix == "MILLI" else 1.0
        unit = self.model.create_entity(
            "IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE", Prefix=prefix
        )
        units = self.model.create_entity("IfcUnitAssignment", Units=[unit])
        self.root("IfcProject", Name="small", UnitsInContext=units)
        frame = self.model.create_entity("IfcAxis2Placement3D", Location=self.point((0, 0, 0)))
        self.context = self.model.create_entity(
            "IfcGeometricRepresentationContext",
            ContextType="Model",
            CoordinateSpaceDimension=3,
            WorldCoordinateSystem=frame,
        )
        self.ports: dict[tuple[str, int], Any] = {}

    def root(self, name: str, **fields: Any) -> Any:
        return self.model.create_entity(name, GlobalId=ifcopenshell.guid.new(), **fields)

    def point(self, spot: Spot) -> Any:
        there = [float(c) / self.unit for c in spot]
        return self.model.create_entity("IfcCartesianPoint", Coordinates=there)

    def placement(self, spot: Spot) -> Any:
        point = self.point(spot)
        axes = self.model.create_entity("IfcAxis2Placement3D", Location=point)
        return self.model.create_entity("IfcLocalPlacement", RelativePlacement=axes)

    def add(self, kind: str, name: str, *spots: Spot, **fields: Any) -> Any:
        place = self.placement(spots[0] if spots else (0, 0, 0))
        element = self.root(kind, Name=name, ObjectPlacement=place, **fields)
        for number, spot in enumerate(spots):
            port = self.root("IfcDistributionPort", ObjectPlacement=self.placement(spot))
            self.root("IfcRelConnectsPortToElement", RelatingPort=port, RelatedElement=element)
            self.ports[name, number] = port
        return element

    def pipe(self, name: str, start: Spot, end: Spot, nominal: float = 0.05) -> Any:
        element = self.add("IfcPipeSegment", name, start, end, PredefinedType="RIGIDSEGMENT")
        measure = "IfcPositiveLengthMeasure"
        self.property(element, "NominalDiameter", measure, nominal / self.unit)
        element.Representation = self.round_bar(start, end, 0.62 * nominal)
        return element

    def round_bar(self, start: Spot, end: Spot, radius: float) -> Any:
        """Make a straight round body, seen from its element, which is placed at its start."""
        make = self.model.create_entity
        way = [float(b) - float(a) for a, b in zip(start, end, strict=True)]
        size = math.hypot(*way)
        axis = [w / size for w in way]
        across = (0.0, 1.0, 0.0) if abs(axis[1]) < 0.9 else (1.0, 0.0, 0.0)
        frame = make(
            "IfcAxis2Placement3D",
            Location=self.point((0, 0, 0)),
            Axis=make("IfcDirection", axis),
            RefDirection=make("IfcDirection", across),
        )
        circle = make("IfcCircleProfileDef", ProfileType="AREA", Radius=radius / self.unit)
        up = make("IfcDirection", (0.0, 0.0, 1.0))
        solid = make("IfcExtrudedAreaSolid", circle, frame, up, size / self.unit)
        return self.shape(solid, "SweptSolid")

    def shape(self, item: Any, kind: str) -> Any:
        make = self.model.create_entity
        shape = make(
            "IfcShapeRepresentation",
            ContextOfItems=self.context,
            RepresentationIdentifier="Body",
            RepresentationType=kind,
            Items=[item],
        )
        return make("IfcProductDefinitionShape", Representations=[shape])

    def property(self, element: Any, name: str, kind: str, value: object) -> None:
        measure = self.model.create_entity(kind, value)
        made = self.model.create_entity("IfcPropertySingleValue", Name=name, NominalValue=measure)
        whole = self.root("IfcPropertySet", Name="Pset", HasProperties=[made])
        self.root(
            "IfcRelDefinesByProperties", RelatedObjects=[element], RelatingPropertyDefinition=whole
        )

    def join(self, one: str, end: int, two: str, other: int) -> None:
        self.root(
            "IfcRelConnectsPorts",
            RelatingPort=self.ports[one, end],
            RelatedPort=self.ports[two, other],
        )

    def read(self, folder: Path, **how: Any) -> Imported:
        path = folder / "small.ifc"
        self.model.write(str(path))
        imported = read_ifc(path, name="small.ifc", **how)
        parse_layout(imported.document)
        return imported


def by_id(imported: Imported, key: str) -> dict[str, Any]:
    return {e["id"]: e for e in imported.document.get(key, [])}


def asked(imported: Imported) -> set[str]:
    """Give the junctions of which a check asks what ends the pipe there."""
    findings = check_document(imported.document).findings
    found = [f for f in findings if f.rule == "open-end" and f.outcome.value == "undecided"]
    return {f.subject.id for f in found}


def metres(text: str) -> float:
    return float(text.removesuffix(" m"))


def said(imported: Imported, words: str) -> tuple[str, ...]:
    return next((n.elements for n in imported.notes if words in n.says), ())
