"""The outside diameter and wall of a pipe, from its nominal size, material and wall name."""

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from math import isfinite
from pathlib import Path
from types import MappingProxyType

from layoutcheck.quantities.errors import QuantityError, shown
from layoutcheck.quantities.materials import Material
from layoutcheck.quantities.names import built_in_names, small
from layoutcheck.quantities.pipe_tables import (
    B88_EXTRA_DIAMETER,
    B88_WALLS,
    C151_DIAMETERS,
    C151_WALLS,
)
from layoutcheck.quantities.sizes import NominalSize, SizeSeries

INCH = 0.0254
MAX_WALL_TEXT = 40
EXPLICIT_EXAMPLE = "outside diameter 2.375 in, wall 0.154 in"


@dataclass(frozen=True)
class PipeDimensions:
    """Nominal dimensions of a pipe, all lengths in m.

    Attributes:
        outside_diameter: Outside diameter, m.
        inside_diameter: Bore, m, without lining or deposits.
        wall: Wall thickness, m.
        standard: Where the dimensions come from.
        wall_name: The wall as named there; it ends in "(assumed)" when the document names none.
    """

    outside_diameter: float
    inside_diameter: float
    wall: float
    standard: str
    wall_name: str


@dataclass(frozen=True)
class _Family:
    """One way to name walls for a group of materials."""

    standard: str
    default: str | None
    find: Callable[[NominalSize, str], PipeDimensions]
    example: str


def pipe_dimensions(size: NominalSize, material: Material, wall: str | None) -> PipeDimensions:
    """Return the nominal dimensions of a pipe.

    Args:
        size: Nominal size.
        material: Pipe material.
        wall: "sch 40", "STD", "10S", "type L", "class 350", "DR 11" and the like; None to take the
            material's usual wall, which the result then marks as assumed.

    Returns:
        Dimensions in m.

    Raises:
        QuantityError: If no table here holds such a pipe. The document must then state the outside
            diameter and the wall.
    """
    if wall is not None and len(wall) > MAX_WALL_TEXT:
        raise QuantityError(shown(wall), "the name of the wall is too long", "sch 40")
    return _dimensions(size, material, wall)


def explicit_dimensions(outside_diameter: float, wall: float) -> PipeDimensions:
    """Return dimensions stated outright.

    Args:
        outside_diameter: Outside diameter, m.
        wall: Wall thickness, m.

    Returns:
        Dimensions in m.

    Raises:
        QuantityError: If a value is not above zero, or the wall leaves no bore.
    """
    found = f"outside diameter {outside_diameter} m, wall {wall} m"
    if not (isfinite(outside_diameter) and isfinite(wall) and outside_diameter > 0 and wall > 0):
        problem = "the outside diameter and the wall must both be above zero"
        raise QuantityError(found, problem, EXPLICIT_EXAMPLE)
    if 2 * wall >= outside_diameter:
        raise QuantityError(found, "the wall leaves no bore", EXPLICIT_EXAMPLE)
    bore = outside_diameter - 2 * wall
    return PipeDimensions(outside_diameter, bore, wall, "stated in the document", "stated")


@lru_cache(1024)
def _dimensions(size: NominalSize, material: Material, wall: str | None) -> PipeDimensions:
    family = _FAMILIES.get(material)
    if family is None:
        problem = f"no table of {material.value} pipe is held, state the outside diameter and wall"
        raise QuantityError(size.text, problem, EXPLICIT_EXAMPLE)
    if size.series is SizeSeries.TUBE and material is not Material.COPPER:
        problem = f"a copper tube size can not be {material.value}"
        raise QuantityError(size.text, problem, f"NPS {size.text.split(' in ')[0]}")
    if wall is not None:
        return _national(size, material, wall) or family.find(size, wall)
    if family.default is None:
        problem = f"{material.value} pipe has no usual wall, name it"
        raise QuantityError(f"{size.text} without a wall", problem, family.example)
    found = family.find(size, family.default)
    return PipeDimensions(
        found.outside_diameter,
        found.inside_diameter,
        found.wall,
        found.standard,
        f"{found.wall_name} (assumed)",
    )


