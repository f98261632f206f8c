"""Pydantic field types: a quantity is a text with its unit outside and an SI float inside."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, PlainSerializer, WithJsonSchema
from pydantic_core import PydanticCustomError

from layoutcheck.quantities import (
    Fluid,
    Material,
    NominalSize,
    QuantityError,
    parse_air_change_rate,
    parse_area,
    parse_duration,
    parse_elevation,
    parse_flow,
    parse_fluid,
    parse_head,
    parse_length,
    parse_mass,
    parse_material,
    parse_pressure,
    parse_size,
    parse_temperature,
    parse_volume,
)
from layoutcheck.seen import has_unseen

# pydantic's error type for every refused quantity; the reader turns it into a Fault.
QUANTITY_ERROR = "quantity"


def _reader(parse: Callable[[object], Any], kind: type) -> Callable[[object], Any]:
    """Wrap a parser so that a refusal keeps its problem and its right example."""

    def read(value: object) -> Any:  # noqa: ANN401 - the parser's own type
        if kind is not float and isinstance(value, kind):
            return value
        try:
            return parse(value)
        except QuantityError as error:
            raise PydanticCustomError(
                QUANTITY_ERROR,
                "{problem}",
                {"problem": error.problem, "example": error.example},
            ) from None

    return read


def _writer(unit: str) -> PlainSerializer:
    # repr keeps every bit, so a document written out and read again is the same document.
    return PlainSerializer(lambda x: f"{x!r} {unit}", return_type=str, when_used="json")


def _schema(description: str, *examples: str) -> WithJsonSchema:
    return WithJsonSchema(
        {"type": "string", "description": description, "examples": list(examples), "maxLength": 100}
    )


Length = Annotated[
    float,
    BeforeValidator(_reader(parse_length, float)),
    _writer("m"),
    _schema("A length with its unit; not negative.", "24 ft 6 in", "24'-6 1/2\"", "7.3 m"),
]
Elevation = Annotated[
    float,
    BeforeValidator(_reader(parse_elevation, float)),
    _writer("m"),
    _schema("A height over the site's datum, with its unit.", "-4 ft", "12.5 m"),
]
Pressure = Annotated[
    float,
    BeforeValidator(_reader(parse_pressure, float)),
    _writer("Pa"),
    _schema("A gauge pressure with its unit.", "60 psi", "4 bar", "40 ft of water"),
]
Head = Annotated[
    float,
    BeforeValidator(_reader(parse_head, float)),
    _writer("Pa"),
    _schema("The head of a pump.", "40 ft", "12 m", "30 psi", "2 bar"),
]
Temperature = Annotated[
    float,
    BeforeValidator(_reader(parse_temperature, float)),
    _writer("K"),
    _schema("A temperature with its unit.", "68 degF", "20 degC"),
]
Duration = Annotated[
    float,
    BeforeValidator(_reader(parse_duration, float)),
    _writer("s"),
    _schema("A length of time with its unit.", "3 h", "45 min"),
]
Mass = Annotated[
    float,
    BeforeValidator(_reader(parse_mass, float)),
    _writer("kg"),
    _schema("A mass with its unit.", "50 lb", "22 kg"),
]
Volume = Annotated[
    float,
    BeforeValidator(_reader(parse_volume, float)),
    _writer("m3"),
    _schema("A volume with its unit.", "80 gal", "300 L", "60 m3"),
]
Area = Annotated[
    float,
    BeforeValidator(_reader(parse_area, float)),
    _writer("m2"),
    _schema("An area with its unit.", "200 ft2", "18 m2"),
]
AirFlow = Annotated[
    float,
    BeforeValidator(_reader(parse_flow, float)),
    _writer("m3/s"),
    _schema("A volume flow with its unit.", "400 cfm", "0.2 m3/s"),
]
AirChanges = Annotated[
    float,
    BeforeValidator(_reader(parse_air_change_rate, float)),
    PlainSerializer(lambda x: f"{x * 3600!r} per hour", return_type=str, when_used="json"),
    _schema("Air changes, with their unit.", "6 per hour"),
]
Size = Annotated[
    NominalSize,
    BeforeValidator(_reader(parse_size, NominalSize)),
    PlainSerializer(lambda s: s.text, return_type=str, when_used="json"),
    _schema("A nominal pipe size.", "NPS 2", "1 1/4 in", "DN 50"),
]
FluidName = Annotated[
    Fluid,
    BeforeValidator(_reader(parse_fluid, Fluid)),
    PlainSerializer(lambda f: f.text, return_type=str, when_used="json"),
    _schema(
        "What fills the pipe: plain water, or what is in it with its share by volume or by mass.",
        "plain water",
        "30 % propylene glycol by volume",
        "ethylene glycol 25 % by mass",
        "brine",
        "treated water",
        "other",
    ),
]
MaterialName = Annotated[
    Material,
    BeforeValidator(_reader(parse_material, Material)),
    _schema("What the pipe is made of.", *(m.value for m in Material)),
]


def _plain(text: str) -> str:
    if has_unseen(text):
        raise PydanticCustomError(
            "text", "has a control or direction character in it", {"example": "Riser 3 east"}
        )
    return text


def _name(text: str) -> str:
    if text != text.strip():
        raise PydanticCustomError("text", "begins or ends with a space", {"example": "P12"})
    return _plain(text)


Id = Annotated[str, Field(min_length=1, max_length=100), AfterValidator(_name)]
Text = Annotated[str, Field(max_length=2000), AfterValidator(_plain)]

# A reason or an instruction says something: so many letters, not all of a kind. An own choice.
_FEWEST_LETTERS, _FEWEST_KINDS = 5, 3
# What people type where a form wants a name and they have none.
_NOBODY = frozenset(
    {"anyone", "none", "nobody", "noone", "someone", "somebody", "unknown", "nil", "test", "tbc"}
    | {"tbd", "tba", "na", "me", "us", "we", "yes", "no", "xx", "xxx", "abc", "asdf", "qwerty"}
)


def _words(text: str) -> str:
    letters = [c for c in text.casefold() if c.isalpha()]
    if len(letters) < _FEWEST_LETTERS or len(set(letters)) < _FEWEST_KINDS:
        raise PydanticCustomError(
            "words",
            "says nothing: write it in words",
            {"example": '"a fitter stands at the main valve"'},
        )
    return text


def names_somebody(text: str) -> bool:
    """Tell whether a text can be a person's name: letters, and none of the words for nobody."""
    letters = "".join(c for c in text.casefold() if c.isalpha())
    return len(set(letters)) > 1 and letters not in _NOBODY


