"""Turn a drawing's SVG into PNG and PDF with libraries: the same bytes for the same drawing."""

from __future__ import annotations

import io
from collections.abc import Iterable

import resvg_py

from layoutcheck.report.drawing.metrics import font_file
from layoutcheck.report.drawing.scene import Scene
from layoutcheck.report.drawing.svg import scene_svg, sheet_svgs

_FAMILY = "DejaVu Sans"
_DOTS_PER_INCH = 192.0
_POINTS_PER_INCH = 72.0


def scene_png(scene: Scene, *, width: int | None = None) -> bytes:
    """Draw a scene as PNG. width: in pixels; None for two pixels to a screen's dot."""
    full = max(s.width for s in scene.sheets) * _DOTS_PER_INCH / _POINTS_PER_INCH
    fonts = [str(font_file(bold=False)), str(font_file(bold=True))]
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=scene_svg(scene),
            background="#ffffff",
            dpi=96,
            width=width or round(full),
            skip_system_fonts=True,
            font_files=fonts,
            font_family=_FAMILY,
            sans_serif_family=_FAMILY,
        )
    )


def scene_pdf(scene: Scene) -> bytes:
    """Write a scene as PDF: a page for each sheet, with its fonts in it."""
    from weasyprint import CSS, HTML  # noqa: PLC0415 - slow to load, and only needed here
    from weasyprint.text.fonts import FontConfiguration  # noqa: PLC0415

    fonts = FontConfiguration()
    css = CSS(string=_page_rules(scene), font_config=fonts)
    body = "".join(f'<div class="s{i}">{svg}</div>' for i, svg in enumerate(_plain(scene)))
    title = scene_title(scene)
    html = f"<html><head><title>{title}</title></head><body>{body}</body></html>"
    out = io.BytesIO()
    HTML(string=html).write_pdf(
        out, stylesheets=[css], font_config=fonts, pdf_identifier=b"layoutcheck"
    )
    return out.getvalue()


def scene_title(scene: Scene) -> str:
    """Give a drawing's name, safe for markup."""
    from xml.sax.saxutils import escape  # noqa: PLC0415

    return escape(scene.name)


def _plain(scene: Scene) -> Iterable[str]:
    return sheet_svgs(scene)


def _page_rules(scene: Scene) -> str:
    """Name each sheet's page size, and the fonts that come with the program."""
    rules = [
        f'@font-face {{ font-family: "{_FAMILY}"; font-weight: {weight}; '
        f'src: url("{font_file(bold=bold).as_uri()}"); }}'
        for weight, bold in (("normal", False), ("bold", True))
    ]
    rules.append("html, body { margin: 0; } svg { display: block; }")
    for i, sheet in enumerate(scene.sheets):
        size = f"{sheet.width:.2f}pt {sheet.height:.2f}pt"
        rules.append(f"@page p{i} {{ size: {size}; margin: 0; }}")
        rules.append(
            f".s{i} {{ page: p{i}; height: {sheet.height - 0.1:.2f}pt; overflow: hidden; }}"
        )
    return "\n".join(rules)
