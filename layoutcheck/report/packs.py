"""Rule packs, for callers that hold no rule themselves."""

from __future__ import annotations

from layoutcheck.rules.pack import Pack
from layoutcheck.rules.registry import company_pack

__all__ = ["Pack", "read_pack_text"]


def read_pack_text(text: str) -> Pack:
    """Read a company's pack (the text of a TOML file) over the built-in figures.

    Raises LayoutFaults with every fault, each with its place in the pack.
    """
    return company_pack(text)
