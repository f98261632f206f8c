"""The water below a plug that can rise to it, by hand. Sites are invented."""

import math
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.document.models import Moment
from layoutcheck.network import Trust, World, build_network
from layoutcheck.network.rising import rising_below


def site(**changes: Any) -> Any:
    """A riser of 2 in from a level main of 4 in; a valve on the main; a branch that goes up."""
    return {
        "format": "layoutcheck layout 1",
        "junctions": {
            "S": {"elevation": "0 m"},
            "E": {"elevation": "0 m"},
            "M": {"elevation": "4 m"},
            "W": {"elevation": "10 m"},
            "X": {"elevation": "9 m"},
            **changes.pop("junctions", {}),
        },
        "pipes": {
            "low": "S to M, 2 in, 4 m",
            "riser": "M to W, 2 in, 6 m",
            "branch": "M to X, 2 in, 5 m",
            "main": "S to E, 4 in, 10 m",
        },
        **changes,
    }


def below(station: float, trust: Trust = Trust.PROVEN, **changes: Any) -> float | None:
    network = build_network(parse_layout(site(**changes)))
    world = World(network, Moment.FREEZING, trust)
    spot = network.spot("riser", station)
    bore = network.dimensions["riser"].inside_diameter
    return rising_below(world, spot, math.pi / 4.0 * bore**2)


# 4 in over 2 in schedule 40, by ASME B36.10M: 102.26 and 52.50 mm; 10 m of the one hold as much as
# 10 x (102.26 / 52.50)^2 = 37.94 m of the other.
MAIN = 37.94


def test_all_that_lies_below_counts_by_its_volume() -> None:
    """2 m of riser below the mark, 4 m below that, the main; the branch goes up and does not."""
    assert below(2.0) == pytest.approx(2.0 + 4.0 + MAIN, rel=1e-3)
    assert below(6.0) == pytest.approx(6.0 + 4.0 + MAIN, rel=1e-3)


def test_only_a_valve_proven_tight_keeps_water_out() -> None:
    """A valve at 1 m of the 10 m main: with it proven a tenth is left, less half its body."""
    shut = "main at 1 m, closed, {}"
    proven = below(2.0, valves={"V": shut.format("proven")})
    assert proven == pytest.approx(6.0 + MAIN / 10, rel=0.03)
    open_way = below(2.0, valves={"V": shut.format("not proven")})
    assert open_way == pytest.approx(6.0 + MAIN, rel=0.03)


def test_a_height_that_is_not_known_leaves_it_open() -> None:
    assert below(2.0, junctions={"E": {}}) is None
