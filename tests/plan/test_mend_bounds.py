"""Where the joint mending is cut short it says so; warm water and joints change nothing of that."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.placement.allowed import Allowed
from layoutcheck.planning import combinations, mend
from layoutcheck.planning.mend import MendStatus
from layoutcheck.report.run import check
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack

FIXTURES = Path(__file__).parents[2] / "fixtures"


def _site() -> dict[str, Any]:
    site: dict[str, Any] = json.loads((FIXTURES / "heating-riser-sketch.json").read_text())
    return site


def test_what_closes_nowhere_takes_no_more_steps_than_are_allowed() -> None:
    # As in hot water: no plug closes anywhere, and each place costs a run of the freezing model.
    # The steps of all searches together are bounded by a count, never by a clock.
    with patch.object(Allowed, "settles", lambda *_: False):
        found = mend.mend(Case.of(parse_layout(_site()), default_pack()))
    assert found.steps <= mend.MOST_STEPS
    assert found.status is MendStatus.NOT_SETTLED
    assert not found.exact


def test_hot_water_takes_as_many_steps_as_warm() -> None:
    """It took eight times the processor time: all that could be done besides was tried."""
    steps = []
    for water in ("95 degF", "200 degF"):
        site = _site()
        site["site"]["water_temperature"] = water
        steps.append(mend.mend(Case.of(parse_layout(site), default_pack())).steps)
    assert steps[1] <= steps[0]


@pytest.mark.parametrize("most", [1, 3])
def test_what_was_cut_short_is_not_said_to_be_proven(most: int) -> None:
    with patch.object(combinations, "MOST_TRIES", most):
        report = check(parse_layout(_site())).mending
    assert report is not None
    told = " ".join((report.says, *report.why))
    assert "will not do" not in told
    assert "not found within" in told or "found within" in told


def test_joints_do_not_turn_a_move_into_more() -> None:
    # Three legs of pipe in eight lengths each, a plug on each, a main behind the first. One plug
    # stands 3 in too near the opened tee: one move mends it.
    pipes, junctions = [], [{"id": "W", "elevation": "0 ft"}]
    main = {"id": "MAIN", "junction": "A7", "kind": "main", "pressure": "40 psi"}
    plugs = []
    for leg in "ABC":
        before = "W"
        for n in range(8):
            here = f"{leg}{n}"
            junctions.append({"id": here, "elevation": "0 ft"})
            pipes.append(
                {
                    "id": f"P{leg}{n}",
                    "from": before,
                    "to": here,
                    "size": "NPS 1",
                    "material": "copper",
                    "wall": "type L",
                    "length": "3 ft",
                }
            )
            before = here
        junctions[-1] |= {} if leg == "A" else {"fitting": "cap"}
        station = "9 in" if leg == "A" else "30 in"
        plugs.append({"id": f"K{leg}", "pipe": f"P{leg}0", "station": station, "jacket": "12 in"})
    site = {
        "format": "layoutcheck layout 1",
        "name": "three legs of jointed pipe (invented)",
        "units": "imperial",
        "junctions": junctions,
        "pipes": pipes,
        "sources": [main],
        "plugs": plugs,
        "site": {"water_temperature": "55 degF", "clear_space": "20 in"},
        "work": {"open": [{"junction": "W"}], "duration": "2 h"},
    }
    case = Case.of(parse_layout(site), default_pack())
    found = mend.mend(case)
    assert found.exact
    assert found.status is MendStatus.MOVES, found.done
    # A tee of three legs stands at W, which is opened: 6 in of jacket and 6 in of margin from it.
    assert {m.plug.id: m.travel for m in found.moves} == pytest.approx(
        {"KA": 3 * 0.0254, "KB": 0.0, "KC": 0.0}, abs=2e-6
    )
