"""Three hands that draw on the page's sheet: a mouse, a finger, a keyboard alone."""

from __future__ import annotations

import contextlib
import re
from typing import Any

KEYS = {
    "Choose": "s",
    "Pipe": "p",
    "Source": "m",
    "Outlet": "o",
    "Valve": "v",
    "Pump": "u",
    "Cap": "c",
    "Work": "w",
    "Plug": "f",
}


def begin(page: Any, name: str) -> None:
    """Begin an empty sheet from the first dialog."""
    page.get_by_role("button", name="Draw a new site").click()
    page.get_by_label("What the site is called").fill(name)
    page.get_by_role("button", name="Begin").click()
    page.locator(".board svg[data-camera]").wait_for()


class Mouse:
    """Points with a mouse, and types into the forms."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.board = page.locator(".board svg")

    def tool(self, name: str) -> None:
        """Take a tool."""
        self.press(self.page.get_by_role("toolbar").get_by_role("button", name=name, exact=True))

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Give the place on the screen of a point of the sheet."""
        k, left, top = map(float, self.board.get_attribute("data-camera").split())
        box = self.board.bounding_box()
        return box["x"] + left + x * k, box["y"] + top - y * k

    def point(self, x: float, y: float) -> None:
        """Point at a place of the sheet."""
        self.page.mouse.click(*self.at(x, y))

    def press(self, button: Any) -> None:
        """Press a button."""
        button.click()

    def run(self, *points: tuple[float, float], length: str) -> None:
        """Draw one pipe and give its length."""
        self.tool("Pipe")
        for x, y in points:
            self.point(x, y)
        ends = self.page.get_by_role("button", name="End the pipe")
        if ends.count():
            self.press(ends)
        self.state("length", length)

    def state(self, field: str, value: str, *, of: str = "") -> None:
        """Fill in a field of what is chosen, or of something by its name."""
        if of:
            self.choose(of)
        self.put(self.page.locator(f".inspector [data-field='{field}']"), value)

    def choose(self, name: str) -> None:
        """Choose something by its name."""
        find = self.page.get_by_role("combobox", name="Find")
        find.fill(name)
        find.press("Enter")
        self.page.locator(".inspector h2", has_text=name).wait_for()

    def for_site(self, field: str, value: str) -> None:
        """State a fact of the whole site."""
        self.page.get_by_role("tab", name="Site").click()
        self.put(self.page.locator(f".panel [data-field='{field}']"), value)

    def put(self, field: Any, value: str) -> None:
        """Type into a field, or choose in a list."""
        field.wait_for(state="attached")
        field.evaluate("e => { const d = e.closest('details'); if (d) d.open = true; }")
        if field.evaluate("e => e.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)
            field.press("Tab")


class Finger(Mouse):
    """Taps, on a screen of 390 px."""

    def point(self, x: float, y: float) -> None:
        self.board.evaluate("e => e.scrollIntoView({block: 'center'})")
        self.page.touchscreen.tap(*self.at(x, y))

    def press(self, button: Any) -> None:
        button.tap()


class Keyboard(Mouse):
    """Keys alone: what is not reached by Tab is not reached."""

    def tool(self, name: str) -> None:
        self._to_board()
        self.page.keyboard.press(KEYS[name])

    def point(self, x: float, y: float) -> None:
        self._to_board()
        if self.board.get_attribute("data-cross") is None:
            self._press("ArrowRight", 1)
        now = [float(v) for v in self.board.get_attribute("data-cross").split()]
        for step, minus, plus in (
            (x - now[0], "ArrowLeft", "ArrowRight"),
            (y - now[1], "ArrowDown", "ArrowUp"),
        ):
            self._press(plus if step > 0 else minus, round(abs(step) / 10))
        self.page.keyboard.press("Enter")

    def press(self, button: Any) -> None:
        self._tab_to(button)
        self.page.keyboard.press("Enter")

    def run(self, *points: tuple[float, float], length: str) -> None:
        self.tool("Pipe")
        for x, y in points:
            self.point(x, y)
        if self.page.get_by_role("button", name="End the pipe").count():
            self.page.keyboard.press("Enter")  # once more at the last place
        self.page.locator(".inspector [data-field='length']:focus").wait_for()
        self.page.keyboard.type(length)
        self.page.keyboard.press("Enter")
        self.page.locator(".board svg:focus").wait_for()

    def choose(self, name: str) -> None:
        self._tab_to(self.page.get_by_role("combobox", name="Find"))
        self.page.keyboard.type(name)
        self.page.keyboard.press("Enter")
        self.page.locator(".inspector h2", has_text=name).wait_for()

    def for_site(self, field: str, value: str) -> None:
        tab = self.page.get_by_role("tab", selected=True)
        self._tab_to(tab)
        while self.page.get_by_role("tab", selected=True).inner_text() != "Site":
            self.page.keyboard.press("ArrowRight")
        self.put(self.page.locator(f".panel [data-field='{field}']"), value)

    def put(self, field: Any, value: str) -> None:
        field.wait_for(state="attached")
        folded = field.locator("xpath=ancestor::details[not(@open)]/summary")
        if folded.count():
            self._tab_to(folded.first)
            self.page.keyboard.press("Enter")
        self._tab_to(field)
        self.page.keyboard.type(value)
        self.page.keyboard.press("Tab")

    def _press(self, key: str, times: int) -> None:
        for _ in range(times):
            self.page.keyboard.press(key)

    def _to_board(self) -> None:
        self._tab_to(self.board)

    def _tab_to(self, thing: Any) -> None:
        for back in (False, True):
            for _ in range(190 if back else 40):
                with contextlib.suppress(Exception):
                    if thing.evaluate("e => e === document.activeElement"):
                        return
                self.page.keyboard.press("Shift+Tab" if back else "Tab")
        here = self.page.evaluate("document.activeElement.outerHTML.slice(0, 200)")
        raise AssertionError(f"not reached by Tab: {thing}; at {re.sub(chr(10), ' ', here)}")
