"""What a package brings inside itself, as far as it says so.

Two things say so: bills of material that the maker put in the package (PEP 770), and compiled
libraries that a packing tool put in a folder of their own, which the installer's record lists.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from importlib.metadata import Distribution
from typing import Any

from layoutcheck.parts.model import Inside

_BILL = re.compile(r"\.dist-info[/\\]sboms[/\\].+\.json$")
_LIBRARY = re.compile(r"(?:^|[/\\])(?:[^/\\]+\.libs|\.dylibs)[/\\]([^/\\]+)$")


def inside_of(distribution: Distribution) -> tuple[Inside, ...]:
    """Give what is inside a package, each once, by name."""
    found: set[Inside] = set()
    for file in distribution.files or ():
        library = _LIBRARY.search(str(file))
        if library is not None:
            found.add(Inside(library[1], "", "", ""))
        elif _BILL.search(str(file)):
            found.update(_listed(_parsed(file.read_text()), distribution.name))
    return tuple(sorted(found, key=lambda i: (i.name.lower(), i.version, i.purl)))


def _parsed(text: str) -> Mapping[str, Any]:
    """Read a bill; one that can not be read counts as none, since it is not ours."""
    try:
        data = json.loads(text)
    except ValueError:
        return {}
    return data if isinstance(data, dict) and data.get("bomFormat") == "CycloneDX" else {}


def _listed(bill: Mapping[str, Any], owner: str) -> Iterator[Inside]:
    for item in bill.get("components") or ():
        name, purl = str(item.get("name") or ""), str(item.get("purl") or "")
        # A bill may list the package itself, and what served only to build it.
        if not name or name.lower() == owner.lower() or item.get("scope") == "excluded":
            continue
        version = str(item.get("version") or "")
        optional = item.get("scope") == "optional"
        yield Inside(name, version, _licence(item.get("licenses") or ()), purl, optional)


def _licence(stated: Iterable[Mapping[str, Any]]) -> str:
    words = []
    for one in stated:
        licence = one.get("license") or {}
        words.append(one.get("expression") or licence.get("id") or licence.get("name") or "")
    # Listed side by side, they all hold.
    return " AND ".join(f"({w})" if " OR " in w and len(words) > 1 else w for w in words if w)
