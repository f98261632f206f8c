"""Setbacks and spacing, against distances on a finely split graph made from the document alone.

The figure (12 in of pipe for each inch of nominal size) is common practice, no published source.
What counts as a feature is worked from the rules' manuals; the distances are networkx's Dijkstra.
"""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from hypothesis import given, settings

from layoutcheck.document.read import parse_layout
from layoutcheck.network import Trust
from layoutcheck.rules.base import SetbackRule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules, default_pack
from tests.oracles.plain import Node, Plain, at_moment
from tests.oracles.strategies import STEP, Document, documents, steps
from tests.sizes import some

CLOSE = 1e-9
INCHES = {"NPS 1/2": 0.5, "NPS 1": 1.0, "NPS 2": 2.0}


class Site:
    """A document laid out twice: coarse to list what flows, fine to measure."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.coarse = Plain(document, fine=False)
        self.fine = Plain(document, fine=True)

    def flowing(self, trust: str) -> set[Node]:
        flowing = self.coarse.flowing("freezing", trust)
        return {n for k in flowing for n in self.coarse.edges[k][:2]}

    def steps_in_hold(self, case: Case, plug: PlacedPlug, trust: str, row: Document) -> float:
        """Give the steps to what flows at work, with ice in the piece of every plug."""
        ice = {self.coarse.piece_of(case, p) for p in case.plugs}
        flowing = self.coarse.flowing("working", trust, ice)
        features = {n for k in flowing for n in self.coarse.edges[k][:2]}
        shut = {self.coarse.piece_of(case, p) for p in case.others(plug)}
        shut -= {self.coarse.piece_of(case, plug)}
        spans = [span for span, key in self.coarse.cells.items() if key in shut]
        iced = {k for pipe, a, b in spans for k in self.fine.within(pipe, a, b)}
        reach = self.fine.distances(features, self.fine.connecting("working", trust) - iced)
        place = self.fine.at(plug.pipe, steps(row["station"]))
        return max(0.0, reach.get(place, math.inf) - steps(row["jacket"]) / 2)

    def in_flow(self, trust: str, pipe: str, station: int) -> bool:
        """Tell whether a place lies in a flowing pipe, beside its ends."""
        flowing = self.coarse.flowing("freezing", trust)
        return any(
            key in flowing and p == pipe and a < station < b
            for (p, a, b), key in self.coarse.cells.items()
        )

    def shut_valves(self, trust: str) -> set[Node]:
        found: set[Node] = set()
        for valve in self.document["valves"]:
            state = at_moment(valve.get("state"), "freezing")
            unsure = state is None and trust != "best"
            # A check valve too: it cuts nothing, and yet sits shut against the ice.
            if state in {"closed", "passing"} or unsure:
                found |= {
                    n for k in self.fine.of_element(valve["id"]) for n in self.fine.edges[k][:2]
                }
        return found

    def closed_ends(self, trust: str) -> set[Node]:
        document, found = self.document, set()
        tanks = [g for g in document["equipment"] if g["kind"] == "tank"]
        rows = (*document["sources"], *document["outlets"], *tanks)
        busy = {r["junction"] for r in rows if "junction" in r}
        for junction in document["junctions"]:
            node: Node = ("j", junction["id"], 0)
            taps = [o for o in document["outlets"] if o["junction"] == junction["id"]]
            states = {at_moment(o.get("state"), "freezing") or "may draw" for o in taps}
            if self.fine.graph.degree(node) == 1 and junction["id"] not in busy:
                found.add(node)
            if taps and (
                states == {"locked off"} if trust == "best" else "kept open" not in states
            ):
                found.add(node)
        for node in {self.fine.gear_node(g) for g in tanks}:
            here = [g for g in tanks if self.fine.gear_node(g) == node]
            if all(at_moment(g.get("locked_off"), "freezing") for g in here):
                found.add(node)
        return found

    def steps_to(self, features: set[Node], trust: str, plug: Document) -> float:
        reach = self.fine.distances(features, self.fine.connecting("freezing", trust))
        place = self.fine.at(plug["pipe"], steps(plug["station"]))
        return max(0.0, reach.get(place, math.inf) - steps(plug["jacket"]) / 2)


def _setback(name: str) -> SetbackRule:
    rule = all_rules()[name]
    assert isinstance(rule, SetbackRule)
    return rule


def _compare(
    case: Case,
    plug: PlacedPlug,
    name: str,
    sure: float,
    worst: float,
    *,
    held: tuple[float, float] = (math.inf, math.inf),
) -> None:
    """Compare distances (steps) as measured, and the outcome that follows from them.

    held: the same two, in the hold.
    """
    rule = _setback(name)
    assert rule.measure(case, plug, Trust.BEST)[0] == pytest.approx(sure * STEP, abs=CLOSE)
    assert rule.measure(case, plug, Trust.PROVEN)[0] == pytest.approx(worst * STEP, abs=CLOSE)
    sure, worst = min(sure, held[0]), min(worst, held[1])
    required = plug.inches * 4  # 12 in an inch, in steps of 3 in
    expected = Outcome.BROKEN if sure < required else Outcome.HOLDS
    if sure >= required > worst:
        expected = Outcome.UNDECIDED
    assert rule.judge_plug(case, plug).outcome is expected


@settings(max_examples=some(200))
@given(documents(plugs=(1, 2)))
def test_setbacks_agree_with_distances_on_a_finely_split_graph(document: Document) -> None:
    case = Case.of(parse_layout(document), default_pack())
    site = Site(document)
    sizes = {p["id"]: INCHES[p["size"]] for p in document["pipes"]}
    for row in document["plugs"]:
        plug = case.plug(row["id"])
        assert plug.inches == sizes[row["pipe"]]
        flow = {}
        for trust in ("best", "proven"):
            inside = site.in_flow(trust, row["pipe"], steps(row["station"]))
            away = site.steps_to(site.flowing(trust), trust, row)
            flow[trust] = 0.0 if inside else away
        best, proven = (site.steps_in_hold(case, plug, t, row) for t in ("best", "proven"))
        held = (best, proven)
        _compare(case, plug, "flowing-line-setback", flow["best"], flow["proven"], held=held)
        shut = [site.steps_to(site.shut_valves(t), t, row) for t in ("best", "proven")]
        _compare(case, plug, "closed-valve-setback", *shut)
        ends = [site.steps_to(site.closed_ends(t), t, row) for t in ("best", "proven")]
        _compare(case, plug, "closed-end-setback", *ends)


@settings(max_examples=some(150))
@given(documents(plugs=(2, 4)))
def test_spacing_agrees_with_distances_on_a_finely_split_graph(document: Document) -> None:
    case = Case.of(parse_layout(document), default_pack())
    site = Site(document)
    sizes = {p["id"]: INCHES[p["size"]] for p in document["pipes"]}
    judged = {j.subject.id: j for j in all_rules()["plug-spacing"].judge(case)}
    assert len(judged) == math.comb(len(document["plugs"]), 2)
    for one, two in combinations(document["plugs"], 2):
        places = [site.fine.at(p["pipe"], steps(p["station"])) for p in (one, two)]
        required = 4 * max(sizes[one["pipe"]], sizes[two["pipe"]])
        apart = {}
        for trust in ("best", "proven"):
            reach = site.fine.distances({places[0]}, site.fine.connecting("freezing", trust))
            between = (steps(one["jacket"]) + steps(two["jacket"])) / 2
            apart[trust] = max(0.0, reach.get(places[1], math.inf) - between)
        outcome = judged[f"{one['id']} + {two['id']}"].outcome
        if apart["best"] < required:
            assert outcome is Outcome.BROKEN
        elif apart["proven"] < required:
            assert outcome is Outcome.UNDECIDED
        elif math.isinf(apart["proven"]):
            assert outcome is Outcome.DOES_NOT_APPLY
        else:
            assert outcome is Outcome.HOLDS
