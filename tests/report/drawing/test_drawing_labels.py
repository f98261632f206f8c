"""Labels never cover each other or leave the page; what a crew needs is never left out.

Oracle: every pair of boxes on a page is compared, and the boxes are measured again with Pillow's
own reading of the font (a general library), not with the widths that placed them.
"""

import itertools
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from PIL import ImageFont

from layoutcheck.document import parse_layout
from layoutcheck.document.models import Moment, ValveState
from layoutcheck.report import glance
from layoutcheck.report.action_words import DOING
from layoutcheck.report.drawing import Page, Scene, build_scene
from layoutcheck.report.drawing.labels import Room, Wanted, place_labels
from layoutcheck.report.drawing.metrics import Box, fitted, font_file, text_width, wrapped
from layoutcheck.report.drawing.scene import Words
from tests.report.drawing.drawing_samples import DAY, SITES, riser, site, site_scene

# Boxes may share an edge; rounding must not make that an overlap (points).
EDGE = 0.05

EVERY = list(itertools.product(SITES, Page))


def words_of(scene: Scene) -> list[tuple[int, Words]]:
    return [
        (number, mark)
        for number, sheet in enumerate(scene.sheets)
        for panel in sheet.panels
        for mark in panel.marks
        if isinstance(mark, Words)
    ]


def measured(mark: Words) -> Box:
    """The ink and advance of a text by Pillow: width of the line, height of what is printed."""
    font = ImageFont.truetype(str(font_file(bold=mark.bold)), 1000)
    scale = mark.size / 1000
    width = font.getlength(mark.text) * scale
    _, top, _, bottom = font.getbbox(mark.text, anchor="ls")
    left = mark.at[0] - {"start": 0.0, "middle": width / 2, "end": width}[mark.anchor]
    return Box(left, mark.at[1] + top * scale, left + width, mark.at[1] + bottom * scale)


@pytest.mark.parametrize(("name", "page"), EVERY)
def test_no_label_covers_another(name: str, page: Page) -> None:
    scene = site_scene(name, page)
    boxes = [(sheet, mark.text, measured(mark).grown(-EDGE)) for sheet, mark in words_of(scene)]
    covered = [
        (one[1], two[1])
        for one, two in itertools.combinations(boxes, 2)
        if one[0] == two[0] and one[2].meets(two[2])
    ]
    assert covered == []


@pytest.mark.parametrize(("name", "page"), EVERY)
def test_every_label_lies_on_its_page(name: str, page: Page) -> None:
    scene = site_scene(name, page)
    for number, mark in words_of(scene):
        sheet = scene.sheets[number]
        assert Box(0, 0, sheet.width, sheet.height).holds(measured(mark)), mark.text


@pytest.mark.parametrize(("name", "page"), EVERY)
def test_plugs_work_moves_and_findings_are_never_left_out(name: str, page: Page) -> None:
    layout, report = site(name)
    text = " ".join(mark.text for _, mark in words_of(site_scene(name, page)))
    for plug in report.plugs:
        state = "well placed" if plug.well_placed else "not well placed"
        assert text.count(f"Plug {plug.id}: {state}") >= 2, "once in a view, once over its strip"
        if plug.nearest is not None:
            assert f"Plug {plug.id}: move " in text
        if plug.nearest is not None and plug.nearest.remaining:
            assert "Even there this does not hold yet" in text
    for item in layout.work.open if layout.work else ():
        assert f"Work: {item.label}" in text
    for action in report.actions:
        assert f"{action.number} {action.what}" in text.replace("  ", " ")


@pytest.mark.parametrize("name", SITES)
def test_a_number_on_the_drawing_means_what_it_means_in_the_report(name: str) -> None:
    """Read off the report alone: which numbers a plug's own findings have."""
    _, report = site(name)
    marks = [m for _, m in words_of(site_scene(name, Page.PAPER)) if m.text.startswith("see ")]
    for plug in report.plugs:
        own = {
            f.action
            for f in report.findings
            if f.action is not None
            and f.subject.kind in {"plug", "plugs"}
            and (
                f.subject.id == plug.id or ("plug", plug.id) in {(c.kind, c.id) for c in f.concerns}
            )
        }
        told = {m.text for m in marks if m.subject == f"plug {plug.id}"}
        assert told <= {f"see {', '.join(map(str, sorted(own)))}"}
        assert bool(told) == bool(own)
    by_number = {str(a.number): a for a in report.actions}
    for mark in marks:
        if not str(mark.subject).startswith(("plug ", "work ")):
            assert mark.subject == by_number[mark.text.removeprefix("see ")].on[0]


