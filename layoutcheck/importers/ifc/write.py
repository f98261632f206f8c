"""Write plugs and jackets into a copy of a building model, with a property set of our own."""

from __future__ import annotations

import tempfile
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from layoutcheck.document import Fault, Layout, LayoutFaults
from layoutcheck.document.faults import pointer_to, shown
from layoutcheck.importers.apart import Bounds, ChildDied, run_apart
from layoutcheck.importers.draft import Progress, one_fault
from layoutcheck.importers.ifc.opened import length_unit, open_model
from layoutcheck.importers.ifc.shape import Shapes, Vector
from layoutcheck.importers.places import PlugPlace, dimensions_of, plug_places, to_scale

PROPERTY_SET = "Layoutcheck_FreezePoint"
PLUG, JACKET = "FREEZE PLUG", "FREEZE JACKET"
_CAUTION = (
    "A proposal from a check of a drawing, not a permit. Local codes, the site's permit system and "
    "licensed practice decide."
)
# How far the jacket is drawn round the pipe (m): a sign for the eye, not a measure.
_JACKET_THICKNESS = 0.05
_NAMESPACE = uuid.UUID("6f3d0a52-7c1e-5b7e-9a34-2d1f3c5e8b90")


def write_plugs(layout: Layout, source: Path) -> bytes:
    """Give a copy of a building model with the layout's plugs and jackets in it.

    layout: a sound layout read from the model. source: the model; it is left as it is.
    Raises LayoutFaults where the model can not be read or a plug has no place in it.
    Works in a process of its own, for an unsound model may end it.
    """
    bounds = Bounds.for_file(source.stat().st_size)
    try:
        data: bytes = run_apart(f"{__name__}:{_written.__name__}", layout, source, bounds=bounds)
    except ChildDied as died:
        raise one_fault(
            found=shown(source.name),
            problem=f"can not be read as IFC: {died}",
            example="the model that the layout was read from",
        ) from None
    return data


def _written(layout: Layout, source: Path, progress: Progress) -> bytes:
    model = open_model(source)
    scale, _ = length_unit(model)
    writer = _Writer(model, layout, scale)
    faults: list[Fault] = []
    for index, place in enumerate(plug_places(layout)):
        line = writer.line(place)
        if line is None:
            faults.append(_no_place(index, place))
        else:
            writer.put(place, line)
    if faults:
        raise LayoutFaults(faults)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "copy.ifc"
        model.write(str(path))
        return path.read_bytes()


def _no_place(index: int, place: PlugPlace) -> Fault:
    return Fault(
        pointer=pointer_to("plugs", index),
        found=f"plug {shown(place.plug.id)} on pipe {shown(place.pipe.id)}",
        problem="has no place in the model: its pipe's ref is no element of it with a body",
        example='a layout made with layoutcheck import, which keeps each "ref"',
    )


