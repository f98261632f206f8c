"""A small invented layout for tests of the command line: one plug a foot from a tee, two asked for.

Sketch:  MAIN A ==P1== B ==P2== C tap      with P3 (NPS 2) from B up to D, closed, valve V1 on it.
"""

from __future__ import annotations

from typing import Any


def small_layout(**changes: Any) -> dict[str, Any]:
    """The layout as a document; top-level fields can be changed or added."""
    steel = {"material": "carbon steel", "wall": "sch 40"}
    layout: dict[str, Any] = {
        "format": "layoutcheck layout 1",
        "name": "Invented branch",
        "note": "Invented for a test.",
        "junctions": [
            {"id": "A", "elevation": "0 ft", "at": [0, 0]},
            {"id": "B", "elevation": "0 ft", "at": [100, 0]},
            {"id": "C", "elevation": "0 ft", "at": [200, 0]},
            {"id": "D", "elevation": "24 ft", "at": [100, 100]},
        ],
        "pipes": [
            {"id": "P1", "from": "A", "to": "B", "size": "NPS 4", "length": "30 ft", **steel},
            {"id": "P2", "from": "B", "to": "C", "size": "NPS 4", "length": "30 ft", **steel},
            {"id": "P3", "from": "B", "to": "D", "size": "NPS 2", "length": "24 ft", **steel},
        ],
        "sources": [{"id": "MAIN", "junction": "A", "kind": "main", "pressure": "60 psi"}],
        "outlets": [{"id": "TAP", "junction": "C"}],
        "valves": [{"id": "V1", "pipe": "P3", "station": "20 ft", "state": "open"}],
        "work": {"open": [{"valve": "V1"}], "duration": "2 h"},
        "plugs": [{"id": "K1", "pipe": "P3", "station": "18 in", "jacket": "12 in"}],
    }
    return {**layout, **changes}