def _person(text: str) -> str:
    if not names_somebody(text):
        raise PydanticCustomError(
            "person", "is not the name of a person", {"example": '"R. Alder, site manager"'}
        )
    return text


Words = Annotated[Text, AfterValidator(_words)]
Person = Annotated[Text, AfterValidator(_person)]


def _one_or_more(value: object) -> object:
    return re.findall(r"[^\s,;]+", value) if isinstance(value, str) else value


# One word, or several: a list of them, or a text with commas between.
Meanings = Annotated[
    tuple[Id, ...],
    BeforeValidator(_one_or_more),
    PlainSerializer(", ".join, return_type=str, when_used="json"),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}),
]
# Positions on the drawing are in the drawing's own units, so they are bare numbers.
Coordinate = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-1e9, le=1e9)]
Point = tuple[Coordinate, Coordinate]
# A word or a number that only looks like yes or no ("off", 0) is refused, not guessed at.
Flag = Annotated[bool, Field(strict=True)]


def _day(value: object) -> object:
    # A number would be read as seconds, and a moment cut to its day; YAML gives a date itself.
    written = isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value)
    if written or (isinstance(value, date) and not isinstance(value, datetime)):
        return value
    raise PydanticCustomError(
        "day", "must be a day written year-month-day", {"example": '"2027-03-31"'}
    )


Day = Annotated[date, BeforeValidator(_day)]
