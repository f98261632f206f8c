"""Hooks of the stateful fuzzing: in two of three requests the layout is a sound one.

Random layouts are refused, and what only a sound one leads to would never be tried.
"""

from __future__ import annotations

import json
import zlib
from typing import Any

import schemathesis

from layoutcheck_service import examples


@schemathesis.hook
def map_body(context: Any, body: Any) -> Any:
    """Put the example in the place of a random layout; always the same for the same body."""
    if isinstance(body, dict) and "layout" in body:
        chance = zlib.crc32(json.dumps(body, sort_keys=True, default=str).encode())
        if chance % 3:
            kept = {k: v for k, v in body.items() if k not in {"pack", "on"}}
            return {**kept, "layout": examples.LAYOUT}
    return body
