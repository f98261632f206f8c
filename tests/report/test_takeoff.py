"""Take-off: quantities counted again from the document by other means."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import networkx as nx
import pytest

from layoutcheck.report.takeoff import Takeoff, takeoff_of
from tests.report.handout_sites import FIXTURES, MENDED, handout, report_on, site


def takeoff(name: str) -> Takeoff:
    return takeoff_of(site(name), report_on(name))


def quantity(made: Takeoff, item: str, detail: str = "") -> float:
    found = [x.quantity for x in made.lines if x.item == item and detail in x.detail]
    assert len(found) == 1, (item, detail, found)
    return found[0]


def test_the_heating_riser_by_hand() -> None:
    """From its document: two 1 ft jackets, a straight margin of 6 in at each end of each.

    Insulation: 2 x (1 ft + 2 x 6 in) = 4 ft. Locked off: two pumps, two boilers. Shut: V-SHOP-R.
    Work: 3 h. Watch: each of two plugs from the first injection to the end of its hold, 3 h after
    the last is due (the model's high end), to a schedule's quarter minute.
    """
    made = takeoff("heating-riser-mended")
    assert quantity(made, "jacket", "1 ft") == 2
    assert quantity(made, "insulation to strip") == pytest.approx(4.0)
    assert quantity(made, "machine to lock off") == 4
    assert quantity(made, "valve to shut and prove", "V-SHOP-R") == 1
    assert quantity(made, "bleed with hose, attended", "DC-R") == 1
    assert quantity(made, "work on the open line") == 3
    due = quantity(made, "freeze")
    assert quantity(made, "plug watch") == pytest.approx(2 * (due + 3), abs=0.02)


@pytest.mark.parametrize("name", MENDED)
def test_coolant_and_cylinders_cover_the_report(name: str) -> None:
    made, report = takeoff(name), report_on(name)
    # The international pound (NIST SP 811); lines are rounded up to a tenth.
    pound = 1.0 if report.units == "metric" else 0.45359237
    parts = [p.freeze.coolant for p in report.plugs if p.freeze.coolant]
    need = sum(p.on_hand.value for p in parts)
    have = quantity(made, "carbon dioxide", "to have on site") * pound
    assert need <= have + 1e-6
    assert have == pytest.approx(need, abs=0.1)
    assert quantity(made, "cylinder") == sum(p.cylinders for p in parts)


def at_work(item: dict[str, Any]) -> str | None:
    state = item.get("state")
    now: str | None = state.get("working") if isinstance(state, dict) else state
    return now


def dry_taps(name: str) -> set[str]:
    """Taps in use that no source reaches, by a plain walk over the document (an oracle).

    Pipes are edges; a pipe is out of use if it carries a plug or a valve not open while working.
    Only fit for sites whose valves and taps stand so that the whole pipe is one thing.
    """
    data: dict[str, Any] = json.loads((FIXTURES / f"{name}.json").read_text())
    cut = {p["pipe"] for p in data["plugs"]}
    for valve in data["valves"]:
        if at_work(valve) == "closed":
            cut.add(valve.get("pipe"))
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(j["id"] for j in data["junctions"])
    graph.add_edges_from((p["from"], p["to"]) for p in data["pipes"] if p["id"] not in cut)
    wet: set[str] = set()
    tanks = [e for e in data.get("equipment", ()) if e["kind"] == "tank"]
    for feed in [*data["sources"], *tanks]:
        if feed.get("junction"):
            wet |= nx.node_connected_component(graph, feed["junction"])
    used = [o for o in data["outlets"] if at_work(o) in {None, "may draw"}]
    return {o["id"] for o in used if o["junction"] not in wet}


@pytest.mark.parametrize("name", ["no-drawing-mended", "ring-main-mended", "cold-riser-mended"])
def test_taps_out_of_service_are_those_that_a_walk_finds_dry(name: str) -> None:
    lines = [x for x in takeoff(name).lines if x.item == "outlet out of service"]
    told = set(lines[0].detail.split(", ")) if lines else set()
    assert told == dry_taps(name)


@pytest.mark.parametrize("name", ["metric-block-mended", "heating-riser-sketch"])
def test_csv_and_json_say_the_same(name: str) -> None:
    data = json.loads(handout(name, "takeoff.json"))
    rows = list(csv.DictReader(io.StringIO(handout(name, "takeoff.csv").decode("utf-8-sig"))))
    assert [float(r["quantity"]) for r in rows] == pytest.approx(
        [x["quantity"] for x in data["lines"]], rel=1e-5
    )
    for key in ("item", "detail", "unit", "basis"):
        assert [r[key] for r in rows] == [x[key] for x in data["lines"]]
    assert {r["verdict"] for r in rows} == {data["verdict"]}
    assert "licensed practice" in data["deference"]


def test_what_can_not_be_counted_is_said() -> None:
    made = takeoff("heating-riser-sketch")  # its cylinders are too warm to give liquid
    assert made.verdict.value == "not compliant"
    assert any("plug F1" in m for m in made.missing)
    assert not [x for x in made.lines if x.item == "cylinder"]


def test_metric_sites_are_counted_in_metric() -> None:
    units = {x.unit for x in takeoff("metric-block-mended").lines}
    assert not units & {"lb", "ft", "US gal"}