def _national(size: NominalSize, material: Material, wall: str) -> PipeDimensions | None:
    """Find a pipe in the table of national walls: 'EN 10255 M', 'DIN 2440'."""
    named = built_in_names().walls.get(small(wall))
    if named is None or material.value not in named.materials:
        return None
    row = named.rows.get(size.dn)
    if row is None:
        made = ", ".join(f"DN {dn}" for dn in named.rows)
        problem = f"{named.name} as held here is not made in this size, the sizes are {made}"
        raise QuantityError(f"{size.text}, wall {shown(wall)}", problem, "DN 50")
    outside, thick = row
    return PipeDimensions(outside, outside - 2 * thick, thick, named.name, named.name)


def _refuse(
    size: NominalSize, wall: str, *, standard: str, names: str, example: str
) -> QuantityError:
    problem = f"{standard} as held here has no such wall in this size, the walls are {names}"
    return QuantityError(f"{size.text}, wall {shown(wall)}", problem, example)


# --- schedules and dimension ratios, kept from the tables of the fluids library -------------------

_B36_10 = "ASME B36.10M"
_B36_19 = "ASME B36.19M"
# Our name of the wall: the library's key and the standard that the key stands for.
_STEEL = {
    name: (name, _B36_10)
    for name in (
        *("5", "10", "20", "30", "40", "60", "80", "100", "120", "140", "160"),
        *("STD", "XS", "XXS"),
    )
}
_STAINLESS = {**_STEEL, **{name: (name, _B36_19) for name in ("5S", "10S", "40S", "80S")}}
_PVC = {name: (f"{name}D1785", "ASTM D1785") for name in ("40", "80", "120")}
_CPVC = {name: (f"S{name}F441IPS", "ASTM F441") for name in ("40", "80")}
_HDPE = {
    name: (f"DR{key}F2619IPS", "ASTM F2619")
    for name, key in (
        *(("7", "7"), ("7.3", "73"), ("9", "9"), ("11", "11"), ("13.5", "135")),
        *(("17", "17"), ("21", "21"), ("26", "26"), ("32.5", "325")),
    )
}
SCHEDULES = tuple(
    sorted({key for kind in (_STAINLESS, _PVC, _CPVC, _HDPE) for key, _ in kind.values()})
)
"""The library's keys of what is kept."""
TABLE = Path(__file__).with_name("pipe_schedules.json")

_WORDS = {"STANDARD": "STD", "EXTRASTRONG": "XS", "XH": "XS", "DOUBLEEXTRASTRONG": "XXS"}
_SCHEDULE = re.compile(r"(?:SCHEDULE|SCH)?\.?([0-9A-Z]+)")
_RATIO = re.compile(r"S?DR([0-9.]+)")


def _key(wall: str, pattern: re.Pattern[str]) -> str | None:
    """Return the part of a wall's name that tells it apart, in capitals."""
    match = pattern.fullmatch("".join(wall.upper().split()))
    return None if match is None else _WORDS.get(match[1], match[1])


def _schedules(
    walls: Mapping[str, tuple[str, str]], pattern: re.Pattern[str], form: str, note: str = ""
) -> Callable[[NominalSize, str], PipeDimensions]:
    """Return a finder over the tables kept."""

    def find(size: NominalSize, wall: str) -> PipeDimensions:
        key = _key(wall, pattern)
        library_key, standard = walls.get(key or "", ("", ""))
        dimensions = _from_library(size, library_key) if library_key else None
        if key is None or dimensions is None:
            made = [name for name, row in walls.items() if _from_library(size, row[0])]
            raise _refuse(
                size,
                wall,
                standard=" and ".join(dict.fromkeys(row[1] for row in walls.values())),
                names=", ".join(made) or "none",
                example=form.format(made[0] if made else "40"),
            )
        name = key if key.isalpha() else form.format(key)
        outside, bore, thickness = dimensions
        return PipeDimensions(outside, bore, thickness, standard + note, name)

    return find


