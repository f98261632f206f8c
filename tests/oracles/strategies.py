"""Random sites as documents, for the oracles. Every name and number in them is invented.

All lengths are whole steps of three inches. So ties, points that coincide, and distances that lie
exactly on a limit occur often, and the oracles can count in whole numbers.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import Any

from hypothesis import reject
from hypothesis import strategies as st

Document = dict[str, Any]
Draw = st.DrawFn

STEP_INCHES = 3
STEP = STEP_INCHES * 0.0254

_LENGTHS = [0, 1, 2, 4, 8, 12, 16, 20, 24, 32, 40, 48]
_HEIGHTS = [0, 0, 0, 0, 2, 4, 6]
_SIZES = ["NPS 1/2", "NPS 1", "NPS 2"]
_VALVES: list[dict[str, Any]] = [
    {},
    {"state": "open"},
    {"state": "closed"},
    {"state": "closed", "tightness": "proven"},
    {"state": "closed", "tightness": "not proven"},
    {"state": "passing"},
    {"state": {"freezing": "open", "working": "closed"}, "tightness": "proven"},
    {"state": {"freezing": "closed"}},
    {"state": "closed", "kind": "check"},
]
_OUTLETS: list[dict[str, Any]] = [
    {},
    {"state": "may draw"},
    {"state": "locked off"},
    {"state": "kept open"},
    {"state": {"freezing": "locked off", "working": "kept open"}},
]
_LOCKS: list[dict[str, Any]] = [
    {},
    {"locked_off": True},
    {"locked_off": {"freezing": True, "working": False}},
    {"locked_off": {"freezing": False, "working": True}},
]
_FITTINGS: list[dict[str, Any]] = [
    {"kind": "flange"},
    {"kind": "elbow"},
    {"kind": "weld"},
    {"kind": "weld", "defective": True},
]

Span = tuple[int, int]


def text(steps: int) -> str:
    """Write a number of steps as a length."""
    return f"{steps * STEP_INCHES} in"


class _Site:
    """A site while it is drawn: which places are taken, and how long each pipe is."""

    def __init__(self, draw: Draw) -> None:
        self.draw = draw
        self.length: dict[str, int] = {}
        self.degree: Counter[str] = Counter()
        self.ends: dict[str, list[tuple[str, int]]] = defaultdict(list)
        self.taken: dict[str, list[Span]] = defaultdict(list)
        self.bodies: dict[str, list[Span]] = defaultdict(list)  # of valves and pumps
        self.busy: set[str] = set()
        self.document: Document = {
            "format": "layoutcheck layout 1",
            "name": "An invented site for the oracles",
        }

    def pick(self, values: Any) -> Any:
        return self.draw(st.sampled_from(list(values)))

    def station(self, pipe: str) -> int:
        length = self.length[pipe]
        return int(self.draw(st.one_of(st.just(0), st.just(length), st.integers(0, length))))

    def is_free(self, pipe: str, span: Span) -> bool:
        """Tell whether a span is clear of all others on its pipe.

        Bodies may touch. A point on the end of a body would leave open on which side it is.
        """
        low, high = span
        if low < 0 or high > self.length[pipe]:
            return False
        for a, b in self.taken[pipe]:
            both_long = low < high and a < b
            if not (high <= a or low >= b if both_long else high < a or low > b):
                return False
        return True

    def piped(self) -> list[str]:
        """Give the junctions that pipe meets: at any other one nothing may stand."""
        return [j["id"] for j in self.document["junctions"] if self.degree[j["id"]]]

    def open_ones(self) -> list[str]:
        """Give those of them that are not capped."""
        capped = {j["id"] for j in self.document["junctions"] if j.get("fitting") == "cap"}
        return [j for j in self.piped() if j not in capped]

    def some(self, most: int) -> int:
        return int(self.draw(st.integers(0, most)))


def _pipework(site: _Site, junctions: int, extra: int) -> None:
    heights = [site.pick(_HEIGHTS) for _ in range(junctions)]
    rows = []
    for index in range(junctions):
        row: Document = {"id": f"J{index}", "elevation": text(heights[index])}
        fitting = site.pick([None, None, None, None, None, "cap", "elbow", "weld"])
        if fitting:
            row["fitting"] = fitting
        rows.append(row)
    pairs = []
    for index in range(1, junctions):
        if site.some(9) > 0:
            pairs.append((site.some(index - 1), index))
    pairs += [(site.some(junctions - 1), site.some(junctions - 1)) for _ in range(extra)]
    # A pipe back to the junction that it comes from is refused.
    pairs = [(a, b) for a, b in pairs if a != b] or [(0, 1)]
    # A cap in the middle of the pipework is refused: it can only end a pipe.
    met = [junction for pair in pairs for junction in pair]
    for index, row in enumerate(rows):
        if row.get("fitting") == "cap" and met.count(index) > 1:
            del row["fitting"]
    pipes = []
    one_size = site.pick([None, *_SIZES])
    for index, (a, b) in enumerate(pairs):
        length = max(site.pick(_LENGTHS), abs(heights[a] - heights[b]))
        name = f"P{index:02d}"
        row = {
            "id": name,
            "from": f"J{a}",
            "to": f"J{b}",
            "size": one_size or site.pick(_SIZES),
            "material": "copper",
            "wall": "type L",
            "length": text(length),
        }
        if site.some(15) == 15:
            row["flow"] = site.pick(["flowing", "none"])
        if site.some(11) == 11:
            row["covering"] = site.pick(["fixed", "insulation", "bare"])
        pipes.append(row)
        site.length[name] = length
        for end, at in enumerate((a, b)):
            site.degree[f"J{at}"] += 1
            site.ends[f"J{at}"].append((name, end))
    site.document["junctions"], site.document["pipes"] = rows, pipes


def _terminals(site: _Site) -> None:
    junctions = site.open_ones()
    site.document["sources"] = [
        {"id": f"S{i}", "junction": site.pick(junctions), "kind": "main", "pressure": "40 psi"}
        for i in range(site.some(2) if junctions else 0)
    ]
    site.document["outlets"] = [
        {"id": f"O{i}", "junction": site.pick(junctions), **site.pick(_OUTLETS)}
        for i in range(site.some(3) if junctions else 0)
    ]
    for row in (*site.document["sources"], *site.document["outlets"]):
        site.busy.add(row["junction"])


def _gear(site: _Site) -> None:
    junctions = site.open_ones()
    rows = []
    for index in range(site.some(2)):
        row = {
            "id": f"E{index}",
            "kind": site.pick(["tank", "heater", "cooler"]),
            **site.pick(_LOCKS),
        }
        if row["kind"] == "tank":
            row |= {"volume": "80 L", "level": "6 ft"}
        if site.some(1) and junctions:
            row["junction"] = site.pick(junctions)
            site.busy.add(row["junction"])
        else:
            pipe = site.pick(site.length)
            at = site.station(pipe)
            if not site.is_free(pipe, (at, at)):
                continue
            site.taken[pipe].append((at, at))
            row |= {"pipe": pipe, "station": text(at)}
        rows.append(row)
    site.document["equipment"] = rows


def _inline(site: _Site, row: Document, body: int) -> bool:
    """Find a place for a valve or pump; False where the place is taken or can not be."""
    half = body // 2
    if site.some(2) == 0:
        junction = site.pick(site.piped())
        ends = site.ends[junction]
        if len(ends) not in (1, 2) or (len(ends) == 2 and junction in site.busy):
            return False
        if ("at", junction) in row["_taken"]:
            return False
        spans = [
            (p, (0, half) if e == 0 else (site.length[p] - half, site.length[p])) for p, e in ends
        ]
        if not all(site.is_free(p, s) for p, s in spans):
            return False
        if len(spans) == 2 and spans[0][0] == spans[1][0] and site.length[spans[0][0]] < 2 * half:
            return False
        for (pipe, span), (_, at_end) in zip(spans, ends, strict=True):
            site.taken[pipe].append(span)
            if body:
                # The face in the junction's middle is no pipe either.
                end = site.length[pipe] if at_end else 0
                site.bodies[pipe].append((end - half, end + half))
        row["_taken"].add(("at", junction))
        row["junction"] = junction
        return True
    pipe = site.pick(site.length)
    at = site.station(pipe)
    if not site.is_free(pipe, (at - half, at + half)):
        return False
    site.taken[pipe].append((at - half, at + half))
    site.bodies[pipe].append((at - half, at + half))
    row |= {"pipe": pipe, "station": text(at)}
    return True


def _devices(site: _Site) -> None:
    valves, pumps = [], []
    taken: set[tuple[str, str]] = set()
    for index in range(site.some(5)):
        body = site.pick([0, 0, 0, 2, 4])
        row: Document = {"id": f"V{index}", **site.pick(_VALVES), "_taken": taken}
        if _inline(site, row, body):
            valves.append(row | ({"body": text(body)} if body else {}))
    for index in range(site.some(2)):
        row = {"id": f"X{index}", **site.pick(_LOCKS), "shutoff_head": "10 psi", "_taken": taken}
        if _inline(site, row, 0):
            pumps.append(row)
    for row in (*valves, *pumps):
        del row["_taken"]
    site.document["valves"], site.document["pumps"] = valves, pumps
    fittings = []
    for index in range(site.some(2)):
        pipe = site.pick(site.length)
        place = {"pipe": pipe, "station": text(site.station(pipe))}
        fittings.append({"id": f"F{index}", **place, **site.pick(_FITTINGS)})
    site.document["fittings"] = fittings


def _work(site: _Site) -> None:
    document = site.document
    items: list[Document] = []
    for _ in range(1 + site.some(1)):
        kind = site.pick(["junction", "junction", "valve", "pump", "pipe"])
        ids = [] if kind == "junction" else [r["id"] for r in document[f"{kind}s"]]
        if not ids:
            kind, ids = "junction", site.piped()
        row = {kind: site.pick(ids)}
        if kind == "pipe":
            ends = sorted((site.station(row[kind]), site.station(row[kind])))
            row |= {"start": text(ends[0]), "end": text(ends[1])}
        items.append(row)
    document["work"] = {"open": items, "duration": "2 h"}


def _outside_bodies(site: _Site, pipe: str) -> list[int]:
    """Give the stations where a plug may be marked: a centre in a body is refused."""
    return [
        at
        for at in range(site.length[pipe] + 1)
        if not any(a < at < b or a == at == b for a, b in site.bodies[pipe])
    ]


def _plugs(site: _Site, fewest: int, most: int) -> None:
    rows = []
    count = site.draw(st.integers(fewest, most))
    free = {name: _outside_bodies(site, name) for name in site.length}
    free = {name: stations for name, stations in free.items() if stations}
    if count and not free:
        reject()
    for index in range(count):
        pipe = site.pick(free)
        jacket = site.pick([2, 2, 4])
        ends = [free[pipe][0], free[pipe][-1]]
        place = {"pipe": pipe, "station": text(site.pick([*ends, *free[pipe]]))}
        rows.append({"id": f"K{index}", **place, "jacket": text(jacket)})
    site.document["plugs"] = rows


# Everything about the place is stated and generous, so that where a plug stands decides.
SITE: Document = {
    "water_temperature": "50 degF",
    "air_temperature": "65 degF",
    "clear_space": "24 in",
    "room": "R",
    "rooms": [
        {
            "id": "R",
            "volume": "20000 m3",
            "floor_area": "4000 m2",
            "height": "5 m",
            "air_changes": "10 per hour",
            "below_ground": False,
            "carbon_dioxide_meter": True,
            "oxygen_meter": True,
            "flood_depth": "1 m",
        }
    ],
    "stock": [
        {
            "coolant": "carbon dioxide",
            "cylinders": 5000,
            "mass_each": "50 lb",
            "storage_temperature": "65 degF",
            "dip_tube": True,
            "high_pressure": True,
            "upright": True,
        }
    ],
}


@st.composite
def documents(
    draw: Draw,
    *,
    junctions: int = 8,
    extra: int = 4,
    plugs: tuple[int, int] = (0, 3),
) -> Document:
    """Draw a site: up to some junctions, some pipes over a tree, and some plugs."""
    site = _Site(draw)
    _pipework(site, draw(st.integers(2, junctions)), draw(st.integers(0, extra)))
    _terminals(site)
    _gear(site)
    _devices(site)
    _work(site)
    _plugs(site, *plugs)
    site.document["site"] = SITE
    return site.document


def stations_of(document: Document) -> list[tuple[str, int]]:
    """Give every place on every pipe, step by step: (pipe, station in steps)."""
    return [(p["id"], at) for p in document["pipes"] for at in range(steps(p["length"]) + 1)]


def steps(length: str) -> int:
    """Read a length written by this module back into steps."""
    inches = int(length.removesuffix(" in"))
    assert inches % STEP_INCHES == 0
    return inches // STEP_INCHES
