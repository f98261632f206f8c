"""Random small sites for the oracle of plans. Everything in them is invented."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

_LENGTHS = ["3 ft", "6 ft", "9 ft", "16 ft"]
_VALVES: list[dict[str, Any]] = [
    {"state": "open"},
    {"state": "open", "tightness": "proven"},
    {"state": "closed"},
    {"state": "passing"},
    {},
]
_OUTLETS: list[dict[str, Any]] = [{}, {"state": "locked off"}, {"state": "bleed"}]

FACTS: dict[str, Any] = {
    "water_temperature": "60 degF",
    "air_temperature": "66 degF",
    "clear_space": "8 in",
    "room": "R",
    "rooms": [
        {
            "id": "R",
            "volume": "30000 ft3",
            "floor_area": "2600 ft2",
            "height": "11 ft",
            "air_changes": "10 per hour",
            "below_ground": False,
            "carbon_dioxide_meter": True,
            "flood_depth": "9 in",
        }
    ],
    "stock": [
        {
            "coolant": "carbon dioxide",
            "cylinders": 12,
            "mass_each": "50 lb",
            "storage_temperature": "65 degF",
            "dip_tube": True,
            "high_pressure": True,
            "upright": True,
        }
    ],
}


@st.composite
def small_sites(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a site of a few pipes with a source, valves, an outlet and some work."""
    count = draw(st.integers(2, 4))
    pairs = [(draw(st.integers(0, i - 1)), i) for i in range(1, count)]
    loops = draw(st.integers(0, 2))
    for _ in range(loops):
        a, b = draw(st.tuples(st.integers(0, count - 1), st.integers(0, count - 1)))
        if a != b:
            pairs.append((a, b))
    pipes = [
        {
            "id": f"P{n}",
            "from": f"J{a}",
            "to": f"J{b}",
            "size": "NPS 1",
            "material": "copper",
            "wall": "type L",
            "length": draw(st.sampled_from(_LENGTHS)),
        }
        for n, (a, b) in enumerate(pairs)
    ]
    valves = [
        {"id": f"V{n}", "pipe": p["id"], "station": draw(st.sampled_from(["6 in", "24 in"]))}
        | draw(st.sampled_from(_VALVES))
        for n, p in enumerate(pipes)
        if draw(st.booleans())
    ][:3]
    outlets = [
        {"id": "O0", "junction": f"J{draw(st.integers(1, count - 1))}"}
        | draw(st.sampled_from(_OUTLETS))
        for _ in range(draw(st.integers(0, 1)))
    ]
    sources = [{"id": "S0", "junction": "J0", "kind": "main", "pressure": "40 psi"}]
    if draw(st.integers(0, 3)) == 0:
        last = {"id": "S1", "junction": f"J{count - 1}", "kind": "main", "pressure": "40 psi"}
        sources.append(last)
    site: dict[str, Any] = {
        "format": "layoutcheck layout 1",
        "name": "An invented small site",
        "junctions": [{"id": f"J{n}", "elevation": "0 ft"} for n in range(count)],
        "pipes": pipes,
        "valves": valves,
        "outlets": outlets,
        "sources": sources,
        "site": FACTS,
        "work": {
            "open": [draw(_works(count, pipes))],
            "duration": "2 h",
            "if_a_plug_goes": "The invented watchman shuts the invented main.",
        },
    }
    limits = draw(st.sampled_from([None, {"max_plugs": 1}, {"rely_on_unproven_valves": False}]))
    return site if limits is None else site | {"planning": limits}


@st.composite
def _works(draw: st.DrawFn, count: int, pipes: list[dict[str, Any]]) -> dict[str, Any]:
    if draw(st.booleans()):
        return {"junction": f"J{draw(st.integers(1, count - 1))}"}
    pipe = draw(st.sampled_from(pipes))
    return {"pipe": pipe["id"], "start": "30 in", "end": "33 in"}
