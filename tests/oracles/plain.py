"""The piping of a random site as a plain graph, made from the document alone.

This is the slow and obviously right reading that the oracles work on: every pipe is laid out
step by step as a chain of points in a networkx multigraph, and every length is a whole number.
Nothing of layoutcheck's own network is used.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import networkx as nx

from layoutcheck.rules.case import Case, PlacedPlug
from tests.oracles.strategies import STEP, Document, steps

Node = tuple[Any, ...]
Edge = tuple[Node, Node, int]


@dataclass(frozen=True)
class Device:
    """A valve or pump on a pipe: the span of its body in steps."""

    start: int
    end: int
    id: str
    kind: str


class Plain:
    """The graph of a document. fine: a point at every step, else only where something stands."""

    def __init__(self, document: Document, *, fine: bool) -> None:
        self.document = document
        self.graph: nx.MultiGraph[Node] = nx.MultiGraph()
        self.fine = fine
        self.length = {p["id"]: steps(p["length"]) for p in document["pipes"]}
        self.rows = {r["id"]: r for k in ("pipes", "valves", "pumps") for r in document[k]}
        self.gear = {g["id"]: g for g in document["equipment"]}
        self.edges: list[Edge] = []
        self.chain: dict[str, list[tuple[int, Node]]] = {}
        self.cells: dict[tuple[str, int, int], int] = {}
        self._ends: dict[tuple[str, int], tuple[Node, int]] = {}
        for junction in document["junctions"]:
            self._junction(junction["id"])
        for pipe in document["pipes"]:
            self._lay(pipe)

    def _edge(self, a: Node, b: Node, length: int, kind: str, element: str) -> int:
        index = len(self.edges)
        self.graph.add_edge(a, b, key=index, length=length, kind=kind, element=element)
        self.edges.append((a, b, index))
        return index

    def _junction(self, name: str) -> None:
        near, beyond = ("j", name, 1), ("j", name, 0)
        self.graph.add_node(beyond)
        ends = sorted(
            (p["id"], end)
            for p in self.document["pipes"]
            for end, at in enumerate((p["from"], p["to"]))
            if at == name
        )
        here = [
            (kind, d)
            for kind in ("valve", "pump")
            for d in self.document[f"{kind}s"]
            if d.get("junction") == name
        ]
        for end in ends:
            self._ends[end] = (beyond, 0)
        for kind, device in here:
            half = steps(device.get("body", "0 in")) // 2
            self._ends[ends[0]] = (near, half)
            if len(ends) == 2:
                self._ends[ends[1]] = (beyond, half)
            self._edge(near, beyond, 2 * half, kind, device["id"])

    def _devices(self, pipe: str) -> list[Device]:
        found = []
        for kind in ("valve", "pump"):
            for row in self.document[f"{kind}s"]:
                if row.get("pipe") == pipe:
                    half, at = steps(row.get("body", "0 in")) // 2, steps(row["station"])
                    found.append(Device(at - half, at + half, row["id"], kind))
        return sorted(found, key=lambda d: (d.start, d.end))

    def _standing(self, pipe: str) -> set[int]:
        """Give the stations where equipment stands, or the work begins or ends."""
        marks = {steps(g["station"]) for g in self.document["equipment"] if g.get("pipe") == pipe}
        for item in self.document["work"]["open"]:
            if item.get("pipe") == pipe:
                marks |= {steps(item["start"]), steps(item["end"])}
        return marks

    def _marks(self, pipe: str) -> set[int]:
        return set(range(self.length[pipe] + 1)) if self.fine else self._standing(pipe)

    def _lay(self, row: Document) -> None:
        pipe = row["id"]
        (here, at), (last, trim) = self._ends[pipe, 0], self._ends[pipe, 1]
        stop = self.length[pipe] - trim
        chain: list[tuple[int, Node]] = []  # the ends of each edge of pipe, in order
        devices = self._devices(pipe)
        targets = [d.start for d in devices]
        for number, to in enumerate([*targets, stop]):
            final = number == len(targets) and stop not in self._standing(pipe)
            for mark in sorted({*self._marks(pipe), to}):
                if at < mark <= to:
                    node = last if final and mark == stop else ("p", pipe, mark, 0)
                    self.cells[pipe, at, mark] = self._edge(here, node, mark - at, "pipe", pipe)
                    chain += [(at, here), (mark, node)]
                    here, at = node, mark
            if number < len(targets):
                device = devices[number]
                node = ("p", pipe, device.end, 1)
                self._edge(here, node, device.end - device.start, device.kind, device.id)
                here, at = node, device.end
        if here != last or not chain:
            self.cells[pipe, at, at] = self._edge(here, last, 0, "pipe", pipe)
            chain += [(at, here), (at, last)]
        self.chain[pipe] = chain

    # --- places ---------------------------------------------------------------------------------

    def at(self, pipe: str, station: int) -> Node:
        """Give the point at a station; in a body the nearer face, of equals the first."""
        return min(self.chain[pipe], key=lambda c: abs(c[0] - station))[1]

    def piece_of(self, case: Case, plug: PlacedPlug) -> int:
        """Give the edge of a coarse graph that holds the piece of pipe a plug stands in."""
        piece = case.network.pieces[plug.spot.piece]
        start, end = (round(x / STEP) for x in (piece.start, piece.start + piece.length))
        return next(
            key
            for (pipe, a, b), key in self.cells.items()
            if pipe == plug.pipe and a <= start and end <= b
        )

    def within(self, pipe: str, start: int, end: int) -> list[int]:
        """Give the edges of pipe that lie between two stations."""
        return [
            index
            for (p, a, b), index in self.cells.items()
            if p == pipe and start <= a and b <= end
        ]

    def of_element(self, element: str) -> list[int]:
        """Give the edges of a valve or pump."""
        return [k for _, _, k, d in self._data() if d["element"] == element and d["kind"] != "pipe"]

    def _data(self) -> Iterator[tuple[Node, Node, int, dict[str, Any]]]:
        yield from self.graph.edges(keys=True, data=True)

    def trim(self, pipe: str) -> int:
        """Give how much of a pipe the bodies of valves at its two junctions take, in steps."""
        return self._ends[pipe, 0][1] + self._ends[pipe, 1][1]

    # --- state ----------------------------------------------------------------------------------

    def connecting(self, moment: str, trust: str) -> set[int]:
        """Give the edges through which water passes."""
        return {
            k
            for _, _, k, d in self._data()
            if d["kind"] != "valve" or _passes(self.rows[d["element"]], moment, trust)
        }

    def gear_node(self, row: Document) -> Node:
        """Give where a piece of equipment stands."""
        if "junction" in row:
            return ("j", row["junction"], 0)
        return self.at(row["pipe"], steps(row["station"]))

    def terminals(self, moment: str) -> set[Node]:
        """Give the points where water can enter or leave."""
        found = {("j", s["junction"], 0) for s in self.document["sources"]}
        for outlet in self.document["outlets"]:
            if at_moment(outlet.get("state"), moment) != "locked off":
                found.add(("j", outlet["junction"], 0))
        return found | self.tanks(moment)

    def tanks(self, moment: str) -> set[Node]:
        """Give the points of tanks that are not locked off."""
        live = [g for g in self.gear.values() if g["kind"] == "tank" and not is_locked(g, moment)]
        return {self.gear_node(g) for g in live}

    def pumps(self, moment: str) -> list[int]:
        """Give the edges of pumps that may run."""
        live = [p["id"] for p in self.document["pumps"] if not is_locked(p, moment)]
        return [k for p in live for k in self.of_element(p)]

    def flowing(self, moment: str, trust: str, ice: Collection[int] = ()) -> set[int]:
        """List every simple way between two terminals and every loop through a running pump.

        ice: the edges that no water passes because ice stands in them.
        """
        connecting = self.connecting(moment, trust) - set(ice)
        found = _on_ways(self._split(connecting), self.terminals(moment))
        for pump in set(self.pumps(moment)) & connecting:
            found |= self.on_loops(pump, connecting)
        stated = {p["id"] for p in self.document["pipes"] if p.get("flow") == "flowing"}
        return found | {
            k for _, _, k, d in self._data() if d["kind"] == "pipe" and d["element"] in stated
        }

    def on_loops(self, edge: int, connecting: Collection[int]) -> set[int]:
        """List every simple loop that an edge is on, and give all edges of them."""
        a, b, _ = self.edges[edge]
        if a == b:
            return {edge}
        graph = self._split(set(connecting) - {edge})
        on = _on_ways(graph, {a, b})
        return on | {edge} if on else set()

    def _split(self, keep: Collection[int]) -> nx.Graph:
        """Put a point into the middle of every edge, so that parallel ones are told apart."""
        graph: nx.Graph[Node] = nx.Graph()
        graph.add_nodes_from(self.graph)
        for index in keep:
            a, b, _ = self.edges[index]
            graph.add_edges_from([(a, ("edge", index)), (("edge", index), b)])
        return graph

    # --- the work ---------------------------------------------------------------------------------

    def opened(self) -> tuple[set[Node], set[int]]:
        """Give the points and edges that are opened."""
        nodes: set[Node] = set()
        edges: set[int] = set()
        for item in self.document["work"]["open"]:
            if "junction" in item:
                own = {("j", item["junction"], k) for k in (0, 1)}
                nodes |= own & set(self.graph)
                continue
            if "pipe" in item:
                inside = self._opened_stretch(
                    item["pipe"], steps(item["start"]), steps(item["end"])
                )
                if not inside:
                    nodes |= self._opened_point(item["pipe"], steps(item["start"]))
            else:
                inside = self.of_element(item.get("valve") or item["pump"])
            edges |= set(inside)
            nodes |= {n for k in inside for n in self.edges[k][:2]}
        return nodes, edges

    def _opened_stretch(self, pipe: str, start: int, end: int) -> list[int]:
        """Give the edges between two stations, and every body that the stretch reaches into."""
        spans = [(d.start, d.end, d.id) for d in self._devices(pipe)]
        for end_number, at in enumerate((self.rows[pipe]["from"], self.rows[pipe]["to"])):
            half = self._ends[pipe, end_number][1]
            span = (0, half) if end_number == 0 else (self.length[pipe] - half, self.length[pipe])
            inline = (*self.document["valves"], *self.document["pumps"])
            spans += [(*span, d["id"]) for d in inline if d.get("junction") == at]
        bodies = [
            k
            for a, b, element in spans
            if (start < b and a < end) or a == b == start == end
            for k in self.of_element(element)
        ]
        return self.within(pipe, start, end) + bodies

    def _opened_point(self, pipe: str, station: int) -> set[Node]:
        gap = min(abs(at - station) for at, _ in self.chain[pipe])
        return {node for at, node in self.chain[pipe] if abs(at - station) == gap}

    def threats(self, moment: str) -> set[Node]:
        """Give the points from which water comes while working."""
        found = {("j", s["junction"], 0) for s in self.document["sources"]} | self.tanks(moment)
        # The pump that is opened too: only its lock keeps it from starting.
        for pump in self.pumps(moment):
            found |= set(self.edges[pump][:2])
        return found

    def reached(self, trust: str, plugged: Iterable[int]) -> set[Node]:
        """Search outwards from the work, while working, past everything that does not hold."""
        start, opened = self.opened()
        keep = (self.connecting("working", trust) - set(plugged)) | opened
        seen, rest = set(start), list(start)
        while rest:
            node = rest.pop()
            for _, other, key in self.graph.edges(node, keys=True):
                if key in keep and other not in seen:
                    seen.add(other)
                    rest.append(other)
        return seen

    # --- distance --------------------------------------------------------------------------------

    def distances(self, starts: Collection[Node], keep: Collection[int]) -> dict[Node, float]:
        """Give the steps from a set of points to every point, by networkx's Dijkstra."""
        if not starts:
            return {}
        graph: nx.MultiGraph[Node] = nx.MultiGraph()
        graph.add_nodes_from(self.graph)
        for a, b, key, data in self._data():
            if key in keep:
                graph.add_edge(a, b, key=key, length=data["length"])
        return nx.multi_source_dijkstra_path_length(graph, set(starts), weight="length")


def at_moment(state: Any, moment: str) -> Any:
    """Give a state at a moment."""
    return state.get(moment) if isinstance(state, dict) else state


def is_locked(row: Document, moment: str) -> bool:
    """Tell whether a machine is locked off."""
    return bool(at_moment(row.get("locked_off", False), moment))


def _passes(valve: Document, moment: str, trust: str) -> bool:
    if valve.get("kind") == "check":
        return True
    state = at_moment(valve.get("state"), moment)
    if state is None:
        return trust != "best"
    if state != "closed":
        return True
    if trust == "denied":
        return valve.get("tightness") == "not proven"
    return trust == "proven" and valve.get("tightness") != "proven"


def _on_ways(graph: nx.Graph, places: set[Node]) -> set[int]:
    """Give the edges on any simple way between two different places, by listing all of them."""
    found: set[int] = set()
    ordered = sorted(places)
    for position, start in enumerate(ordered):
        for stop in ordered[position + 1 :]:
            for way in nx.all_simple_paths(graph, start, stop):
                found |= {n[1] for n in way if n[0] == "edge"}
    return found
