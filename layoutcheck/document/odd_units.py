"""Values in units of the other system: a few among many of one are asked about, once."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

from layoutcheck.document.faults import shown
from layoutcheck.quantities import UnitSystem

# One value stands out among at least so many, more up to one in so many. Own choices, common
# practice with no published source.
ONE_IN = 10
AMONG = 5

# Fields that hold quantities whose units belong to a system. A nominal size is a name: metric
# buildings have pipe of 2 in, and importers write NPS.
_WORDS = (
    "elevation outside_diameter wall_thickness length clear_space water_temperature "
    "pressure_rating station body shutoff_head volume level pressure start end jacket scale "
    "floor_area height ventilation flood_depth bottom top mass_each storage_temperature "
    "air_temperature"
)
_FIELDS = frozenset(_WORDS.split())
# Of these, what readers of models and drawings write, all in one system: people write the rest.
_READ = frozenset(["elevation", "outside_diameter", "wall_thickness", "length", "station", "body"])
_IMPERIAL = re.compile(
    r"(?:['\"]|(?:^|[^a-z])(?:ft|in|feet|foot|inch|inches|psi|lbs?|oz|pounds?|ounces?|gals?|"
    r"gallons?|cfm|gpm|deg ?f|fahrenheit|f)(?:[^a-z]|$))",
    re.IGNORECASE,
)
_METRIC = re.compile(
    r"(?:(?:^|[^a-z])(?:m|mm|cm|met(?:re|er)s?|k?pa|mpa|m?bar|kg|g|tonnes?|l|ml|lit(?:re|er)s?|"
    r"deg ?c|celsius|c)(?:[^a-z]|$))",
    re.IGNORECASE,
)


@lru_cache(4096)
def system_of(text: str) -> UnitSystem | None:
    """Give the system that the unit of a quantity's text belongs to; None for kelvins and such."""
    if _IMPERIAL.search(text):
        return UnitSystem.IMPERIAL
    return UnitSystem.METRIC if _METRIC.search(text) else None


def odd_units(data: Mapping[str, Any]) -> tuple[str, ...]:
    """Give a few values in one system among many in the other, with what each is of, in order.

    What was read of a model, and what people wrote beside it, are looked at on their own: one who
    thinks in psi has not slipped where the model's lengths are in metres.
    """
    read: list[tuple[str, str, str]] = []
    said: list[tuple[str, str, str]] = []
    for key, value in data.items():
        of_a_model = _of_a_model(value)
        for found in _quantities({key: value}, ""):
            (read if of_a_model and found[1] in _READ else said).append(found)
    return tuple(sorted([*_odd(read), *_odd(said)]))


def _of_a_model(elements: object) -> bool:
    """Tell whether a list holds elements that a reader took from a model."""
    return isinstance(elements, list) and any(
        isinstance(e, Mapping) and "ref" in e for e in elements
    )


def _odd(quantities: list[tuple[str, str, str]]) -> list[str]:
    found: dict[UnitSystem, list[str]] = {UnitSystem.IMPERIAL: [], UnitSystem.METRIC: []}
    for owner, field, text in quantities:
        system = system_of(text)
        if system is not None:
            found[system].append(f"{owner} {field} {shown(text, 40)}".lstrip())
    few, many = sorted(found.values(), key=len)
    count = len(few) + len(many)
    return [] if count < AMONG or len(few) > max(1, count // ONE_IN) else few


def _quantities(value: object, owner: str) -> Iterator[tuple[str, str, str]]:
    """Give every quantity: the id of what it is of (else where it stands), its field, its text."""
    if isinstance(value, Mapping):
        owner = str(value.get("id") or value.get("coolant") or owner)
        for key, inner in value.items():
            if key in _FIELDS and isinstance(inner, str):
                yield owner, key, inner
            elif isinstance(inner, Mapping | list):
                yield from _quantities(inner, str(key))
    elif isinstance(value, list):
        for inner in value:
            yield from _quantities(inner, owner)
