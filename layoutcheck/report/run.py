"""Check a layout: the one door that library, command line and service go through."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from layoutcheck import __version__
from layoutcheck.document import Layout, parse_layout
from layoutcheck.document.models import Plug
from layoutcheck.placement import Placing, place_plug
from layoutcheck.report.actions import numbered
from layoutcheck.report.assumptions import assumptions_of
from layoutcheck.report.cautions import DEFERENCE
from layoutcheck.report.cautions_with import cautions_with
from layoutcheck.report.in_model import with_names
from layoutcheck.report.mending import mending_part
from layoutcheck.report.model import (
    Counts,
    Finding,
    Outcomes,
    PlugPart,
    Report,
    Verdict,
)
from layoutcheck.report.parts import Writer, is_well_placed, layout_part, pack_part
from layoutcheck.rules.case import MEASURING, Case
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Judgement, Outcome
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.registry import default_pack


def check_document(data: object, *, pack: Pack | None = None, on: date | None = None) -> Report:
    """Check a parsed document (JSON or YAML data). Raises LayoutFaults for unusable input."""
    return check(parse_layout(data), pack=pack, on=on)


def check(layout: Layout, *, pack: Pack | None = None, on: date | None = None) -> Report:
    """Check a layout by every rule and find where each plug may stand.

    pack: the figures; the built-in ones if None. on: the day of judgement, for waivers only.
    The same layout, pack and day give the same report, byte for byte.
    """
    case = Case.of(layout, pack or default_pack())
    return report_of(case, judge_case(case, on=on), on=on)


def glance(layout: Layout, *, pack: Pack | None = None, on: date | None = None) -> Report:
    """Check a layout as `check` does, without the joint mending: for a plug in motion.

    Every outcome is the same; only the mending, which takes the longest by far, and the actions,
    which rest on it, are left out.
    """
    case = Case.of(layout, pack or default_pack())
    return _glance_of(Writer(case), judge_case(case, on=on), on)


def outcomes(layout: Layout, *, pack: Pack | None = None, on: date | None = None) -> Outcomes:
    """Judge a layout and tell its verdict alone, before any place is looked for.

    The verdict and the counts are those of `check`, in a fraction of its time.
    """
    judgements = judge_case(Case.of(layout, pack or default_pack()), on=on)
    return Outcomes(verdict=verdict_of(j.outcome for j in judgements), counts=counts_of(judgements))


class Recheck:
    """Checks of one site as its plugs are moved about: what else there is is worked out once.

    Every report is the same, byte for byte, as that of a check of the whole layout.
    """

    def __init__(self, layout: Layout, *, pack: Pack | None = None, on: date | None = None) -> None:
        """Take the site in. The layout's own plugs are those to begin with."""
        self._case = Case.of(layout, pack or default_pack())
        self._on = on

    def check(self, plugs: Sequence[Plug]) -> Report:
        """Check the site with these plugs as `check` does. ValueError for one off the site."""
        case = self._case.with_plugs(plugs)
        return report_of(case, judge_case(case, on=self._on), on=self._on)

    def glance(self, plugs: Sequence[Plug]) -> Report:
        """Check the site with these plugs as `glance` does. Raises as `check`."""
        case = self._case.with_plugs(plugs)
        return _glance_of(Writer(case), judge_case(case, on=self._on), self._on)


def report_of(case: Case, judgements: list[Judgement], *, on: date | None = None) -> Report:
    """Write the report of a judged case."""
    writer = Writer(case)
    report = _glance_of(writer, judgements, on)
    # What is not stated of pipes comes first: no travel and no 'impossible' would be sure.
    if case.unstated or all(p.well_placed and not p.no_place and p.isolates for p in report.plugs):
        return with_names(case.layout, numbered(report))
    mended = report.model_copy(update={"mending": mending_part(case, writer, on)})
    return with_names(case.layout, numbered(mended))


def _glance_of(writer: Writer, judgements: list[Judgement], on: date | None) -> Report:
    case = writer.case
    placings = [place_plug(case, plug, on=on) for plug in case.plugs]
    for placing in placings:
        if placing.nearest is not None and is_well_placed(placing):
            writer.stands[placing.plug] = placing.nearest.clear
    findings = tuple(writer.finding(j) for j in judgements)
    layout, pack = case.layout, case.pack
    return Report(
        version=__version__,
        verdict=verdict_of(j.outcome for j in judgements),
        layout=layout_part(layout),
        pack=pack_part(pack),
        units=layout.units.value,
        basis=f"from the {pack.word(MEASURING, 'basis')}",
        judged_on=on if layout.waivers else None,
        counts=counts_of(findings),
        work=writer.work(),
        findings=findings,
        plugs=_plugs(writer, placings, judgements),
        mending=None,
        flowing=writer.flowing(),
        drain=writer.drain(case),
        assumptions=assumptions_of(case),
        cautions=cautions_with(p.coolant for p in case.plugs),
        deference=DEFERENCE,
    )


def verdict_of(outcomes: Iterable[Outcome]) -> Verdict:
    """Give the whole: compliant only if nothing is broken, undecided or at fault."""
    found = set(outcomes)
    if Outcome.FAULT in found:
        return Verdict.FAULT
    if Outcome.BROKEN in found:
        return Verdict.NOT_COMPLIANT
    return Verdict.UNDECIDED if Outcome.UNDECIDED in found else Verdict.COMPLIANT


def counts_of(judged: Sequence[Finding | Judgement]) -> Counts:
    """Count the outcomes of each kind."""
    number = {o: sum(j.outcome is o for j in judged) for o in Outcome}
    return Counts(
        holds=number[Outcome.HOLDS],
        broken=number[Outcome.BROKEN],
        undecided=number[Outcome.UNDECIDED],
        does_not_apply=number[Outcome.DOES_NOT_APPLY],
        waived=number[Outcome.WAIVED],
        fault=number[Outcome.FAULT],
    )


def _plugs(
    writer: Writer, placings: Sequence[Placing], judgements: Sequence[Judgement]
) -> tuple[PlugPart, ...]:
    parts = []
    for placing in placings:
        own = [
            j
            for j in judgements
            if (j.subject.id == placing.plug and j.subject.kind == "plug")
            or f"plug {placing.plug}" in j.concerns
        ]
        parts.append(writer.plug(writer.case.plug(placing.plug), placing, own))
    return tuple(parts)
