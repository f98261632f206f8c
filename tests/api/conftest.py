"""What the service's tests share: an app, a client, and a small invented layout."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient

from layoutcheck_service import examples
from layoutcheck_service.app import create_app
from layoutcheck_service.settings import Settings

MAX_BODY = 200_000


@pytest.fixture
def client() -> Iterator[TestClient]:
    with TestClient(create_app(Settings(max_body_bytes=MAX_BODY))) as made:
        yield made


@pytest.fixture
def layout() -> dict[str, Any]:
    return copy.deepcopy(examples.LAYOUT)
