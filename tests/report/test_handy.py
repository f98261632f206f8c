"""Helpers of a report: by outcome and id, as a table, as a map, in a notebook."""

from __future__ import annotations

import doctest
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from layoutcheck import Report, check
from layoutcheck.report import handy

SITE = Path(__file__).parents[2] / "fixtures" / "plant-room-sketch.json"
# RFC 7946, sections 3.1.2, 3.2 and 3.3, for what is written here.
GEOJSON = {
    "type": "object",
    "required": ["type", "features"],
    "properties": {
        "type": {"const": "FeatureCollection"},
        "features": {
            "items": {
                "required": ["type", "geometry", "properties"],
                "properties": {
                    "type": {"const": "Feature"},
                    "id": {"type": ["string", "number"]},
                    "properties": {"type": ["object", "null"]},
                    "geometry": {
                        "required": ["type", "coordinates"],
                        "properties": {
                            "type": {"const": "Point"},
                            "coordinates": {"items": {"type": "number"}, "minItems": 2},
                        },
                    },
                },
            },
        },
    },
}


@pytest.fixture(scope="module")
def report() -> Report:
    return check(SITE)


def test_findings_by_outcome(report: Report) -> None:
    assert len(report.broken) == report.counts.broken > 0
    assert len(report.undecided) == report.counts.undecided
    numbers = [f.action for f in report.broken if f.action is not None]
    assert numbers == sorted(numbers)


def test_plugs_by_id_and_by_number(report: Report) -> None:
    first = report.plugs[0]
    assert report.plugs[first.id] is first
    assert report.plugs[:1] == (first,)
    with pytest.raises(KeyError, match=first.id):
        report.plugs["nowhere"]


def test_a_report_that_is_read_again_is_the_same(report: Report) -> None:
    again = Report.model_validate_json(report.to_json())
    assert again == report
    assert again.plugs[report.plugs[0].id] == report.plugs[0]
    assert (report.site is not None, again.site) == (True, None)
    assert "site" not in json.loads(report.to_json())


def test_a_table_has_a_row_for_each(report: Report, require: Any) -> None:
    require.module("pandas")
    findings, plugs = report.to_frame(), report.to_frame("plugs")
    assert list(findings["id"]) == [f.id for f in report.findings]
    assert (findings["outcome"] == "broken").sum() == report.counts.broken
    assert list(plugs["id"]) == [p.id for p in report.plugs]
    told = [p.nearest.station.value for p in report.plugs if p.nearest is not None]
    assert list(plugs["nearest_station_m"].dropna()) == pytest.approx(told)


def test_a_map_of_plugs_and_findings(report: Report) -> None:
    found = report.to_geojson()
    jsonschema.validate(json.loads(json.dumps(found)), GEOJSON)
    kinds = [f["properties"]["kind"] for f in found["features"]]
    assert kinds.count("plug") == sum(p.at.point is not None for p in report.plugs) > 0
    assert kinds.count("finding") == sum(
        f.where is not None and f.where.point is not None for f in report.findings
    )


def test_a_notebook_shows_the_drawing(report: Report) -> None:
    shown = report._repr_html_()
    assert shown.startswith("<svg")
    assert report.broken[0].rule in shown or "NOT COMPLIANT" in shown.upper()
    read = Report.model_validate_json(report.to_json())._repr_html_()
    assert read.startswith("<pre>")
    assert "<script" not in shown


def test_the_examples_do_what_they_say() -> None:
    done = doctest.testmod(handy)
    assert done.attempted >= 2
    assert done.failed == 0
