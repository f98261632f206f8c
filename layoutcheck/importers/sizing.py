"""The nominal size of a pipe of which a model gives diameters only."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from functools import lru_cache

from layoutcheck.quantities import Material, NominalSize, QuantityError, parse_size, pipe_dimensions
from layoutcheck.quantities.sizes import NPS_TO_DN, mixed

INCH = 0.0254
# A nominal size is a name: a stated diameter that lies within this share of it is taken as it.
_NEAR = 0.04


@dataclass(frozen=True)
class Sized:
    """A nominal size as text, and whether it fits the diameter it was read from."""

    size: str
    fits: bool


def size_of_nominal(diameter: float) -> Sized:
    """Name the nominal size of a nominal diameter (m): 0.05 is DN 50, 0.0508 is NPS 2."""
    choices = _nominal()
    found = _nearest([c[0] for c in choices], diameter)
    value, name = choices[found]
    return Sized(name, abs(value - diameter) <= _NEAR * value)


@lru_cache(maxsize=4096)
def size_of_outside(outside: float, material: Material) -> Sized:
    """Name the nominal size whose outside diameter (m) is nearest in the material's table."""
    choices = _outsides(material) or _outsides(Material.CARBON_STEEL)
    value, name = choices[_nearest([c[0] for c in choices], outside)]
    return Sized(name, abs(value - outside) <= _NEAR * value)


@lru_cache(maxsize=4096)
def size_of_bore(bore: float, material: Material = Material.UNKNOWN) -> Sized:
    """Name the nominal size whose bore (m) with the usual wall is nearest."""
    choices = _bores(material) or _bores(Material.CARBON_STEEL)
    value, name = choices[_nearest([c[0] for c in choices], bore)]
    return Sized(name, abs(value - bore) <= 3 * _NEAR * value)


def larger(one: str, two: str) -> str:
    """Give the larger of two sizes: what is not known is taken on the side that asks for more."""
    return max((one, two), key=lambda text: parse_size(text).inches)


def has_usual_wall(size: NominalSize, material: Material) -> bool:
    """Tell whether a pipe's dimensions are known without its wall being stated."""
    try:
        pipe_dimensions(size, material, None)
    except QuantityError:
        return False
    return True


def _nearest(values: list[float], wanted: float) -> int:
    index = bisect_left(values, wanted)
    near = [i for i in (index - 1, index) if 0 <= i < len(values)]
    return min(near, key=lambda i: abs(values[i] - wanted))


@lru_cache(maxsize=1)
def _nominal() -> tuple[tuple[float, str], ...]:
    rows = [(dn / 1000, f"DN {dn}") for dn in NPS_TO_DN.values()]
    rows += [(float(inches) * INCH, f"NPS {mixed(inches)}") for inches in NPS_TO_DN]
    return tuple(sorted(rows))


@lru_cache(maxsize=32)
def _outsides(material: Material) -> tuple[tuple[float, str], ...]:
    return tuple(sorted((d[0], name) for name, d in _table(material).items()))


@lru_cache(maxsize=32)
def _bores(material: Material) -> tuple[tuple[float, str], ...]:
    return tuple(sorted((d[1], name) for name, d in _table(material).items()))


@lru_cache(maxsize=32)
def _table(material: Material) -> dict[str, tuple[float, float]]:
    made = {}
    for inches in NPS_TO_DN:
        name = f"NPS {mixed(inches)}"
        try:
            found = pipe_dimensions(parse_size(name), material, None)
        except QuantityError:
            continue
        made[name] = (found.outside_diameter, found.inside_diameter)
    return made
