"""A conflict over the flow under a jacket names what stops it, though the piece itself is still.

By hand: main S to a tap D through T; a still stub of 4 in hangs off T. A jacket of 12 in with its
centre anywhere on the stub reaches 2 in or more into the line that flows. To lock off the tap stops
that flow, so it must be in the conflict: a conflict without it would prove a plan away that is one.
The site is invented.
"""

from __future__ import annotations

from layoutcheck.document import parse_layout
from layoutcheck.planning.conflict import Explainer
from layoutcheck.planning.elements import Kind
from layoutcheck.planning.ground import Ground
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules, default_pack


def test_what_flows_beside_a_still_piece_is_explained_by_its_own_flow() -> None:
    pipe = {"size": "NPS 1", "material": "copper", "wall": "type L"}
    layout = parse_layout(
        {
            "format": "layoutcheck layout 1",
            "name": "An invented stub",
            "junctions": [{"id": j, "elevation": "0 ft"} for j in "STDE"],
            "pipes": [
                {"id": "one", "from": "S", "to": "T", "length": "20 ft", **pipe},
                {"id": "two", "from": "T", "to": "D", "length": "20 ft", **pipe},
                {"id": "stub", "from": "T", "to": "E", "length": "4 in", **pipe},
            ],
            "sources": [{"id": "main", "junction": "S", "kind": "main", "pressure": "40 psi"}],
            "outlets": [{"id": "tap", "junction": "D"}],
            "work": {"open": [{"junction": "E"}], "duration": "2 h"},
        }
    )
    case = Case.of(layout, default_pack())
    ground = Ground(case)
    (piece,) = case.network.pieces_of["stub"]
    why = Explainer(ground)._flow_under(ground.case, piece)
    assert (Kind.LOCK_OUTLET, "tap") in {(e.kind, e.id) for e in why}


def test_a_loop_beside_a_still_piece_is_explained_by_its_boiler() -> None:
    """A stub of 4 in off a loop with a boiler 10 ft below: the jacket reaches into the loop."""
    pipe = {"size": "NPS 1", "material": "copper", "wall": "type L"}
    ends = {"left": "PT", "right": "TQ", "fall": "PB", "rise": "BQ", "stub": "TE"}
    layout = parse_layout(
        {
            "format": "layoutcheck layout 1",
            "name": "An invented loop",
            "junctions": [{"id": j, "elevation": "0 ft" if j == "B" else "10 ft"} for j in "PTQBE"],
            "pipes": [
                {"id": n, "from": e[0], "to": e[1], **pipe}
                | {"length": "4 in" if n == "stub" else "20 ft"}
                for n, e in ends.items()
            ],
            "equipment": [{"id": "boiler", "kind": "heater", "junction": "B"}],
            "work": {"open": [{"junction": "E"}], "duration": "2 h"},
            "plugs": [{"id": "A", "pipe": "stub", "station": "2 in", "jacket": "12 in"}],
        }
    )
    case = Case.of(layout, default_pack())
    ground = Ground(case)
    (found,) = all_rules()["natural-circulation"].judge(case)
    assert found.outcome is Outcome.BROKEN
    why = Explainer(ground).judged(ground.case, found, case.plugs)
    assert (Kind.SHUT_DOWN, "boiler") in {(e.kind, e.id) for e in why}
