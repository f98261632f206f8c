"""Names of materials and walls in other tongues and standards: a table (TOML) that may be added to.

What a user adds holds for the running program, beside the built-in names and never against them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

_BUILT_IN = Path(__file__).with_name("names.toml")
_MM = 0.001


@dataclass(frozen=True)
class NamedWall:
    """One series of walls. rows: DN -> outside diameter and wall (m)."""

    name: str
    materials: frozenset[str]
    rows: Mapping[int, tuple[float, float]]


@dataclass(frozen=True)
class Names:
    """What a table holds, by name in small letters, single spaces.

    sizes: the nominal size that a name stands for.
    """

    materials: Mapping[str, str]
    walls: Mapping[str, NamedWall]
    sizes: Mapping[str, str]


NO_NAMES = Names({}, {}, {})


def small(text: str) -> str:
    """Write a name as the table has it: small letters, single spaces, and none for '_'."""
    return " ".join(text.casefold().replace("_", " ").split())


@cache
def built_in_names() -> Names:
    """Give the built-in table."""
    return names_of(tomllib.loads(_BUILT_IN.read_text(encoding="utf-8")))


def names_of(data: Mapping[str, Any]) -> Names:
    """Read a table. Raises ValueError where a row is no DN, outside diameter and wall."""
    materials, sizes = (
        {small(name): own for own, names in data.get(table, {}).items() for name in names}
        for table in ("materials", "sizes")
    )
    walls: dict[str, NamedWall] = {}
    for own, row in data.get("walls", {}).items():
        rows = {int(dn): (od * _MM, wall * _MM) for dn, od, wall in row["rows"]}
        made = NamedWall(own, frozenset(row["materials"]), rows)
        walls |= {small(name): made for name in (own, *row.get("names", ()))}
    return Names(materials, walls, sizes)
