"""Find the best plans: best first over sets of closures and plugs, exact where it says so.

A node of the search is a set of elements that are taken and a set that is left out. It is tried on
the cheapest questions first: is the work cut off, has each plug room, can the plugs stand
together, and at last every rule. Where it fails, the conflict says of which elements one at least
must be added; each makes a child, with those before it left out, so that no set is met twice.

What the sketch itself leaves open (a pipe's end that nobody has said anything of) no closure and no
plug can settle. So the search goes on as if it were settled, and what would be a plan then is given
as the nearest miss, with just that to settle: a search that tried every set against it would end by
the clock.

Nodes are taken in the order of a lower bound (what is taken, and the least cut for the rest), and
a plan that passes goes back into the order by its full points. So the first plan that comes out
is the best of all, and each further one the next best. No plan is given of which a part alone
would do. When time runs out, what was found is given as 'best found' with the gap to the bound.
"""

from __future__ import annotations

import heapq
import math
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import count, product

from layoutcheck.network import Trust
from layoutcheck.network.cut import is_cut_off
from layoutcheck.placement.together import read_together
from layoutcheck.planning.bound import Bound
from layoutcheck.planning.conflict import Conflict, Explainer, without_rivals
from layoutcheck.planning.costs import Costs, costs_of
from layoutcheck.planning.elements import OUTLET_KINDS, Chosen, Element, Kind
from layoutcheck.planning.ground import Ground
from layoutcheck.planning.stations import Seat, seat, seat_of
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Reach, Role
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Judgement, Outcome, Subject
from layoutcheck.rules.registry import all_rules, rule_of

GOOD = {Outcome.HOLDS, Outcome.DOES_NOT_APPLY}


class Status(StrEnum):
    """How sure an answer is."""

    OPTIMAL = "optimal"
    BEST_FOUND = "best found"
    NO_PLAN = "no plan"
    NONE_FOUND = "none found in time"


@dataclass(frozen=True)
class FoundPlan:
    """One plan: its elements, the case it makes (with plugs), and what it costs."""

    elements: Chosen
    case: Case
    judgements: tuple[Judgement, ...]
    costs: Costs

    @property
    def unsettled(self) -> tuple[Judgement, ...]:
        """Give what is asked of the sketch and still open once all of the plan is done."""
        return tuple(j for j in self.judgements if j.outcome not in GOOD)

    @property
    def points(self) -> float:
        """Give what the plan is ranked by."""
        return self.costs.points


@dataclass(frozen=True)
class NearMiss:
    """A set with plugs in place that fails by few judgements: what stands between it and a plan."""

    elements: Chosen
    case: Case
    lacking: tuple[Judgement, ...]


@dataclass(frozen=True)
class Progress:
    """How far a search is: nodes tried, plans that pass, the bound, the best points so far."""

    tried: int
    passed: int
    bound: float
    best: float


@dataclass(frozen=True)
class Found:
    """The answer of a search.

    complete: the list is what was asked for, in order; else it was cut short after the best.
    bound: no plan costs less (points). gap: between the best plan and the bound.
    hindrances: where no plan was found, the rules that shut plans out and how often. near_miss:
    the set that fails by the fewest judgements, of those the first that was tried.
    """

    status: Status
    complete: bool
    plans: tuple[FoundPlan, ...]
    bound: float
    tried: int
    hindrances: dict[str, int]
    near_miss: NearMiss | None

    @property
    def gap(self) -> float:
        """Give the points between the best plan and the bound; 0 where it is optimal."""
        return max(0.0, self.plans[0].points - self.bound) if self.plans else math.inf


# Of equal points a plan comes before a set that is still to be tried.
_PLAN_FIRST = -1_000_000

Watch = Callable[[Progress], None]


@dataclass(frozen=True)
class _Node:
    """A set that is taken, one that is left out, and the least cut; None: not worked out yet.

    Until then a node stands in the order by its parent's bound, which holds for it too.
    """

    taken: Chosen
    left_out: Chosen
    cut: frozenset[int] | None = None


