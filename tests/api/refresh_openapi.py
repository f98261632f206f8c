"""Write shared/openapi.json anew: `python tests/api/refresh_openapi.py`."""

from __future__ import annotations

from pathlib import Path

from layoutcheck_service.app import create_app
from layoutcheck_service.description import openapi_text
from layoutcheck_service.settings import Settings

PLACE = Path(__file__).parents[2] / "shared" / "openapi.json"


def current_text() -> str:
    """Give the text that belongs there."""
    return openapi_text(create_app(Settings()))


if __name__ == "__main__":
    PLACE.parent.mkdir(exist_ok=True)
    PLACE.write_text(current_text(), encoding="utf-8")
