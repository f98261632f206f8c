"""The guide to the layout document, for people who type one: made from the models themselves."""

from __future__ import annotations

import types
from collections.abc import Iterator
from enum import StrEnum
from html import escape
from importlib.resources import files
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from layoutcheck.document import models
from layoutcheck.document.short.words import KINDS
from layoutcheck.report.cautions import DEFERENCE
from layoutcheck.report.model import Part
from layoutcheck.report.wrap import wrapped

# Each part of the document by the name under which it is written, in the order of a first sketch.
PARTS: dict[str, type[BaseModel]] = {
    "the document": models.Layout,
    "pipes": models.Pipe,
    "junctions": models.Junction,
    "valves": models.Valve,
    "sources": models.Source,
    "outlets": models.Outlet,
    "pumps": models.Pump,
    "equipment": models.Equipment,
    "fittings": models.Fitting,
    "work": models.Work,
    "work open": models.WorkItem,
    "plugs": models.Plug,
    "site": models.Site,
    "site rooms": models.Room,
    "site stock": models.Stock,
    "site obstructions": models.Obstruction,
    "drawing": models.Drawing,
    "planning": models.Planning,
    "planning weights": models.Weights,
    "waivers": models.Waiver,
}
_SHORT = {"work": "valve V1 for 3 h", "work open": "valve V1"}
_INTRODUCTION = (
    "A layout is one document in YAML or JSON. Every quantity carries its unit. Each list can be "
    "written short, a line for an element ('riser: A to B, 2 in, 20 ft'), or in full, with fields; "
    "both may be mixed, and 'layoutcheck expand' writes the short form out. A pipe runs from "
    "junction to junction: where a branch joins, one pipe ends and the next begins. A leak is an "
    "outlet ('leak: B, leaking'): say so, for water that leaves moves past a plug. What is left "
    "out is taken on the unsafe side or asked for, and the report says which."
)


class GuideField(Part):
    """One field: what it means, what it may hold, whether it must be there."""

    name: str
    about: str
    words: tuple[str, ...]
    needed: bool


class GuidePart(Part):
    """One part of the document. short: how an element is written in one line, if it can be."""

    name: str
    about: str
    short: str
    fields: tuple[GuideField, ...]


class LayoutGuide(Part):
    """The whole guide. example: a small document in the short form (an invented site)."""

    introduction: str
    example: str
    parts: tuple[GuidePart, ...]
    deference: str


def layout_guide() -> LayoutGuide:
    """Make the guide from the models: a field that is new there is in it by itself."""
    example = files("layoutcheck.document") / "starters" / "riser.yaml"
    return LayoutGuide(
        introduction=_INTRODUCTION,
        example=example.read_text("utf-8"),
        parts=tuple(_part(name, model) for name, model in PARTS.items()),
        deference=DEFERENCE,
    )


def _part(name: str, model: type[BaseModel]) -> GuidePart:
    kind = KINDS.get(name.rpartition(" ")[2])
    return GuidePart(
        name=name,
        about=" ".join((model.__doc__ or "").split()),
        short=_SHORT.get(name) or (kind.example if kind is not None else ""),
        fields=tuple(_field(key, about) for key, about in model.model_fields.items()),
    )


def _field(key: str, about: FieldInfo) -> GuideField:
    return GuideField(
        name=about.alias or key,
        about=about.description or "",
        words=tuple(dict.fromkeys(_words(about.annotation))),
        needed=about.is_required(),
    )


def _words(annotation: Any) -> Iterator[str]:  # noqa: ANN401 - types are values here
    origin = get_origin(annotation)
    if origin in {Union, types.UnionType}:
        for part in get_args(annotation):
            yield from _words(part)
    elif origin is Annotated:
        yield from _words(get_args(annotation)[0])
    elif isinstance(annotation, type) and issubclass(annotation, StrEnum):
        yield from (word.value for word in annotation)


def guide_text(guide: LayoutGuide) -> str:
    """Write the guide as plain text."""
    lines = ["HOW A LAYOUT IS WRITTEN", "", *wrapped(guide.introduction), ""]
    lines += [f"  {line}".rstrip() for line in guide.example.splitlines()]
    for part in guide.parts:
        lines += ["", part.name.upper(), *wrapped(part.about)]
        if part.short:
            lines += wrapped(part.short, indent="         ", first="  short: ")
        for field in part.fields:
            lines += wrapped(_told(field), indent="      ", first=f"  {field.name}: ")
    lines += ["", *wrapped(guide.deference)]
    return "\n".join(lines) + "\n"


def guide_html(guide: LayoutGuide) -> str:
    """Write the guide as one page that stands alone: headings, lists, everything escaped."""
    rows = [
        "<!doctype html>",
        '<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        "<title>How a layout is written</title></head><body><main>",
        "<h1>How a layout is written</h1>",
        f"<p>{escape(guide.introduction)}</p><pre>{escape(guide.example)}</pre>",
    ]
    for part in guide.parts:
        rows.append(f"<h2>{escape(part.name)}</h2><p>{escape(part.about)}</p>")
        if part.short:
            rows.append(f"<p>In one line: <code>{escape(part.short)}</code></p>")
        told = (f"<dt>{escape(f.name)}</dt><dd>{escape(_told(f))}</dd>" for f in part.fields)
        rows.append(f"<dl>{''.join(told)}</dl>")
    rows.append(f"<p>{escape(guide.deference)}</p></main></body></html>")
    return "\n".join(rows) + "\n"


def _told(field: GuideField) -> str:
    words = f" One of: {', '.join(field.words)}." if field.words else ""
    return f"{field.about}{words}{' It must be there.' if field.needed else ''}".strip()
