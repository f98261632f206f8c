"""What fields mean, with an example, written into JSON Schemas where a model does not say so."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

_TYPES: dict[str, type | tuple[type, ...]] = {
    "string": str,
    "number": (int, float),
    "integer": int,
    "array": list,
    "object": dict,
}


@cache
def _words() -> Mapping[str, list[Any]]:
    text = files(__package__).joinpath("glossary.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def describe_fields(schemas: Mapping[str, dict[str, Any]]) -> None:
    """Write meanings and examples into schemas, by their names, where they lack them."""
    words = _words()
    for model, schema in schemas.items():
        for name, field in schema.get("properties", {}).items():
            meaning, *examples = words.get(f"{model}.{name}", words.get(name, [""]))
            if meaning and "description" not in field:
                field["description"] = meaning
            for value in list(plain_values(field)) if examples else ():
                value["examples"] = [e for e in examples if _fits(e, value.get("type"))]


def _fits(example: object, kind: str | None) -> bool:
    """Tell whether an example is of a JSON type."""
    return kind is None or isinstance(example, _TYPES[kind])


def plain_values(field: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Give the parts of a field's schema that are values of its own and show no example yet.

    What is described elsewhere, is one of few words, or is yes or no needs none.
    """
    if {"$ref", "const", "enum", "examples"} & field.keys():
        return
    if field.get("type") in {"null", "boolean"}:
        return
    choices = field.get("anyOf", field.get("oneOf"))
    inside = [field["items"]] if "items" in field else choices
    more = field.get("additionalProperties")
    if inside is None and isinstance(more, dict) and not list(plain_values(more)):
        return
    if inside is None:
        yield field
        return
    for one in inside:
        yield from plain_values(one)