class Search:
    """One search for plans."""

    def __init__(self, case: Case) -> None:
        """Lay the ground."""
        self.ground = Ground(case)
        self.explain = Explainer(self.ground)
        self.bound = Bound(self.ground)
        self.tried = 0
        self.hindrances: dict[str, int] = {}
        self.asked = _asked_of_sketch(self.ground.case)
        self.near_miss: NearMiss | None = None
        self.passed: list[Chosen] = []
        self._queue: list[tuple[float, int, int, _Node | FoundPlan]] = []
        self._number = count()
        self._push(_Node(frozenset(), frozenset()), 0.0)

    @property
    def least(self) -> float:
        """Give the bound: no plan that is still to come costs less (points)."""
        return self._queue[0][0] if self._queue else math.inf

    @property
    def waiting(self) -> list[FoundPlan]:
        """Give the plans that pass and are not yet known to be next, best first."""
        found = [item for *_, item in self._queue if isinstance(item, FoundPlan)]
        return sorted(found, key=lambda p: (p.points, sorted(p.elements)))

    def _push(self, node: _Node, points: float) -> None:
        # Of equal bounds the set with more taken comes first: it is nearer to a plan.
        entry = (points, -len(node.taken), next(self._number), node)
        heapq.heappush(self._queue, entry)

    def _bounded(self, node: _Node, points: float) -> tuple[_Node, float]:
        """Give a node with its own bound and cut."""
        if node.cut is not None:
            return node, points
        least = self.bound.of(node.taken, node.left_out)
        return replace(node, cut=least.cut), max(points, least.points)

    def plans(self) -> Iterator[FoundPlan | None]:
        """Give plans in the order of points; None after each step without one.

        What is asked of the sketch is left out of account: see `asked`.
        """
        self._dive()
        while self._queue:
            waited, *_, item = heapq.heappop(self._queue)
            if isinstance(item, FoundPlan):
                yield item
                continue
            node, points = self._bounded(item, waited)
            if points > waited and math.isfinite(points):
                self._push(node, points)
            elif math.isfinite(points):
                self.tried += 1
                self._try(node, points)
            yield None

    def _dive(self) -> None:
        """Try the least cut of valves alone, so that a plan is soon at hand on large networks.

        A valve of the cut may only have kept an outlet's side apart: what is not needed goes.
        """
        chosen = self.bound.valves_alone()
        if not chosen or not self._cuts_off(chosen):
            return
        for element in sorted(chosen, key=lambda e: (-e.cost, e)) if len(chosen) > 1 else ():
            if self._cuts_off(chosen - {element}):
                chosen = chosen - {element}
        self.tried += 1
        outcome = self._test(chosen)
        if isinstance(outcome, FoundPlan):
            self.passed.append(chosen)
            heapq.heappush(self._queue, (outcome.points, _PLAN_FIRST, next(self._number), outcome))

    def _cuts_off(self, chosen: Chosen) -> bool:
        """Tell whether closures alone cut the work off in the worst reading."""
        world = self.ground.under(chosen).worlds.working(Trust.PROVEN)
        return is_cut_off(world, (), self.ground.work_nodes)

    def _try(self, node: _Node, points: float) -> None:
        """Try one set: it passes and goes back by its full points, or makes children."""
        barred = any(e.piece in self.bound.barred for e in node.taken if e.kind is Kind.PLUG)
        if barred or any(done <= node.taken for done in self.passed):
            return
        outcome = self._test(node.taken)
        if isinstance(outcome, FoundPlan):
            self.passed.append(node.taken)
            entry = (outcome.points, _PLAN_FIRST, next(self._number), outcome)
            heapq.heappush(self._queue, entry)
            return
        self._branch(node, points, outcome)

    def _branch(self, node: _Node, points: float, conflict: Conflict) -> None:
        """Make a child for each element of a conflict, the others before it left out.

        The first child, if it takes a part of the least cut, has the same cut and the same bound.
        """
        open_ways = without_rivals(conflict, node.taken) - node.left_out
        cut = node.cut or frozenset()
        on_cut = {e for e in open_ways if not cut.isdisjoint(self.bound.pieces_of(e))}
        left_out = node.left_out
        for element in sorted(open_ways, key=lambda e: (e not in on_cut, e.cost, e)):
            if element.kind is not Kind.PLUG or self._may_plug(node.taken, element):
                same = left_out == node.left_out and element in on_cut
                own = cut if same else None
                self._push(_Node(node.taken | {element}, left_out, own), points)
            left_out = left_out | {element}

    def _may_plug(self, taken: Chosen, plug: Element) -> bool:
        if plug.piece in self.bound.barred:
            return False
        most = self.ground.settings.max_plugs
        return most is None or sum(e.kind is Kind.PLUG for e in taken) < most

    def _test(self, taken: Chosen) -> FoundPlan | Conflict:
        """Give the plan that a set makes, or why it makes none."""
        case = self.ground.under(taken)
        pieces = sorted(e.piece for e in taken if e.kind is Kind.PLUG)
        for piece in pieces:
            if not self.ground.clear(case, piece):
                self._note("no clear place")
                return self.explain.no_room(case, piece)
        way = self.explain.way_in(case, pieces)
        if way is not None:
            self._note(rule_of(Role.CUTS_OFF).name)
            return way
        kept = self.ground.settings.keep_in_service
        if kept and kept & set(self.ground.out_of_service(case, pieces)):
            self._note("keep in service")
            return frozenset()  # no closure brings water back
        plugs = self.place(case, pieces)
        if plugs is None:
            self._note(rule_of(Role.KEEPS_APART).name)
            return self.explain.too_near(case, pieces)
        return self._judge(taken, replace(case, plugs=plugs))

    def _judge(self, taken: Chosen, case: Case) -> FoundPlan | Conflict:
        judgements = judge_case(case)
        lacking = tuple(j for j in judgements if j.outcome not in GOOD)
        bad = [j for j in lacking if _key(j) not in self.asked]
        if bad:
            if self.near_miss is None or len(lacking) < len(self.near_miss.lacking):
                self.near_miss = NearMiss(taken, case, lacking)
            for judgement in bad:
                self._note(judgement.rule)
                self._learn(judgement, case)
            base = self.ground.under(taken)
            ways = [self.explain.judged(base, j, case.plugs) for j in bad]
            return min(ways, key=lambda c: (len(c), sorted(c)))
        costs = costs_of(self.ground, taken, case, judgements)
        return FoundPlan(taken, case, tuple(judgements), costs)

    def _learn(self, judgement: Judgement, case: Case) -> None:
        """Bar plugs that no plan can hold: on a pipe too warm, or with unfit cylinders."""
        reach = all_rules()[judgement.rule].spoils
        if reach is Reach.SITE:
            self.bound.bar(list(self.ground.plugs))
        elif reach is Reach.PIPE:
            pipe = next(p.pipe for p in case.plugs if p.id == judgement.subject.id)
            self.bound.bar([i for i, e in self.ground.plugs.items() if e.id == pipe])

    def _note(self, rule: str) -> None:
        self.hindrances[rule] = self.hindrances.get(rule, 0) + 1

    def place(self, case: Case, pieces: list[int]) -> tuple[PlacedPlug, ...] | None:
        """Give plugs on pieces where they pass the rules of place together; None if they can't."""
        marks = self.ground.settings.marks
        seats = []
        for piece in pieces:
            mark = next((m for m in marks if m.spot.piece == piece), None)
            wish = None if mark is None else mark.spot.offset
            probe = self.ground.probe(piece)
            intervals = self.ground.clear(case, piece)
            seats.append([seat_of(case, probe, i, wish) for i in intervals])
        for chosen in product(*seats):
            offsets = seat(case, chosen)
            if offsets is not None:
                return self._named(case, chosen, offsets)
        return None

    def _named(
        self, case: Case, seats: tuple[Seat, ...], offsets: tuple[float, ...]
    ) -> tuple[PlacedPlug, ...]:
        """Name the plugs: by the mark on the same pipe where there is one, else F1, F2."""
        marks = {m.spot.piece: m.id for m in self.ground.settings.marks}
        used = {marks[s.piece] for s in seats if s.piece in marks}
        spare = (f"F{n}" for n in count(1) if f"F{n}" not in used)
        plugs, own = [], {}
        for place, offset in zip(seats, offsets, strict=True):
            name = marks.pop(place.piece) if place.piece in marks else next(spare)
            plug = self.ground.probe(place.piece, offset, name)
            start = plug.station - offset
            own[plug.id] = (start + place.interval[0], start + place.interval[1])
            plugs.append(plug)
        there = replace(case, plugs=tuple(sorted(plugs, key=lambda p: p.id)))
        readings = read_together(there, own)
        spots = ((p, readings[p.id].value) for p in there.plugs)
        return tuple(case.placed(p, case.network.spot(p.pipe, at)) for p, at in spots)


