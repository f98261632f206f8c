"""The sentences that go with every freeze: what was assumed, and what to beware of."""

from __future__ import annotations

from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.ice.inputs import (
    DEFAULT_SOLID_DIAMETERS,
    MODEL_ERROR,
    SOLID_LENGTH_SPREAD,
    START_TEMPERATURE_SPREAD,
    FreezeInputs,
)

STATEMENT = "This is an estimate, not a measured freeze time."

CAUTIONS = (
    STATEMENT,
    "Never take the time alone, or water that has stopped running, as proof that a plug stands: "
    "prove it before anything is opened.",
    "Coolants burn skin on touch, and their gas displaces air and settles in low places.",
    "Water shut in beside growing ice can burst the pipe.",
    "A cold pipe can be brittle: no blows, no bending, no strain.",
    "A plug can let go. It lets go of the wall long before it has melted; keep the jacket filled.",
    "Local codes, the site's permit system and licensed practice decide.",
)


def assumptions_of(inputs: FreezeInputs) -> tuple[str, ...]:
    """List what the estimate takes for granted, one sentence each."""
    fitted = inputs.jacket_conductance is None and inputs.coolant is Coolant.CARBON_DIOXIDE
    jacket = inputs.conductance
    sources = {
        True: "fitted to one point: a 2 in line from 68 degF freezes in about 30 minutes (common "
        "practice, no published source); the spread is our own choice",
        False: "stated in the input"
        if inputs.jacket_conductance is not None
        else "film boiling, calculated from a form taken from memory; the spread is our own choice",
    }
    length = (
        "the one given"
        if inputs.needed_solid_length is not None
        else f"{DEFAULT_SOLID_DIAMETERS:g} outside diameters or the jacket, whichever is shorter "
        "(our own choice; common practice, no published source)"
    )
    room = inputs.ambient_conductance
    return (
        f"The jacket conducts {jacket.low:.0f} / {jacket.likely:.0f} / {jacket.high:.0f} W/(m2 K) "
        f"(low / likely / high): {sources[fitted]}.",
        f"The needed solid length is {length}, give or take {SOLID_LENGTH_SPREAD:.0%}.",
        f"The water's start temperature is uncertain by {START_TEMPERATURE_SPREAD:g} K.",
        f"The model's own error is taken as {MODEL_ERROR:.0%} on top (our own choice, never "
        "tighter than the 18 % one paper claims for one rig).",
        "The water stands still, the pipe is full of plain water, and the jacket stays filled.",
        f"Bare pipe gains {room.low:g} / {room.likely:g} / {room.high:g} W/(m2 K) from the room "
        "(common practice, no published source).",
        _convection(inputs),
        "Supercooling is left out: thin dendritic ice can stop the flow earlier and holds nothing.",
        "The hold's coolant is the heat that the jacket takes hour by hour: most just after the "
        "plug stands, less as the pipe beside it cools.",
        "The thaw is that of a pipe left in the room's air, with no heat applied. The ice lets go "
        "soonest when the plug has only just closed; the likely time to let go is from there.",
    )


def _convection(inputs: FreezeInputs) -> str:
    """Say how the water moves by itself, and what is taken of it."""
    longer = "each time is the longer of the runs with it and without it."
    if inputs.is_level:
        return (
            "Both halves of a level pipe are alike. Natural convection is a closure on the "
            f"liquid's conductivity; {longer} Cold water that runs off along the pipe is not in "
            "it: the closure was checked at one point, 2 in pipe from 68 degF. For warmer water no "
            "answer is given."
        )
    exchange = inputs.exchange
    stated = "as stated" if inputs.column_below is not None else "an assumption, as it is not known"
    return (
        "Warm water rises to the jacket from the pipe below it and is cooled with the plug until "
        f"all is near 4 degC, where water is densest: {inputs.column:.3g} m of it ({stated}), with "
        f"an exchange of {exchange.low:g} / {exchange.likely:g} / {exchange.high:g} d**2 "
        "sqrt(g |d rho / d z| / rho) (the middle value from memory, the range our own "
        "choice: wider for warm water, where an outside check came to longer times; no measured "
        "case could be read); "
        f"{longer} Above the jacket warm water floats on cold and stays."
    )
