"""The graph that a model's own ports make, counted without any of the importer's code.

Elements are nodes. So is each set of ports that the model connects with each other. An element is
joined with a set once for each of its ports in it. What comes out of the importer must have as many
independent rings as this has: edges - nodes + parts (networkx's cyclomatic number of a multigraph).
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import networkx as nx

Made = tuple[str, ...]


def loops(graph: Any) -> int:
    """Count the independent rings of a multigraph."""
    parts = nx.number_connected_components(graph)
    return int(graph.number_of_edges() - graph.number_of_nodes() + parts)


def port_graph(model: Any, extra: tuple[tuple[Any, Any], ...] = ()) -> Any:
    """Make the graph of a model's ports. extra: pairs of ports that geometry has to join."""
    owner: dict[int, int] = {}
    for relation in model.by_type("IfcRelConnectsPortToElement"):
        owner[relation.RelatingPort.id()] = relation.RelatedElement.id()
    for relation in model.by_type("IfcRelNests"):
        for port in relation.RelatedObjects:
            if port.is_a("IfcDistributionPort"):
                owner[port.id()] = relation.RelatingObject.id()
    joined: Any = nx.Graph()
    pairs = [(r.RelatingPort, r.RelatedPort) for r in model.by_type("IfcRelConnectsPorts")]
    for one, two in (*pairs, *extra):
        if one is None or two is None or one.id() not in owner or two.id() not in owner:
            continue
        if owner[one.id()] != owner[two.id()]:  # an element is not joined with itself
            joined.add_edge(one.id(), two.id())
    graph: Any = nx.MultiGraph()
    graph.add_nodes_from(owner.values())
    for number, ports in enumerate(nx.connected_components(joined)):
        for port in ports:
            graph.add_edge(("joint", number), owner[port])
    return graph


def layout_graph(document: dict[str, Any]) -> Any:
    """Make the graph of a layout document: junctions, and pipes between them."""
    graph: Any = nx.MultiGraph()
    graph.add_nodes_from(j["id"] for j in document["junctions"])
    graph.add_edges_from((p["from"], p["to"]) for p in document["pipes"])
    return graph


def shape_of(document: dict[str, Any]) -> dict[str, int]:
    """Count what a graph has, in the plainest way: parts, rings, ends, branches."""
    graph = layout_graph(document)
    degrees: dict[int, int] = defaultdict(int)
    for _, degree in graph.degree():
        degrees[degree] += 1
    return {
        "parts": nx.number_connected_components(graph),
        "rings": loops(graph),
        "ends": degrees[1],
        "branches": sum(n for d, n in degrees.items() if d > 2),
    }