def _from_library(size: NominalSize, library_key: str) -> tuple[float, float, float] | None:
    """Return outside diameter, bore and wall in m, or None where the size is not made."""
    return _kept().get(library_key, {}).get(size.inches)


@cache
def _kept() -> dict[str, dict[float, tuple[float, float, float]]]:
    """Read the table, once."""
    rows = json.loads(TABLE.read_text(encoding="utf-8"))
    return {
        key: {float(inches): tuple(row) for inches, row in rows[key].items()} for key in SCHEDULES
    }


# --- tables of our own ----------------------------------------------------------------------------

_TUBE_TYPE = re.compile(r"(?:TYPE)?-?([KLM])")
_IRON_CLASS = re.compile(r"(?:PRESSURE)?(?:CLASS|PC|CL)?\.?([0-9]+)")


def _copper(size: NominalSize, wall: str) -> PipeDimensions:
    key = _key(wall, _TUBE_TYPE)
    thickness = B88_WALLS.get(key or "", {}).get(size.inches)
    if key is None or thickness is None:
        made = [f"type {name}" for name, walls in B88_WALLS.items() if size.inches in walls]
        names = ", ".join(made) or "none"
        raise _refuse(size, wall, standard="ASTM B88", names=names, example="type L")
    return _inches(size.inches + B88_EXTRA_DIAMETER, thickness, "ASTM B88", f"type {key}")


def _ductile(size: NominalSize, wall: str) -> PipeDimensions:
    key = _key(wall, _IRON_CLASS)
    thickness = C151_WALLS.get(key or "", {}).get(size.inches)
    if key is None or thickness is None:
        made = [f"class {name}" for name, walls in C151_WALLS.items() if size.inches in walls]
        names = ", ".join(made) or "none"
        raise _refuse(size, wall, standard="AWWA C151", names=names, example="class 350")
    standard = "AWWA C151, lining not counted"
    return _inches(C151_DIAMETERS[size.inches], thickness, standard, f"class {key}")


def _inches(outside: float, wall: float, standard: str, name: str) -> PipeDimensions:
    """Return dimensions given in inches."""
    bore = (outside - 2 * wall) * INCH
    return PipeDimensions(outside * INCH, bore, wall * INCH, standard, name)


def _steel(note: str = "") -> _Family:
    return _Family(_B36_10, "sch 40", _schedules(_STEEL, _SCHEDULE, "sch {}", note), "sch 40")


# Cast iron and PEX are absent: no table of them was read in a published source.
_FAMILIES: Mapping[Material, _Family] = MappingProxyType(
    {
        Material.CARBON_STEEL: _steel(),
        Material.GALVANIZED_STEEL: _steel(),
        Material.LINED_STEEL: _steel(", lining not counted"),
        Material.UNKNOWN: _steel(", material not known"),
        Material.STAINLESS_STEEL: _Family(
            _B36_19, "sch 40S", _schedules(_STAINLESS, _SCHEDULE, "sch {}"), "sch 40S"
        ),
        Material.COPPER: _Family("ASTM B88", "type L", _copper, "type L"),
        Material.DUCTILE_IRON: _Family("AWWA C151", "class 350", _ductile, "class 350"),
        Material.PVC: _Family(
            "ASTM D1785", "sch 40", _schedules(_PVC, _SCHEDULE, "sch {}"), "sch 40"
        ),
        # CPVC is sold in iron pipe sizes and in copper tube sizes: no wall may be assumed.
        Material.CPVC: _Family("ASTM F441", None, _schedules(_CPVC, _SCHEDULE, "sch {}"), "sch 80"),
        Material.HDPE: _Family("ASTM F2619", None, _schedules(_HDPE, _RATIO, "DR {}"), "DR 11"),
    }
)
