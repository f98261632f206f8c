"""axe-core on every state of the page, and the marks that WCAG 2.2 asks for beyond it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.page.conftest import DESK, PAGE, PHONE
from tests.page.sheet import Finger, Mouse, begin
from tests.page.steps import choose, open_demo, open_file, tab

pytestmark = [pytest.mark.browser, pytest.mark.slow]
Open = Callable[..., Any]
AXE = PAGE / "node_modules" / "axe-core" / "axe.min.js"


@pytest.fixture(scope="session")
def axe(require: Any) -> str:
    """Give axe-core's script. Missing: `npm ci` in api/page brings it."""
    return str(require.file(AXE, brought_by="`npm ci` in api/page").read_text(encoding="utf-8"))


def _faults(page: Any, axe: str) -> list[str]:
    page.evaluate(axe)
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = page.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", tags)
    return [
        f"{v['impact']} {v['id']}: {n['html'][:120]} {n['failureSummary'][:200]}"
        for v in found["violations"]
        for n in v["nodes"]
    ]


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_axe_finds_nothing(open_page: Open, axe: str, size: Any) -> None:
    page = open_page(size)
    page.locator(".sites button").first.wait_for()
    assert _faults(page, axe) == []
    open_demo(page, "Cold riser")
    assert _faults(page, axe) == []
    page.locator(".finding .tell").first.click()
    assert _faults(page, axe) == []
    page.locator(".finding .rule").first.click()
    page.locator("dialog dt").first.wait_for()
    assert _faults(page, axe) == []
    page.keyboard.press("Escape")
    for thing in ("plug LOW", "valve V-ZONE", "outlet TAP-1W-K", "pipe R-8", "pump BO1"):
        choose(page, thing)
        assert _faults(page, axe) == []
    for name in ("Plugs", "Site", "Plans"):
        tab(page, name)
        closed = page.locator(".site > details:not([open]) > summary")
        while closed.count():
            closed.first.click()
        assert _faults(page, axe) == []


@pytest.mark.parametrize(("hand", "size"), [(Mouse, DESK), (Finger, PHONE)], ids=["desk", "phone"])
def test_axe_finds_nothing_on_the_sheet(
    open_page: Open, axe: str, tmp_path: Path, hand: type[Mouse], size: Any
) -> None:
    page = open_page(size)
    begin(page, "A riser (invented)")
    assert _faults(page, axe) == []
    drawing = hand(page)
    drawing.run((0, 0), (0, 60), length="20 ft")
    drawing.tool("Source")
    drawing.point(0, 0)
    assert _faults(page, axe) == []
    drawing.tool("Plug")
    drawing.point(0, 30)
    page.locator(".tells button").first.wait_for(timeout=60_000)
    assert _faults(page, axe) == []
    drawing.tool("Picture")
    assert _faults(page, axe) == []
    for thing in ("pipe P1", "junction J2", "source S1", "plug A"):
        drawing.choose(thing)
        assert _faults(page, axe) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    file = tmp_path / "torn.json"
    file.write_text('{"format": ')
    open_file(page, file)
    page.locator(".text-desk .notes li").first.wait_for()
    assert _faults(page, axe) == []


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_proposals_are_within_reach_and_axe_finds_nothing(
    open_page: Open, axe: str, size: Any
) -> None:
    page = open_page(size)
    open_demo(page, "Heating riser")
    page.get_by_role("button", name="What to do first").click()
    page.locator(".proposal li").first.wait_for(timeout=90_000)
    assert _faults(page, axe) == []
    tab(page, "Plugs")
    page.get_by_role("button", name="Mend all plugs").click()
    page.locator(".proposal").wait_for(timeout=90_000)
    assert _faults(page, axe) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    take = page.get_by_role("button", name="Move them all")
    take.scroll_into_view_if_needed()
    box, foot = take.bounding_box(), page.locator("footer").bounding_box()
    assert box["y"] + box["height"] <= foot["y"]


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_nothing_is_cut_off_sideways(open_page: Open, size: Any) -> None:
    page = open_page(size)
    open_demo(page, "Cold riser")
    for name in ("Findings", "Plugs", "Site", "Plans"):
        tab(page, name)
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size["width"]


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_targets_are_large_enough(open_page: Open, size: Any) -> None:
    """WCAG 2.2, 2.5.8: a target is at least 24 by 24 CSS pixels."""
    page = open_page(size)
    open_demo(page, "Cold riser")
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, select, input[type=text], summary, .grab')]
           .map(e => [e.textContent, e.getBoundingClientRect()])
           .filter(([, b]) => b.width > 0 && (b.width < 23.9 || b.height < 23.9))
           .map(([t, b]) => `${t} ${b.width} x ${b.height}`)"""
    )
    assert small == []


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_cautions_and_who_decides_are_always_in_view(open_page: Open, size: Any) -> None:
    page = open_page(size)
    open_demo(page, "Cold riser")
    for step in (0, 400, 1200, 9000):
        page.evaluate(f"document.querySelector('main, .panel').scrollTo(0, {step})")
        foot = page.locator("footer")
        box = foot.bounding_box()
        assert box["y"] + box["height"] <= size["height"] + 1
        assert box["y"] >= 0
        assert "licensed practice decide" in foot.inner_text()
        assert "asphyxiation" in foot.inner_text()


def test_it_works_with_text_twice_as_large(open_page: Open) -> None:
    """WCAG 2.2, 1.4.4: text can be resized to 200 % without loss."""
    page = open_page({"width": 680, "height": 425})
    open_demo(page, "Cold riser")
    assert page.evaluate("document.documentElement.scrollWidth") <= 680
    choose(page, "plug LOW")
    assert page.get_by_label("Station").is_visible()
