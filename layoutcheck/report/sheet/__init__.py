"""The crew's sheet: HTML and PDF from one template."""

from layoutcheck.report.sheet.build import build_sheet
from layoutcheck.report.sheet.pages import sheet_html, sheet_pdf

__all__ = ["build_sheet", "sheet_html", "sheet_pdf"]
