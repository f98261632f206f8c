"""What a model tells of its elements: properties, quantities, materials, spaces, systems."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from layoutcheck.importers.draft import plain

# A value with where it came from; lengths in m, everything else as it stands.
Value = tuple[object, str]

_LENGTHS = {"IfcLengthMeasure", "IfcPositiveLengthMeasure", "IfcNonNegativeLengthMeasure"}
_DEEPEST = 16
# Parts of one material definition that are looked at.
_MOST_MATERIALS = 1000


@dataclass
class Facts:
    """Relations of a model, looked up once. Keys are the numbers of entities."""

    model: Any
    scale: float
    types: dict[int, Any] = field(default_factory=dict)
    spaces: dict[int, Any] = field(default_factory=dict)
    storeys: dict[int, str] = field(default_factory=dict)
    systems: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    insulated: set[int] = field(default_factory=set)
    _sets: dict[int, list[Any]] = field(default_factory=lambda: defaultdict(list))
    _materials: dict[int, Any] = field(default_factory=dict)
    _names: dict[int, str] = field(default_factory=dict)
    _read: dict[int, dict[str, Value]] = field(default_factory=dict)
    _of_type: dict[int, dict[str, Value]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Walk each kind of relation once."""
        model = self.model
        for relation in model.by_type("IfcRelDefinesByType"):
            for thing in _things(relation):
                self.types[thing.id()] = relation[5]
        for relation in model.by_type("IfcRelDefinesByProperties"):
            definition = relation[5]
            # IFC4 lets one relation carry a whole set of definitions.
            whole = definition.is_a("IfcPropertySetDefinitionSet")
            for thing in _things(relation):
                self._sets[thing.id()] += list(definition[0]) if whole else [definition]
        for relation in model.by_type("IfcRelAssociatesMaterial"):
            for thing in _things(relation):
                self._materials[thing.id()] = relation[5]
        for relation in model.by_type("IfcRelContainedInSpatialStructure"):
            self._contain(_things(relation), relation[5])
        self._group_all()
        for relation in model.by_type("IfcRelCoversBldgElements"):
            self._cover(relation)

    def _contain(self, things: Any, place: Any) -> None:  # noqa: ANN401 - IFC entities
        own = place.is_a()
        for thing in things:
            if own == "IfcSpace":
                self.spaces[thing.id()] = place
            elif own == "IfcBuildingStorey":
                self.storeys[thing.id()] = plain(place.Name)

    def _group_all(self) -> None:
        """Note each thing's systems, its own first, then those that these are parts of."""
        names = {g.id(): _name_of_system(g) for g in self.model.by_type("IfcSystem")}
        within: dict[int, list[int]] = defaultdict(list)
        for relation in self.model.by_type("IfcRelAssignsToGroup"):
            group = relation.RelatingGroup
            if group is not None and group.id() in names:
                for thing in filter(None, relation.RelatedObjects or ()):
                    within[thing.id()].append(group.id())
        for kind in ("IfcRelAggregates", "IfcRelNests"):
            for relation in self.model.by_type(kind):
                if relation[4] is not None and relation[4].id() in names:
                    for thing in filter(None, relation[5] or ()):
                        within[thing.id()].append(relation[4].id())
        for thing in set(within) - names.keys():
            found: dict[int, None] = {}
            here = sorted(within[thing], key=names.__getitem__)
            while here:  # a ring of systems ends where it began
                found |= dict.fromkeys(here)
                above = [w for group in here for w in within.get(group, ()) if w not in found]
                here = sorted(set(above), key=names.__getitem__)
            self.systems[thing] = list(dict.fromkeys(names[group] for group in found))

    def _cover(self, relation: Any) -> None:  # noqa: ANN401 - an IFC entity
        coverings = filter(None, relation.RelatedCoverings or ())
        kinds = {str(covering.PredefinedType) for covering in coverings}
        if relation.RelatingBuildingElement is not None and kinds & {
            "INSULATION",
            "SLEEVING",
            "WRAPPING",
        }:
            self.insulated.add(relation.RelatingBuildingElement.id())

    def values(self, element: Any) -> dict[str, Value]:  # noqa: ANN401 - an IFC element
        """Give an element's properties and quantities by name, in small letters without spaces.

        Those of the element stand over those of its type, and properties over quantities.
        """
        key = element.id()
        found: dict[str, Value] = {}
        kind = self.types.get(key)
        if kind is not None:
            found |= self._type_values(kind)
        sets = self._sets.get(key, ())
        for quantities in (True, False):
            for definition in sets:
                if definition.is_a("IfcElementQuantity") is quantities:
                    found |= self._definition(definition)
        return found

    def _type_values(self, kind: Any) -> dict[str, Value]:  # noqa: ANN401 - an IFC type
        key = kind.id()
        if key not in self._of_type:
            found: dict[str, Value] = {}
            for definition in kind.HasPropertySets or ():
                found |= self._definition(definition)
            # A type's length is that of the stock, not of the piece that was cut from it.
            found.pop("length", None)
            self._of_type[key] = {n: (v, f"{o} of the type") for n, (v, o) in found.items()}
        return self._of_type[key]

    def _definition(self, definition: Any) -> dict[str, Value]:  # noqa: ANN401 - an IFC set
        key = definition.id()
        if key not in self._read:
            self._read[key] = dict(self._items(definition))
        return self._read[key]

    def _items(self, definition: Any) -> Any:  # noqa: ANN401 - pairs of a name and a Value
        if definition.is_a("IfcElementQuantity"):
            for quantity in definition.Quantities:
                if quantity.is_a("IfcQuantityLength"):
                    number = float(quantity[3]) * self._unit(quantity.Unit)
                    yield _key(quantity.Name), (number, "quantity")
                elif quantity.is_a("IfcPhysicalSimpleQuantity") and quantity.Unit is None:
                    yield _key(quantity.Name), (float(quantity[3]), "quantity")
        elif definition.is_a("IfcPropertySet"):
            for item in definition.HasProperties:
                value = self._property(item)
                if value is not None:
                    yield _key(item.Name), (value, "property")

    def _property(self, item: Any) -> object:  # noqa: ANN401 - an IFC property
        if item.is_a("IfcPropertySingleValue"):
            value = item.NominalValue
        elif item.is_a("IfcPropertyEnumeratedValue"):
            value = (item.EnumerationValues or (None,))[0]
        elif item.is_a("IfcPropertyBoundedValue"):
            value = getattr(item, "SetPointValue", None)
            low, high = item.LowerBoundValue, item.UpperBoundValue
            if value is None and None not in (low, high) and low[0] == high[0]:
                value = low
        else:
            return None
        if value is None:
            return None
        if value.is_a() in _LENGTHS:
            return float(value[0]) * self._unit(getattr(item, "Unit", None))
        given: object = value[0]
        return given if isinstance(given, str | bool) else None

    def _unit(self, unit: Any) -> float:  # noqa: ANN401 - an IFC unit
        if unit is None:
            return self.scale
        from ifcopenshell.util.unit import get_unit_scale  # noqa: PLC0415 - an optional extra

        return float(get_unit_scale(unit))

    def measure(self, unit: str) -> float:
        """Give the model's unit of area ("m2") or volume ("m3") in SI; of its length unit if none.

        An area or volume unit that the model states stands over its length unit.
        """
        from ifcopenshell.util.unit import get_unit_scale  # noqa: PLC0415 - an optional extra

        wanted = {"m2": ("AREAUNIT", 2), "m3": ("VOLUMEUNIT", 3)}[unit]
        for assignment in self.model.by_type("IfcUnitAssignment"):
            for given in assignment.Units:
                if getattr(given, "UnitType", None) == wanted[0]:
                    return float(get_unit_scale(given))
        return float(self.scale ** wanted[1])

    def material(self, element: Any) -> Value | None:  # noqa: ANN401 - an IFC element
        """Give the name of an element's material, or of its type's."""
        kind = self.types.get(element.id())
        for thing, origin in ((element, "material"), (kind, "material of the type")):
            given = None if thing is None else self._materials.get(thing.id())
            name = "" if given is None else self._name_of(given)
            if name:
                return name, origin
        return None

    def _name_of(self, given: Any) -> str:  # noqa: ANN401 - any material definition
        key = given.id()
        if key not in self._names:
            self._names[key] = _material_name(given, 0, [_MOST_MATERIALS])
        return self._names[key]

    def material_profile(self, element: Any) -> Any:  # noqa: ANN401 - an IFC profile or None
        """Give the profile of an element's material profile set."""
        kind = self.types.get(element.id())
        for thing in (element, kind):
            given = None if thing is None else self._materials.get(thing.id())
            if given is not None and given.is_a("IfcMaterialProfileSetUsage"):
                given = given.ForProfileSet
            if given is not None and given.is_a("IfcMaterialProfileSet"):
                return given.MaterialProfiles[0].Profile
        return None