def find_plans(
    case: Case,
    *,
    top: int = 5,
    time_limit: float = 30.0,
    watch: Watch | None = None,
) -> Found:
    """Find the best plans for the work of a case.

    top: how many plans. time_limit: s. watch: is told how far the search is; a KeyboardInterrupt
    ends the search with the best so far.
    """
    search, found, end = Search(case), list[FoundPlan](), time.monotonic() + time_limit
    cut_short = False
    try:
        for plan in search.plans():
            if plan is not None and not _is_like(plan, found):
                found.append(plan)
            if watch is not None:
                watch(_progress(search, found))
            # One that shows what to settle is enough; none passes before that.
            if len(found) >= top or (found and found[-1].unsettled):
                break
            if time.monotonic() > end:
                cut_short = search.least < math.inf
                break
    except KeyboardInterrupt:
        cut_short = True
    return _answer(search, found, top, cut_short=cut_short)


def _asked_of_sketch(case: Case) -> dict[tuple[str, Subject, str], Judgement]:
    """Give what does not hold of the sketch as it is stated, whatever is closed or frozen."""
    rules = all_rules()
    return {
        _key(j): j for j in judge_case(case) if rules[j.rule].as_stated and j.outcome not in GOOD
    }


def _key(judgement: Judgement) -> tuple[str, Subject, str]:
    return judgement.rule, judgement.subject, judgement.reason


