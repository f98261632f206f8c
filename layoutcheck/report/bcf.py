"""Findings as issues for a BIM tool: BCF 3.0 and 2.1 (BIM Collaboration Format, buildingSMART).

A topic for each finding that asks for something: broken, undecided, waived, at fault. Its GUID is
made from the layout's name and the finding's id, so the same issue keeps its GUID when the layout
is revised. The file is the same, byte for byte, for the same report and day.
"""

from __future__ import annotations

import io
import re
import uuid
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from enum import StrEnum

from layoutcheck.document.models import Layout
from layoutcheck.report.drawing import build_scene
from layoutcheck.report.in_model import lines_of, refs_in
from layoutcheck.report.model import At, Finding, Report
from layoutcheck.rules.outcome import Outcome, Severity
from layoutcheck.seen import set_apart

AUTHOR = "layoutcheck"
TOPIC_TYPE = "Freeze check"
# BCF asks for a date on each topic, and the same input must give the same bytes: where no day is
# given, this one stands, the first that a zip archive can hold.
NO_DAY = date(1980, 1, 1)
_TOLD = (Outcome.FAULT, Outcome.BROKEN, Outcome.UNDECIDED, Outcome.WAIVED)
# An IFC GlobalId: 22 characters, of which the first holds two bits (ISO 16739-1,
# IfcGloballyUniqueId; from memory).
_GLOBAL_ID = re.compile(r"[0-3][0-9A-Za-z_$]{21}")
_SNAPSHOT_WIDTH = 1000


class BcfVersion(StrEnum):
    """The versions that are written."""

    V3_0 = "3.0"
    V2_1 = "2.1"


def report_bcf(
    layout: Layout, report: Report, *, version: BcfVersion = BcfVersion.V3_0, on: date | None = None
) -> bytes:
    """Write a report's issues as a BCF archive. on: the day the topics bear; NO_DAY if None."""
    told = [f for f in report.findings if f.outcome in _TOLD]
    files: dict[str, bytes] = {"bcf.version": _version(version)}
    if version is BcfVersion.V3_0:
        files["extensions.xml"] = _extensions(told)
    refs = _references(layout)
    for finding in told:
        folder = topic_guid(layout, finding)
        files[f"{folder}/markup.bcf"] = _markup(layout, report, finding, version, on or NO_DAY)
        files[f"{folder}/viewpoint.bcfv"] = _viewpoint(layout, finding, refs, version)
        files[f"{folder}/snapshot.png"] = _snapshot(layout, report, finding)
    return _archive(files)


def topic_guid(layout: Layout, finding: Finding) -> str:
    """Give a topic's GUID."""
    return _guid(layout, finding, "topic")


def _guid(layout: Layout, finding: Finding, what: str) -> str:
    name = f"urn:layoutcheck:{what}:{layout.name}:{finding.id}"
    return str(uuid.uuid5(uuid.NAMESPACE_URL, name))


# --- files of the archive -------------------------------------------------------------------------


def _archive(files: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in files.items():
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            entry.create_system = 3  # the same on every machine
            entry.external_attr = 0o644 << 16
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, data)
    return out.getvalue()


def _xml(root: ET.Element) -> bytes:
    ET.indent(root, "  ")
    text: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"


def _add(parent: ET.Element, tag: str, text: str | None = None, **attributes: str) -> ET.Element:
    made = ET.SubElement(parent, tag, attributes)
    made.text = text
    return made


def _version(version: BcfVersion) -> bytes:
    root = ET.Element("Version", VersionId=version.value)
    if version is BcfVersion.V2_1:
        _add(root, "DetailedVersion", version.value)
    return _xml(root)


def _extensions(told: Iterable[Finding]) -> bytes:
    root = ET.Element("Extensions")
    lists = (
        ("TopicTypes", "TopicType", [TOPIC_TYPE]),
        ("TopicStatuses", "TopicStatus", [o.value for o in _TOLD]),
        ("Priorities", "Priority", [s.value for s in Severity]),
        ("TopicLabels", "TopicLabel", sorted({f.rule for f in told})),
        ("Users", "User", [AUTHOR]),
    )
    for many, one, values in lists:
        group = _add(root, many)
        for value in values:
            _add(group, one, value)
    return _xml(root)


