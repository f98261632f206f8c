"""A user's own names (TOML) of materials, sizes, walls and kinds of valves.

    [materials]
    "galvanized steel" = ["Gewinderohr Werk Nord"]
    [sizes]
    "DN 50" = ["2 Zoll schwer"]
    [valves]
    "check" = ["Ventil Werk Nord K"]  # words within a valve's name
    [walls."Werk Nord S"]
    materials = ["galvanized steel"]
    rows = [[50, 60.3, 3.6]]  # DN, outside diameter and wall in mm

They hold for one import, beside the built-in names and never against them.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from typing import Annotated

from pydantic import Field, ValidationError

from layoutcheck.document.faults import Fault, LayoutFaults, at_most, pointer_to, shown
from layoutcheck.document.fields import MaterialName
from layoutcheck.document.models import Strict, ValveKind
from layoutcheck.document.read import faults_of
from layoutcheck.document.tables import TextFault, read_toml
from layoutcheck.importers.draft import Document, metres, one_fault
from layoutcheck.quantities import Material, QuantityError, parse_material, parse_size
from layoutcheck.quantities.names import Names, names_of, small

EXAMPLE = (
    '[materials]\n"galvanized steel" = ["Stahl Werk Nord"]\n[sizes]\n"DN 50" = ["2 Zoll schwer"]\n'
    '[valves]\n"check" = ["Ventil Werk Nord K"]\n'
    '[walls."Werk Nord S"]\nmaterials = ["galvanized steel"]\nrows = [[50, 60.3, 3.6]]'
)

_Name = Annotated[str, Field(min_length=1, max_length=100)]
_Millimetres = Annotated[float, Field(strict=False, gt=0, le=10_000, allow_inf_nan=False)]


class _Wall(Strict):
    names: tuple[_Name, ...] = ()
    materials: tuple[MaterialName, ...]
    rows: tuple[tuple[int, _Millimetres, _Millimetres], ...]


class _Table(Strict):
    materials: dict[MaterialName, tuple[_Name, ...]] = Field(default_factory=dict)
    sizes: dict[str, tuple[_Name, ...]] = Field(default_factory=dict)
    walls: dict[str, _Wall] = Field(default_factory=dict)
    valves: dict[ValveKind, tuple[_Name, ...]] = Field(default_factory=dict)


# A right line for each table, and for each field of a wall.
_RIGHT = {
    "materials": '"galvanized steel" = ["Stahl Werk Nord"]',
    "sizes": '"DN 50" = ["2 Zoll schwer"]',
    "valves": '"check" = ["Ventil Werk Nord K"]',
    "walls": '[walls."Werk Nord S"]\nmaterials = ["galvanized steel"]\nrows = [[50, 60.3, 3.6]]',
}
_RIGHT_OF_WALL = {
    "names": 'names = ["schwer"]',
    "materials": 'materials = ["galvanized steel"]',
    "rows": "rows = [[50, 60.3, 3.6]]",
}


def read_names(text: str) -> Names:
    """Read a table of names. Raises LayoutFaults with every fault of it."""
    try:
        data = read_toml(text)
    except TextFault as error:
        raise one_fault(found="the names", problem=str(error), example=EXAMPLE) from None
    try:
        table = _Table.model_validate(data)
    except ValidationError as error:
        raise LayoutFaults(at_most([_mended(f) for f in faults_of(error, data)])) from None
    faults = [*_sizes_that_are_none(table), *_against_known(table), *_walls_that_are_none(table)]
    if faults:
        raise LayoutFaults(at_most(faults))
    return names_of(table.model_dump(mode="json"))


def _mended(fault: Fault) -> Fault:
    """Give a fault the line that is right where it stands."""
    where, *rest = fault.pointer.split("/")[1:]
    of_wall = where == "walls" and len(rest) > 1
    right, field = (_RIGHT_OF_WALL, rest[1]) if of_wall else (_RIGHT, where)
    near = difflib.get_close_matches(field, right, n=1, cutoff=0.0) or list(right)
    return fault.model_copy(update={"example": right[near[0]]})


def _sizes_that_are_none(table: _Table) -> Iterator[Fault]:
    for size in table.sizes:
        try:
            parse_size(size)
        except QuantityError as error:
            yield _fault(("sizes", size), size, error.problem, _RIGHT["sizes"])


def _against_known(table: _Table) -> Iterator[Fault]:
    """Find names that are known already as something else: they would be read two ways."""
    for material, names in table.materials.items():
        for name in names:
            known = _known_material(name)
            if known not in {None, material}:
                problem = f"is known already: it is {known}"
                yield _fault(("materials", material), name, problem, _RIGHT["materials"])
    for size, names in table.sizes.items():
        for name in names:
            found = _known_size(name)
            if found not in {None, _known_size(size)}:
                problem = "is a size already"
                yield _fault(("sizes", size), name, problem, _RIGHT["sizes"])


def _known_material(name: str) -> Material | None:
    try:
        return parse_material(name)
    except QuantityError:
        return None


def _known_size(name: str) -> float | None:
    try:
        return parse_size(name).inches
    except QuantityError:
        return None


def _walls_that_are_none(table: _Table) -> Iterator[Fault]:
    for name, wall in table.walls.items():
        for row in wall.rows:
            dn, outside, thick = row
            if _known_size(f"DN {dn}") is None:
                problem = f"DN {dn} is no nominal size"
            elif 2 * thick >= outside:
                problem = "leaves no bore: it is DN, outside diameter and wall in mm"
            else:
                continue
            yield _fault(("walls", name, "rows"), row, problem, _RIGHT_OF_WALL["rows"])


def _fault(where: tuple[str, ...], found: object, problem: str, example: str) -> Fault:
    return Fault(pointer=pointer_to(*where), found=shown(found), problem=problem, example=example)


def in_known_names(pipe: Document, names: Names) -> None:
    """Write a pipe's material, size and wall by known names where a user's own stand there."""
    for field, own in (("material", names.materials), ("size", names.sizes)):
        pipe |= _known(field, pipe.get(field), own)
    wall = names.walls.get(small(str(pipe.get("wall", ""))))
    if wall is None:
        return
    row = wall.rows.get(_dn(pipe.get("size")))
    if row is not None and pipe.get("material") in wall.materials:
        del pipe["wall"]
        pipe |= {"outside_diameter": metres(row[0]), "wall_thickness": metres(row[1])}


def _known(field: str, given: object, own: Mapping[str, str]) -> Document:
    found = own.get(small(given)) if isinstance(given, str) else None
    return {} if found is None else {field: found}


def _dn(size: object) -> int:
    try:
        return parse_size(size).dn
    except QuantityError:
        return 0
