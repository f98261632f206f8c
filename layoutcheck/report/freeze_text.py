"""Write a freeze for people: the estimate, the coolant, the schedule, the cautions."""

from __future__ import annotations

from layoutcheck.report.freeze import PipeFreeze
from layoutcheck.report.model import CoolantPart, FreezePart, Span
from layoutcheck.report.wrap import wrapped


def freeze_text(answer: PipeFreeze) -> str:
    """Write the answer to a freeze question as plain text."""
    lines = [
        f"FREEZE of {answer.pipe}, {answer.orientation}",
        *wrapped(
            f"Jacket {answer.jacket.shown}, {answer.coolant}, water at "
            f"{answer.water_temperature.shown}. Bore {answer.inside_diameter.shown}.",
            indent="  ",
        ),
        *wrapped(f"In the pipe: {answer.fluid}. It is taken as full, with no air.", indent="  "),
        *wrapped(answer.statement, indent="  "),
        "",
        *estimate_lines(answer.estimate),
    ]
    for sentence in answer.estimate.assumptions:
        lines += wrapped(sentence, indent="    ", first="  - ")
    lines += ["", "CAUTIONS"]
    for caution in answer.cautions:
        lines += wrapped(caution, indent="    ", first="  - ")
    return "\n".join([*lines, *wrapped(answer.deference, indent="  ")]) + "\n"


def estimate_lines(part: FreezePart, indent: str = "  ") -> list[str]:
    """Write a freeze's estimate: times, coolant, schedule."""
    lines = wrapped(f"Outcome: {part.outcome}. {_sentence(part.reason)}", indent=indent)
    for name in part.missing:
        lines += wrapped(f"Missing: {name}.", indent=indent)
    rows = (
        ("Bore first closes", part.time_to_neck_closed),
        ("Plug of the needed length stands", part.time_to_plug),
        ("Frost on bare pipe beyond the jacket", part.frost_band),
        ("Lets go after the jacket is off", part.time_to_release),
        ("All thawed after the jacket is off", part.time_to_thaw),
    )
    if part.needed_solid_length is not None:
        lines += wrapped(
            f"Solid length asked for: {part.needed_solid_length.shown}.", indent=indent
        )
    for title, span in rows:
        if span is not None:
            lines += wrapped(f"{title}: {in_words(span)}.", indent=indent + "  ", first=indent)
    for sign in part.signs:
        seen = f"{sign.frost.likely.shown} on one side, {sign.wider.likely.shown} on the other"
        lines += wrapped(
            f"Frost after {sign.time.shown}: likely {seen}.", indent=indent + "  ", first=indent
        )
    for sentence in part.grounds:
        lines += wrapped(sentence, indent=indent)
    if part.coolant is not None:
        lines += coolant_lines(part.coolant, indent)
    return lines


def in_words(span: Span) -> str:
    """Write a span: likely first, with both ends."""
    return f"likely {span.likely.shown}; from {span.low.shown} to {span.high.shown}"


def coolant_lines(part: CoolantPart, indent: str = "  ") -> list[str]:
    """Write a coolant budget and its schedule, one line for each step until the first top-up."""
    lines = []
    for title, span in (
        ("Coolant to fill the jacket", part.fill),
        ("To freeze", part.freeze),
        ("To hold", part.hold),
        ("Reserve", part.reserve),
        ("In all", part.total),
    ):
        lines += wrapped(f"{title}: {in_words(span)}.", indent=indent + "  ", first=indent)
    lines += wrapped(
        f"Have on hand {part.on_hand.shown}: {part.comes_in}; "
        f"{part.nozzles} nozzle{'s' if part.nozzles > 1 else ''} at once.",
        indent=indent,
    )
    lines.append(f"{indent}Schedule, from the first injection:")
    top_ups = [s for s in part.steps if s.kind == "top-up"]
    for step in part.steps:
        if step.kind == "top-up" and step is not top_ups[0]:
            continue
        mass = f", {step.mass.shown}" if step.mass.value > 0 else ""
        long = f" for {step.duration.shown}" if step.duration.value > 0 else ""
        text = f"{clock(step.start.value)}  {step.kind}{long}{mass}"
        lines.append(f"{indent}  {text}")
        if step.kind == "top-up" and len(top_ups) > 1:
            lines += wrapped(
                f"and so on every {part.top_up_interval.shown}, {len(top_ups)} top-ups in all",
                indent=indent + "         ",
            )
    return lines


def clock(seconds: float) -> str:
    """Write a time since the start as hours, minutes and seconds: 1:05:30."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{left:02d}"


def _sentence(text: str) -> str:
    plain = text.strip()
    return plain[:1].upper() + plain[1:] + ("" if plain.endswith(".") else ".")
