"""Random works on the water networks that WNTR ships, with WNTR's own random valve layers.

The networks and the places of the valves are WNTR's; which junction is opened, which outlets are
locked off and the site are invented.
"""

from __future__ import annotations

import importlib.util
import random
import warnings
from functools import cache
from pathlib import Path
from typing import Any

from layoutcheck.document import Layout, parse_layout
from layoutcheck.document.ends import open_ends
from layoutcheck.document.models import (
    Asked,
    Equipment,
    Junction,
    Outlet,
    Pipe,
    Pump,
    Room,
    Source,
    Stock,
    Valve,
)
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import all_rules, default_pack
from tests.oracles.inp import Inp, Isolator, Setting

ASKED: dict[str, type[Asked]] = {
    "junctions": Junction,
    "equipment": Equipment,
    "pipes": Pipe,
    "valves": Valve,
    "pumps": Pump,
    "sources": Source,
    "outlets": Outlet,
}
# Of the ends of pipes, the share that has a valve; and of the outlets, the share locked off.
VALVES = 0.5
LOCKED = 0.9


def path_of(name: str) -> Path:
    """Give the path of a network's file in the installed package."""
    spec = importlib.util.find_spec("wntr")
    assert spec is not None and spec.origin is not None
    return Path(spec.origin).parent / "library" / "networks" / name


@cache
def network(name: str) -> tuple[Inp, Any]:
    """Read a network, and draw its valve layer by WNTR."""
    import wntr  # noqa: PLC0415 - an optional part

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = wntr.network.WaterNetworkModel(str(path_of(name)))
        count = int(2 * model.num_pipes * VALVES)
        layer = wntr.network.generate_valve_layer(model, "random", count, seed=1)
    return Inp(model), layer


def site(name: str, seed: int | None) -> dict[str, Any]:
    """Give a network as a layout document with open valves and one random work (or none)."""
    inp, layer = network(name)
    draw = random.Random(seed)
    # Both columns of a layer are names: the link a valve is on, and the node it protects.
    rows = {(str(r.link), str(r.node)) for r in layer.itertuples()}
    draws = inp.draws()
    setting = Setting(
        isolators=tuple(Isolator(link, node) for link, node in sorted(rows)),
        own="open",
        locked=frozenset(random.Random(0).sample(draws, int(len(draws) * LOCKED))),
        work="" if seed is None else draw.choice(inp.model.junction_name_list),
    )
    made = inp.document(setting)
    for valve in made["valves"]:
        if not valve["id"].startswith("own "):
            valve.pop("tightness")
            valve["state"] = "open"
    # Of these mains some are wider than any jacket that is usual.
    made["planning"] = {"jacket": "1.2 m"}
    _answer_all(made)
    if "work" in made:
        made["work"]["if_a_plug_goes"] = "The invented watchman shuts the invented main."
    return made


def _answer_all(made: dict[str, Any]) -> None:
    """Answer whatever is asked of a city's mains: their sizes and lengths are meant."""
    ends = open_ends(parse_layout(made))
    for junction in made["junctions"]:
        if junction["id"] in ends:
            junction["goes_on"] = "dead"
    case = Case.of(parse_layout(made), default_pack())
    rows = {kind: {r["id"]: r for r in made.get(name, ())} for name, kind in ASKED.items()}
    rows[Room] = {r["id"]: r for r in made["site"].get("rooms", ())}
    rows[Stock] = {r["coolant"]: r for r in made["site"].get("stock", ())}
    rows[Layout] = {made["name"]: made}
    for thing, word in (asked for rule in all_rules().values() for asked in rule.asks(case)):
        name = getattr(thing, "id", None) or getattr(thing, "coolant", None) or case.layout.name
        row = rows[type(thing)][str(name)]
        row["meant"] = sorted({*row.get("meant", ()), word})