def _markup(
    layout: Layout, report: Report, finding: Finding, version: BcfVersion, day: date
) -> bytes:
    root = ET.Element("Markup")
    topic = _add(
        root,
        "Topic",
        Guid=topic_guid(layout, finding),
        TopicType=TOPIC_TYPE,
        TopicStatus=finding.outcome.value,
    )
    new = version is BcfVersion.V3_0
    title = f"{finding.rule}: {finding.subject.kind} {finding.subject.id}"
    _add(topic, "Title", set_apart(title))
    _add(topic, "Priority", finding.severity.value)
    labels = _add(topic, "Labels") if new else topic
    _add(labels, "Label" if new else "Labels", finding.rule)
    _add(topic, "CreationDate", f"{day.isoformat()}T00:00:00Z")
    _add(topic, "CreationAuthor", AUTHOR)
    _add(topic, "Description", set_apart(_description(report, finding)))
    views = _add(topic, "Viewpoints") if new else root
    view = _add(
        views, "ViewPoint" if new else "Viewpoints", Guid=_guid(layout, finding, "viewpoint")
    )
    _add(view, "Viewpoint", "viewpoint.bcfv")
    _add(view, "Snapshot", "snapshot.png")
    return _xml(root)


def _description(report: Report, finding: Finding) -> str:
    parts = [f"{finding.outcome.value.upper()}. {finding.says}"]
    if finding.missing:
        parts.append(f"Missing: {'; '.join(finding.missing)}.")
    if finding.todo:
        parts.append(f"Next: {finding.todo}")
    if finding.waiver is not None:
        waiver = finding.waiver
        parts.append(f"Waived by {waiver.by} until {waiver.until.isoformat()}: {waiver.reason}")
    own = set(refs_in([finding]))
    parts += lines_of(p for p in report.in_model if p.ref in own)
    parts += [
        f"Finding {finding.id}; layout {report.layout.digest}; rules {report.pack.digest}; "
        f"layoutcheck {report.version}.",
        "The camera is nominal: find the place by the selected elements and the picture.",
        report.deference,
    ]
    return "\n".join(parts)


def _viewpoint(
    layout: Layout, finding: Finding, refs: Mapping[str, str], version: BcfVersion
) -> bytes:
    root = ET.Element("VisualizationInfo", Guid=_guid(layout, finding, "viewpoint"))
    components = _add(root, "Components")
    found = sorted({refs[name] for name in _elements(layout, finding) if name in refs})
    if found:
        selection = _add(components, "Selection")
        for global_id in found:
            _add(selection, "Component", IfcGuid=global_id)
    _add(components, "Visibility", DefaultVisibility="true")
    camera = _add(root, "OrthogonalCamera")
    for tag, place in (
        ("CameraViewPoint", (0, 0, 100)),
        ("CameraDirection", (0, 0, -1)),
        ("CameraUpVector", (0, 1, 0)),
    ):
        vector = _add(camera, tag)
        for axis, value in zip("XYZ", place, strict=True):
            _add(vector, axis, f"{value}")
    _add(camera, "ViewToWorldScale", "100")
    if version is BcfVersion.V3_0:
        _add(camera, "AspectRatio", "1")
    return _xml(root)


def _snapshot(layout: Layout, report: Report, finding: Finding) -> bytes:
    """Draw the first sheet of the drawing, with the finding picked out."""
    from layoutcheck.report.drawing.files import scene_png  # noqa: PLC0415 - slow to load

    scene = build_scene(layout, report, highlight=finding.id)
    return scene_png(scene.model_copy(update={"sheets": scene.sheets[:1]}), width=_SNAPSHOT_WIDTH)


# --- elements -------------------------------------------------------------------------------------


def _references(layout: Layout) -> dict[str, str]:
    """Give the IFC GlobalIds that the layout knows: element's id -> GlobalId."""
    groups = (
        layout.junctions,
        layout.pipes,
        layout.fittings,
        layout.valves,
        layout.pumps,
        layout.equipment,
        layout.sources,
        layout.outlets,
    )
    return {
        item.id: item.ref
        for group in groups
        for item in group
        if item.ref is not None and _GLOBAL_ID.fullmatch(item.ref)
    }


def _elements(layout: Layout, finding: Finding) -> Iterator[str]:
    """Name the elements that a finding is about."""
    subject = finding.subject
    pipes = {p.id: p.pipe for p in layout.plugs}
    for named in (subject, *subject.elements, *finding.concerns):
        yield named.id
        if named.kind == "plug" and (pipe := pipes.get(named.id)) is not None:
            yield pipe
    for at in (*((finding.where,) if finding.where else ()), *finding.way):
        yield from _named(at)


def _named(at: At) -> Iterator[str]:
    for name in (at.pipe, at.element, at.junction):
        if name is not None:
            yield name
