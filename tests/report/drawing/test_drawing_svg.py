"""The SVG: the same for the same site, sound markup, safe texts, and always the cautions."""

import json
import re
import xml.etree.ElementTree as ET
from itertools import product

import pytest

from layoutcheck.document.models import (
    EquipmentKind,
    FittingKind,
    OutletState,
    SourceKind,
    ValveKind,
)
from layoutcheck.report.cautions import CAUTIONS
from layoutcheck.report.drawing import Page, Scene, build_scene, draw_svg, scene_svg, sheet_svgs
from layoutcheck.report.drawing.scene import Role, Words
from layoutcheck.report.drawing.style import STYLES
from layoutcheck.report.drawing.symbols import all_forms
from layoutcheck.report.model import Verdict
from tests.report.drawing.drawing_samples import SITES, checked, riser, shuffled, site, site_scene


def texts(scene: Scene, sheet: int) -> str:
    marks = (m for p in scene.sheets[sheet].panels for m in p.marks)
    return " ".join(m.text for m in marks if isinstance(m, Words))


@pytest.mark.parametrize("drawn", [True, False])
@pytest.mark.parametrize("page", Page)
def test_the_same_site_gives_the_same_bytes_in_any_order(drawn: bool, page: Page) -> None:
    document = riser(drawn=drawn)
    one = draw_svg(*checked(document), page=page)
    assert one == draw_svg(*checked(document), page=page)
    two = draw_svg(*checked(shuffled(document, 7)), page=page)
    # The digest in the title block is of the document as it is written.
    digest = re.compile(r"layout [0-9a-f]{12}")
    assert digest.sub("", one) == digest.sub("", two)


@pytest.mark.parametrize(("name", "page"), list(product(SITES, Page)))
def test_it_is_sound_and_needs_nothing_from_elsewhere(name: str, page: Page) -> None:
    svg = scene_svg(site_scene(name, page))
    ET.fromstring(svg)
    assert "href" not in svg
    assert svg.count("http") == 1, "only the name of the SVG standard itself"
    assert "<script" not in svg
    assert 'font-family="DejaVu Sans, ' in svg
    assert "nan" not in re.sub(r"<text.*?</text>|<title>.*?</title>|\"[^\"]*[a-z]nan\"", "", svg)


@pytest.mark.parametrize("name", SITES)
def test_each_sheet_carries_verdict_digests_cautions_and_who_decides(name: str) -> None:
    _, report = site(name)
    for page in Page:
        scene = site_scene(name, page)
        for number in range(len(scene.sheets)):
            text = texts(scene, number)
            assert report.verdict.value.upper() in text
            assert report.layout.digest.rpartition(":")[2][:12] in text
            assert report.pack.digest.rpartition(":")[2][:12] in text
            for caution in CAUTIONS:
                assert caution.partition(":")[0].lower() in text.lower()
            assert "licensed practice" in text
        assert all(word in texts(scene, -1) for caution in CAUTIONS for word in caution.split())


def test_names_can_not_break_the_markup_or_hide_text() -> None:
    document = riser()
    nasty = '<b onclick="x">&\u0645\u06cc\u200c'
    document["valves"][0]["id"] = nasty
    document["name"] = "</svg><script>alert(1)</script>"
    svg = draw_svg(*checked(document))
    ET.fromstring(svg)
    assert "<script" not in svg
    assert "<b onclick" not in svg


@pytest.mark.parametrize("mark", ["\u202e", "\u2066", "\u200f", "\x07"])
def test_unseen_characters_are_spelled_out(mark: str) -> None:
    # A layout with such a name is refused when read; a scene made by other code may hold one.
    layout, report = checked(riser())
    scene = build_scene(layout, report).model_copy(update={"name": f"riser{mark}3"})
    svg = scene_svg(scene)
    assert mark not in svg
    assert f"riser\\u{ord(mark):04x}3" in svg


def test_every_role_has_a_look_and_every_thing_a_symbol() -> None:
    assert set(STYLES) == set(Role)
    forms = set(all_forms())
    states = ("open", "closed", "closed and proven", "passing", "not stated")
    assert {f"valve {k.value} {s}" for k in ValveKind for s in states} <= forms
    assert {f"outlet {s.value}" for s in OutletState} <= forms
    assert {f"source {k.value}" for k in SourceKind} <= forms
    assert {f"fitting {k.value}" for k in FittingKind} <= forms
    assert {e for k in EquipmentKind for e in (k.value, f"{k.value} locked off")} <= forms
    assert {v.value for v in Verdict} <= forms


def test_states_differ_in_shape_and_not_only_in_colour() -> None:
    forms = all_forms()
    for kind in ValveKind:
        shapes = [
            forms[f"valve {kind.value} {s}"]
            for s in ("open", "closed", "closed and proven", "passing", "not stated")
        ]
        assert len(set(shapes)) == 5
    assert len({forms[f"outlet {s.value}"] for s in OutletState}) == len(OutletState)
    lines = (Role.STILL, Role.FLOWING, Role.MAY_FLOW, Role.CLEAR, Role.SHUT_OUT, Role.FINDING)
    patterns = {(STYLES[r].width, STYLES[r].dash, STYLES[r].core) for r in lines}
    assert len(patterns) == len(lines), "each line has a width or a pattern of its own"


def _lightness(colour: str) -> float:
    """Relative luminance by WCAG 2.2 (W3C Recommendation, 'relative luminance')."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_line_stands_out_on_paper_without_its_colour() -> None:
    # WCAG 2.2, success criteria 1.4.11 (3:1 for graphics) and 1.4.3 (4.5:1 for text).
    for role, style in STYLES.items():
        if style.line.startswith("#"):
            assert 1.05 / (_lightness(style.line) + 0.05) >= 3.0, role


def test_the_scene_as_json_reads_back_as_the_same_scene() -> None:
    scene = build_scene(*checked(riser()))
    assert Scene.model_validate_json(scene.to_json()) == scene
    assert json.loads(scene.to_json())["format"] == "layoutcheck scene 1"


def test_sheets_are_drawings_of_their_own() -> None:
    scene = site_scene("heating-riser-sketch.json", Page.PAPER)
    single = sheet_svgs(scene)
    assert len(single) == len(scene.sheets) >= 2
    for svg in single:
        assert ET.fromstring(svg).get("width") in {"612pt", "792pt"}


def test_a_phone_needs_no_reading_glass() -> None:
    # 390 points wide; nothing is set smaller than 8 of them (common practice, no published source).
    scene = site_scene("heating-riser-sketch.json", Page.PHONE)
    (sheet,) = scene.sheets
    assert sheet.width == 390.0
    assert min(m.size for p in sheet.panels for m in p.marks if isinstance(m, Words)) >= 7.6


@pytest.mark.parametrize("what", ["V3", "A", "C3"])
def test_attention_can_be_drawn_to_a_thing(what: str) -> None:
    layout, report = checked(riser())
    plain, lit = (build_scene(layout, report, highlight=h) for h in (None, what))
    marks = [m for s in lit.sheets for p in s.panels for m in p.marks if m.role is Role.HIGHLIGHT]
    assert marks
    assert not any(
        m.role is Role.HIGHLIGHT for s in plain.sheets for p in s.panels for m in p.marks
    )


def test_attention_can_be_drawn_to_a_finding() -> None:
    layout, report = checked(riser())
    found = next(f for f in report.findings if f.outcome.value == "broken" and len(f.way) > 0)
    scene = build_scene(layout, report, highlight=found.id)
    marks = [m for s in scene.sheets for p in s.panels for m in p.marks]
    assert any(m.role is Role.HIGHLIGHT for m in marks)
