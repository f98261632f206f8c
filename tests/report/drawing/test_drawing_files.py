"""PNG and PDF: made from the same scene, the same bytes each time, read back by other libraries."""

import io

import pytest
from PIL import Image
from pypdf import PdfReader

from layoutcheck.report.drawing import Page, draw_pdf, draw_png
from tests.report.drawing.drawing_samples import checked, riser, site


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
    one, two = (draw_pdf(layout, report) for _ in range(2))
    assert one == two
    reader = PdfReader(io.BytesIO(one))
    assert len(reader.pages) == 2
    # ISO 216: A4 is 210 mm by 297 mm.
    box = reader.pages[0].mediabox
    assert sorted(float(s) for s in (box.width, box.height)) == pytest.approx(
        [210 / 25.4 * 72, 297 / 25.4 * 72], abs=0.1
    )
    text = "\n".join(page.extract_text() for page in reader.pages)
    assert "NOT COMPLIANT" in text
    assert report.layout.digest.rpartition(":")[2][:12] in text
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            below = font.get_object()["/DescendantFonts"][0].get_object()
            described = below["/FontDescriptor"].get_object()
            assert any(key in described for key in ("/FontFile2", "/FontFile3")), "embedded"
