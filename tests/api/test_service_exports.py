"""POST /v1/exports: the command line's bytes, and a way back into the model that came in."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from fastapi.testclient import TestClient

from layoutcheck.cli.app import COMMANDS, ELSEWHERE, main
from layoutcheck.document import parse_layout
from layoutcheck.importers.dxf.write import JACKETS, PLUGS
from layoutcheck.report.exports import EXPORTS
from layoutcheck.report.handouts import HANDOUTS
from layoutcheck.report.offers import OFFERS, ONLY_COMMANDS, ONLY_OPERATIONS
from tests.api.conftest import app_in_thread

FIXTURES = Path(__file__).parents[2] / "fixtures"
SITES = sorted(p.stem for p in FIXTURES.glob("*-sketch.json"))


def export(client: TestClient, name: str, layout: object, source: bytes | None = None) -> Any:
    files: dict[str, Any] = {"layout": (None, json.dumps(layout), "application/json")}
    if source is not None:
        files["source"] = ("model", source, "application/octet-stream")
    return client.post(f"/v1/exports/{name}", files=files)


@pytest.mark.parametrize("site", SITES)
def test_the_short_form_is_the_same_document(client: TestClient, site: str) -> None:
    data = json.loads((FIXTURES / f"{site}.json").read_text(encoding="utf-8"))
    short = export(client, "short.yaml", data)
    assert short.status_code == 200
    assert parse_layout(yaml.safe_load(short.content)) == parse_layout(data)
    back = export(client, "layout.json", export(client, "short.json", data).json())
    assert back.json() == export(client, "layout.json", data).json()
    # It is for people who type: most elements are one text each.
    told = yaml.safe_load(short.content)
    assert sum(isinstance(v, str) for v in told["valves"].values()) > len(told["valves"]) / 2


@pytest.mark.parametrize("name", [n for n, e in EXPORTS.items() if not e.copies])
def test_the_command_line_writes_the_same_bytes(
    client: TestClient, layout: dict[str, Any], tmp_path: Path, name: str
) -> None:
    (tmp_path / "site.json").write_text(json.dumps(layout), encoding="utf-8")
    out = tmp_path / f"out{Path(name).suffix}"
    short = ["--short"] if name.startswith("short") else []
    assert main(["export", str(tmp_path / "site.json"), "-o", str(out), *short]) == 0
    answer = export(client, name, layout)
    assert answer.content == out.read_bytes()
    assert answer.headers["content-type"].startswith(EXPORTS[name].media_type)


def test_a_copy_needs_its_source(client: TestClient, layout: dict[str, Any]) -> None:
    answer = export(client, "model.ifc", layout)
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["pointer"] == "/source"
    bad = export(client, "drawing.dxf", layout, b"no drawing")
    assert bad.status_code == 422
    assert bad.json()["faults"]


def imported(client: TestClient, name: str, model: bytes) -> dict[str, Any]:
    """Import a file and mark a plug on its longest pipe."""
    headers = {"content-type": "application/octet-stream"}
    sent = client.post("/v1/imports", params={"name": name}, content=model, headers=headers)
    assert sent.status_code == 200, sent.text
    layout: dict[str, Any] = sent.json()["layout"]
    pipe = max(parse_layout(layout).pipes, key=lambda p: p.length or 0.0)
    plug = {"id": "F1", "pipe": pipe.id, "station": f"{(pipe.length or 2.0) / 2} m"}
    layout["plugs"] = [{**plug, "jacket": "300 mm"}]
    return layout


def test_a_model_that_came_in_goes_out_with_its_plugs(require: Any, tmp_path: Path) -> None:
    ifcopenshell = require.module("ifcopenshell")
    from tests.importers.made_models import Maker  # noqa: PLC0415 - needs ifcopenshell

    raw = json.loads((FIXTURES / "metric-block-mended.json").read_text(encoding="utf-8"))
    Maker(parse_layout(raw)).make().model.write(str(tmp_path / "in.ifc"))
    model = (tmp_path / "in.ifc").read_bytes()
    with TestClient(app_in_thread()) as client:
        layout = imported(client, "model.ifc", model)
        answer = export(client, "model.ifc", layout, model)
    assert answer.status_code == 200
    (tmp_path / "out.ifc").write_bytes(answer.content)
    proxies = ifcopenshell.open(str(tmp_path / "out.ifc")).by_type("IfcBuildingElementProxy")
    assert [p.Name for p in proxies if p.ObjectType == "FREEZE PLUG"] == ["Freeze plug F1"]
    (tmp_path / "site.json").write_text(json.dumps(layout), encoding="utf-8")
    written = [str(tmp_path / n) for n in ("site.json", "by.ifc", "in.ifc")]
    assert main(["export", written[0], "-o", written[1], "--source", written[2]]) == 0
    assert (tmp_path / "by.ifc").read_bytes() == answer.content


def test_a_drawing_that_came_in_goes_out_with_its_plugs(client: TestClient, require: Any) -> None:
    ezdxf = require.module("ezdxf")
    from tests.importers.risers import riser  # noqa: PLC0415 - needs ezdxf

    text = io.StringIO()
    riser().write(text)
    drawing = text.getvalue().encode()
    layout = imported(client, "riser.dxf", drawing)
    answer = export(client, "drawing.dxf", layout, drawing)
    assert answer.status_code == 200, answer.text
    again = ezdxf.read(io.StringIO(answer.content.decode()))
    assert {PLUGS, JACKETS, "P-RISER"} <= {e.dxf.layer for e in again.modelspace()}


def test_bad_forms_are_refused_with_their_fault(client: TestClient) -> None:
    assert export(client, "model.pdf", {}).status_code == 404
    assert export(client, "layout.json", {"pipes": 7}).status_code == 422
    form = {"content-type": "multipart/form-data; boundary=x"}
    for body in (b"", b"--x\r\n", b"nonsense", b"--x--\r\n"):
        answer = client.post("/v1/exports/layout.json", content=body, headers=form)
        assert answer.status_code in {400, 422}, body
    plain = client.post("/v1/exports/layout.json", json={})
    assert plain.status_code == 415
    twice = [("layout", (None, "{}")), ("layout", (None, "{}"))]
    assert client.post("/v1/exports/layout.json", files=twice).status_code == 400
    other = {"layout": (None, "{}"), "more": (None, "x")}
    assert client.post("/v1/exports/layout.json", files=other).status_code == 400


def test_what_the_command_line_does_the_service_does_and_the_other_way_round(
    client: TestClient,
) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    operations = {o["operationId"] for p in paths.values() for o in p.values()}
    offered = {o for offer in OFFERS for o in offer.operations}
    assert {offer.command for offer in OFFERS} | set(ONLY_COMMANDS) == {*COMMANDS, *ELSEWHERE}
    assert offered | set(ONLY_OPERATIONS) == operations
    names = {n for offer in OFFERS for n in offer.names}
    assert names == {*HANDOUTS, *EXPORTS}
    told = {
        e
        for path in ("/v1/handouts/{name}", "/v1/exports/{name}")
        for e in paths[path]["post"]["parameters"][0]["schema"]["enum"]
    }
    assert told == names


def test_a_drawing_draws_attention_to_what_is_asked_for(
    client: TestClient, layout: dict[str, Any]
) -> None:
    def drawn(**asked: str) -> Any:
        return client.post("/v1/handouts/drawing.svg", json={"layout": layout}, params=asked)

    plain = drawn()
    assert drawn(highlight=layout["plugs"][0]["id"]).content != plain.content
    assert drawn(page="phone").content != plain.content
    refused = drawn(highlight="nowhere")
    assert refused.status_code == 422
    assert refused.json()["faults"][0]["pointer"] == "/query/highlight"
