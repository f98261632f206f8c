"""Faults that the oracles found, each as a small case worked by hand. The sites are invented."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from layoutcheck.document.faults import LayoutFaults
from layoutcheck.document.models import Moment
from layoutcheck.document.read import parse_layout
from layoutcheck.network import Metric, Trust, World, build_network
from layoutcheck.network.cut import deciding_pieces, ways_in
from layoutcheck.network.drain import drained_water
from layoutcheck.placement import place_plug
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules, default_pack
from tests.oracles.strategies import SITE, Document


def _line(**more: Any) -> Document:
    """A main at A, ten metres of level 1 in pipe, a closed end at B."""
    return {
        "format": "layoutcheck layout 1",
        "name": "An invented line",
        "junctions": [{"id": "A", "elevation": "0 m"}, {"id": "B", "elevation": "0 m"}],
        "pipes": [
            {
                "id": "P",
                "from": "A",
                "to": "B",
                "size": "NPS 1",
                "material": "copper",
                "wall": "type L",
                "length": "10 m",
            }
        ],
        "sources": [{"id": "S", "junction": "A", "kind": "main", "pressure": "4 bar"}],
        **more,
    }


def _opened(start: str, end: str) -> Document:
    return {"open": [{"pipe": "P", "start": start, "end": end}], "duration": "1 h"}


def _is_open(document: Document) -> bool:
    network = build_network(parse_layout(document))
    world = World(network, Moment.WORKING, Trust.PROVEN)
    return bool(ways_in(world, [], [n for place in network.work for n in place.nodes]))


SHUT = {"id": "V", "pipe": "P", "station": "3 m", "state": "closed", "tightness": "proven"}


def test_a_valve_whose_body_is_cut_into_is_no_barrier() -> None:
    # The body reaches from 2.8 m to 3.2 m; the opening from 3.1 m to 4 m cuts into it.
    valve = SHUT | {"body": "0.4 m"}
    assert _is_open(_line(valves=[valve], work=_opened("3.1 m", "4 m")))


def test_a_valve_that_the_opening_only_comes_up_to_is_a_barrier() -> None:
    # The opening begins at the valve's far face, 3 m + 0.2 m.
    valve = SHUT | {"body": "0.4 m"}
    assert not _is_open(_line(valves=[valve], work=_opened("3.2 m", "4 m")))


def test_a_cut_of_no_length_at_a_valve_opens_both_its_sides() -> None:
    assert _is_open(_line(valves=[SHUT], work=_opened("3 m", "3 m")))


def test_a_valve_at_a_junction_is_opened_by_a_stretch_that_reaches_its_body() -> None:
    # The valve stands at A with half its body, 0.2 m, in the pipe. The main is beyond it.
    valve = {k: v for k, v in SHUT.items() if k not in {"pipe", "station"}}
    valve |= {"junction": "A", "body": "0.4 m"}
    assert _is_open(_line(valves=[valve], work=_opened("0.1 m", "1 m")))
    assert not _is_open(_line(valves=[valve], work=_opened("0.2 m", "1 m")))


def test_a_pump_inside_the_opened_stretch_is_opened_with_it() -> None:
    # No source is left but the pump. It is taken out, and yet it may start until it is locked off.
    pump = {"id": "X", "pipe": "P", "station": "5 m"}
    locked = pump | {"locked_off": True}
    assert _is_open(_line(sources=[], pumps=[pump], work=_opened("4 m", "6 m")))
    assert not _is_open(_line(sources=[], pumps=[locked], work=_opened("4 m", "6 m")))
    assert _is_open(_line(sources=[], pumps=[pump], work=_opened("6 m", "7 m")))


def test_a_plug_in_what_is_opened_holds_no_water_back() -> None:
    # A riser of 2 m, opened from 0 to 1 m, with a plug in the opening at 0.5 m: all above the
    # lowest opened point drains, 2 m of 1.025 in bore (ASTM B88, 1 in type L: 1.125 in outside,
    # wall 0.050 in).
    document = _line(sources=[], work=_opened("0 m", "1 m"))
    document["junctions"][1]["elevation"] = "2 m"
    document["pipes"][0]["length"] = "2 m"
    network = build_network(parse_layout(document))
    world = World(network, Moment.WORKING, Trust.STATED)
    drained = drained_water(world, [(network.spot("P", 0.5), 0.15)])
    assert drained.volume == pytest.approx(math.pi / 4 * (1.025 * 0.0254) ** 2 * 2.0, rel=1e-12)


TANK = {"id": "T", "kind": "tank", "pipe": "P", "station": "3 m", "volume": "80 L"}
HEATER = {"id": "T", "kind": "heater", "pipe": "P", "station": "3 m"}


@pytest.mark.parametrize(
    ("more", "pointer"),
    [
        # On which side of the valve is the tank? It decides what is cut off.
        ({"valves": [SHUT], "equipment": [TANK]}, "/equipment/0/station"),
        (
            {"valves": [SHUT | {"body": "0.4 m"}], "equipment": [TANK | {"station": "2.9 m"}]},
            "/equipment/0/station",
        ),
        (
            {
                "pumps": [{"id": "X", "pipe": "P", "station": "3 m"}],
                "equipment": [TANK],
            },
            "/equipment/0/station",
        ),
        # Two bodies can not be in the same place.
        (
            {
                "valves": [
                    SHUT | {"body": "0.4 m"},
                    SHUT | {"id": "W", "station": "3.3 m", "body": "0.4 m"},
                ]
            },
            "/valves/1/station",
        ),
    ],
)
def test_what_leaves_open_on_which_side_of_a_valve_it_is_is_refused(
    more: Document, pointer: str
) -> None:
    with pytest.raises(LayoutFaults) as refused:
        parse_layout(_line(**more))
    assert [f.pointer for f in refused.value.faults] == [pointer]


def test_a_tank_at_a_junction_with_a_valve_between_two_pipes_is_refused() -> None:
    document = _line()
    document["junctions"].append({"id": "C", "elevation": "0 m"})
    document["pipes"].append(document["pipes"][0] | {"id": "Q", "from": "B", "to": "C"})
    valve = {"id": "V", "junction": "B", "state": "closed", "tightness": "proven"}
    tank = {"id": "T", "kind": "tank", "junction": "B", "volume": "80 L"}
    with pytest.raises(LayoutFaults) as refused:
        parse_layout(document | {"valves": [valve], "equipment": [tank]})
    assert [f.pointer for f in refused.value.faults] == ["/valves/0/junction"]


@pytest.mark.parametrize(
    "more",
    [
        {"equipment": [TANK | {"station": "3.2 m"}], "valves": [SHUT | {"body": "0.4 m"}]},
        {"equipment": [HEATER], "valves": [SHUT]},
        {"equipment": [TANK, TANK | {"id": "U"}]},
        {
            "valves": [
                SHUT | {"body": "0.4 m"},
                SHUT | {"id": "W", "station": "3.4 m", "body": "0.4 m"},
            ]
        },
    ],
)
def test_what_stands_beside_a_valve_is_accepted(more: Document) -> None:
    parse_layout(_line(**more))


def test_a_mark_exactly_on_a_limit_is_its_own_nearest_place() -> None:
    # A ring of 36 in from A by B back to A: the plug at 24 in, half its jacket 6 in to B, then the
    # margin of 6 in to A. 36 in - 12 in and 24 in differ by a rounding in metres.
    document = _line(sources=[], work={"open": [{"junction": "A"}], "duration": "1 h"})
    document["pipes"][0] |= {"length": "30 in"}
    document["pipes"].append(document["pipes"][0] | {"id": "Q", "from": "B", "to": "A"})
    document["pipes"][1] |= {"length": "6 in"}
    document["plugs"] = [{"id": "K", "pipe": "P", "station": "24 in", "jacket": "12 in"}]
    document["site"] = SITE
    case = Case.of(parse_layout(document), default_pack())
    nearest = place_plug(case, case.plugs[0]).nearest
    assert nearest is not None
    assert nearest.travel == 0.0
    assert nearest.spot == case.plugs[0].spot


@pytest.mark.parametrize(("locked", "outcome"), [(False, Outcome.HOLDS), (True, Outcome.BROKEN)])
def test_a_locked_off_tank_takes_no_pushed_water(locked: bool, outcome: Outcome) -> None:
    # The plug shuts the line between a tank at A and the closed end at B; what it pushes towards A
    # gets out into the tank, unless the tank is locked off.
    tank = {"id": "T", "kind": "tank", "junction": "A", "level": "5 m", "locked_off": locked}
    plug = {"id": "K", "pipe": "P", "station": "1 m", "jacket": "12 in"}
    document = _line(sources=[], equipment=[tank], plugs=[plug], site=SITE)
    case = Case.of(parse_layout(document), default_pack())
    sections = all_rules()["trapped-water"].judge(case)
    (towards_tank,) = [s for s in sections if "B" not in s.subject.id.split()]
    assert towards_tank.outcome is outcome


def test_a_distance_below_nought_by_rounding_does_not_walk_for_ever() -> None:
    # 1.8874586088176875 m less the sum of its parts: -2.2e-16 m. scipy's walk did not end.
    network = build_network(parse_layout(_line()))
    found = Metric(network, np.ones(len(network.pieces), dtype=bool)).from_seeds(
        np.array([-2.2e-16, 1.0]), within=0.1524
    )
    assert found.tolist() == [0.0, math.inf]


def test_a_plug_on_no_length_of_pipe_between_two_opened_places_cuts_nothing_off() -> None:
    # Half of V's body, 3 in, takes up the end of P. What is opened at 6 in lies within it, so both
    # its nodes are at 3 in, with a piece of no length between them. A plug there leaves the first
    # of the two open to the main; a plug on the 3 in before them cuts both off.
    document = _line()
    document["pipes"][0] |= {"length": "6 in"}
    document["valves"] = [{"id": "V", "junction": "B", "body": "6 in"}]
    document["work"] = {"open": [{"pipe": "P", "start": "6 in", "end": "6 in"}], "duration": "2 h"}
    network = build_network(parse_layout(document))
    first, empty = network.pieces_of["P"]
    assert [network.pieces[i].length for i in (first, empty)] == pytest.approx([0.0762, 0.0])
    for trust in Trust:
        deciding = deciding_pieces(World(network, Moment.WORKING, trust), ())
        assert (deciding[first], deciding[empty]) == (True, False)
