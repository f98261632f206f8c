"""Findings as issues for a BIM tool: BCF 3.0 and 2.1 (BIM Collaboration Format, buildingSMART).

A topic for each finding that asks for something: broken, undecided, waived, at fault. Its GUID is
made from the layout's name and the finding's id, so the same issue keeps its GUID when the layout
is revised. The file is the same, byte for byte, for the same report and day.
"""

from __future__ import annotations

import io
import uuid
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterable, Mapping
from datetime import date
from enum import StrEnum

from layoutcheck.document.models import Layout
from layoutcheck.report.bcf_view import Views
from layoutcheck.report.in_model import lines_of, refs_in
from layoutcheck.report.model import Finding, Report
from layoutcheck.report.text_first import said
from layoutcheck.rules.outcome import Outcome, Severity
from layoutcheck.seen import set_apart

AUTHOR = "layoutcheck"
TOPIC_TYPE = "Freeze check"
# BCF asks for a date on each topic, and the same input must give the same bytes: where no day is
# given, this one stands, the first that a zip archive can hold.
NO_DAY = date(1980, 1, 1)
_TOLD = (Outcome.FAULT, Outcome.BROKEN, Outcome.UNDECIDED, Outcome.WAIVED)
# Where the layout has no coordinates: over the origin, 100 m wide.
_NOMINAL = (0.0, 0.0, 100.0), 100.0


class BcfVersion(StrEnum):
    """The versions that are written."""

    V3_0 = "3.0"
    V2_1 = "2.1"


def report_bcf(
    layout: Layout, report: Report, *, version: BcfVersion = BcfVersion.V3_0, on: date | None = None
) -> bytes:
    """Write a report's issues as a BCF archive, in the order of what to do.

    on: the day that the topics bear; that of judgement if None, and NO_DAY if there is none either.
    """
    last = len(report.actions) + 1
    told = sorted(
        (f for f in report.findings if f.outcome in _TOLD), key=lambda f: f.action or last
    )
    files: dict[str, bytes] = {"bcf.version": _version(version)}
    if version is BcfVersion.V3_0:
        files["extensions.xml"] = _extensions(told)
    views, day = Views.of(layout, report), on or report.judged_on or NO_DAY
    for finding in told:
        folder = topic_guid(layout, finding)
        files[f"{folder}/markup.bcf"] = _markup(layout, report, finding, version, day)
        files[f"{folder}/viewpoint.bcfv"] = _viewpoint(layout, finding, views, version)
        files[f"{folder}/snapshot.png"] = views.snapshot(finding, _title(finding))
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
    _add(topic, "Title", set_apart(_title(finding)))
    _add(topic, "Priority", finding.severity.value)
    if finding.action is not None:
        _add(topic, "Index", str(finding.action))
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


def _title(finding: Finding) -> str:
    number = f"{finding.action}  " if finding.action is not None else ""
    return f"{number}{finding.rule}: {finding.subject.kind} {finding.subject.id}"


def _description(report: Report, finding: Finding) -> str:
    parts = [
        f"To do, {a.number} of {len(report.actions)}: {a.what} {a.why}"
        for a in report.actions
        if a.number == finding.action
    ]
    parts.append(f"{said(finding.outcome)}. {finding.says}")
    if finding.missing:
        parts.append(f"Not known yet: {'; '.join(finding.missing)}.")
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
        "Find the place by the selected elements and the picture. The camera looks down on it "
        "where the layout is a plan to scale with heights; else it is nominal.",
        report.deference,
    ]
    return "\n".join(parts)


def _viewpoint(layout: Layout, finding: Finding, views: Views, version: BcfVersion) -> bytes:
    root = ET.Element("VisualizationInfo", Guid=_guid(layout, finding, "viewpoint"))
    components = _add(root, "Components")
    if found := views.selected(finding):
        selection = _add(components, "Selection")
        for global_id in found:
            _add(selection, "Component", IfcGuid=global_id)
    _add(components, "Visibility", DefaultVisibility="true")
    camera = _add(root, "OrthogonalCamera")
    at, shows = views.camera(finding) or _NOMINAL
    for tag, place in (
        ("CameraViewPoint", at),
        ("CameraDirection", (0.0, 0.0, -1.0)),
        ("CameraUpVector", (0.0, 1.0, 0.0)),
    ):
        vector = _add(camera, tag)
        for axis, value in zip("XYZ", place, strict=True):
            _add(vector, axis, f"{round(value, 3) + 0.0:g}")
    _add(camera, "ViewToWorldScale", f"{shows:.3f}")
    if version is BcfVersion.V3_0:
        _add(camera, "AspectRatio", "1")
    return _xml(root)