def _name_of_system(group: Any) -> str:  # noqa: ANN401 - an IfcSystem
    return plain(group.Name) or plain(group.GlobalId) or "system"


def _things(relation: Any) -> list[Any]:  # noqa: ANN401 - an IFC relation
    """Give what a relation speaks of; nothing where an end of it names what is not there."""
    if relation[5] is None:
        return []
    return [thing for thing in relation[4] or () if thing is not None]


def _key(name: object) -> str:
    return "".join(c for c in str(name).lower() if c.isalnum())


def _material_name(given: Any, depth: int, left: list[int]) -> str:  # noqa: ANN401 - any of them
    """Find the name of the one material that a definition speaks of. left: how many to look at."""
    left[0] -= 1
    if depth > _DEEPEST or left[0] < 0:
        return ""
    if given.is_a("IfcMaterial"):
        return plain(given.Name)
    inner: list[Any] = []
    for attribute in (
        *("ForProfileSet", "MaterialProfiles", "ForLayerSet", "MaterialLayers"),
        *("MaterialConstituents", "Materials", "Material"),
    ):
        found = getattr(given, attribute, None)
        if found is not None:
            inner += found if isinstance(found, tuple) else [found]
    names = {name for part in inner if (name := _material_name(part, depth + 1, left))}
    return names.pop() if len(names) == 1 else ""
