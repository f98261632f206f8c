"""Write a freeze for people: the answer first, then times, coolant, schedule, and its grounds."""

from __future__ import annotations

from layoutcheck.quantities import UnitSystem
from layoutcheck.report.figures import coarse, in_both, seen, span
from layoutcheck.report.freeze import PipeFreeze
from layoutcheck.report.model import CoolantPart, FreezePart
from layoutcheck.report.text_first import outcome_says
from layoutcheck.report.wrap import wrapped

_INDENT = "  "


def freeze_text(answer: PipeFreeze) -> str:
    """Write the answer to a freeze question as plain text."""
    part, units = answer.estimate, UnitSystem(answer.units)
    lines = [
        f"FREEZE of {answer.pipe}, {answer.orientation}",
        *_line(
            f"Jacket {answer.jacket.shown}, {answer.coolant}, water at "
            f"{answer.water_temperature.shown}. Bore {answer.inside_diameter.shown}."
        ),
        "",
        *_answer_lines(answer),
    ]
    lines += _headed("TIMES", _time_lines(part, units))
    if part.coolant is not None:
        lines += _headed("COOLANT", _coolant_lines(part.coolant, units))
        lines += _headed("SCHEDULE, from the first injection", _schedule_lines(part.coolant, units))
    lines += _headed("ASSUMED", _listed(part.assumptions))
    lines += _headed("CAUTIONS", _listed(answer.cautions))
    return "\n".join([*lines, *_line(answer.deference)]) + "\n"


def _answer_lines(answer: PipeFreeze) -> list[str]:
    """Write what is asked first: closes or not, when, with how much, what decides it."""
    part, units = answer.estimate, UnitSystem(answer.units)
    lines = _line(f"Outcome: {outcome_says(part.outcome)}. {_sentence(part.reason)}")
    for name in part.missing:
        lines += _line(f"Not known yet: {name}.")
    if part.time_to_plug is not None:
        lines += _line(f"Plug of the needed length stands after {span(part.time_to_plug, units)}.")
    if part.coolant is not None:
        nozzles = f"{part.coolant.nozzles} nozzle{'s' if part.coolant.nozzles > 1 else ''}"
        lines += _line(
            f"Have on hand {in_both(part.coolant.on_hand, units, 'up')}: "
            f"{part.coolant.comes_in}; {nozzles} at once."
        )
    for sentence in part.grounds:
        lines += _line(sentence)
    lines += _line(
        f"Assumed: in the pipe, {answer.fluid}; the pipe full, with no air; nothing moving in it."
    )
    return lines + _line(answer.statement)


def _time_lines(part: FreezePart, units: UnitSystem) -> list[str]:
    """Write when what happens, and what can be seen by then."""
    lines = []
    if part.needed_solid_length is not None:
        lines += _line(f"Solid length needed: {part.needed_solid_length.shown}.")
    for title, each in (
        ("Bore first closes", part.time_to_neck_closed),
        ("Frost on bare pipe beyond the jacket by the time the plug stands", part.frost_band),
        ("May let go once the jacket is off, after", part.time_to_release),
        ("All thawed once the jacket is off, after", part.time_to_thaw),
    ):
        if each is not None:
            lines += _line(f"{title}: {span(each, units)}.")
    for sign in part.signs:
        narrow, wide = (seen(s.likely, units) for s in (sign.frost, sign.wider))
        lines += _line(
            f"Frost to see after {coarse(sign.time, units)}: likely {narrow} on one side, "
            f"{wide} on the other."
        )
    return lines


def _headed(title: str, lines: list[str]) -> list[str]:
    return ["", title, *lines] if lines else []


def _line(sentence: str) -> list[str]:
    return wrapped(sentence, indent=_INDENT * 2, first=_INDENT)


def _listed(sentences: tuple[str, ...]) -> list[str]:
    return [x for one in sentences for x in wrapped(one, indent="    ", first="  - ")]


def _coolant_lines(part: CoolantPart, units: UnitSystem) -> list[str]:
    lines = []
    for title, each in (
        ("To fill the jacket", part.fill),
        ("To freeze", part.freeze),
        ("To hold", part.hold),
        ("Reserve", part.reserve),
        ("In all", part.total),
    ):
        lines += _line(f"{title}: {span(each, units)}.")
    return lines


def _schedule_lines(part: CoolantPart, units: UnitSystem) -> list[str]:
    """Write one line for each step until the first top-up."""
    lines = []
    top_ups = [s for s in part.steps if s.kind == "top-up"]
    for step in part.steps:
        if step.kind == "top-up" and step is not top_ups[0]:
            continue
        mass = f", {coarse(step.mass, units, 'up')}" if step.mass.value > 0 else ""
        long = f" for {step.duration.shown}" if step.duration.value > 0 else ""
        lines.append(f"  {clock(step.start.value)}  {step.kind}{long}{mass}")
        if step.kind == "top-up" and len(top_ups) > 1:
            lines += wrapped(
                f"and so on every {part.top_up_interval.shown}, {len(top_ups)} top-ups in all",
                indent=_INDENT * 5,
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
