"""Size, material, wall and length of a pipe: from properties, quantities, profiles or geometry."""

from __future__ import annotations

import re
from dataclasses import dataclass

from layoutcheck.importers.draft import Draft, metres, rounded
from layoutcheck.importers.ifc.facts import Value
from layoutcheck.importers.ifc.parts import Part
from layoutcheck.importers.sizing import (
    Sized,
    has_usual_wall,
    size_of_bore,
    size_of_nominal,
    size_of_outside,
)
from layoutcheck.quantities import (
    Material,
    QuantityError,
    parse_length,
    parse_material,
    parse_size,
)
from layoutcheck.quantities.names import NO_NAMES, Names, small

_NOMINAL = ("nominaldiameter", "nominalsize", "nominaldiametre", "size", "dn", "nps")
_OUTSIDE = ("outerdiameter", "outsidediameter", "externaldiameter")
_INSIDE = ("innerdiameter", "insidediameter", "internaldiameter")
_LENGTH = ("length",)
_MATERIAL = ("material", "pipematerial")
# Lengths that differ by less (m) are one: what a program rounds a quantity to.
_READING = 1e-3
# Words that name one material wherever they stand in a name; longer ones are tried first.
_WORDS = tuple(
    sorted(
        (
            *("carbon steel", "black steel", "mild steel", "galvanized steel", "galvanised steel"),
            *("galvanized", "galvanised", "stainless steel", "stainless", "copper", "cast iron"),
            *("ductile iron", "cpvc", "upvc", "pvc", "pex", "hdpe", "polyethylene"),
        ),
        key=len,
        reverse=True,
    )
)


@dataclass(frozen=True)
class Spec:
    """What a pipe is made as. size is None where nothing tells it; diameters in m."""

    size: str | None
    material: str
    outside: float | None = None
    wall: float | None = None

    def fields(self) -> dict[str, object]:
        """Write the fields of a pipe; what is not known is left out, and is asked about."""
        made: dict[str, object] = {"size": self.size, "material": self.material}
        if self.outside is not None and self.wall is not None:
            made |= {"outside_diameter": metres(self.outside), "wall_thickness": metres(self.wall)}
        return made


def spec_of(part: Part, draft: Draft) -> Spec:
    """Read a pipe's size, material and wall; where each came from is noted under its name."""
    material = _material(part, draft)
    outside, inside = _diameters(part, draft)
    wall = None
    if outside is not None and inside is not None and 0.0 < inside < outside:
        wall = (outside - inside) / 2
    size = _size(part, draft, material, outside, inside)
    if wall is None:
        material = _with_known_wall(part, draft, size, material)
        return Spec(size, material.value)
    return Spec(size, material.value, rounded(outside or 0.0), rounded(wall))


def _first(values: dict[str, Value], names: tuple[str, ...]) -> Value | None:
    return next((values[n] for n in names if n in values), None)


def _material(part: Part, draft: Draft) -> Material:
    for given in (_first(part.values, _MATERIAL), part.material):
        if given is None or not isinstance(given[0], str) or not given[0].strip():
            continue
        found = material_named(given[0], draft.names)
        if found is Material.UNKNOWN:
            draft.gap(f"A material that is not known: {given[0]!a}", part.name)
        else:
            draft.origin("material", given[1], part.name)
        return found
    draft.gap("No material", part.name)
    return Material.UNKNOWN


def material_named(text: str, names: Names = NO_NAMES) -> Material:
    """Find the material that a name speaks of; unknown where it names none, or more than one."""
    try:
        return parse_material(names.materials.get(small(text), text))
    except QuantityError:
        pass
    spoken = text.lower()
    found: set[Material] = set()
    for words in _WORDS:
        if re.search(rf"(?<![a-z]){re.escape(words)}(?![a-z])", spoken):
            found.add(parse_material(words))
            spoken = spoken.replace(words, " ")
    return found.pop() if len(found) == 1 and "lined" not in spoken else Material.UNKNOWN


