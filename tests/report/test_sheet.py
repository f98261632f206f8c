"""The crew's sheet: what must be read off it, and what must never be there.

Places, times and masses are compared with the layout document and with the report, never with the
sheet's own code.
"""

from __future__ import annotations

import io
import json
import math
import re
import subprocess
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from layoutcheck.document import parse_layout
from layoutcheck.report import check
from layoutcheck.report.sheet import build_sheet, sheet_html
from tests.report.handout_sites import FIXTURES, MENDED, SKETCHES, handout, report_on, site

# A sheet is pinned to a wall: more pages than this nobody reads. The order's for the plant room;
# own choice for sites whose warm or wide pipe takes hours of injections, each with its line.
MOST_PAGES = 10
MOST_OF = {"plant-room-mended": 8}
# Points. Common practice, no published source.
SMALLEST = 8.0
PRINTED = ("heating-riser-mended", "metric-block-mended")


def words(data: bytes) -> list[str]:
    """The text of each page by a reader of its own, spaces and line breaks made one."""
    done = subprocess.run(
        ["pdftotext", "-", "-"], input=data, stdout=subprocess.PIPE, check=True
    ).stdout.decode()
    return [" ".join(page.split()) for page in done.split("\f")[:-1]]


def told(seconds: float) -> str:
    """h:mm:ss, written out here from the numbers of the report."""
    whole = round(seconds)
    return f"{whole // 3600}:{whole % 3600 // 60:02d}:{whole % 60:02d}"


@pytest.mark.slow
@pytest.mark.parametrize("name", PRINTED)
def test_a_printed_sheet_says_every_time_and_caution(name: str, require: Any) -> None:
    require.tool("pdftotext")
    report, pages = report_on(name), words(handout(name, "sheet.pdf"))
    whole = " ".join(pages)
    for plug in report.plugs:
        assert plug.freeze.coolant is not None
        for step in plug.freeze.coolant.steps:
            assert told(step.start.value) in whole, (plug.id, step.kind)
    for caution in report.cautions:
        assert caution in whole
    assert report.deference in whole
    # The digests are told once; each page bears the number that they begin with.
    assert whole.count(report.layout.digest) == whole.count(report.pack.digest) == 1
    for number, page in enumerate(pages, start=1):
        assert "licensed practice" in page
        sheet = report.layout.digest.rpartition(":")[2][:8]
        assert f"Sheet {sheet}, page {number} of {len(pages)}" in page
        assert "DO NOT FREEZE" not in page


@pytest.mark.slow
@pytest.mark.parametrize("name", ["heating-riser-sketch", "no-drawing-sketch"])
def test_a_sheet_that_may_not_be_frozen_to_says_so_on_each_page(name: str, require: Any) -> None:
    require.tool("pdftotext")
    report, pages = report_on(name), words(handout(name, "sheet.pdf"))
    assert report.exit_code != 0
    for page in pages:
        assert "DO NOT FREEZE" in page
        assert f"Sheet {report.layout.digest.rpartition(':')[2][:8]}" in page
    whole = " ".join(pages)
    for given in ("Begin at", "Inject for", "Top up", "Order of work", "Before you start"):
        assert given not in whole
    # One page of what is wrong and to do, in the report's own order, and one drawing.
    assert len(pages) == 2
    places = [pages[0].index(f"{a.number}. {a.what}") for a in report.actions]
    assert places == sorted(places)


@pytest.mark.slow
@pytest.mark.parametrize("name", MENDED)
def test_a_sheet_is_short_and_no_page_but_the_last_is_half_empty(name: str, require: Any) -> None:
    require.tool("pdftoppm")
    pages = pictures(handout(name, "sheet.pdf"))
    assert len(pages) <= MOST_OF.get(name, MOST_PAGES)
    for page in pages[:-1]:
        # What lies between head and foot: the lowest ink is below the middle.
        body = page[int(0.06 * len(page)) : int(0.92 * len(page))]
        inked = np.flatnonzero((body < 128).any(axis=1))
        assert inked.max() > len(body) / 2
    broad = [page.shape[1] > page.shape[0] for page in pages]
    assert broad == [False, True, *([False] * (len(pages) - 2))]  # the job; the drawing; the rest


