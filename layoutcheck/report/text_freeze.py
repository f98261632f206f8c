"""A plug's freeze, coolant and hold, in few lines. The whole schedule is for the crew's sheet."""

from __future__ import annotations

from layoutcheck.report.model import CoolantPart, FreezePart, PlugPart, Span
from layoutcheck.report.wrap import wrapped


def freeze_lines(plug: PlugPart) -> list[str]:
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
    for words, span in (
        ("Neck closed after", freeze.time_to_neck_closed),
        ("Plug long enough after", freeze.time_to_plug),
        ("Frost on the bare pipe each side by then", freeze.frost_band),
        ("Thawed, once feeding stops, after", freeze.time_to_thaw),
    ):
        if span is not None:
            lines += wrapped(f"{words}: {_span(span)}.", indent="      ", first="    ")
    if freeze.signs:
        text = "; ".join(
            f"after {s.time.shown} {s.frost.likely.shown} and {s.wider.likely.shown}"
            for s in freeze.signs
        )
        lines += wrapped(
            f"Frost to see on the two sides, likely: {text}.", indent="      ", first="    "
        )
    for sentence in freeze.grounds:
        lines += wrapped(sentence, indent="      ", first="    ")
    if freeze.time_to_release is not None:
        # The soonest comes first: nobody may plan on the likely one.
        soonest, likely = freeze.time_to_release.low.shown, freeze.time_to_release.likely.shown
        text = f"May let go from {soonest} after feeding stops (likely {likely})."
        lines += wrapped(text, indent="      ", first="    ")
    if freeze.due is not None and freeze.hold is not None:
        text = (
            f"Plan: due {freeze.due.shown} after the first injection, and only if its signs are "
            f"good; then held {freeze.hold.shown}."
        )
        lines += wrapped(text, indent="      ", first="    ")
    return lines + (_coolant_lines(freeze.coolant) if freeze.coolant is not None else [])


def _outcome(freeze: FreezePart) -> str:
    reason = freeze.reason.strip().rstrip(".")
    told = f"{freeze.outcome} ({reason})" if reason and reason != freeze.outcome else freeze.outcome
    missing = f"; missing: {', '.join(freeze.missing)}" if freeze.missing else ""
    return told + missing


def _span(span: Span) -> str:
    return f"{span.likely.shown} likely; {span.low.shown} to {span.high.shown}"


def _coolant_lines(coolant: CoolantPart) -> list[str]:
    text = (
        f"Coolant: {_span(coolant.total)}, reserve included. Have on site {coolant.on_hand.shown}: "
        f"{coolant.comes_in}. Nozzles: {coolant.nozzles}; "
        f"top up at least every {coolant.top_up_interval.shown}."
    )
    return wrapped(text, indent="      ", first="    ")
