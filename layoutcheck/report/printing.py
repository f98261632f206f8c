"""Pages from templates: HTML that escapes all it is given, and PDF that is the same each time."""

from __future__ import annotations

import io
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from layoutcheck.document.faults import shown
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.drawing import Scene, sheet_svgs
from layoutcheck.report.drawing.metrics import font_file
from layoutcheck.report.figures import rough, span
from layoutcheck.report.in_model import lines_of
from layoutcheck.report.text_first import said
from layoutcheck.report.text_mending import goes_to, to_do
from layoutcheck.seen import set_apart

if TYPE_CHECKING:
    from jinja2 import Environment

# What every printed page says at its foot; the whole cautions stand on the sheet itself.
CAUTION_LINE = (
    "Cold burns, asphyxiation, trapped pressure, brittle pipe, plug loss: read the cautions. "
    "A check of a drawing, not a permit: local codes, the site's permit system and licensed "
    "practice decide."
)

_FAMILY = "DejaVu Sans"
_SIZE = re.compile(r'^(<svg [^>]*?)width="[\d.]+pt" height="[\d.]+pt"')


@cache
def environment() -> Environment:
    """Give the environment of the package's templates: it escapes, and refuses unknown names."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # noqa: PLC0415 - at need

    made = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters["safe_text"] = lambda text: set_apart(shown(str(text), 4000))
    made.filters["to_do"] = to_do
    made.filters["lines_of"] = lines_of
    made.filters["goes_to"] = goes_to
    made.filters["said"] = said
    made.filters["rough"] = lambda measure, units: rough(measure, UnitSystem(units))
    made.filters["span"] = lambda of, units: span(of, UnitSystem(units))
    return made


def inline(scene: Scene, name: str) -> list[str]:
    """Give a drawing's sheets as SVG that takes the width it is given.

    name: sets its ids apart, so that two drawings can stand in one document.
    """
    return [
        _SIZE.sub(r"\1", svg)
        .replace('id="clip-', f'id="{name}-clip-')
        .replace("url(#clip-", f"url(#{name}-clip-")
        for svg in sheet_svgs(scene)
    ]


def write_pdf(html: str) -> bytes:
    """Print HTML as PDF with its fonts in it: the same bytes for the same text."""
    from weasyprint import CSS, HTML  # noqa: PLC0415 - slow to load, and only needed here
    from weasyprint.text.fonts import FontConfiguration  # noqa: PLC0415

    fonts = FontConfiguration()
    faces = "\n".join(
        f'@font-face {{ font-family: "{_FAMILY}"; font-weight: {weight}; '
        f'src: url("{font_file(bold=bold).as_uri()}"); }}'
        for weight, bold in (("normal", False), ("bold", True))
    )
    out = io.BytesIO()
    HTML(string=html).write_pdf(
        out,
        stylesheets=[CSS(string=faces, font_config=fonts)],
        font_config=fonts,
        pdf_identifier=b"layoutcheck",
    )
    return out.getvalue()
