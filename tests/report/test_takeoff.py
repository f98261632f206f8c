"""Take-off: quantities counted again from the document by other means."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import networkx as nx
import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report import check
from layoutcheck.report.plans import plan_layout
from layoutcheck.report.takeoff import Code, Takeoff, takeoff_of
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
    watch = quantity(made, "plug watch while freezing") + quantity(made, "plug watch while held")
    assert watch == pytest.approx(2 * (due + 3), abs=0.03)


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
    for key in ("code", "item", "detail", "unit", "basis"):
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


@pytest.mark.parametrize("name", ["metric-block-mended", "heating-riser-sketch"])
def test_the_workbook_says_the_same_as_the_csv(name: str, require: Any) -> None:
    openpyxl = require.module("openpyxl")
    data = handout(name, "takeoff.xlsx")
    assert data == handout(name, "takeoff.xlsx")
    sheet = openpyxl.load_workbook(io.BytesIO(data)).active
    head, *rows = sheet.iter_rows(values_only=True)
    rows = rows[: next(n for n, r in enumerate(rows) if not any(r))]
    told = list(csv.reader(io.StringIO(handout(name, "takeoff.csv").decode("utf-8-sig"))))
    assert list(head) == told[0]
    assert [[f"{x:g}" if isinstance(x, int | float) else x for x in r] for r in rows] == told[1:]
    notes = " ".join(str(r[0]) for r in sheet.iter_rows(values_only=True))
    assert "licensed practice" in notes


def test_codes_stay_what_they_are() -> None:
    """Price lists hang on them: a code may be added, never changed or taken away."""
    assert [c.value for c in Code] == [
        "jacket",
        "coolant-on-site",
        "coolant-used",
        "container",
        "nozzle",
        "labour-work",
        "hours-freeze",
        "labour-freeze",
        "labour-hold",
        "labour-thaw",
        "insulation-strip",
        "valve-proven",
        "machine-locked",
        "drain-manned",
        "outlet-dry",
        "outlet-shut",
        "water-drained",
    ]


@pytest.mark.parametrize("name", MENDED)
def test_each_quantity_lies_in_its_range(name: str) -> None:
    lines = takeoff(name).lines
    assert lines
    for line in lines:
        assert line.low <= line.quantity <= line.high
    # What is estimated has a range; what is counted has none.
    wide = {x.code for x in lines if x.low < x.high}
    estimated = {Code.COOLANT_ON_SITE, Code.COOLANT_USED, Code.HOURS_FREEZE, Code.LABOUR_FREEZE}
    assert estimated <= wide <= estimated | {Code.LABOUR_THAW}


def test_a_plan_is_counted_as_the_plan_says() -> None:
    """What a plan says it costs, and what is counted from its own document, are the same."""
    data = json.loads((FIXTURES / "heating-riser-mended.json").read_text())
    layout = parse_layout(data)
    plan = plan_layout(layout, data=data, top=1, time_limit=60.0).plans[0]
    own = parse_layout(plan.document)
    made = takeoff_of(own, check(own))

    def total(code: Code) -> float:
        return sum(x.quantity for x in made.lines if x.code is code)

    assert total(Code.JACKET) == sum(s.plugs for s in plan.cost.plugs_by_size)
    assert plan.cost.coolant is not None
    # lb, rounded up to a tenth (the international pound, NIST SP 811), of figures that a report
    # keeps to four digits: each is off by up to 0.05 in 100, which is half a digit of the fourth.
    mass = sum(c.mass.value for c in plan.cost.coolant) / 0.45359237
    assert -5e-4 * mass <= total(Code.COOLANT_ON_SITE) - mass <= 0.1 + 5e-4 * mass
    proven = {c.id for s in plan.steps for c in s.concerns if c.kind == "valve"}
    told = {v for x in made.lines if x.code is Code.VALVE_PROVEN for v in x.detail.split(", ")}
    assert {a.id for a in plan.actions if a.kind in {"close valve", "prove valve"}} <= told
    assert told <= proven
    dry, shut = (
        {o for x in made.lines if x.code is code for o in x.detail.split(", ")}
        for code in (Code.OUTLET_DRY, Code.OUTLET_SHUT)
    )
    # A plan names all that get no water; here those that are shut or bled are told by themselves.
    assert dry <= set(plan.cost.out_of_service) <= dry | shut
    if plan.cost.drained is not None:  # US gal of 231 in3 (NIST SP 811), rounded up
        assert total(Code.WATER_DRAINED) == pytest.approx(
            plan.cost.drained.value / 3.785411784e-3, abs=0.01
        )