def _diameters(part: Part, draft: Draft) -> tuple[float | None, float | None]:
    """Give the outside and the inside diameter (m) where both come from one kind of place."""
    stated = [_length_of(_first(part.values, names)) for names in (_OUTSIDE, _INSIDE)]
    if any(s is not None for s in stated):
        origin = (_first(part.values, _OUTSIDE) or _first(part.values, _INSIDE) or ("", ""))[1]
        draft.origin("diameter", origin, part.name)
        return stated[0], stated[1]
    profile = part.profile
    if profile is not None and profile.is_a("IfcCircleHollowProfileDef") and part.scale:
        outside = 2 * float(profile.Radius) * part.scale
        draft.origin("diameter", "material profile", part.name)
        return outside, outside - 2 * float(profile.WallThickness) * part.scale
    if part.body.outside is not None:
        draft.origin("diameter", "profile of the body", part.name)
    return part.body.outside, part.body.inside


def _length_of(given: Value | None) -> float | None:
    """Give a stated length (m): a measure, or a text with its unit."""
    if given is None:
        return None
    if isinstance(given[0], float):
        return given[0] if given[0] > 0.0 else None
    try:
        return parse_length(given[0]) or None
    except QuantityError:
        return None


def _size(
    part: Part, draft: Draft, material: Material, outside: float | None, inside: float | None
) -> str | None:
    given = _first(part.values, _NOMINAL)
    found: Sized | None = None
    origin = "diameter"
    if given is not None:
        origin = given[1]
        found = _named_size(given, draft.names)
    if found is None and outside is not None:
        origin, found = "outside diameter", size_of_outside(rounded(outside), material)
    if found is None and inside is not None:
        origin, found = "bore", size_of_bore(rounded(inside), material)
    if found is None:
        draft.gap("No size and no diameter", part.name)
        return None
    draft.origin("size", origin, part.name)
    if not found.fits:
        draft.gap("The diameter is that of no usual size: the size is left out", part.name)
        return None
    return found.size


def _named_size(given: Value, names: Names) -> Sized | None:
    if isinstance(given[0], str):
        try:
            return Sized(parse_size(names.sizes.get(small(given[0]), given[0])).text, fits=True)
        except QuantityError:
            pass
    stated = _length_of(given)
    return None if stated is None else size_of_nominal(stated)


def _with_known_wall(part: Part, draft: Draft, size: str | None, material: Material) -> Material:
    """Keep a material only where its usual wall is known: else no dimensions could be told."""
    if size is None or has_usual_wall(parse_size(size), material):
        return material
    says = f"No wall is given, and {material.value} has no usual one: read as of unknown material"
    draft.gap(says, part.name)
    return Material.UNKNOWN


def stated_length(part: Part) -> float | None:
    """Give the length (m) that the model states of a pipe; None where it states none."""
    return _length_of(_first(part.values, _LENGTH))


def contradicts(stated: float, line: float) -> bool:
    """Tell whether a stated length and that of a pipe's line (m) can not be one pipe's."""
    return abs(stated - line) > 0.05 * line + 0.05


def length_of(part: Part, line: float, draft: Draft) -> float:
    """Give a pipe's length (m) in a model to scale: the shorter of what is stated and its line.

    line: the length of its bare line (m). Short distances are the unsafe side.
    """
    stated = stated_length(part)
    if stated is not None and contradicts(stated, line):
        says = "Stated to be longer than its ends lie apart; the shorter length is taken"
        if stated < line:
            says = "Stated to be shorter than its ends lie apart; the shorter length is taken"
        draft.gap(says, part.name)
    origin = part.body.origin if part.body.path else "distance of its ports"
    if stated is not None and stated < line - _READING:
        origin, line = part.values["length"][1], stated
    draft.origin("length", origin, part.name)
    return line
