"""Digests of what was given, the same however its lists are ordered."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from layoutcheck.document.models import Layout

# Lists whose order means something on paper and must stay as given.
_ORDERED = {"via", "outline"}


def _settled(value: Any, key: str = "") -> Any:  # noqa: ANN401 - any JSON value
    if isinstance(value, dict):
        return {k: _settled(v, k) for k, v in value.items() if v is not None}
    if isinstance(value, list):
        parts = [_settled(v) for v in value]
        if key in _ORDERED or not all(isinstance(p, dict) for p in parts):
            return parts
        return sorted(parts, key=lambda p: json.dumps(p, sort_keys=True, ensure_ascii=False))
    return value


def canonical_json(layout: Layout) -> str:
    """Write a layout as JSON with sorted keys, sorted element lists and SI quantities."""
    data = layout.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return json.dumps(_settled(data), sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def in_order(layout: Layout) -> dict[str, Any]:
    """Write a layout out with its lists in one order, however they were given; quantities in SI."""
    made: dict[str, Any] = json.loads(canonical_json(layout))
    return made | {"format": layout.format}


def digest_of(text: str) -> str:
    """Give the SHA-256 of a text as 'sha256:' and 64 hexadecimal digits."""
    return "sha256:" + hashlib.sha256(text.encode()).hexdigest()
