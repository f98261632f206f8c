"""Where a pipe closes only from some height upwards, the clear stretch begins just there.

The model is replaced by a stand-in that closes up to a head of 30 psi. By hand: the main stands
at 60 psi = 413,685.4 Pa; 30 psi are left 206,842.7 / 9806.65 = 21.092 m up. Invented site.
"""

from __future__ import annotations

import pytest

from layoutcheck.document.read import parse_layout
from layoutcheck.placement import place_plug
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.heads import heads_of
from layoutcheck.rules.holding_pressure import PlugHolds
from layoutcheck.rules.registry import default_pack
from tests.rules.test_cases import document

PSI = 6894.757293168
UP = 30 * PSI / 9806.65


@pytest.mark.parametrize(("start", "stop"), [("S", "W"), ("W", "S")])
def test_the_stretch_is_cut_where_the_pipe_begins_to_close(
    monkeypatch: pytest.MonkeyPatch, start: str, stop: str
) -> None:
    def up_to_thirty_psi(_: PlugHolds, case: Case, plug: PlacedPlug) -> bool:
        pressure = heads_of(case).at(plug.spot).pressure
        return pressure is not None and pressure <= 30 * PSI

    monkeypatch.setattr(PlugHolds, "settles", up_to_thirty_psi)
    layout = {
        "pipes": {"riser": f"{start} to {stop}, 2 in, 100 ft"},
        "junctions": {"W": {"elevation": "100 ft"}},
        "sources": {"main": "S"},
        "outlets": {"vent": {"junction": "W", "state": "locked off"}},
        "plugs": {"A": "riser at 50 ft, jacket 12 in"},
        "work": {"open": [{"junction": "W"}], "duration": "2 h"},
    }
    case = Case.of(parse_layout(document({"name": "settles", "layout": layout})), default_pack())
    (clear,) = place_plug(case, case.plug("A")).clear
    length = 100 * 0.3048
    # Up the riser the shut vent at W keeps 24 in and half a jacket.
    low, high = UP, length - 30 * 0.0254
    if start == "W":
        low, high = length - high, length - low
    assert clear.start == pytest.approx(low, abs=2e-6)
    assert clear.end == pytest.approx(high, abs=2e-6)


def test_a_pipe_that_never_closes_has_no_place(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(PlugHolds, "settles", lambda *_: False)
    layout = {
        "pipes": {"line": "S to W, 2 in, 100 ft"},
        "sources": {"main": "S"},
        "plugs": {"A": "line at 50 ft, jacket 12 in"},
        "work": {"open": [{"junction": "W"}], "duration": "2 h"},
    }
    case = Case.of(parse_layout(document({"name": "settles", "layout": layout})), default_pack())
    assert place_plug(case, case.plug("A")).clear == ()
