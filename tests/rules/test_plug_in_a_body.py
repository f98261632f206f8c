"""A plug centred inside a body is a fault of placing, never put on the nearer face by a guess.

By hand, on a pipe of 20 ft = 6.096 m: a valve of 10 in face to face, centred at 10 ft, reaches from
9 ft 7 in to 10 ft 5 in. All of it is invented.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from layoutcheck.document import LayoutFaults, parse_layout


def _site(station: str, **more: Any) -> dict[str, Any]:
    pipe = {"size": "2 in", "material": "copper", "wall": "type L", "length": "20 ft"}
    return {
        "format": "layoutcheck layout 1",
        "name": "An invented line",
        "junctions": [{"id": j} for j in ("A", "B", "C")],
        "pipes": [
            {"id": "one", "from": "A", "to": "B", **pipe},
            {"id": "two", "from": "B", "to": "C", **pipe},
        ],
        "plugs": [{"id": "F", "pipe": "one", "station": station, "jacket": "12 in"}],
    } | more


VALVE = {"valves": [{"id": "V", "pipe": "one", "station": "10 ft", "body": "10 in"}]}
AT_THE_END = {"valves": [{"id": "V", "junction": "B", "body": "10 in"}]}
UNKNOWN_LENGTH = {"valves": [{"id": "V", "pipe": "one", "station": "10 ft"}]}
METER = {
    "fittings": [{"id": "M", "kind": "meter", "pipe": "one", "station": "10 ft", "body": "10 in"}]
}
PUMP = {"pumps": [{"id": "P", "pipe": "one", "station": "10 ft"}]}


@pytest.mark.parametrize(
    ("station", "more", "what"),
    [
        ("10 ft", VALVE, "valve V"),
        ("10 ft 4 15/16 in", VALVE, "valve V"),
        ("9 ft 7 1/16 in", VALVE, "valve V"),
        ("19 ft 7 1/16 in", AT_THE_END, "valve V"),
        ("20 ft", AT_THE_END, "valve V"),
        ("10 ft", UNKNOWN_LENGTH, "valve V"),
        ("10 ft", METER, "meter M"),
        ("10 ft", PUMP, "pump P"),
    ],
)
def test_a_centre_in_a_body_is_refused_with_a_station_that_ends_the_fault(
    station: str, more: dict[str, Any], what: str
) -> None:
    with pytest.raises(LayoutFaults) as told:
        parse_layout(_site(station, **more))
    (fault,) = told.value.faults
    assert fault.pointer == "/plugs/0/station"
    assert what in fault.found
    where = json.loads(f"{{{fault.example}}}")
    assert where["pipe"] == "one"
    parse_layout(_site(where["station"], **more))


@pytest.mark.parametrize(
    ("station", "more"),
    [
        ("10 ft 5 in", VALVE),
        ("9 ft 7 in", VALVE),
        ("19 ft 7 in", AT_THE_END),
        ("10 ft 1/16 in", UNKNOWN_LENGTH),
        ("10 ft", {"fittings": [{"id": "W", "kind": "weld", "pipe": "one", "station": "10 ft"}]}),
    ],
)
def test_a_centre_on_a_face_or_on_pipe_is_read(station: str, more: dict[str, Any]) -> None:
    parse_layout(_site(station, **more))


def test_a_drawn_point_that_means_a_body_is_refused_too() -> None:
    """Drawn from 0 to 20, one unit a foot: 10 is in the valve, 12 beside it."""
    site = _site("10 ft", **VALVE)
    ends = {"A": [0, 0], "B": [20, 0], "C": [40, 0]}
    site["junctions"] = [{"id": j, "at": at} for j, at in ends.items()]
    site["drawing"] = {"snap_within": 1}
    mark = {"id": "F", "jacket": "12 in"}
    with pytest.raises(LayoutFaults) as told:
        parse_layout(site | {"plugs": [mark | {"point": [10, 0.5]}]})
    (fault,) = told.value.faults
    assert fault.pointer == "/plugs/0/point"
    parse_layout(site | {"plugs": [mark | json.loads(f"{{{fault.example}}}")]})
    parse_layout(site | {"plugs": [mark | {"point": [12, 0.5]}]})
