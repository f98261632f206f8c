"""Write the crew's sheet: one template, shown on a screen or printed."""

from __future__ import annotations

from layoutcheck.document.models import Layout
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.drawing import PAPER_SIDES, Page, build_scene, view_scene
from layoutcheck.report.model import Report
from layoutcheck.report.printing import CAUTION_LINE, environment, inline, write_pdf
from layoutcheck.report.sheet.build import build_sheet
from layoutcheck.report.sheet.signs import BAD_SIGNS, GOOD_SIGNS
from layoutcheck.report.text_first import opened
from layoutcheck.rules.pack import Pack

# What is kept free of a page, in points: left and right, above (with room for a band that
# forbids), below. sheet.css has the same in millimetres.
_MM = 72.0 / 25.4
_SIDES, _ABOVE, _BAND, _BELOW = 12.0 * _MM, 14.0 * _MM, 30.0 * _MM, 16.0 * _MM
_PAPERS = {UnitSystem.METRIC: "A4", UnitSystem.IMPERIAL: "letter"}
# What one page has room for.
_MOST_ACTIONS = 14


def sheet_html(layout: Layout, report: Report, *, pack: Pack | None = None) -> str:
    """Write the sheet as HTML that stands alone; it prints as the PDF does."""
    phone = inline(build_scene(layout, report, page=Page.PHONE), "phone")
    return _html(layout, report, pack, phone=phone)


def sheet_pdf(layout: Layout, report: Report, *, pack: Pack | None = None) -> bytes:
    """Write the sheet as PDF, on A4 or US Letter: the same bytes for the same layout and report."""
    return write_pdf(_html(layout, report, pack, phone=[]))


def _html(layout: Layout, report: Report, pack: Pack | None, *, phone: list[str]) -> str:
    sheet = build_sheet(layout, report, pack=pack)
    height, width = PAPER_SIDES[layout.units]
    above = _ABOVE if sheet.may_freeze else _BAND
    sides = width - 2 * _SIDES, height - above - _BELOW - 1.0
    return (
        environment()
        .get_template("sheet.html.j2")
        .render(
            sheet=sheet,
            report=report,
            opened=opened(report),
            most=_MOST_ACTIONS,
            paper=_PAPERS[layout.units],
            drawings=inline(view_scene(layout, report, sides=sides), "paper"),
            phone=phone,
            caution_line=CAUTION_LINE,
            good_signs=GOOD_SIGNS,
            bad_signs=BAD_SIGNS,
        )
    )
