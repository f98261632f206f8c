"""A survey in numbers: how many works can be isolated, by site and size, and why others not."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from pydantic import Field

from layoutcheck import __version__
from layoutcheck.planning.search import Status
from layoutcheck.report.cautions import CAUTIONS, DEFERENCE
from layoutcheck.report.model import Part
from layoutcheck.report.wrap import some_of, wrapped
from layoutcheck.survey.row import Answer, PlanRow, Row, Stopped
from layoutcheck.survey.table import FORMAT

# How many sites, rules and failures are named; the table holds the rest.
_NAMED = 20

# What stands against a work for which the search had nothing to try.
_NO_CUT = "no closure or plug cuts it off"

VALVES_ALONE, FREEZING = "valves alone", "freezing"


class Share(Part):
    """How many works of one group have each answer. freezing: of the compliant, with plugs."""

    group: str
    works: int
    compliant: int
    freezing: int
    undecided: int
    none: int
    failed: int


class Trouble(Part):
    """What has no answer, and why."""

    site: str
    what: str
    reason: str


class Totals(Part):
    """What the best plans would use, all together."""

    plugs: int
    carbon_dioxide_kg: float
    nitrogen_kg: float
    drained_m3: float
    without_a_figure: int = Field(description="Plans whose coolant can not be worked out.")


class Summary(Part):
    """A survey in numbers. Only what passed every rule afresh is counted as compliant."""

    format: str = FORMAT
    version: str = __version__
    sites: int
    whole: Share
    by_site: tuple[Share, ...]
    by_size: tuple[Share, ...]
    why_not: dict[str, int] = Field(
        description="For how many works without a plan each rule stood against one."
    )
    best_found: int = Field(description="Compliant works whose plan may not be the best.")
    stopped_by_time: int = Field(description="Works whose answer may differ on a faster machine.")
    duration_assumed: int
    totals: Totals
    troubles: tuple[Trouble, ...]
    without_works: tuple[str, ...] = Field(description="Sites that hold nothing to ask about.")
    passed_over: tuple[str, ...] = Field(description="Files that are no layouts.")
    cautions: tuple[str, ...] = CAUTIONS
    deference: str = DEFERENCE

    def to_json(self) -> str:
        """Write the summary as JSON."""
        return self.model_dump_json(indent=2) + "\n"


@dataclass
class _Sum:
    """Answers of one group as they are counted."""

    answers: Counter[Answer] = field(default_factory=Counter)
    freezing: int = 0

    def add(self, row: Row) -> None:
        self.answers[row.answer] += 1
        self.freezing += method_of(row) == FREEZING

    def share(self, group: str) -> Share:
        return Share(
            group=group,
            works=self.answers.total(),
            compliant=self.answers[Answer.COMPLIANT],
            freezing=self.freezing,
            undecided=self.answers[Answer.UNDECIDED],
            none=self.answers[Answer.NONE],
            failed=self.answers[Answer.FAILED],
        )


def method_of(row: Row) -> str:
    """Tell by what a compliant work is isolated; empty for any other."""
    if row.answer is not Answer.COMPLIANT or row.plan is None:
        return ""
    return FREEZING if row.plan.plugs else VALVES_ALONE


@dataclass
class Counting:
    """Counts rows as they pass by on their way into the table."""

    sites: Sequence[str]
    passed_over: Sequence[str] = ()

    def __post_init__(self) -> None:
        """Begin at nothing."""
        self._whole = _Sum()
        self._by_site: dict[str, _Sum] = {name: _Sum() for name in sorted(self.sites)}
        self._by_size: dict[tuple[float, str], _Sum] = defaultdict(_Sum)
        self._why: Counter[str] = Counter()
        self._marks: Counter[str] = Counter()
        self._plugs = self._unknown = 0
        self._dioxide = self._nitrogen = self._water = 0.0
        self._troubles: list[Trouble] = []

    def through(self, rows: Iterable[tuple[str, Row]]) -> Iterable[tuple[str, Row]]:
        """Count rows and hand them on."""
        for site, row in rows:
            self._add(site, row)
            yield site, row

    def _add(self, site: str, row: Row) -> None:
        for group in (self._whole, self._by_site[site]):
            group.add(row)
        if row.size:
            self._by_size[row.inches or 0.0, row.size].add(row)
        if row.answer is Answer.FAILED:
            what = f"{row.kind} {row.id}".strip() if row.kind else "the whole site"
            self._troubles.append(Trouble(site=site, what=what, reason=row.reason))
        if row.plan is None:
            self._why.update(h.what for h in row.hindrances)
            self._why[_NO_CUT] += row.found == Status.NO_PLAN and not row.hindrances
        else:
            self._use(row.plan)
            self._marks["best found"] += row.found != "optimal"
        self._marks["time"] += row.stopped is Stopped.TIME
        self._marks["assumed"] += row.duration_assumed

    def _use(self, plan: PlanRow) -> None:
        self._plugs += len(plan.plugs)
        self._unknown += plan.carbon_dioxide_kg is None
        self._dioxide += plan.carbon_dioxide_kg or 0.0
        self._nitrogen += plan.nitrogen_kg or 0.0
        self._water += plan.drained_m3 or 0.0

    def summary(self) -> Summary:
        """Give the whole."""
        sizes = sorted(self._by_size.items())
        return Summary(
            sites=len(self._by_site),
            whole=self._whole.share("all"),
            by_site=tuple(s.share(name) for name, s in self._by_site.items()),
            by_size=tuple(s.share(size) for (_, size), s in sizes),
            why_not=dict(sorted((+self._why).items(), key=lambda kv: (-kv[1], kv[0]))),
            best_found=self._marks["best found"],
            stopped_by_time=self._marks["time"],
            duration_assumed=self._marks["assumed"],
            totals=Totals(
                plugs=self._plugs,
                carbon_dioxide_kg=round(self._dioxide, 1),
                nitrogen_kg=round(self._nitrogen, 1),
                drained_m3=round(self._water, 3),
                without_a_figure=self._unknown,
            ),
            troubles=tuple(self._troubles),
            without_works=tuple(n for n, s in self._by_site.items() if not s.answers),
            passed_over=tuple(self.passed_over),
        )


def summary_text(summary: Summary) -> str:
    """Write a summary for people."""
    whole = summary.whole
    alone = whole.compliant - whole.freezing
    lines = [
        *_lines(
            f"SURVEY: {whole.works} works on {summary.sites} sites, {whole.compliant} of them "
            "with a plan that passes on paper."
        ),
        f"  compliant  {whole.compliant:>7}   {whole.freezing} by freezing, {alone} by valves "
        "alone; judged afresh",
        f"  undecided  {whole.undecided:>7}   no plan found within the limits, or something is "
        "left open",
        f"  none       {whole.none:>7}   every set of closures and plugs was ruled out",
        f"  failed     {whole.failed:>7}   no answer",
        "",
        *_table("BY SITE", summary.by_site),
        *_table("BY SIZE", summary.by_size),
        *_why(summary),
        *_used(summary.totals),
        *_troubles(summary),
        *_notes(summary),
        *(line for text in (*summary.cautions, "", summary.deference) for line in _lines(text)),
    ]
    return "\n".join(lines) + "\n"


def _lines(text: str) -> list[str]:
    return wrapped(text, indent="  ", first="") if text else [""]


def _table(title: str, shares: Sequence[Share]) -> list[str]:
    if not shares:
        return []
    shown = sorted(shares, key=lambda s: -s.works)[:_NAMED] if len(shares) > _NAMED else shares
    width = min(40, max(len(s.group) for s in shown))
    lines = [f"{title:<{width + 2}}   works  compliant  (freezing)  undecided  none  failed"]
    for s in shown:
        name = s.group if len(s.group) <= width else "…" + s.group[1 - width :]
        lines.append(
            f"  {name:<{width}} {s.works:>7} {s.compliant:>10} {s.freezing:>11} "
            f"{s.undecided:>10} {s.none:>5} {s.failed:>7}"
        )
    if len(shares) > len(shown):
        lines.append(f"  and {len(shares) - len(shown)} more, in the table")
    return [*lines, ""]


def _why(summary: Summary) -> list[str]:
    if not summary.why_not:
        return []
    lines = ["WHAT STOOD AGAINST A PLAN, by the number of works without one"]
    lines += [f"  {n:>7}  {rule}" for rule, n in list(summary.why_not.items())[:_NAMED]]
    return [*lines, ""]


def _used(totals: Totals) -> list[str]:
    lines = [
        "THE BEST PLANS, each by itself, all together",
        f"  {totals.plugs} plugs; {totals.carbon_dioxide_kg:g} kg carbon dioxide; "
        f"{totals.nitrogen_kg:g} kg nitrogen; {totals.drained_m3:g} m3 of water drained",
    ]
    if totals.without_a_figure:
        lines.append(f"  {totals.without_a_figure} plans lack a figure for their coolant")
    return [*lines, ""]


def _troubles(summary: Summary) -> list[str]:
    if not summary.troubles:
        return []
    lines = ["NO ANSWER"]
    for trouble in summary.troubles[:_NAMED]:
        told = f"{trouble.site}: {trouble.what}: {trouble.reason}"
        lines += wrapped(told, indent="    ", first="  ")
    if len(summary.troubles) > _NAMED:
        lines.append(f"  and {len(summary.troubles) - _NAMED} more, in the table")
    return [*lines, ""]


def _notes(summary: Summary) -> list[str]:
    notes = [
        (summary.best_found, "plans may not be the best ones: their search was cut short"),
        (summary.stopped_by_time, "works were stopped by the time limit: a faster machine may "
         "find more"),
        (summary.duration_assumed, "works are asked with the assumed duration: their layouts "
         "state none"),
        (len(summary.without_works), "sites hold nothing to ask about"),
        (len(summary.passed_over), "files are no layouts and were passed over: "
         f"{some_of(summary.passed_over, _NAMED)}"),
    ]  # fmt: skip
    lines = [line for number, says in notes if number for line in _lines(f"NOTE: {number} {says}.")]
    return [*lines, ""] if lines else []
