"""The short form of a layout document, for people who type.

`riser-2: A to B, 2 in, 20 ft`, `valves: {V1: R2 at 4 ft, closed, proven}`, `sources: {main: A, 60
psi}`, `plugs: {F1: "R2 at 8 ft, jacket 12 in"}`. It is the same document: what is written short is
written out here before anything else is read, and either form may be mixed with the other. A fault
in what was written out is told at the place that was typed.
"""

from __future__ import annotations

from collections.abc import Mapping

from layoutcheck.document.faults import pointer_to
from layoutcheck.document.models import ELEMENT_LISTS, FORMAT
from layoutcheck.document.short.elements import element
from layoutcheck.document.short.model import LongForm, Origin
from layoutcheck.document.short.site import site_of, spread_site_wide, work_of

__all__ = ["LongForm", "long_form"]

UNNAMED = "Unnamed site"


def long_form(data: object) -> LongForm:
    """Write a document out; one in the long form comes back as it is."""
    if not isinstance(data, Mapping):
        return LongForm(data)
    made = LongForm(dict(data))
    short = [n for n in ELEMENT_LISTS if isinstance(data.get(n), Mapping)]
    for name in short:
        made.data[name] = [
            element(made, name, (key, value), (pointer_to(name, key), f"/{name}/{number}"))
            for number, (key, value) in enumerate(data[name].items())
        ]
    if short:
        made.data.setdefault("format", FORMAT)
        made.data.setdefault("name", UNNAMED)
        _imply_junctions(made)
    if "work" in data:
        made.data["work"] = work_of(made, data["work"])
    if isinstance(data.get("site"), Mapping):
        made.data["site"] = site_of(made, data["site"])
        spread_site_wide(made)
    return made


def _imply_junctions(made: LongForm) -> None:
    """Put in the junctions that pipes name and nothing says more of."""
    junctions = made.data.get("junctions", [])
    pipes = made.data.get("pipes")
    if not isinstance(junctions, list) or not isinstance(pipes, list):
        return
    made.data["junctions"] = junctions = list(junctions)
    known = {j.get("id") for j in junctions if isinstance(j, Mapping)}
    for number, pipe in enumerate(pipes):
        for end in ("from", "to"):
            name = pipe.get(end) if isinstance(pipe, Mapping) else None
            if isinstance(name, str) and name not in known:
                known.add(name)
                origin = made.origins.get(f"/pipes/{number}/{end}")
                origin = origin or Origin(f"/pipes/{number}/{end}", name, name)
                made.origins[f"/junctions/{len(junctions)}"] = origin
                junctions.append({"id": name})
