"""isolation: every way from a source to the work is cut."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from layoutcheck.document.models import Moment
from layoutcheck.network import Trust
from layoutcheck.network.cut import WayIn
from layoutcheck.network.model import WorkPlace
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.declared import CUTS, Blank, Cure, Role
from layoutcheck.rules.doubts import doubt_about
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, Subject
from layoutcheck.rules.reasons import junctions_of


class Isolation(Rule):
    """Plugs and closed valves together cut every way from a source to the work.

    Reason: Water under pressure that still has a way in comes out at the opened line.
    Figure: No source, no tank and no pump that could run may be left in the part that holds the
        work. A pump could run unless it is stated to be locked off while working, the pump that is
        worked on or that an opened length of pipe holds like any other.
    Source: common practice, no published source.
    Does not apply: Never.
    Undecided: Where the document states no work, or where a way in leads through a valve whose
        state while working is not stated.
    Does not see: Sources that are not in the document. A check valve is never a barrier. What
        drains by gravity from the cut off part is given as a volume beside the findings.
    """

    name = "isolation"
    cures = CUTS | {Cure.MOVE}
    role = Role.CUTS_OFF
    of_place = True
    needs = frozenset({Blank.WORK, Blank.SOURCES, Blank.VALVE_STATE, Blank.END, Blank.HEIGHT})
    gravity = Gravity.FLOOD
    gravity_reason = "Water under pressure comes out at the open line"
    reason = "Water that still has a way in comes out at the opened line."
    waivable = False

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each opened thing, once for the pieces that are plugged."""
        key = ("judged", self.name, case.plugged)
        yield from case.worlds.remember(key, lambda: list(self._judge(case)))

    def _judge(self, case: Case) -> Iterator[Judgement]:
        if not case.network.work:
            yield self.says(
                Subject("work", "work"),
                Outcome.UNDECIDED,
                "no work stated",
                "The document does not say what will be opened.",
                missing=(Fact("what will be opened, and for how long", "work"),),
                todo="State the work.",
            )
        for place in case.network.work:
            yield self._judge_place(case, place)

    def _judge_place(self, case: Case, place: WorkPlace) -> Judgement:
        subject = Subject("work", place.label, (place.label,))
        plugged = case.plugged
        sure = case.worlds.regions(Trust.BEST).ways_in(plugged, place.nodes)
        if sure:
            return self._open(case, subject, Outcome.BROKEN, sure)
        doubt = case.worlds.regions(Trust.STATED).ways_in(plugged, place.nodes)
        if doubt:
            return self._open(case, subject, Outcome.UNDECIDED, doubt)
        sentence = f"Plugs and closed valves cut every way to {place.label}."
        return self.says(subject, Outcome.HOLDS, "cut off", sentence)

    def _open(
        self, case: Case, subject: Subject, outcome: Outcome, ways: Sequence[WayIn]
    ) -> Judgement:
        first = ways[0]
        if first.pump is not None and len(first.nodes) == 1:
            return self._may_start(subject, outcome, ways, first.pump)
        others = f" (and from {', '.join(w.source for w in ways[1:])})" if len(ways) > 1 else ""
        steps = ", ".join(junctions_of(case, first.nodes)) or "the work itself"
        certain = outcome is Outcome.BROKEN
        return self.says(
            subject,
            outcome,
            "way in" if certain else "way in if in doubt",
            f"{_begun(first.source)} {'reaches' if certain else 'may reach'} the work by "
            f"way of {steps}{others}.",
            way=first.nodes,
            where=first.nodes[-1],
            concerns=tuple(w.source for w in ways),
            missing=() if certain else unstated_valves(case),
            todo=_todo(ways),
        )

    def _may_start(
        self, subject: Subject, outcome: Outcome, ways: Sequence[WayIn], pump: str
    ) -> Judgement:
        """Say that a pump stands at the opened place itself and nothing says that it can not run.

        Nothing but its lock helps: no plug and no valve stands between it and whoever works there.
        """
        others = f" (and from {', '.join(w.source for w in ways[1:])})" if len(ways) > 1 else ""
        return self.says(
            subject,
            outcome,
            "pump not locked off",
            f"Pump {pump} is opened, or stands on the opened line, and nothing says that it is "
            "locked off during the work. If it starts, it throws water out of the opened "
            f"line{others}.",
            way=ways[0].nodes,
            where=ways[0].nodes[-1],
            concerns=tuple(w.source for w in ways),
            todo=_todo(ways),
        )


def _todo(ways: Sequence[WayIn]) -> str:
    """Say what cuts the ways: the locks of pumps first, since some need nothing else."""
    pumps = [w.pump for w in ways if w.pump is not None]
    locks = f"Lock off and tag pump {', '.join(pumps)} for the work, and say so. " if pumps else ""
    rest = "Add a plug or close a valve on this way." if len(pumps) < len(ways) else ""
    return f"{locks}{rest}".strip()


def unstated_valves(case: Case) -> tuple[str, ...]:
    """Name the valves whose state while working is not stated."""
    return tuple(
        doubt_about(case, v, Moment.WORKING)
        for v in sorted(case.network.valves)
        if case.network.valves[v].at(Moment.WORKING) is None
    )


def _begun(text: str) -> str:
    """Begin a sentence with a text."""
    return text[:1].upper() + text[1:]