@pytest.mark.parametrize("name", SITES)
def test_what_the_work_hangs_on_is_always_named(name: str) -> None:
    layout, report = site(name)
    scene = site_scene(name, Page.PAPER)
    named = {mark.subject for _, mark in words_of(scene)}
    shut = [v.id for v in layout.valves if any(v.at(m) is not ValveState.OPEN for m in Moment)]
    handled = [a.on[0] for a in report.actions if a.kind in DOING]
    beside = " ".join(m.text for _, m in words_of(scene))
    for name_of in (*shut, *handled, *(s.id for s in layout.ways_in)):
        assert name_of in named or name_of in beside


@pytest.mark.parametrize("name", SITES)
def test_nothing_on_paper_is_printed_smaller_than_8_points(name: str) -> None:
    # Common practice, no published source.
    assert min(mark.size for _, mark in words_of(site_scene(name, Page.PAPER))) >= 8.0


@pytest.mark.parametrize("name", SITES)
def test_paper_is_letter_where_the_site_is_in_feet_and_a4_elsewhere(name: str) -> None:
    # A4: 210 by 297 mm (ISO 216). US Letter: 8.5 by 11 in. A point is 1/72 in.
    layout, _ = site(name)
    sides = [8.5 * 72, 11 * 72] if layout.units.value == "imperial" else [595.28, 841.89]
    for sheet in site_scene(name, Page.PAPER).sheets:
        assert sorted((sheet.width, sheet.height)) == pytest.approx(sides, abs=0.01)


def crowded() -> dict[str, Any]:
    document = riser(3)
    document["plugs"] = [
        {"id": f"P{i}", "pipe": "C1", "station": f"{i} ft", "jacket": "12 in"} for i in range(1, 9)
    ]
    return document


def long_names() -> dict[str, Any]:
    document = riser(3)
    document |= {"name": "n" * 1900, "note": "word " * 390}
    document["plugs"][0]["id"] = "Q" * 100
    document["valves"][0]["id"] = "W" * 100
    return document


@pytest.mark.parametrize("made", [crowded, long_names])
@pytest.mark.parametrize("page", Page)
def test_crowds_and_long_names_do_no_harm(made: Callable[[], dict[str, Any]], page: Page) -> None:
    layout = parse_layout(made())
    scene = build_scene(layout, glance(layout, on=DAY), page=page)
    boxes = [(n, m.text, measured(m).grown(-EDGE)) for n, m in words_of(scene)]
    for number, text, box in boxes:
        sheet = scene.sheets[number]
        assert Box(0, 0, sheet.width, sheet.height).holds(box), text
    for one, two in itertools.combinations(boxes, 2):
        assert one[0] != two[0] or not one[2].meets(two[2]), (one[1], two[1])


def test_what_was_left_out_is_counted_on_the_drawing() -> None:
    scene = site_scene("cold-riser-sketch.json", Page.PAPER)
    assert scene.left_out > 0
    texts = [mark.text for _, mark in words_of(scene)]
    assert f"minor names left out: {scene.left_out}" in texts


@given(
    st.lists(
        st.tuples(st.text("abcWi 123", min_size=1, max_size=12), st.floats(0, 300),
                  st.floats(0, 200), st.booleans()),
        max_size=40,
    )
)  # fmt: skip
def test_placed_labels_never_meet(rows: list[tuple[str, float, float, bool]]) -> None:
    frame = Box(0, 0, 300, 200)
    wanted = [Wanted((t,), (x, y), 8.0, must=must, far=must) for t, x, y, must in rows]
    placed = place_labels(Room(frame), wanted)
    words = [m for m in placed.marks if isinstance(m, Words)]
    assert len(words) + len(placed.beside) + placed.left_out == len(rows)
    boxes = [Box(*w.box) for w in words]
    assert all(frame.holds(b) for b in boxes)
    assert not any(a.grown(-1e-6).meets(b) for a, b in itertools.combinations(boxes, 2))
    assert {w.lines[0] for w in placed.beside} <= {t for t, _, _, must in rows if must}


@example("-G", 3.0)  # set apart by 0.037 of the size: more than rounding
@given(st.text(max_size=60), st.floats(3, 20))
def test_widths_hold_what_pillow_measures(text: str, size: float) -> None:
    # Pillow shapes without kerning or with it. What kerning draws together we leave apart, so the
    # measured width is an upper bound up to rounding of advances.
    plain = "".join(c for c in text if " " <= c <= "~")
    font = ImageFont.truetype(str(font_file(bold=False)), 2048)
    assert text_width(plain, size) >= font.getlength(plain) / 2048 * size - 0.02 * size


@given(st.text("abc de", max_size=80), st.floats(20, 200))
def test_wrapping_keeps_every_word_within_the_width(text: str, width: float) -> None:
    lines = wrapped(text, width, 8.0)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(text_width(line, 8.0) <= width for line in lines)


def test_a_shortened_text_says_so() -> None:
    assert fitted("a long name of a pipe", 40.0, 8.0).endswith("…")
    assert fitted("P1", 40.0, 8.0) == "P1"
