"""layoutcheck freeze: the freeze of one pipe, without a layout."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from layoutcheck.cli.files import write_file
from layoutcheck.cli.options import Format, FormatOption
from layoutcheck.cli.patience import patience
from layoutcheck.cli.problems import ExitCode, UnusableInput, WrongCall
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import LayoutFaults
from layoutcheck.physics.ice.answer_types import FreezeOutcome
from layoutcheck.report.freeze import (
    FreezeQuestion,
    PipeFreeze,
    answer_freeze,
    freeze_of_question,
    read_question,
)
from layoutcheck.report.freeze_text import freeze_text

_PICTURES = {".svg", ".png"}


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("freeze", _freeze, argv)


def _freeze(  # noqa: PLR0917 - one parameter for each option
    size: Annotated[str, typer.Option(help="Nominal size: '2 in', 'DN 50'.")],
    jacket: Annotated[str, typer.Option(help="Length of the cold jacket: '12 in'.")],
    water: Annotated[str, typer.Option(help="Temperature of the water: '60 degF'.")],
    material: Annotated[str, typer.Option(help="Of the pipe.")] = "carbon steel",
    wall: Annotated[str | None, typer.Option(help="'sch 40', 'type L'; else the usual.")] = None,
    coolant: Annotated[str, typer.Option(help="carbon dioxide or nitrogen.")] = "carbon dioxide",
    lies: Annotated[str, typer.Option(help="vertical or horizontal.")] = "vertical",
    below: Annotated[
        str | None, typer.Option(help="Length of pipe with water that rises to it: '10 ft'.")
    ] = None,
    air: Annotated[str, typer.Option(help="Temperature of the room.")] = "68 degF",
    pressure: Annotated[str | None, typer.Option(help="Head to hold: '60 psi'.")] = None,
    hold: Annotated[str, typer.Option(help="How long the plug is held: '3 h'.")] = "2 h",
    cylinders: Annotated[str, typer.Option(help="Temperature of the cylinders.")] = "68 degF",
    fluid: Annotated[
        str | None,
        typer.Option(help="What fills the pipe: '30 % propylene glycol by volume'; else water."),
    ] = None,
    units: Annotated[str, typer.Option(help="imperial or metric.")] = "imperial",
    picture: Annotated[
        str | None, typer.Option("-o", metavar="FILE", help="Draw the ice too: .svg or .png.")
    ] = None,
    form: FormatOption = Format.TEXT,
) -> int:
    """Estimate the freeze of one pipe: time, coolant, schedule. Never a measured freeze time.

    Exit codes: 0 it closes, 1 it does not, 2 unusable input, 3 undecided, 4 fault inside.
    """
    given = {
        "size": size,
        "material": material,
        "jacket": jacket,
        "water_temperature": water,
        "coolant": coolant,
        "orientation": lies,
        "below": below,
        "wall": wall,
        "air_temperature": air,
        "pressure": pressure,
        "hold": hold,
        "cylinder_temperature": cylinders,
        "fluid": fluid,
        "units": units,
    }
    try:
        question = read_question(given)
        with patience("working out the freeze"):
            answer = answer_freeze(question)
    except LayoutFaults as error:
        raise UnusableInput("the options", error.faults) from None
    if picture is not None:
        _draw(question, picture)
    if form is Format.JSON:
        print_bytes(answer.to_json().encode())
    else:
        print_text(freeze_text(answer))
    return _code(answer)


def _code(answer: PipeFreeze) -> int:
    codes = {
        FreezeOutcome.CLOSES.value: ExitCode.COMPLIANT,
        FreezeOutcome.DOES_NOT_CLOSE.value: ExitCode.BROKEN,
    }
    return codes.get(answer.estimate.outcome, ExitCode.UNDECIDED)


def _draw(question: FreezeQuestion, path: str) -> None:
    suffix = Path(path).suffix.lower()
    if suffix not in _PICTURES:
        raise WrongCall(f"a picture is written as {' or '.join(sorted(_PICTURES))}")
    answer = freeze_of_question(question)
    if answer is None:
        raise WrongCall("there is no ice to draw: the model gives no freeze for these options")
    # matplotlib takes half a second to load: only a picture pays for it.
    from layoutcheck.physics.ice.plot import freeze_png, freeze_svg  # noqa: PLC0415

    draw = freeze_svg if suffix == ".svg" else freeze_png
    write_file(path, draw(answer, question.units))
