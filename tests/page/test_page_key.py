"""The page of a service that asks for a key: it asks for one, says why, and works with it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from layoutcheck_service.keys import Scope, changed_keys, make_key
from tests.api.running import Running, running
from tests.page.conftest import DESK
from tests.page.steps import verdict

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    file = tmp_path_factory.mktemp("keys") / "keys.json"
    key, entry = make_key("Larkfield desk", [Scope.CHECK], days=1)
    with changed_keys(file) as entries:
        entries.append(entry)
    return file, key


@pytest.fixture(scope="module")
def locked(keys: tuple[Path, str]) -> Iterator[Running]:
    with running(keys_file=keys[0], workers=1) as made:
        yield made


@pytest.fixture
def page(browser: Any, locked: Running) -> Iterator[Any]:
    context = browser.new_context(viewport=DESK)
    opened = context.new_page()
    opened.set_default_timeout(30_000)
    opened.goto(locked.address)
    yield opened
    context.close()


def ask_for_verdict(page: Any) -> None:
    """Open a site; the page then wants a verdict, and with it a key."""
    page.locator(".sites button").first.wait_for()
    page.locator(".sites li", has_text="Cold riser").get_by_role("button", name="Mended").click()
    page.get_by_role("heading", name="This service asks for a key").wait_for()


def give(page: Any, key: str) -> None:
    page.get_by_label("API key").fill(key)
    page.get_by_role("button", name="Use this key").click()


def test_it_asks_for_a_key_and_works_with_it(page: Any, keys: tuple[Path, str]) -> None:
    ask_for_verdict(page)
    give(page, "lck_aaaaaaaa_" + "A" * 43)
    page.get_by_role("alert").filter(has_text="unknown, revoked or out of date").wait_for()
    give(page, keys[1])
    assert verdict(page) == "Compliant"
    page.reload()
    assert verdict(page) == "Compliant"  # the tab keeps it
    assert keys[1] not in page.evaluate("JSON.stringify(localStorage)")
    page.get_by_role("tab", name="Plans").click()
    page.locator("#panel").get_by_role("button").first.click()
    page.get_by_role("alert").filter(has_text="needs a key with the scope 'plan'").wait_for()


def test_who_gives_none_is_told_what_to_do(page: Any) -> None:
    ask_for_verdict(page)
    page.get_by_role("button", name="Close", exact=True).click()
    page.get_by_role("alert").filter(has_text="Load the page again to give one").wait_for()
    assert page.locator(".verdict strong").inner_text() == "Not judged: refused"
