"""Names of materials and walls in other tongues and standards: a table (TOML) that may be added to.

What a user adds holds for the running program, beside the built-in names and never against them.
"""

from __future__ import annotations

import tomllib
import unicodedata
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

    sizes: the nominal size that a name stands for. valves: the kind that a word within a name
    tells, the first that fits.
    """

    materials: Mapping[str, str]
    walls: Mapping[str, NamedWall]
    sizes: Mapping[str, str]
    valves: Mapping[str, str]


NO_NAMES = Names({}, {}, {}, {})
_SPELT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})


def valve_word(text: str, own: Names = NO_NAMES) -> str | None:
    """Give the kind of valve that a name speaks of; None where it tells none.

    own: a user's names, that come first.
    """
    spoken = unaccented(text)
    known = (*own.valves.items(), *built_in_names().valves.items())
    return next((kind for word, kind in known if word in spoken), None)


def unaccented(text: str) -> str:
    """Write a name in small letters without accents; 'ü' and 'ue' are one."""
    plain = unicodedata.normalize("NFKD", small(text).translate(_SPELT))
    return "".join(c for c in plain if not unicodedata.combining(c))


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
    valves = {
        unaccented(word): kind for kind, words in data.get("valves", {}).items() for word in words
    }
    return Names(materials, walls, sizes, valves)