def pictures(data: bytes) -> list[np.ndarray]:
    """Each page as grey values, drawn by another program."""
    done = subprocess.run(
        ["pdftoppm", "-r", "36", "-gray", "-"], input=data, stdout=subprocess.PIPE, check=True
    ).stdout
    found = []
    while done:
        _, size, _, rest = done.split(b"\n", 3)
        width, height = map(int, size.split())
        found.append(np.frombuffer(rest[: width * height], dtype=np.uint8).reshape(height, width))
        done = rest[width * height :]
    return found


@pytest.mark.slow
@pytest.mark.parametrize("name", ["plant-room-mended", "metric-block-sketch"])
def test_no_print_is_smaller_than_8_points(name: str) -> None:
    small: list[tuple[float, str]] = []

    def seen(text: str, _: Any, matrix: list[float], _font: Any, size: float) -> None:
        height = abs(size) * math.hypot(matrix[2], matrix[3])
        # Below a point: what names the pages' heads, and is not printed.
        if text.strip() and 1.0 < height < SMALLEST - 0.01:
            small.append((height, text))

    for page in PdfReader(io.BytesIO(handout(name, "sheet.pdf"))).pages:
        page.extract_text(visitor_text=seen)
    assert small == []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "size"), [("no-drawing-mended", [215.9, 279.4]), ("metric-block-sketch", [210, 297])]
)
def test_fonts_are_in_the_file_and_pages_fit_the_printers_of_the_site(
    name: str, size: list[float]
) -> None:
    reader = PdfReader(io.BytesIO(handout(name, "sheet.pdf")))
    for page in reader.pages:
        # ISO 216: A4 is 210 mm by 297 mm. US Letter, for a site in feet: 8.5 in by 11 in.
        sides = sorted(float(x) / 72 * 25.4 for x in page.mediabox[2:])
        assert sides == pytest.approx(size, abs=0.1)
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            inner = font.get_object()["/DescendantFonts"][0].get_object()
            descriptor = inner["/FontDescriptor"].get_object()
            assert "DejaVu" in descriptor["/FontName"]
            assert any(f"/FontFile{n}" in descriptor for n in ("", "2", "3"))
    assert not any(key in (reader.metadata or {}) for key in ("/CreationDate", "/ModDate"))


def test_the_same_input_gives_the_same_bytes() -> None:
    """Of the PDF too: the service's test compares its bytes with those of the library."""
    name = "no-drawing-mended"
    assert sheet_html(site(name), report_on(name)) == handout(name, "sheet.html").decode()


@pytest.mark.parametrize("name", MENDED)
def test_each_plug_is_found_from_two_things_on_its_pipe(name: str) -> None:
    """The two readings to the jacket's ends and the jacket make up the way between the things."""
    layout, sheet = site(name), build_sheet(site(name), report_on(name))
    assert sheet.may_freeze
    for card in sheet.plugs:
        assert len(card.landmarks) == 2, card.id
        stated = next(p for p in layout.plugs if p.id == card.id)
        for mark in card.landmarks:
            gap = metres(mark.to_centre) - metres(mark.to_jacket)
            assert gap == pytest.approx(stated.jacket / 2, abs=0.0011)  # shown to the millimetre
        assert card.landmarks[0].name != card.landmarks[1].name


def metres(text: str) -> float:
    """Read the metres of a shown length: '16 ft (4.877 m)' or '3.000 m (9 ft 10 1/8 in)'."""
    found = re.search(r"([\d.]+) m\b", text)
    assert found is not None, text
    return float(found[1])


def test_the_places_of_the_heating_riser_are_those_of_its_document() -> None:
    """By hand from the document: F1 at 16 ft on R-MAIN, of 22 ft; V-R stands on R-1 at 3 ft 2 in.

    F1: 16 ft from RE and 22 - 16 = 6 ft from RT; the jacket of 1 ft begins half a foot nearer.
    F2: at 8 ft of R-1 (18 ft long); V-R's body ends at 3 ft 4 in, so its face is 4 ft 8 in away,
    and R1, the far end, 18 - 8 = 10 ft away.
    """
    data = json.loads((FIXTURES / "heating-riser-mended.json").read_text())
    pipe = {p["id"]: p for p in data["pipes"]}
    valve = next(v for v in data["valves"] if v["id"] == "V-R")
    assert (pipe["R-MAIN"]["length"], pipe["R-1"]["length"]) == ("22 ft", "18 ft")
    assert valve["pipe"] == "R-1"
    sheet = build_sheet(site("heating-riser-mended"), report_on("heating-riser-mended"))
    first, second = (card.landmarks for card in sheet.plugs)
    assert [m.to_centre.split(" (")[0] for m in first] == ["16 ft", "6 ft"]
    assert [m.to_jacket.split(" (")[0] for m in first] == ["15 ft 6 in", "5 ft 6 in"]
    assert [m.to_centre.split(" (")[0] for m in second] == ["4 ft 8 in", "10 ft"]
    assert "RE" in first[0].name
    assert "RT" in first[1].name
    assert "V-R" in second[0].name


