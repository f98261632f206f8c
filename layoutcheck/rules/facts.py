"""What an answer waits for: in words, and with the field of the layout that states it."""

from __future__ import annotations

from typing import Self

from layoutcheck.document.models import ELEMENT_LISTS, Site
from layoutcheck.rules.outcome import Subject


class Fact(str):
    """A fact that is missing, in the words by which it is missing everywhere.

    field: where it is stated, as a path that statements over a layout take. What is to be proven on
    site, and is stated nowhere, is a plain text and no fact.
    """

    field: str

    def __new__(cls, says: str, field: str) -> Self:
        """Make a fact of its words and its field."""
        made = super().__new__(cls, says)
        made.field = field
        return made


def room_of_plug(site: Site, plug: str) -> list[str]:
    """Ask for the room of a plug, and for what is to be known of it where no room is stated."""
    asked: list[str] = [Fact(f"the room of plug {plug}", "site.room")]
    if not site.rooms:
        asked.append(Fact("the size and ventilation of that room", "site.rooms"))
    return asked


def field_of(missing: str) -> str:
    """Give the field that states what is missing; empty where it has to be proven."""
    return missing.field if isinstance(missing, Fact) else ""


def meant_field(subject: Subject) -> str:
    """Give the field in which the document says that what looks odd of a subject is meant."""
    for listed in ELEMENT_LISTS:
        if subject.kind in {listed, listed.removesuffix("s")}:
            return f"{listed}.{subject.id}.meant"
    if subject.kind == "room":
        return f"site.rooms.{subject.id}.meant"
    if subject.kind == "stock":
        return f"site.stock.{subject.id}.meant"
    return "meant" if subject.kind == "layout" else f"{subject.kind}.meant"
