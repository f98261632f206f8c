"""Network files: what is read against what the WNTR package itself says of the same network.

Outside source: WNTR's example networks (public networks of the EPANET literature) and its own
model and graph of them. The rise at no flow is EPANET's single-point curve: 4/3 of the design head
(EPANET 2.2 user manual, section 3.1.6 'Pumps'; from memory).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import networkx
import pytest

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.importers.network_file import read_inp
from layoutcheck.report.imports import import_report
from tests.conftest import Require

NETWORKS = ("Net1", "Net2", "Net3", "ky10")


@pytest.fixture(params=NETWORKS)
def network(request: pytest.FixtureRequest, require: Require) -> tuple[Path, Any]:
    wntr: Any = require.module("wntr")
    path = Path(wntr.__file__).parent / "library" / "networks" / f"{request.param}.inp"
    return path, wntr.network.WaterNetworkModel(str(path))


def test_the_graph_is_the_network_s_own(network: tuple[Path, Any]) -> None:
    path, model = network
    document = read_inp(path, name=path.name).document
    ours: Any = networkx.MultiGraph()
    ours.add_nodes_from(j["id"] for j in document["junctions"])
    ours.add_edges_from((p["from"], p["to"], p["id"]) for p in document["pipes"])
    theirs: Any = networkx.MultiGraph(model.to_graph().to_undirected())
    assert set(ours) == set(theirs)
    assert {(frozenset((a, b)), k) for a, b, k in ours.edges(keys=True)} == {
        (frozenset((a, b)), k) for a, b, k in theirs.edges(keys=True)
    }


def test_lengths_heights_and_ends_are_the_network_s_own(network: tuple[Path, Any]) -> None:
    path, model = network
    layout = parse_layout(read_inp(path, name=path.name).document)
    heights = {j.id: j.elevation for j in layout.junctions}
    pipes = {p.id: p for p in layout.pipes}
    for name, node in model.junctions():
        assert heights[name] == pytest.approx(node.elevation, abs=1e-5)
    for name, pipe in model.pipes():
        rise = abs((heights[pipe.start_node_name] or 0) - (heights[pipe.end_node_name] or 0))
        assert pipes[name].length == pytest.approx(max(pipe.length, rise), abs=1e-5) or None in (
            heights[pipe.start_node_name],
            heights[pipe.end_node_name],
        )
    assert {s.id for s in layout.sources} == set(model.reservoir_name_list)
    assert {g.id for g in layout.equipment} == set(model.tank_name_list)
    assert {p.id for p in layout.pumps} == set(model.pump_name_list)
    assert {v.id for v in layout.valves} >= set(model.valve_name_list)


def test_no_valve_is_said_to_stand_in_any_way(network: tuple[Path, Any]) -> None:
    path, _ = network
    imported = read_inp(path, name=path.name)
    assert all("state" not in v for v in imported.document.get("valves", ()))
    shut = [n for n in imported.notes if n.says.startswith("Closed in the file")]
    assert len(shut) == (1 if path.stem == "Net3" else 0)
    assert import_report(imported).to_fill


def test_the_rise_at_no_flow_is_that_of_the_curve(require: Require) -> None:
    wntr: Any = require.module("wntr")
    path = Path(wntr.__file__).parent / "library" / "networks" / "Net1.inp"
    layout = parse_layout(read_inp(path, name="Net1.inp").document)
    design = 250 * 0.3048  # m: the one point of Net1's curve is 1500 gpm at 250 ft
    assert layout.pumps[0].shutoff_head == pytest.approx(4 / 3 * design * 9806.65, rel=1e-6)


def test_a_file_without_units_is_read_in_the_format_s_own(require: Require, tmp_path: Path) -> None:
    """Net1 is in GPM, which is EPANET's own choice where nothing is stated (manual, C.2)."""
    wntr: Any = require.module("wntr")
    text = (Path(wntr.__file__).parent / "library" / "networks" / "Net1.inp").read_text()
    lines = [line for line in text.splitlines() if line.split()[:1] != ["Units"]]
    assert len(lines) == len(text.splitlines()) - 1
    for name, content in (("Net1.inp", text), ("unstated/Net1.inp", "\n".join(lines))):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(content)
    stated = read_inp(tmp_path / "Net1.inp", name="Net1.inp")
    unstated = read_inp(tmp_path / "unstated" / "Net1.inp", name="Net1.inp")
    assert unstated.document == stated.document
    (told,) = {n.says for n in unstated.notes} - {n.says for n in stated.notes}
    assert "states no units" in told


@pytest.mark.parametrize(
    "text",
    ["", "no sections", "[JUNCTIONS]\n J1 x\n", "[PIPES]\n P1 A B 10 100 100 0 Open\n", "[END]\n"],
)
def test_a_file_that_is_no_network_is_one_clear_error(text: str, tmp_path: Path) -> None:
    path = tmp_path / "broken.inp"
    path.write_text(text)
    with pytest.raises(LayoutFaults) as raised:
        read_inp(path, name="broken.inp")
    assert len(raised.value.faults) == 1
