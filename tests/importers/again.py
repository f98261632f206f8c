"""A layout read back from a model, with what no model carries put back from the layout itself."""

from __future__ import annotations

import copy
from typing import Any

from layoutcheck.document import Layout, parse_layout
from layoutcheck.document.paths import Positions, snap
from layoutcheck.quantities import UnitSystem, parse_length
from layoutcheck.quantities.units import FOOT
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Amount
from layoutcheck.rules.registry import default_pack
from tests.importers.made_models import Made, Piece

Document = dict[str, Any]

# What a person would write down beside a model, by list.
BY_HAND = {
    "valves": ("name", "state", "tightness"),
    "pumps": ("name", "locked_off", "shutoff_head"),
    "equipment": ("name", "locked_off", "volume", "level", "kind"),
    "sources": ("name", "kind", "pressure", "level", "volume"),
    "outlets": ("name", "state", "meant"),
}
ON_PIPES = (
    *("clear_space", "low_temperature_accepted_by", "water_temperature", "flow", "covering"),
    *("pressure_rating", "room"),
)
WHOLE = ("name", "note", "units", "work", "site", "planning", "waivers", "drawing")


def filled_in(imported: Document, layout: Layout, raw: Document, made: Made) -> Layout:
    """Fill in by hand what the model does not carry, and put the plugs where they were."""
    document = copy.deepcopy(imported)
    for key in WHOLE:
        document.pop(key, None)
        if key in raw:
            document[key] = copy.deepcopy(raw[key])
    _by_hand(document, raw)
    _pipes(document, raw, made)
    mover = Mover(document, layout, made)
    document["plugs"] = [mover.moved(p) for p in copy.deepcopy(raw.get("plugs", []))]
    for item in document.get("work", {}).get("open", []):
        if "pipe" in item:
            mover.opened(item)
        elif "junction" in item:
            item["junction"] = mover.junctions.get(item["junction"], item["junction"])
    if not any("at" in j for j in raw["junctions"]):
        for junction in document["junctions"]:
            del junction["at"]
        for pipe in document["pipes"]:
            pipe.pop("via", None)
    return parse_layout(document)


def _by_hand(document: Document, raw: Document) -> None:
    for key, fields in BY_HAND.items():
        written = {e["id"]: e for e in raw.get(key, [])}
        for element in document.get(key, []):
            mine = written[element["id"]]
            element.update({f: mine[f] for f in fields if f in mine})
            if element.get("junction") != mine.get("junction"):
                element.pop("meant", None)  # it stands at an end of its own: nothing is asked


def _pipes(document: Document, raw: Document, made: Made) -> None:
    owner = {piece.name: pipe for pipe, pieces in made.pieces.items() for piece in pieces}
    written = {p["id"]: p for p in raw["pipes"]}
    for pipe in document["pipes"]:
        mine = written.get(owner.get(pipe["id"], ""), {})
        pipe.update({f: mine[f] for f in ON_PIPES if f in mine})


class Mover:
    """Moves stations of the layout's pipes to the pieces that the model has."""

    def __init__(self, document: Document, layout: Layout, made: Made) -> None:
        self.layout = layout
        self.pipes = {p["id"]: p for p in document["pipes"]}
        self.spots = {j["id"]: j for j in document["junctions"]}
        self.pieces = made.pieces
        self.junctions: dict[str, str] = {}

    def moved(self, plug: Document) -> Document:
        if "point" in plug:
            pipe, share = snap(self.layout, tuple(plug.pop("point")))
            whole = next(p for p in self.layout.pipes if p.id == pipe)
            station = share * (Positions(self.layout).measured_length(whole) or 0.0)
        else:
            pipe, station = plug["pipe"], parse_length(plug["station"])
        name, station = self.place(pipe, station)
        return plug | {"pipe": name, "station": self.written(station)}

    def written(self, length: float) -> str:
        """Write a length (m) as those do who wrote the rest beside the model."""
        if self.layout.units is UnitSystem.IMPERIAL:
            return f"{length / FOOT!r} ft"
        return f"{length!r} m"

    def opened(self, item: Document) -> None:
        ends = [self.place(item["pipe"], parse_length(item[k])) for k in ("start", "end")]
        assert ends[0][0] == ends[1][0], "the opened length crosses an element"
        start, end = sorted(e[1] for e in ends)
        item.update({"pipe": ends[0][0], "start": self.written(start)})
        item["end"] = self.written(end)

    def place(self, pipe: str, station: float) -> tuple[str, float]:
        piece = next(p for p in self.pieces[pipe] if p.start <= station <= p.end)
        along = station - piece.start
        found = self.pipes[piece.name]
        if self._begins_at(found, piece):
            return piece.name, along
        return piece.name, float(found["length"].split()[0]) - along

    def _begins_at(self, pipe: Document, piece: Piece) -> bool:
        def off(junction: Document) -> float:
            height = float(junction["elevation"].split()[0])
            x, y = junction["at"]
            first = piece.first
            return abs(x - first[0]) + abs(y - first[1]) + abs(height - first[2])

        return off(self.spots[pipe["from"]]) <= off(self.spots[pipe["to"]])


def essence(layout: Layout) -> dict[tuple[str, str, str], tuple[Any, ...]]:
    """Give what every rule decides of every subject: outcome, reason, measured, required."""

    def number(amount: Amount | None) -> float | None:
        return None if amount is None else amount.value

    return {
        (j.rule, j.subject.kind, j.subject.id): (
            j.outcome.value,
            j.reason,
            number(j.measured),
            number(j.required),
        )
        for j in judge_case(Case.of(layout, default_pack()))
    }


def same(one: tuple[Any, ...], two: tuple[Any, ...], tolerance: float) -> bool:
    """Tell whether two judgements agree: the same words, and numbers within a tolerance."""
    if one[:2] != two[:2]:
        return False
    pairs = list(zip(one[2:], two[2:], strict=True))
    if any((a is None) != (b is None) for a, b in pairs):
        return False
    # Lengths are held to the millimetre; pressures, masses and times to as many parts in 1000.
    return all(a is None or abs(a - b) <= tolerance * max(1.0, abs(a)) for a, b in pairs)
