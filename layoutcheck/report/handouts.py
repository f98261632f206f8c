"""Everything that can be handed out for a layout, by name: one door for all who ask.

Command line and service both go through here, so the same layout gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING

from layoutcheck.document.models import Layout
from layoutcheck.report.model import Report
from layoutcheck.rules.pack import Pack

if TYPE_CHECKING:
    from layoutcheck.report.drawing import Scene


# The pages that a drawing is made for: sheets to print, one narrow column.
PAGES = ("paper", "phone")


@dataclass(frozen=True)
class Asked:
    """What a handout is made from. report is that of the layout, with the pack and on the day.

    highlight: what a drawing is to draw attention to. page: 'paper' or 'phone', for a drawing.
    """

    layout: Layout
    report: Report
    pack: Pack | None
    on: date | None
    highlight: str | None = None
    page: str = PAGES[0]


@dataclass(frozen=True)
class Handout:
    """One kind of handout: its media type, what it is, and how it is made."""

    media_type: str
    is_what: str
    make: Callable[[Asked], bytes]


def make_handout(
    name: str,
    layout: Layout,
    report: Report,
    *,
    pack: Pack | None = None,
    on: date | None = None,
    highlight: str | None = None,
    page: str = PAGES[0],
) -> bytes:
    """Make a handout by its name. Raises KeyError for a name that there is not.

    report: that of the same layout, with the same pack. on: the day that issues bear. Raises
    NoSchedule for the log of a layout that is not compliant. highlight, page: for a drawing; raises
    NothingToHighlight where nothing has that id or ref.
    """
    return HANDOUTS[name].make(Asked(layout, report, pack, on, highlight, page))


# What each one needs is loaded when it is asked for: no text report waits for a PDF library.
# ruff: noqa: PLC0415


def _sheet_pdf(asked: Asked) -> bytes:
    from layoutcheck.report.sheet import sheet_pdf

    return sheet_pdf(asked.layout, asked.report, pack=asked.pack)


def _sheet_html(asked: Asked) -> bytes:
    from layoutcheck.report.sheet import sheet_html

    return sheet_html(asked.layout, asked.report, pack=asked.pack).encode()


def _report_html(asked: Asked) -> bytes:
    from layoutcheck.report.html import report_html

    return report_html(asked.layout, asked.report).encode()


def _bcf_3(asked: Asked) -> bytes:
    from layoutcheck.report.bcf import BcfVersion, report_bcf

    return report_bcf(asked.layout, asked.report, version=BcfVersion.V3_0, on=asked.on)


def _bcf_2(asked: Asked) -> bytes:
    from layoutcheck.report.bcf import BcfVersion, report_bcf

    return report_bcf(asked.layout, asked.report, version=BcfVersion.V2_1, on=asked.on)


def _takeoff_json(asked: Asked) -> bytes:
    from layoutcheck.report.takeoff import takeoff_of

    return takeoff_of(asked.layout, asked.report, pack=asked.pack).to_json().encode()


def _takeoff_csv(asked: Asked) -> bytes:
    from layoutcheck.report.takeoff import takeoff_of

    return takeoff_of(asked.layout, asked.report, pack=asked.pack).to_csv()


def _takeoff_xlsx(asked: Asked) -> bytes:
    from layoutcheck.report.takeoff import takeoff_of

    return takeoff_of(asked.layout, asked.report, pack=asked.pack).to_xlsx()


def _log_csv(asked: Asked) -> bytes:
    from layoutcheck.report.log import log_csv, log_template

    return log_csv(log_template(asked.report))


def _log_json(asked: Asked) -> bytes:
    from layoutcheck.report.log import log_json, log_template

    return log_json(log_template(asked.report))


def _watch_plan(asked: Asked) -> bytes:
    from layoutcheck.report.watch import watch_plan

    return watch_plan(asked.layout, asked.report, pack=asked.pack).to_json().encode()


def _scene(asked: Asked) -> Scene:
    from layoutcheck.report.drawing import Page, build_scene
    from layoutcheck.report.drawing.picked import picked

    layout, report = asked.layout, asked.report
    lit = None if asked.highlight is None else picked(layout, report, asked.highlight)
    return build_scene(layout, report, highlight=lit, page=Page(asked.page))


def _drawing_svg(asked: Asked) -> bytes:
    from layoutcheck.report.drawing import scene_svg

    return scene_svg(_scene(asked)).encode()


def _drawing_png(asked: Asked) -> bytes:
    from layoutcheck.report.drawing.files import scene_png

    return scene_png(_scene(asked))


def _drawing_pdf(asked: Asked) -> bytes:
    from layoutcheck.report.drawing.files import scene_pdf

    return scene_pdf(_scene(asked))


def _report_text(asked: Asked) -> bytes:
    from layoutcheck.report.text import report_text

    return report_text(asked.report).encode()


def _full_text(asked: Asked) -> bytes:
    from layoutcheck.report.text import full_text

    return full_text(asked.report).encode()


_PDF, _HTML, _CSV = "application/pdf", "text/html; charset=utf-8", "text/csv; charset=utf-8"
_TEXT = "text/plain; charset=utf-8"
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# No media type is registered for BCF; it is a zip archive.
_BCF, _JSON = "application/zip", "application/json"

HANDOUTS: Mapping[str, Handout] = MappingProxyType(
    {
        "drawing.svg": Handout("image/svg+xml", "the drawing", _drawing_svg),
        "drawing.png": Handout("image/png", "the drawing", _drawing_png),
        "drawing.pdf": Handout(_PDF, "the drawing", _drawing_pdf),
        "sheet.pdf": Handout(_PDF, "the crew's sheet", _sheet_pdf),
        "sheet.html": Handout(_HTML, "the crew's sheet", _sheet_html),
        "log-template.csv": Handout(_CSV, "the log to fill in", _log_csv),
        "log-template.json": Handout(_JSON, "the log to fill in", _log_json),
        "watch-plan.json": Handout(_JSON, "what a phone needs to keep the log", _watch_plan),
        "takeoff.csv": Handout(_CSV, "quantities for an estimate", _takeoff_csv),
        "takeoff.json": Handout(_JSON, "quantities for an estimate", _takeoff_json),
        "takeoff.xlsx": Handout(_XLSX, "quantities for an estimate", _takeoff_xlsx),
        "report.txt": Handout(_TEXT, "the report as text: what to do first", _report_text),
        "report-full.txt": Handout(_TEXT, "the whole report as text", _full_text),
        "report.html": Handout(_HTML, "the report as a page", _report_html),
        "issues.bcf": Handout(_BCF, "the findings as BCF 3.0 issues", _bcf_3),
        "issues-2.1.bcf": Handout(_BCF, "the findings as BCF 2.1 issues", _bcf_2),
    }
)
