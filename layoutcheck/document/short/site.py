"""The work in a sentence, rooms and stock in a line each, and what holds for the whole site."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from layoutcheck.document.faults import Fault, pointer_to, shown
from layoutcheck.document.short.elements import element, said_by
from layoutcheck.document.short.model import LongForm, Origin, example_of

# Statements for the whole site that hold for each pipe that does not say otherwise.
SITE_WIDE = ("material", "wall", "covering")

_WORK_EXAMPLE = "valve V1 for 3 h"
_THING = re.compile(r"(valve|pump|junction) (.+)")
# What stands at a junction is opened there.
_AT_JUNCTION = re.compile(r"(?:tee|elbow|bend|union|flange|reducer|cross|joint|fitting) (.+)")
_LENGTH_OF_PIPE = re.compile(r"pipe (.+) from (.+) to (.+)")


def work_of(made: LongForm, value: object) -> object:
    """Write out 'valve V1 for 3 h', or texts in the list of what is opened."""
    if isinstance(value, str):
        things, _, duration = value.rpartition(" for ")
        if not things:
            made.faults.append(_work_fault("/work", value, "does not say for how long"))
            return None
        made.origins["/work"] = Origin("/work", value, example=_WORK_EXAMPLE)
        made.origins["/work/duration"] = Origin("/work", value, duration, _WORK_EXAMPLE)
        return {"open": _things(made, things.split(","), "/work"), "duration": duration.strip()}
    if isinstance(value, Mapping) and isinstance(value.get("open"), str | list):
        given = value["open"]
        if isinstance(given, str):
            made.origins["/work/open"] = Origin("/work/open", given, example="valve V1")
            return {**value, "open": _things(made, given.split(","), "/work/open")}
        if any(isinstance(x, str) for x in given):
            return {**value, "open": [_thing_or_fields(made, n, x) for n, x in enumerate(given)]}
    return value


def _thing_or_fields(made: LongForm, number: int, given: object) -> object:
    if not isinstance(given, str):
        return given
    made.origins[f"/work/open/{number}"] = Origin(f"/work/open/{number}", given, example="valve V1")
    return next(iter(_things(made, [given], f"/work/open/{number}")), {})


def _things(made: LongForm, texts: Sequence[str], place: str) -> list[dict[str, str]]:
    return [thing for text in texts for thing in _thing(made, text.strip(), place)]


def _thing(made: LongForm, text: str, place: str) -> Iterator[dict[str, str]]:
    length = _LENGTH_OF_PIPE.fullmatch(text)
    if length is not None:
        yield {"pipe": length[1], "start": length[2], "end": length[3]}
        return
    thing, fitting = _THING.fullmatch(text), _AT_JUNCTION.fullmatch(text)
    if thing is not None:
        yield {thing[1]: thing[2].strip()}
        return
    if fitting is not None:
        yield {"junction": fitting[1].strip()}
        return
    made.faults.append(
        _work_fault(
            place,
            text,
            "does not say what is opened: a valve, a pump, a junction or a "
            "length of pipe ('pipe R2 from 3 ft to 4 ft')",
        )
    )


def _work_fault(pointer: str, found: str, problem: str) -> Fault:
    return Fault(pointer=pointer, found=shown(found), problem=problem, example=f'"{_WORK_EXAMPLE}"')


def site_of(made: LongForm, site: Mapping[str, Any]) -> dict[str, Any]:
    """Write out rooms and stock that are told in a line each."""
    done = dict(site)
    rooms, stock = site.get("rooms"), site.get("stock")
    if isinstance(rooms, Mapping):
        done["rooms"] = [
            element(
                made, "rooms", (key, value), (pointer_to("site", "rooms", key), f"/site/rooms/{n}")
            )
            for n, (key, value) in enumerate(rooms.items())
        ]
    if isinstance(stock, str):
        stock = [stock]
        made.origins["/site/stock/0"] = Origin("/site/stock", stock[0], example=example_of("stock"))
    if isinstance(stock, Mapping):  # of one kind, in full: one line of a list
        made.origins["/site/stock/0"] = Origin("/site/stock")
        stock = [stock]
    if isinstance(stock, list):
        done["stock"] = [_stock_line(made, n, line) for n, line in enumerate(stock)]
    return done


def _stock_line(made: LongForm, number: int, line: object) -> object:
    if not isinstance(line, str):
        return line
    written = f"/site/stock/{number}"
    typed = made.origins[written].pointer if written in made.origins else written
    made.origins[written] = Origin(typed, line, example=example_of("stock"))
    return said_by(made, "stock", line, (typed, written))


def spread_site_wide(made: LongForm) -> None:
    """Let what is stated of the whole site hold for each pipe that does not say otherwise.

    A wall goes with the site's material: a pipe of another material has none from here.
    """
    site, pipes = made.data["site"], made.data.get("pipes")
    stated = {n: site[n] for n in SITE_WIDE if n in site}
    if not stated or not isinstance(pipes, list):
        return
    made.data["pipes"] = [
        _with_site_wide(made, number, pipe, stated) if isinstance(pipe, Mapping) else pipe
        for number, pipe in enumerate(pipes)
    ]


def _with_site_wide(
    made: LongForm, number: int, pipe: Mapping[str, Any], stated: Mapping[str, Any]
) -> dict[str, Any]:
    own_material = pipe.get("material", stated.get("material")) != stated.get("material")
    done = dict(pipe)
    for name, value in stated.items():
        if name in pipe or (name == "wall" and (own_material or "outside_diameter" in pipe)):
            continue
        done[name] = value
        made.origins[f"/pipes/{number}/{name}"] = Origin(f"/site/{name}")
    return done
