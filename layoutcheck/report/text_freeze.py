"""A plug's freeze, coolant and hold, in few lines. The whole schedule is for the crew's sheet."""

from __future__ import annotations

from layoutcheck.quantities import UnitSystem
from layoutcheck.report.figures import coarse, in_both, seen, span
from layoutcheck.report.model import CoolantPart, FreezePart, PlugPart
from layoutcheck.report.text_first import NOT_YET, outcome_says
from layoutcheck.report.wrap import wrapped


def freeze_lines(plug: PlugPart, units: UnitSystem) -> list[str]:
    """Write the estimate of a plug's freeze; none while flow or place is broken where it is marked.

    It is for still water, and no order: nothing in it says that anybody may freeze.
    """
    freeze = plug.freeze
    if freeze.left_out:
        rules = ", ".join(freeze.left_out)
        text = f"No estimate of its freeze: broken where it is marked: {rules}."
        return wrapped(text, indent="    ", first="  ")
    title = f"Its freeze, an estimate for still water: {_outcome(freeze)}."
    lines = wrapped(title, indent="    ", first="  ")
    for words, each in (
        ("Neck closed after", freeze.time_to_neck_closed),
        ("Plug long enough after", freeze.time_to_plug),
        ("Frost on the bare pipe each side by then", freeze.frost_band),
        ("Thawed, once feeding stops, after", freeze.time_to_thaw),
    ):
        if each is not None:
            lines += wrapped(f"{words}: {span(each, units)}.", indent="      ", first="    ")
    if freeze.signs:
        text = "; ".join(
            f"after {coarse(s.time, units)} {seen(s.frost.likely, units)} and "
            f"{seen(s.wider.likely, units)}"
            for s in freeze.signs
        )
        lines += wrapped(
            f"Frost to see on the two sides, likely: {text}.", indent="      ", first="    "
        )
    for sentence in freeze.grounds:
        lines += wrapped(sentence, indent="      ", first="    ")
    if freeze.time_to_release is not None:
        # The soonest comes first: nobody may plan on the likely one.
        soonest = coarse(freeze.time_to_release.low, units, "down")
        likely = coarse(freeze.time_to_release.likely, units, "down")
        text = f"May let go {soonest} after feeding stops, at the soonest (likely {likely})."
        lines += wrapped(text, indent="      ", first="    ")
    if freeze.due is not None and freeze.hold is not None:
        text = (
            f"Plan: due {coarse(freeze.due, units, 'up')} after the first injection, and only if "
            f"its signs are good; then held {coarse(freeze.hold, units, 'down')}."
        )
        lines += wrapped(text, indent="      ", first="    ")
    return lines + (_coolant_lines(freeze.coolant, units) if freeze.coolant is not None else [])


def _outcome(freeze: FreezePart) -> str:
    reason = freeze.reason.strip().rstrip(".")
    outcome = outcome_says(freeze.outcome)
    text = f"{outcome} ({reason})" if reason and reason != freeze.outcome else outcome
    if not freeze.missing:
        return text
    lead = ": " if outcome == NOT_YET else f"; {NOT_YET}: "
    return text + lead + ", ".join(freeze.missing)


def _coolant_lines(coolant: CoolantPart, units: UnitSystem) -> list[str]:
    text = (
        f"Coolant: {span(coolant.total, units)}, reserve included. Have on site "
        f"{in_both(coolant.on_hand, units, 'up')}: {coolant.comes_in}. "
        f"Nozzles: {coolant.nozzles}; top up at least every {coolant.top_up_interval.shown}."
    )
    return wrapped(text, indent="      ", first="    ")