@dataclass
class _Writer:
    """Adds elements to one model. scale: metres in one length unit of it."""

    model: Any
    layout: Layout
    scale: float

    def __post_init__(self) -> None:
        histories = self.model.by_type("IfcOwnerHistory")
        self.history = histories[0] if histories else None
        self.shapes = Shapes(self.scale)
        contexts = self.model.by_type("IfcGeometricRepresentationContext")
        self.context = next((c for c in contexts if c.ContextType == "Model"), None)
        if self.context is None:
            self.context = contexts[0] if contexts else self._context()

    def _context(self) -> Any:  # noqa: ANN401 - ifcopenshell has no types
        context = self._make(
            "IfcGeometricRepresentationContext",
            ContextType="Model",
            CoordinateSpaceDimension=3,
            WorldCoordinateSystem=self._frame(),
        )
        for project in self.model.by_type("IfcProject"):
            project.RepresentationContexts = [*(project.RepresentationContexts or ()), context]
        return context

    def _make(self, name: str, *given: Any, **fields: Any) -> Any:  # noqa: ANN401
        return self.model.create_entity(name, *given, **fields)

    def _root(self, name: str, what: str, **fields: Any) -> Any:  # noqa: ANN401
        from ifcopenshell.guid import compress  # noqa: PLC0415 - an optional extra

        # Made of what it names, so that the same layout and model give the same file.
        own = compress(uuid.uuid5(_NAMESPACE, what).hex)
        return self._make(name, GlobalId=own, OwnerHistory=self.history, **fields)

    def _element(self, guid: str | None) -> Any:  # noqa: ANN401
        try:
            return None if guid is None else self.model.by_guid(guid)
        except RuntimeError:
            return None

    def line(self, place: PlugPlace) -> list[Vector] | None:
        """Give the centre line of a jacket in the model (m); None where it can not be told."""
        element = self._element(place.pipe.ref)
        if element is None:
            return None
        by = to_scale(self.layout)
        if by is not None and place.line and place.heights:
            rows = zip(place.line, place.heights, strict=True)
            return [(x * by, y * by, z) for (x, y), z in rows]
        # The drawing is not to scale: by shares of the element's own centre line.
        path = np.array(self.shapes.body(element).path)
        if len(path) < 2:
            return None
        steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
        shares = np.concatenate(([0.0], np.cumsum(steps) / (steps.sum() or 1.0)))
        ends = [[float(np.interp(s, shares, path[:, k])) for k in range(3)] for s in place.shares]
        return [(e[0], e[1], e[2]) for e in ends]

    def put(self, place: PlugPlace, line: list[Vector]) -> None:
        """Add the plug in the bore, and the jacket round the pipe."""
        size = dimensions_of(place.pipe)
        wet, dry = size.inside_diameter / 2, size.outside_diameter / 2
        made = [
            self._proxy(place, PLUG, self._disk(line, wet, None)),
            self._proxy(place, JACKET, self._disk(line, dry + _JACKET_THICKNESS, dry)),
        ]
        key = f"{place.plug.id}/set"
        facts = self._root(
            "IfcPropertySet", key, Name=PROPERTY_SET, HasProperties=self._facts(place)
        )
        self._root(
            "IfcRelDefinesByProperties",
            f"{key}/of",
            RelatedObjects=made,
            RelatingPropertyDefinition=facts,
        )
        self._contain(place, made)

    def _frame(self) -> Any:  # noqa: ANN401
        return self._make("IfcAxis2Placement3D", Location=self._point((0.0, 0.0, 0.0)))

    def _point(self, spot: Vector) -> Any:  # noqa: ANN401
        return self._make("IfcCartesianPoint", Coordinates=[float(c) / self.scale for c in spot])

    def _disk(self, line: list[Vector], radius: float, inner: float | None) -> Any:  # noqa: ANN401
        fields: dict[str, Any] = {
            "Directrix": self._make("IfcPolyline", Points=[self._point(p) for p in line]),
            "Radius": radius / self.scale,
            "InnerRadius": None if inner is None else inner / self.scale,
        }
        if self.model.schema == "IFC2X3":
            fields |= {"StartParam": 0.0, "EndParam": float(len(line) - 1)}
        return self._make("IfcSweptDiskSolid", **fields)

    def _proxy(self, place: PlugPlace, what: str, solid: Any) -> Any:  # noqa: ANN401
        shape = self._make(
            "IfcShapeRepresentation",
            ContextOfItems=self.context,
            RepresentationIdentifier="Body",
            RepresentationType="AdvancedSweptSolid",
            Items=[solid],
        )
        return self._root(
            "IfcBuildingElementProxy",
            f"{place.plug.id}/{what}",
            Name=f"{what.capitalize()} {place.plug.id}",
            ObjectType=what,
            ObjectPlacement=self._make("IfcLocalPlacement", RelativePlacement=self._frame()),
            Representation=self._make("IfcProductDefinitionShape", Representations=[shape]),
        )

    def _facts(self, place: PlugPlace) -> list[Any]:
        def value(name: str, kind: str, given: object) -> Any:  # noqa: ANN401
            measure = self._make(kind, given)
            return self._make("IfcPropertySingleValue", Name=name, NominalValue=measure)

        length = "IfcPositiveLengthMeasure"
        return [
            value("PlugId", "IfcIdentifier", place.plug.id),
            value("PipeId", "IfcIdentifier", place.pipe.id),
            value("PipeGlobalId", "IfcIdentifier", place.pipe.ref or ""),
            value("StationOnPipe", "IfcLengthMeasure", place.station / self.scale),
            value("StationFromJunction", "IfcIdentifier", place.pipe.tape_from),
            value("JacketLength", length, max(place.plug.jacket, 1e-9) / self.scale),
            value("Coolant", "IfcLabel", place.plug.coolant.value),
            value("Caution", "IfcText", _CAUTION),
        ]

    def _contain(self, place: PlugPlace, made: list[Any]) -> None:
        """Put the elements where their pipe is; if it is nowhere, on the first storey there is."""
        pipe = self._element(place.pipe.ref)
        relations = getattr(pipe, "ContainedInStructure", None) or ()
        places = [r.RelatingStructure for r in relations]
        for name in ("IfcBuildingStorey", "IfcBuilding", "IfcSite"):
            places += self.model.by_type(name)
        if places:
            self._root(
                "IfcRelContainedInSpatialStructure",
                f"{place.plug.id}/in",
                RelatedElements=made,
                RelatingStructure=places[0],
            )