def _progress(search: Search, found: list[FoundPlan]) -> Progress:
    ready = [*found, *search.waiting[:1]]
    best = ready[0].points if ready else math.inf
    bound = found[0].points if found else search.least
    return Progress(search.tried, len(search.passed), bound, best)


def _answer(search: Search, found: list[FoundPlan], top: int, *, cut_short: bool) -> Found:
    bound = found[0].points if found else search.least
    proven = bool(found)
    for plan in search.waiting if cut_short else ():
        if len(found) < top and not _is_like(plan, found):
            found.append(plan)
    near_miss = search.near_miss
    unsettled = [plan for plan in found if plan.unsettled]
    found = [plan for plan in found if not plan.unsettled]
    if unsettled and not found:
        first = unsettled[0]
        near_miss, cut_short = NearMiss(first.elements, first.case, first.unsettled), False
    if found:
        status = Status.OPTIMAL if proven else Status.BEST_FOUND
    else:
        status = Status.NONE_FOUND if cut_short else Status.NO_PLAN
    told = dict(sorted(search.hindrances.items()))
    return Found(status, not cut_short, tuple(found), bound, search.tried, told, near_miss)


def _is_like(plan: FoundPlan, others: list[FoundPlan]) -> bool:
    """Tell whether a plan does the same as another and freezes in the same pipes."""
    return any(_gist(plan) == _gist(other) for other in others)


def _gist(plan: FoundPlan) -> tuple[frozenset[tuple[str, str]], tuple[str, ...]]:
    """Give what makes a plan another one: not which of its outlets serves as the bleed."""
    actions = frozenset(
        ("outlet" if e.kind in OUTLET_KINDS else str(e.kind), e.id)
        for e in plan.elements
        if e.kind is not Kind.PLUG
    )
    pipes = tuple(sorted(e.id for e in plan.elements if e.kind is Kind.PLUG))
    return actions, pipes
