"""What an import still asks: each option it prints can be pasted, and ends what it asks."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.document.overlay import laid_over, statement
from layoutcheck.importers.draft import Imported
from layoutcheck.importers.read import read_file
from layoutcheck.importers.todo import to_fill_in
from tests.importers.risers import riser
from tests.importers.small_models import Small

# A row of pipes, each asked for its length, is asked for one by one.
MOST_ROUNDS = 60


def _model(folder: Path) -> Imported:
    """Two pipes that meet end to end: between them stands a joint without length."""
    small = Small()
    small.pipe("it's", (0, 0, 0), (3, 0, 0))
    small.add("IfcValve", "a: b", (3, 0, 0), (3, 0, 0))
    small.pipe("Q", (3, 0, 0), (9, 0, 0))
    small.join("it's", 1, "a: b", 0)
    small.join("a: b", 1, "Q", 0)
    return small.read(folder)


def _drawing(folder: Path) -> Imported:
    path = folder / "riser.dxf"
    riser().saveas(path)
    return read_file(path)


def _sheets(folder: Path) -> Imported:
    (folder / "pipes.csv").write_text("id,from,to\r\nP1,A,B\r\nP2,B,C\r\n")
    (folder / "valves.csv").write_text("id,pipe,station,station unit\r\nV1,P1,3,ft\r\n")
    return read_file(folder)


@pytest.mark.parametrize("made", [_model, _drawing, _sheets])
def test_what_is_asked_can_be_pasted_until_nothing_is_asked(
    made: Callable[[Path], Imported], tmp_path: Path
) -> None:
    document: dict[str, Any] = made(tmp_path).document
    for _ in range(MOST_ROUNDS):
        asked = to_fill_in(parse_layout(document))
        if not asked:
            return
        option, fact = shlex.split(asked[0].paste)
        assert option == "--set"
        document = laid_over(document, [statement(fact)])
        left = to_fill_in(parse_layout(document))
        same = next((t for t in left if t.field == asked[0].field), None)
        assert same is None or asked[0].elements[0] not in same.elements, asked[0].paste
    pytest.fail(f"asked for ever: {asked[0].paste}")


def test_the_plug_that_is_shown_stands_on_pipe_that_can_hold_it(tmp_path: Path) -> None:
    """The longest pipe is Q: 6 m, its middle at 3 m."""
    asked = to_fill_in(parse_layout(_model(tmp_path).document))
    (plug,) = [t for t in asked if t.field == "plugs.A"]
    assert plug.value == '{pipe: "Q", station: 3.000 m, jacket: 0.3 m}'
