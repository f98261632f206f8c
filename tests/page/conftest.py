"""A running service and a real browser for the page's tests."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent.parent
PAGE = ROOT / "api" / "page"
FIXTURES = ROOT / "fixtures"
DESK = {"width": 1360, "height": 850}
PHONE = {"width": 390, "height": 844}

_START = "from layoutcheck_service.command import serve; raise SystemExit(serve())"


class Service:
    """The service in a process of its own, so that it can be killed as a crash would."""

    def __init__(self) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}/"
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", _START, "--port", str(self.port)],
            stdout=subprocess.DEVNULL,
            env={**os.environ, "LAYOUTCHECK_WORKERS": "2"},
        )
        until = time.monotonic() + 120
        while time.monotonic() < until:
            with (
                contextlib.suppress(OSError),
                urllib.request.urlopen(self.url + "health", timeout=5),
            ):
                return
            time.sleep(0.2)
        raise TimeoutError("the service did not start")

    def kill(self) -> None:
        if self._process is not None:
            self._process.send_signal(signal.SIGKILL)
            self._process.wait(timeout=30)
            self._process = None


@pytest.fixture(scope="session")
def service() -> Iterator[Service]:
    made = Service()
    made.start()
    yield made
    made.kill()


@pytest.fixture(scope="session")
def browser(require: Any) -> Iterator[Any]:
    playwright = require.module("playwright.sync_api")
    chromium = require.tool("chromium")
    with playwright.sync_playwright() as running:
        opened = running.chromium.launch(
            executable_path=chromium, args=["--no-sandbox", "--disable-gpu"]
        )
        yield opened
        opened.close()


@pytest.fixture
def open_page(browser: Any, service: Service) -> Iterator[Callable[..., Any]]:
    """Open the page at a size; at the end, nothing went elsewhere and nothing was complained of."""
    contexts: list[Any] = []
    strange: list[str] = []

    def _open(size: dict[str, int] = DESK, **more: Any) -> Any:
        if size is PHONE:
            more = {"has_touch": True, "is_mobile": True, "device_scale_factor": 2, **more}
        context = browser.new_context(viewport=size, accept_downloads=True, **more)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(30_000)
        page.on("pageerror", lambda error: strange.append(f"error: {error}"))
        page.on("console", lambda m: _noted(m, strange))
        page.on("request", lambda r: _watched(r.url, service.url, strange))
        page.goto(service.url)
        return page

    yield _open
    for context in contexts:
        context.close()
    assert strange == []


def _noted(message: Any, strange: list[str]) -> None:
    # The browser itself reports answers that are no success; those are told on the page.
    if message.type == "error" and "Failed to load resource" not in message.text:
        strange.append(f"console: {message.text}")


def _watched(url: str, own: str, strange: list[str]) -> None:
    if not url.startswith((own, "blob:")):
        strange.append(f"asked elsewhere: {url}")
