"""No freezing time is printed for a pipe in which water can move, or a place unfit for a plug.

Told 'closes, 28 min' of such a pipe, a crew would begin. All sites are invented.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report.html import report_html
from layoutcheck.report.model import Report
from layoutcheck.report.run import check_document
from layoutcheck.report.text import full_text

MARKS = {"moving": "2 in", "in the setback": "20 in", "fit": "30 in"}


def _site(station: str) -> dict[str, Any]:
    """A branch off a header with a tap on it: 24 in from the tee to the jacket are asked for."""
    wall = {"material": "copper", "wall": "type L"}
    return {
        "format": "layoutcheck layout 1",
        "name": "An invented branch",
        "junctions": [{"id": j, "elevation": "0 ft"} for j in "STDE"],
        "pipes": [
            {"id": n, "from": a, "to": b, "size": "2 in", "length": "40 ft", **wall}
            for n, a, b in (("one", "S", "T"), ("two", "T", "D"), ("branch", "T", "E"))
        ],
        "sources": [{"id": "main", "junction": "S", "kind": "main", "pressure": "40 psi"}],
        "outlets": [{"id": "tap", "junction": "D"}],
        "plugs": [{"id": "A", "pipe": "branch", "station": station, "jacket": "12 in"}],
        "work": {"open": [{"junction": "E"}], "duration": "2 h"},
        "site": {"water_temperature": "50 degF", "air_temperature": "65 degF"},
    }


@cache
def _report(mark: str) -> Report:
    return check_document(_site(MARKS[mark]))


def _texts(mark: str) -> tuple[str, str]:
    layout, report = parse_layout(_site(MARKS[mark])), _report(mark)
    return " ".join(full_text(report).split()), report_html(layout, report)


def test_the_estimate_is_printed_where_it_is_for_still_water_in_a_fit_place() -> None:
    (plug,) = _report("fit").plugs
    text, html = _texts("fit")
    assert plug.freeze.left_out == ()
    assert plug.freeze.time_to_plug is not None
    assert "Its freeze, an estimate for still water: closes" in text
    # The likely 27 min to five minutes, as an estimate is good for.
    assert plug.freeze.time_to_plug.likely.shown == "27 min"
    assert "Plug long enough after: about 25 min (" in text
    assert "an estimate for still water: closes" in html


@pytest.mark.parametrize(
    ("mark", "rule"),
    [("moving", "no-flow-at-plug"), ("in the setback", "flowing-line-setback")],
)
def test_it_is_left_out_while_flow_or_place_is_broken(mark: str, rule: str) -> None:
    (plug,) = _report(mark).plugs
    assert rule in plug.freeze.left_out
    for text in _texts(mark):
        assert "long enough after" not in text
        assert "Neck closed after" not in text
        assert "closes (" not in text
        assert ", ".join(plug.freeze.left_out) in text


@pytest.mark.parametrize("mark", MARKS)
def test_no_word_of_a_report_orders_to_freeze(mark: str) -> None:
    assert "FREEZE" not in _texts(mark)[0].replace("DO NOT FREEZE", "")
