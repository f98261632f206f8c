"""The parts list as a CycloneDX document, version 1.6 (ECMA-424), in JSON.

It bears neither a date nor a serial number, both of which the standard leaves free: the same
installation gives the same bytes.
"""

from __future__ import annotations

import json
import re
from typing import Any

from layoutcheck import __version__
from layoutcheck.parts.closure import LIBRARY, Installation
from layoutcheck.parts.model import Inside, Part

_EXPRESSION = re.compile(r"\b(?:AND|OR|WITH)\b")


def cyclonedx_json(whole: Installation) -> str:
    """Write an installation's parts as a CycloneDX document."""
    (root,) = (p for p in whole.parts if p.name == LIBRARY)
    others = [p for p in whole.parts if p.name != LIBRARY]
    known = {_key(p.name): p.purl for p in whole.parts}
    document = {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {
            "tools": {
                "components": [
                    {"type": "application", "name": "layoutcheck parts", "version": __version__}
                ]
            },
            "component": _component(root, "application"),
        },
        "components": [_component(part, "library") for part in others],
        "dependencies": [
            {"ref": p.purl, "dependsOn": sorted(known[n] for n in p.needs if n in known)}
            for p in whole.parts
        ],
    }
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"


def _key(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _component(part: Part, kind: str) -> dict[str, Any]:
    made = {
        "type": kind,
        "bom-ref": part.purl,
        "name": part.name,
        "version": part.version,
        **_licences(part.licence),
        "purl": part.purl,
    }
    if part.inside:
        made["components"] = [_inner(item, part, n) for n, item in enumerate(part.inside)]
    return made


def _inner(item: Inside, owner: Part, number: int) -> dict[str, Any]:
    made: dict[str, Any] = {
        "type": "library",
        "bom-ref": f"{owner.purl}#{number}",
        "name": item.name,
    }
    if item.version:
        made["version"] = item.version
    if item.optional:
        made["scope"] = "optional"
    made |= _licences(item.licence)
    if item.purl:
        made["purl"] = item.purl
    return made


def _licences(licence: str) -> dict[str, Any]:
    """Give the licence in the form that its kind asks for: an expression, or a name."""
    if not licence:
        return {}
    if _EXPRESSION.search(licence):
        return {"licenses": [{"expression": licence}]}
    return {"licenses": [{"license": {"name": licence}}]}
