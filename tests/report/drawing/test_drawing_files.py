"""PNG and PDF: made from the same scene, the same bytes each time, read back by other libraries."""

import io

import pytest
from PIL import Image, ImageChops
from pypdf import PdfReader

from layoutcheck.report.drawing import Page, Scene, draw_pdf, draw_png
from layoutcheck.report.drawing.files import scene_png
from layoutcheck.report.drawing.scene import Mark, Panel, Role, Stroke, Words
from tests.report.drawing.drawing_samples import checked, riser, site
from tests.report.drawing.golden_drawings import FOLDER, WIDTH, pictured
from tests.report.drawing.golden_drawings import SITES as GOLDEN

# Another build of the renderer may smooth edges a little otherwise: a grey level that differs by
# less than this is no difference, and a handful of pixels may differ by more.
EDGE = 64
TOLERATED = 6


def test_png_is_the_same_each_time_and_as_wide_as_asked() -> None:
    layout, report = checked(riser())
    one, two = (draw_png(layout, report, page=Page.PHONE, width=390) for _ in range(2))
    assert one == two
    image = Image.open(io.BytesIO(one)).convert("L")
    assert image.width == 390
    shares = [c / (image.width * image.height) for c in image.histogram()]
    assert shares[255] > 0.5, "mostly paper"
    assert sum(shares[:128]) > 0.02, "and ink on it: text and lines were drawn"


@pytest.mark.slow
def test_pdf_holds_a_page_for_each_sheet_with_its_fonts_and_real_text() -> None:
    layout, report = site("heating-riser-sketch.json")
    reader = PdfReader(io.BytesIO(draw_pdf(layout, report)))
    assert len(reader.pages) == 2
    # A site in feet: US Letter, 8.5 in by 11 in.
    box = reader.pages[0].mediabox
    assert sorted(float(s) for s in (box.width, box.height)) == pytest.approx(
        [8.5 * 72, 11 * 72], abs=0.1
    )
    text = "\n".join(page.extract_text() for page in reader.pages)
    assert "NOT COMPLIANT" in text
    assert report.layout.digest.rpartition(":")[2][:12] in text
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            below = font.get_object()["/DescendantFonts"][0].get_object()
            described = below["/FontDescriptor"].get_object()
            assert any(key in described for key in ("/FontFile2", "/FontFile3")), "embedded"


def differing(one: Image.Image, two: Image.Image) -> int:
    """Count the pixels that differ by more than the smoothing of edges can."""
    if one.size != two.size:
        return max(one.width * one.height, two.width * two.height)
    return sum(ImageChops.difference(one, two).convert("L").histogram()[EDGE:])


def picture(scene: Scene) -> Image.Image:
    return Image.open(io.BytesIO(scene_png(scene, width=WIDTH))).convert("L")


@pytest.mark.parametrize("name", GOLDEN)
def test_golden_pictures(name: str) -> None:
    kept = Image.open(FOLDER / f"{name}.png").convert("L")
    assert differing(kept, picture(pictured(name))) <= TOLERATED


@pytest.mark.parametrize("role", [Role.STILL, Role.TEXT, Role.JACKET_BROKEN])
def test_a_lost_pipe_label_or_jacket_would_break_a_golden_picture(role: Role) -> None:
    scene = pictured("heating-riser-sketch")
    (first, *rest) = scene.sheets
    view = "The whole" if role is Role.STILL else "Detail"
    detail = next(p for p in first.panels if p.name.startswith(view))
    shown = [m for m in detail.marks if m.role is role and _within(m, detail)]
    lost = max(shown, key=_size) if role is Role.STILL else min(shown, key=_size)
    marks = tuple(m for m in detail.marks if m is not lost)
    changed = tuple(
        p.model_copy(update={"marks": marks}) if p is detail else p for p in first.panels
    )
    sheets = (first.model_copy(update={"panels": changed}), *rest)
    without = picture(scene.model_copy(update={"sheets": sheets}))
    assert differing(picture(scene), without) > TOLERATED


def _points(mark: Mark) -> list[tuple[float, float]]:
    if isinstance(mark, Stroke):
        return list(mark.points)
    if isinstance(mark, Words):
        left, top, right, bottom = mark.box
        return [(left, top), (right, bottom)]
    return [mark.at]


def _within(mark: Mark, panel: Panel) -> bool:
    left, top, right, bottom = panel.frame
    return all(left <= x <= right and top <= y <= bottom for x, y in _points(mark))


def _size(mark: Mark) -> float:
    xs, ys = zip(*_points(mark), strict=True)
    return max(xs) - min(xs) + max(ys) - min(ys)
