"""POST /v1/imports: files in, a layout and its report out, or one problem that says why not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from layoutcheck.document import parse_layout
from layoutcheck.report.exports import sheets_archive
from tests.api.conftest import app_in_thread
from tests.importers.risers import riser

FIXTURE = Path(__file__).parents[2] / "fixtures" / "cold-riser-mended.json"
SHEET = b"id,from,to,size,material,length,length unit\nP1,J1,J2,NPS 2,copper,24.5,ft\n"
HEADERS = {"content-type": "application/octet-stream"}


def test_sheets_come_back_as_a_layout_that_a_check_accepts(client: TestClient) -> None:
    layout = parse_layout(json.loads(FIXTURE.read_text()))
    body = sheets_archive(layout)
    answer = client.post("/v1/imports?name=sheets.zip", content=body, headers=HEADERS)
    assert answer.status_code == 200
    given = answer.json()
    assert parse_layout(given["layout"]).pipes == layout.pipes
    assert "work" in {t["field"] for t in given["report"]["to_fill"]}
    assert given["report"]["cautions"]
    checked = client.post("/v1/checks", json={"layout": given["layout"]})
    assert checked.status_code == 200


def test_a_lone_sheet_is_one_of_pipes(client: TestClient) -> None:
    answer = client.post("/v1/imports?name=our%20pipes.csv", content=SHEET, headers=HEADERS)
    assert answer.status_code == 200
    assert [p["id"] for p in answer.json()["layout"]["pipes"]] == ["P1"]


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("name=model.ifc", "is not an IFC file"),
        ("name=net.inp", "holds no pipes"),
        ("name=riser.dxf", "can not be read as DXF"),
        ("name=riser.dxf&map=%5Blayers.P%5D%0Akind%3D%22pipe%22", "can not be read as DXF"),
        ("name=notes.txt", "is of a kind that is not read"),
        ("name=..%2F..%2Fetc%2Fpasswd", "is of a kind that is not read"),
        ("name=all.zip", "is not a sound .zip archive"),
    ],
)
def test_what_can_not_be_read_is_one_problem(client: TestClient, query: str, says: str) -> None:
    answer = client.post(f"/v1/imports?{query}", content=b"nothing of the kind", headers=HEADERS)
    assert answer.status_code == 422
    (fault,) = answer.json()["faults"]
    assert says in fault["problem"]


def test_a_riser_of_unknown_lengths_opens_on_the_page(client: TestClient, tmp_path: Path) -> None:
    """What the page asks for as a drawing is opened: the import, then its views and its check.

    Eight of the twelve pipes have neither a text nor a scale to tell how long they are.
    """
    path = tmp_path / "riser.dxf"
    riser().saveas(path)
    answer = client.post("/v1/imports?name=riser.dxf", content=path.read_bytes(), headers=HEADERS)
    assert answer.status_code == 200
    layout = answer.json()["layout"]
    assert sum("length" not in pipe for pipe in layout["pipes"]) == 8
    for route in ("/v1/checks", "/v1/glances", "/v1/views"):
        opened = client.post(route, json={"layout": layout})
        assert opened.status_code == 200, (route, opened.json())
    drawing = opened.json()["drawing"]
    assert drawing
    verdict = opened.json()["report"]["verdict"]
    assert verdict in {"not compliant", "undecided"}  # never a pass for want of a length


def test_an_import_takes_own_names(client: TestClient) -> None:
    """A name of a works, invented."""
    sheet = SHEET.replace(b"copper", b"Rohr Nord")
    names = '[materials]\n"copper" = ["Rohr Nord"]'
    query = {"name": "pipes.csv", "names": names}
    answer = client.post("/v1/imports", params=query, content=sheet, headers=HEADERS)
    assert answer.json()["layout"]["pipes"][0]["material"] == "copper"


def test_a_name_is_needed(client: TestClient) -> None:
    answer = client.post("/v1/imports", content=SHEET, headers=HEADERS)
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["pointer"] == "/query/name"


def test_another_type_and_too_large_a_file_are_refused() -> None:
    with TestClient(app_in_thread(max_import_bytes=1024)) as client:
        as_json = client.post("/v1/imports?name=a.csv", json={})
        assert (as_json.status_code, as_json.json()["title"]) == (
            415,
            "The request body is not a file's bytes",
        )
        large = client.post("/v1/imports?name=a.csv", content=b"a" * 2000, headers=HEADERS)
        assert large.status_code == 413
