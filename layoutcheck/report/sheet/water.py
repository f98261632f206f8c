"""What has to be true of the water in the pipe before the first injection."""

from __future__ import annotations

from layoutcheck.report.sheet.model import Tick
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.fillings import filling_at


def water_ticks(case: Case) -> tuple[Tick, ...]:
    """List what to look at in the water of each plug's pipe."""
    return (
        *(_plain(case, p) for p in case.plugs),
        *(
            Tick(
                f"Plug {p.id}: {p.pipe} is full. Air was let off at the highest point on either "
                "side until only water came, and the pipe sounds dull all round. By ______",
                "Over a pocket of air no plug closes.",
            )
            for p in case.plugs
        ),
    )


def _plain(case: Case, plug: PlacedPlug) -> Tick:
    fluid = filling_at(case, plug).fluid
    stated = (
        "Nothing is stated of it: it was taken as plain water."
        if fluid is None
        else f"Stated: {fluid.text}."
    )
    return Tick(
        f"Plug {plug.id}: what fills {plug.pipe} is plain water, by a sample looked at and tested "
        f"today (no glycol, salt or dye). {stated} Found: ____________",
        "Anything else leaves slush that lets go: do not inject.",
    )
