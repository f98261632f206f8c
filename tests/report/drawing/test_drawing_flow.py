"""Which way water can go: said only where there is no doubt. Expected values by hand."""

from typing import Any

from layoutcheck.document import parse_layout
from layoutcheck.network import build_network
from layoutcheck.report.drawing.flow import Direction, flow_spans
from tests.report.drawing.drawing_samples import riser


def directions(document: dict[str, Any]) -> dict[str, tuple[Direction, bool]]:
    network = build_network(parse_layout(document))
    return {s.pipe: (s.direction, s.certain) for s in flow_spans(network)}


def test_water_goes_from_the_only_source_to_the_outlets() -> None:
    found = directions(riser())
    assert found["P0"] == (Direction.FORWARD, True)
    assert found["R2"] == (Direction.FORWARD, True)
    assert found["D1"] == (Direction.FORWARD, True)
    assert "C3" not in found, "the tap on floor 3 is locked off"


def test_a_pipe_drawn_against_the_water_is_told_backward() -> None:
    document = riser()
    main = document["pipes"][0]
    main["from"], main["to"] = main["to"], main["from"]
    assert directions(document)["P0"] == (Direction.BACKWARD, True)


def test_between_two_sources_water_may_go_either_way() -> None:
    document = riser()
    document["sources"].append(
        {"id": "ROOF", "junction": "S4", "kind": "raised tank", "level": "60 ft"}
    )
    found = directions(document)
    assert found["R2"] == (Direction.EITHER, True)
    assert found["D1"] == (Direction.FORWARD, True)


def test_on_a_ring_water_may_go_either_way() -> None:
    document = riser()
    document["pipes"].append(
        {"id": "RING", "from": "S0", "to": "S4", "size": "NPS 3", "material": "copper",
         "length": "60 ft"}
    )  # fmt: skip
    found = directions(document)
    assert found["R2"] == (Direction.EITHER, True)
    assert found["P0"] == (Direction.FORWARD, True)


def test_behind_a_valve_not_proven_flow_is_in_doubt() -> None:
    document = riser()
    document["valves"][1] |= {"state": "closed"}
    assert directions(document)["D2"] == (Direction.FORWARD, False)
    document["valves"][1] |= {"tightness": "proven"}
    assert "D2" not in directions(document)
