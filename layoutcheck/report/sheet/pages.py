"""Write the crew's sheet: one template, shown on a screen or printed."""

from __future__ import annotations

from layoutcheck.document.models import Layout
from layoutcheck.report.drawing import Page
from layoutcheck.report.model import Report
from layoutcheck.report.printing import CAUTION_LINE, Drawing, drawings, environment, write_pdf
from layoutcheck.report.sheet.build import build_sheet
from layoutcheck.report.sheet.signs import BAD_SIGNS, GOOD_SIGNS
from layoutcheck.rules.pack import Pack


def sheet_html(layout: Layout, report: Report, *, pack: Pack | None = None) -> str:
    """Write the sheet as HTML that stands alone; it prints as the PDF does."""
    return _html(layout, report, pack, phone=drawings(layout, report, page=Page.PHONE))


def sheet_pdf(layout: Layout, report: Report, *, pack: Pack | None = None) -> bytes:
    """Write the sheet as PDF on A4: the same bytes for the same layout and report."""
    return write_pdf(_html(layout, report, pack, phone=[]))


def _html(layout: Layout, report: Report, pack: Pack | None, *, phone: list[Drawing]) -> str:
    return (
        environment()
        .get_template("sheet.html.j2")
        .render(
            sheet=build_sheet(layout, report, pack=pack),
            report=report,
            drawings=drawings(layout, report, page=Page.A4),
            phone=phone,
            caution_line=CAUTION_LINE,
            good_signs=GOOD_SIGNS,
            bad_signs=BAD_SIGNS,
        )
    )
