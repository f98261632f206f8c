"""The one door of the library: a document in, a result out. It prints nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from layoutcheck.document import Layout, parse_layout, read_text
from layoutcheck.document.models import Plug
from layoutcheck.report import run
from layoutcheck.report.freeze import PipeFreeze, answer_freeze, read_question
from layoutcheck.report.model import Report
from layoutcheck.report.plans import PlanReport, plan_layout
from layoutcheck.rules.pack import Pack

# A layout, a document as JSON or YAML gives it, or the path of a file.
Source = Layout | Mapping[str, Any] | str | Path


def read_layout(source: Source) -> Layout:
    """Read a layout: a document in the long or short form, or the path of a .json or .yaml file.

    Raises LayoutFaults with every fault, each with its place and a right example; OSError where a
    file can not be read.

    >>> read_layout({
    ...     "name": "Invented",
    ...     "pipes": {"riser": "A to B, 2 in, 20 ft"},
    ... }).pipes[0].length
    6.096

    The exception shows what is wrong, each with its place:

    >>> read_layout({"name": "Invented", "pipes": {"riser": "A to B, 2 in, 20"}})
    Traceback (most recent call last):
    ...
    layoutcheck.document.faults.LayoutFaults: 1 fault in the document
    /pipes/riser: ...
    """
    if isinstance(source, Layout):
        return source
    if isinstance(source, Mapping):
        return parse_layout(source)
    path = Path(source)
    return parse_layout(read_text(path.read_bytes(), suffix=path.suffix or ".json"))


def _with_site(report: Report, layout: Layout) -> Report:
    """Let a report show the layout that it judged, in a notebook; it says nothing more by that."""
    report.__dict__["site"] = layout
    return report


def check(source: Source, *, pack: Pack | None = None, on: date | None = None) -> Report:
    """Check a layout by every rule and find where each plug may stand.

    pack: the figures; the built-in ones if None. on: the day of judgement, for waivers only. The
    same layout, pack and day give the same report, byte for byte. Raises as `read_layout`.

    >>> report = check({
    ...     "name": "Invented",
    ...     "pipes": {"riser": "A to B, 2 in, 60 ft"},
    ...     "sources": {"main": "A, 60 psi"},
    ...     "outlets": {"tap": "B"},
    ...     "plugs": {"F1": "riser at 30 ft, jacket 12 in"},
    ... })
    >>> report.verdict.value
    'not compliant'
    >>> sorted({finding.subject.id for finding in report.broken})
    ['F1']
    >>> report.actions[0].number, report.plugs["F1"].nearest is None
    (1, True)
    """
    layout = read_layout(source)
    return _with_site(run.check(layout, pack=pack, on=on), layout)


class Recheck:
    """Checks of one site as its plugs are moved about: what else there is is worked out once.

    >>> site = {
    ...     "name": "Invented",
    ...     "pipes": {"riser": "A to B, 2 in, 60 ft"},
    ...     "plugs": {"F1": "riser at 30 ft, jacket 12 in"},
    ... }
    >>> again = Recheck(site)
    >>> again.check(read_layout(site).plugs) == check(site)
    True
    """

    def __init__(self, source: Source, *, pack: Pack | None = None, on: date | None = None) -> None:
        """Take the site in. Its own plugs are those to begin with. Raises as `read_layout`."""
        self._recheck = run.Recheck(read_layout(source), pack=pack, on=on)

    def check(self, plugs: Sequence[Plug]) -> Report:
        """Check the site with these plugs as `check` does. ValueError for one off the site."""
        return self._recheck.check(plugs)


def plan(
    source: Source, *, pack: Pack | None = None, top: int = 5, time_limit: float = 30.0
) -> PlanReport:
    """Find what to close and where to freeze, from the work alone: the best plans first.

    time_limit: s. Plans are written in the units of the document. Raises as `read_layout`.

    >>> plan({
    ...     "name": "Invented",
    ...     "pipes": {"riser": "A to B, 2 in, 60 ft"},
    ...     "junctions": {"B": "cap"},
    ...     "sources": {"main": "A, 60 psi"},
    ...     "work": "pipe riser from 40 ft to 41 ft for 2 h",
    ... }).status
    'undecided'
    """
    layout = read_layout(source)
    data = source if isinstance(source, Mapping) else None
    return plan_layout(layout, data=data, pack=pack, top=top, time_limit=time_limit)


def freeze(**question: str) -> PipeFreeze:
    """Estimate the freeze of one pipe, without a layout; every quantity with its unit.

    The fields are those of `layoutcheck schema freeze-question`. Raises LayoutFaults.

    >>> freeze(
    ...     size="2 in", material="carbon steel", wall="sch 40", jacket="12 in",
    ...     water_temperature="60 degF",
    ... ).estimate is not None
    True
    """
    return answer_freeze(read_question(question))
