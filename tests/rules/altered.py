"""Layouts with one statement changed: what the rules then say is kept, to notice any change of it.

A statement is taken away, a quantity made seven times as large, a yes turned into a no, a word into
another that the schema allows. Which ones is chosen by a fixed seed, a kind of statement being as
likely as any other. altered.json is pinned from our own runs: it proves nothing right, but no
branch of a rule changes its words or figures unnoticed. `python tests/refresh.py` writes it again.
"""

from __future__ import annotations

import copy
import json
import random
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from layoutcheck.document.faults import LayoutFaults
from layoutcheck.document.read import parse_layout
from layoutcheck.report.run import glance
from tests.rules import said
from tests.rules.test_cases import cases, document

FILE = Path(__file__).parent / "altered.json"
ROOT = Path(__file__).resolve().parents[2]
OF_A_SITE, OF_A_CASE = 40, 4
# Drawn points and names: to change them changes the drawing, which other tests look at.
UNTOUCHED = {"format", "name", "note", "id", "points", "point", "at", "outline"}
QUANTITY = re.compile(r"^(-?\d+(?:\.\d+)?) ([a-zA-Z].*)$")
Path_ = tuple[str | int, ...]


@cache
def words() -> dict[str, tuple[str, ...]]:
    """Give the words that the schema allows for each name of a statement."""
    schema = json.loads((ROOT / "shared/schemas/layout.schema.json").read_bytes())
    found: dict[str, set[str]] = defaultdict(set)

    def look(item: Any, name: str) -> None:
        if isinstance(item, list):
            for part in item:
                look(part, name)
        elif isinstance(item, dict):
            if "$ref" in item:
                item = schema["$defs"][item["$ref"].rpartition("/")[2]]
                item = {"enum": item.get("enum", ())}
            found[name] |= {w for w in item.get("enum", ()) if isinstance(w, str)}
            for key, part in item.get("properties", {}).items():
                look(part, key)
            for key in ("anyOf", "oneOf", "items", "allOf"):
                look(item.get(key), name)

    look(schema, "")
    for part in schema["$defs"].values():
        look(part, "")
    return {name: tuple(sorted(w)) for name, w in found.items() if w}


def statements(item: Any, path: Path_ = ()) -> Iterator[tuple[Path_, Any]]:
    """Give the path and value of each statement in a document."""
    if isinstance(item, dict):
        for key, part in item.items():
            if key not in UNTOUCHED:
                yield (*path, key), part
                yield from statements(part, (*path, key))
    elif isinstance(item, list):
        for at, part in enumerate(item):
            if isinstance(part, dict):
                yield (*path, at), part
                yield from statements(part, (*path, at))


def alterations(path: Path_, value: Any) -> list[tuple[str, Any]]:
    """Give what a statement may be changed to, with a word for each; None takes it away."""
    found: list[tuple[str, Any]] = [("away", None)]
    if isinstance(value, bool):
        found.append(("other", not value))
    elif isinstance(value, str):
        if quantity := QUANTITY.match(value):
            found.append(("x7", f"{7 * float(quantity[1]):g} {quantity[2]}"))
            found.append(("x0.3", f"{0.3 * float(quantity[1]):g} {quantity[2]}"))
        found += [(w, w) for w in words().get(str(path[-1]), ()) if w != value]
    return found


def chosen(data: dict[str, Any], count: int, seed: str) -> dict[str, dict[str, Any]]:
    """Give so many altered copies of a document, by name."""
    kinds: dict[Path_, list[tuple[Path_, Any]]] = defaultdict(list)
    for path, value in statements(data):
        kinds[tuple(p for p in path if isinstance(p, str))].append((path, value))
    chance = random.Random(seed)  # seeded with a text: the same on every machine
    made: dict[str, dict[str, Any]] = {}
    for _ in range(count):
        path, value = chance.choice(kinds[chance.choice(sorted(kinds))])
        how, new = chance.choice(alterations(path, value))
        made["/".join(map(str, path)) + f" {how}"] = _with(data, path, new)
    return made


def _with(data: dict[str, Any], path: Path_, new: Any) -> dict[str, Any]:
    changed: Any = copy.deepcopy(data)
    holder = changed
    for step in path[:-1]:
        holder = holder[step]
    if new is None:
        del holder[path[-1]]
    else:
        holder[path[-1]] = new
    return dict(changed)


@cache
def altered() -> dict[str, dict[str, Any]]:
    """Give all altered documents by name: of the demo sites, then of the hand-worked cases."""
    found = {}
    for file in sorted((ROOT / "fixtures").glob("*-*.json")):
        data = json.loads(file.read_bytes())
        for name, changed in chosen(data, OF_A_SITE, file.stem).items():
            found[f"{file.stem}: {name}"] = changed
    for case, given in sorted(cases().items()):
        for name, changed in chosen(document(given), OF_A_CASE, case).items():
            found[f"{case}: {name}"] = changed
    return found


def answer(data: dict[str, Any]) -> str:
    """Give a digest of what is said of a layout, or of the faults for which it is refused."""
    try:
        return said.digest(glance(parse_layout(data)))  # the mending takes the longest by far
    except LayoutFaults as refused:
        return f"refused: {refused.faults[0].pointer}"


def altered_bytes() -> bytes:
    """Write the file."""
    whole = {
        "note": "Pinned from our own runs by tests/refresh.py. All sites are invented.",
        "answers": {name: answer(data) for name, data in altered().items()},
    }
    return (json.dumps(whole, indent=0, ensure_ascii=False) + "\n").encode()