@pytest.mark.parametrize("name", MENDED)
def test_every_valve_and_outlet_that_is_worked_is_in_the_steps(name: str) -> None:
    layout, sheet = site(name), build_sheet(site(name), report_on(name))
    steps = " ".join(t.text for g in (*sheet.before, *sheet.order) for t in g.ticks)
    data = layout.model_dump(mode="json")
    for valve in data["valves"]:
        states = valve["state"] if isinstance(valve["state"], dict) else {"both": valve["state"]}
        if "closed" in states.values() or len(set(states.values())) > 1:
            assert valve["id"] in steps
    for outlet in data["outlets"]:
        if "bleed" in json.dumps(outlet["state"]):
            assert f"OPEN bleed: outlet {outlet['id']}" in steps
            assert f"SHUT outlet {outlet['id']}" in steps
    for item in data["work"]["open"]:
        assert next(v for k, v in item.items() if v and k not in {"start", "end"}) in steps


def test_the_line_is_not_opened_before_the_last_plug_is_due() -> None:
    report = report_on("process-header-mended")
    dues = [p.freeze.due.value for p in report.plugs if p.freeze.due]
    assert len(set(dues)) == 2
    sheet = build_sheet(site("process-header-mended"), report)
    assert sheet.not_before == told(max(dues))


@pytest.mark.parametrize("name", SKETCHES)
def test_no_sketch_with_faults_gets_a_schedule(name: str) -> None:
    sheet = build_sheet(site(name), report_on(name))
    assert not sheet.may_freeze
    assert not sheet.order
    assert not sheet.before
    assert all(card.times is None for card in sheet.plugs)


def test_a_layout_without_plugs_gets_no_schedule_either() -> None:
    data = json.loads((FIXTURES / "no-drawing-mended.json").read_text())
    data["plugs"], data["work"] = [], None
    layout = parse_layout(data)
    assert not build_sheet(layout, check(layout)).may_freeze


class Reader(HTMLParser):
    """Collects tags and what they point to."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.pointers: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.pointers += [v or "" for k, v in attrs if k in {"src", "href", "xlink:href", "data"}]


@pytest.mark.parametrize("what", ["sheet.html", "report.html"])
@pytest.mark.parametrize("name", ["heating-riser-sketch", "no-drawing-mended"])
def test_a_page_stands_alone(name: str, what: str) -> None:
    reader, text = Reader(), handout(name, what).decode()
    reader.feed(text)
    assert not {"script", "link", "iframe", "object", "embed", "img"} & set(reader.tags)
    assert all(p.startswith("#") for p in reader.pointers)
    assert "http://" not in text.replace("http://www.w3.org/2000/svg", "")
    assert "https://" not in text
    assert "width=device-width" in text


@pytest.mark.parametrize("what", ["sheet.html", "report.html"])
def test_whatever_a_document_says_is_shown_as_text(what: str) -> None:
    from layoutcheck.report.handouts import make_handout  # noqa: PLC0415

    evil = "<script>alert(1)</script>\"'&{{ 7*7 }}</style>"
    data = json.loads((FIXTURES / "no-drawing-mended.json").read_text())
    data["name"], data["note"] = evil, evil
    data["work"]["name"] = data["work"]["if_a_plug_goes"] = evil
    data["plugs"][0]["name"] = evil
    data["site"]["rooms"][0]["name"] = evil
    layout = parse_layout(data)
    text = make_handout(what, layout, check(layout)).decode()
    assert "<script" not in text
    assert "&lt;script&gt;alert(1)" in text
    assert "{{ 7*7 }}" in text
    assert text.count("</style>") == 1
