"""Write a document in the short form: what a person would type, as far as that says the same."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from layoutcheck.document.models import ELEMENT_LISTS
from layoutcheck.document.short import long_form
from layoutcheck.document.short.elements import RUN, element
from layoutcheck.document.short.model import LongForm
from layoutcheck.document.short.site import work_of
from layoutcheck.document.short.words import KINDS, named_fields

Fields = dict[str, Any]


def short_form(data: Mapping[str, Any]) -> Fields:
    """Write a sound document in the short form; read again, it is the same document.

    What no short text says is kept as named fields beside the text.
    """
    long: Fields = long_form(data).data
    short = dict(long)
    for name in ELEMENT_LISTS:
        if isinstance(long.get(name), list):
            short[name] = {item["id"]: _short(name, item) for item in long[name]}
    if "work" in long:
        short["work"] = _short_work(long["work"])
    return short if long_form(short).data == long else long


def _short(name: str, item: Mapping[str, Any]) -> object:
    """Give the shortest writing of an element that reads as the same fields."""
    fields = {key: value for key, value in item.items() if key != "id"}
    head, said = _head(name, fields)
    parts = [head] if head else []
    for key, value in fields.items():
        for word in _words(name, key, value) if key not in said else ():
            if _read(name, [*parts, word]) == {**said, key: value}:
                parts.append(word)
                said[key] = value
                break
    rest = {key: value for key, value in fields.items() if key not in said}
    text = ", ".join(parts)
    tried: object = ({RUN: text, **rest} if rest else text) if text else rest or None
    made = LongForm({})
    same = element(made, name, (item["id"], tried), ("/", "/")) == item and not made.faults
    return tried if same else fields


def _head(name: str, fields: Fields) -> tuple[str, Fields]:
    """Give what the text begins with, and what that says: a pipe's ends, or a place."""
    if name == "pipes":
        size = fields.get("size")
        said: Fields = {key: fields[key] for key in ("from", "to", "size") if key in fields}
        return f"{fields['from']} to {fields['to']}, {size or '?'}", said
    if not KINDS[name].placed:
        return "", {}
    if "junction" in fields:
        return str(fields["junction"]), {"junction": fields["junction"]}
    if "pipe" in fields and "station" in fields:
        place: Fields = {"pipe": fields["pipe"], "station": fields["station"]}
        return f"{fields['pipe']} at {fields['station']}", place
    return "", {}


def _words(name: str, key: str, value: object) -> Iterator[str]:
    """Give what may say that a field has a value, the shortest first."""
    label = {field: label for label, field in named_fields(name).items()}.get(key)
    if isinstance(value, str) and "," not in value:
        yield value
        if label is not None:
            yield f"{label} {value}"
    elif value is True and label is not None:
        yield label


def _read(name: str, parts: list[str]) -> Fields | None:
    """Read a text of so many parts; None where it is not understood."""
    made = LongForm({})
    fields = element(made, name, ("x", ", ".join(parts)), ("/", "/"))
    if name == "sources" and "main" not in parts:
        fields.pop("kind", None)  # it is a main where nothing is said
    del fields["id"]
    return None if made.faults else fields


def _short_work(work: Mapping[str, Any]) -> object:
    things = [_thing(item) for item in work["open"]]
    text = f"{', '.join(things)} for {work.get('duration')}"
    made = LongForm({})
    return text if work_of(made, text) == work and not made.faults else work


def _thing(item: Mapping[str, Any]) -> str:
    if "pipe" in item:
        return f"pipe {item['pipe']} from {item.get('start')} to {item.get('end')}"
    return " ".join(f"{kind} {name}" for kind, name in item.items())
