"""The drawing: a scene of typed marks, then SVG, PNG or PDF."""

from __future__ import annotations

from layoutcheck.document.models import Layout
from layoutcheck.report.drawing.compose import PAPER_SIDES, Page, build_scene, view_scene
from layoutcheck.report.drawing.scene import Scene
from layoutcheck.report.drawing.svg import scene_svg, sheet_svgs
from layoutcheck.report.model import Report

__all__ = [
    "PAPER_SIDES",
    "Page",
    "Scene",
    "build_scene",
    "draw_pdf",
    "draw_png",
    "draw_svg",
    "scene_svg",
    "sheet_svgs",
    "view_scene",
]


def draw_svg(
    layout: Layout, report: Report, *, highlight: str | None = None, page: Page = Page.PAPER
) -> str:
    """Draw a layout and its report as SVG: the same text for the same layout and report.

    highlight: the id of an element, plug or finding to draw attention to.
    """
    return scene_svg(build_scene(layout, report, highlight=highlight, page=page))


def draw_png(
    layout: Layout,
    report: Report,
    *,
    highlight: str | None = None,
    page: Page = Page.PAPER,
    width: int | None = None,
) -> bytes:
    """Draw a layout and its report as PNG. width: in pixels; None for a sharp screen."""
    from layoutcheck.report.drawing.files import scene_png  # noqa: PLC0415 - needed only here

    return scene_png(build_scene(layout, report, highlight=highlight, page=page), width=width)


def draw_pdf(
    layout: Layout, report: Report, *, highlight: str | None = None, page: Page = Page.PAPER
) -> bytes:
    """Draw a layout and its report as PDF, one page for each sheet."""
    from layoutcheck.report.drawing.files import scene_pdf  # noqa: PLC0415 - slow to load

    return scene_pdf(build_scene(layout, report, highlight=highlight, page=page))
