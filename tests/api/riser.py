"""An invented riser of 50 pipes, for load and speed: its size is what is asked for, no more."""

from __future__ import annotations

import copy
from typing import Any

from layoutcheck_service import examples

PIPES = 50
_FLOORS = 15  # each of three pipes: the riser's, and a run-out on either side
_COPPER = {"material": "copper", "wall": "type L", "covering": "bare"}


def riser(name: str, *, station: str = "5 ft") -> dict[str, Any]:
    """Give the example's site with a riser of flats on its line that flows.

    name: makes it another document. station: where the plug stands on its branch; 5 ft is well.
    """
    made = copy.deepcopy(examples.LAYOUT)
    made["name"] = f"Riser {name}, Larkfield House"
    made["note"] = "Invented. A riser with run-outs on both sides."
    made["plugs"][0]["station"] = station
    made["outlets"] = []
    below = "J3"
    for floor in range(1, _FLOORS + 1):
        here = f"R{floor}"
        _add_pipe(made, f"rise-{floor}", below, here, 30 + 10 * floor, "NPS 2", "tee")
        for side in ("east", "west"):
            end = f"{here}-{side}"
            _add_pipe(made, f"run-{floor}-{side}", here, end, 30 + 10 * floor, "1/2 in", None)
            made["outlets"].append({"id": f"tap-{floor}-{side}", "junction": end})
        below = here
    _add_pipe(made, "head", below, "T1", 190, "NPS 1", None)
    _add_pipe(made, "vent", "T1", "T2", 192, "1/2 in", "cap")
    assert len(made["pipes"]) == PIPES
    return made


def _add_pipe(
    made: dict[str, Any],
    name: str,
    start: str,
    end: str,
    height: int,
    size: str,
    fitting: str | None,
) -> None:
    """Add a pipe and the junction at its end."""
    junction = {"id": end, "elevation": f"{height} ft"}
    made["junctions"].append({**junction, "fitting": fitting} if fitting else junction)
    made["pipes"].append(
        {"id": name, "from": start, "to": end, "size": size, "length": "12 ft", **_COPPER}
    )
