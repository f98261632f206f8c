"""What the service's tests share: an app, a client, and a small invented layout."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from layoutcheck_service import examples
from layoutcheck_service.app import create_app
from layoutcheck_service.settings import Settings
from layoutcheck_service.work.engine import InThread

MAX_BODY = 200_000


def app_in_thread(**given: Any) -> FastAPI:
    """An app that works in threads of the test's own process, so that a test can reach inside."""
    settings = Settings(**given)
    return create_app(settings, engine=InThread(settings.limits()))


@pytest.fixture
def client() -> Iterator[TestClient]:
    with TestClient(app_in_thread(max_body_bytes=MAX_BODY)) as made:
        yield made


@pytest.fixture
def layout() -> dict[str, Any]:
    return copy.deepcopy(examples.LAYOUT)
