"""What is on its way out, told in the head of every answer that still has it (RFC 9745)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime


@dataclass(frozen=True)
class Outgoing:
    """A field or a parameter that goes with the next version of the service.

    since: the day from which nothing new should use it. instead: what to use.
    """

    field: str
    since: date
    instead: str


# By the address as it is declared; none is on its way out today.
OUTGOING: Mapping[str, tuple[Outgoing, ...]] = {}

DEPRECATED = "Layoutcheck-Deprecated"


def deprecation_headers(route: str) -> dict[str, str]:
    """Give the headers that an answer of a route has for what is on its way out."""
    found = OUTGOING.get(route, ())
    if not found:
        return {}
    first = min(one.since for one in found)
    moment = int(datetime(first.year, first.month, first.day, tzinfo=UTC).timestamp())
    told = ", ".join(f'{one.field};instead="{one.instead}"' for one in found)
    return {"Deprecation": f"@{moment}", DEPRECATED: told}
