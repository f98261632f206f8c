"""layoutcheck draw: the drawing of a layout and its report, as SVG, PNG or PDF."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from layoutcheck.cli.files import write_file
from layoutcheck.cli.given import GivenCheck
from layoutcheck.cli.problems import WrongCall
from layoutcheck.cli.typed import run_typed
from layoutcheck.document import Layout
from layoutcheck.document.by_ref import own_id
from layoutcheck.document.faults import shown
from layoutcheck.report import Report
from layoutcheck.report.drawing import Page, build_scene, scene_svg
from layoutcheck.report.drawing.scene import Scene

Output = Annotated[
    str,
    typer.Option("-o", "--output", metavar="FILE", help="The file to write: .svg, .png or .pdf."),
]
Highlight = Annotated[
    str | None,
    typer.Option("--highlight", metavar="ID", help="Draw attention to an element or a finding."),
]
PageOption = Annotated[
    Page, typer.Option("--page", help="a4 for sheets to print, phone for one narrow column.")
]
_ENDINGS = (".svg", ".png", ".pdf")


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("draw", _draw, argv)


def _draw(
    given: GivenCheck,
    output: Output,
    page: PageOption = Page.A4,
    highlight: Highlight = None,
) -> int:
    """Draw a layout: pipes, plugs, what shuts them out, where they may go, and the verdict.

    Exit codes are those of check: 0 compliant, 1 broken, 2 unusable input, 3 undecided, 4 fault.
    """
    ending = Path(output).suffix.lower()
    if ending not in _ENDINGS:
        raise WrongCall(f"{shown(output)} must end in {', '.join(_ENDINGS)}")
    layout, report = given.layout, given.judged()
    highlight = None if highlight is None else own_id(layout, highlight)
    _known(layout, report, highlight)
    scene = build_scene(layout, report, highlight=highlight, page=page)
    write_file(output, _written(scene, ending))
    return report.exit_code


def _known(layout: Layout, report: Report, highlight: str | None) -> None:
    """Refuse to highlight what is not there: a drawing without it would look like an answer."""
    groups: list[list[str]] = [
        [j.id for j in layout.junctions],
        [p.id for p in layout.pipes],
        [f.id for f in layout.fittings],
        [v.id for v in layout.valves],
        [m.id for m in (*layout.pumps, *layout.equipment)],
        [s.id for s in layout.sources],
        [o.id for o in layout.outlets],
        [p.id for p in layout.plugs],
        [f.id for f in report.findings],
    ]
    known = [name for group in groups for name in group]
    if highlight is None or highlight in known:
        return
    near = difflib.get_close_matches(highlight, known, n=1)
    meant = f"; is {shown(near[0])} meant?" if near else ""
    raise WrongCall(f"nothing to highlight has the id {shown(highlight, 100)!r}{meant}")


def _written(scene: Scene, ending: str) -> bytes:
    """Write a scene in the form that a file's ending asks for."""
    if ending == ".svg":
        return scene_svg(scene).encode()
    # Imported here, for these libraries are slow to load and an SVG needs neither.
    from layoutcheck.report.drawing.files import scene_pdf, scene_png  # noqa: PLC0415

    return scene_png(scene) if ending == ".png" else scene_pdf(scene)
