"""What a person does on the page, in one word each."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

VERDICTS = ("Compliant", "Not compliant", "Undecided", "Fault")


def open_demo(page: Any, name: str, *, twin: str = "Sketch") -> None:
    """Open one of the invented sites from the list."""
    _open_dialog(page)
    row = page.locator(".sites li", has_text=name)
    row.get_by_role("button", name=twin).click()
    page.locator("dialog").wait_for(state="detached")
    settled(page)


def _open_dialog(page: Any) -> None:
    """Open the dialog; with nothing open it opens by itself."""
    if page.locator(".bar .name").inner_text() != "Nothing is open":
        page.get_by_role("button", name="Open", exact=True).click()
    page.locator(".sites button").first.wait_for()


def open_file(page: Any, path: Path) -> None:
    """Open a file with the picker."""
    _open_dialog(page)
    page.set_input_files("dialog input[type=file]", str(path))
    page.locator("dialog").wait_for(state="detached")


def verdict(page: Any) -> str:
    """Wait for a verdict and read it."""
    page.wait_for_timeout(60)  # an edit shows a few frames later
    shown = page.locator(".verdict strong", has_text=re.compile(f"^({'|'.join(VERDICTS)})$"))
    shown.wait_for(timeout=90_000)
    return str(shown.inner_text())


def settled(page: Any) -> str:
    """Wait until the verdict is there and the drawing is of the layout as it stands."""
    verdict(page)
    page.locator(".scene").wait_for(timeout=90_000)
    page.locator(".plug .sleeve").first.wait_for(state="detached", timeout=90_000)
    return verdict(page)


def kept(page: Any) -> dict[str, Any]:
    """Read the layout document that the page keeps in the browser."""
    text = page.evaluate("localStorage.getItem('layoutcheck page 1')")
    found: dict[str, Any] = json.loads(text)["layout"]
    return found


def plug_of(page: Any, name: str) -> dict[str, Any]:
    """Read one plug of the kept layout."""
    return next(p for p in kept(page)["plugs"] if p["id"] == name)


def handle(page: Any, name: str) -> Any:
    """Find a plug on the drawing."""
    return page.locator(f"[data-plug='{name}']")


def centre(thing: Any) -> tuple[float, float]:
    """Give the middle of something on the screen."""
    box = thing.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def choose(page: Any, name: str) -> None:
    """Choose something by its name."""
    field = page.get_by_role("combobox", name="Find")
    field.fill(name)
    field.press("Enter")


def tab(page: Any, name: str) -> None:
    """Turn to a panel."""
    page.get_by_role("tab", name=name).click()


def saved(page: Any, label: str) -> Path:
    """Download something from the menu."""
    menu = page.locator(".menu")
    if menu.get_attribute("open") is None:
        menu.locator("summary").click()
    with page.expect_download(timeout=90_000) as waiting:
        menu.get_by_role("button", name=label).click()
    return Path(waiting.value.path())
