"""What a rule is: a documented class in a file of its own.

A rule's docstring is its manual. It has these headed parts, in this order, and a test proves it:
Reason, Figure, Source, Does not apply, Undecided, Does not see.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Hashable, Iterator
from typing import ClassVar

import numpy as np

from layoutcheck.document.models import Asked
from layoutcheck.network import Field, Trust
from layoutcheck.network.stretches import TOLERANCE, Interval, Stretches
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import ALL_CURES, Blank, Cure, Reach, RestsOn, Role
from layoutcheck.rules.doubts import doubts_on_way
from layoutcheck.rules.outcome import (
    Gravity,
    Judgement,
    Outcome,
    Severity,
    Subject,
    metres,
)
from layoutcheck.rules.pack import Figure, Tighter

COMMON_PRACTICE = "common practice, no published source"


class Rule(ABC):
    """One rule. Class attributes say what it is; judge says what it finds."""

    name: ClassVar[str]
    severity: ClassVar[Severity] = Severity.VIOLATION
    # What comes of it on site if the rule is not kept, and in one short sentence how.
    gravity: ClassVar[Gravity]
    gravity_reason: ClassVar[str]
    reason: ClassVar[str]
    source: ClassVar[str] = COMMON_PRACTICE
    waivable: ClassVar[bool] = True
    # An estimate of a plug's freeze is made for still water in a place that is fit for one: whether
    # it is of no use while this rule is broken there.
    voids_estimate: ClassVar[bool] = False
    figures: ClassVar[tuple[Figure, ...]] = ()
    # True where a pipe that is longer or narrower than feared can only make a subject better off.
    longer_is_safer: ClassVar[bool] = False

    # The kinds of change that could mend what it finds; none: only what is stated can be corrected.
    cures: ClassVar[frozenset[Cure]] = ALL_CURES
    # What its findings rest on, and how far each spoils places for plugs.
    rests_on: ClassVar[RestsOn] = RestsOn.ANYTHING
    spoils: ClassVar[Reach] = Reach.PLUG
    # The facts that a document may leave out and that it can not do without.
    needs: ClassVar[frozenset[Blank]] = frozenset()
    role: ClassVar[Role | None] = None
    # Whether it judges water and places: what is in doubt at one place says nothing of another.
    of_place: ClassVar[bool] = False
    # Whether it measures a length of pipe that is kept, and that always from the jacket's end.
    keeps_distance: ClassVar[bool] = False
    from_jacket_end: ClassVar[bool] = False

    # True where what was stated is judged, and nothing that follows from a length or a size.
    as_stated: ClassVar[bool] = False

    @property
    def safer(self) -> Tighter:
        """Say which way of what the rule measures is the safer one: that of its figure.

        Where it says nothing, a waiver covers the value that was agreed and no other.
        """
        return self.figures[0].tighter if self.figures else Tighter.NEITHER

    @abstractmethod
    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge every subject of this rule: one judgement for each."""

    def judge_about(self, case: Case, plug: PlacedPlug) -> Iterator[Judgement]:
        """Judge again, once a plug was moved, at least what does not hold of it or of the work."""
        del plug
        yield from self.judge(case)

    def asks(self, case: Case) -> Iterator[tuple[Asked, str]]:
        """Give what this rule asks about that 'meant' answers: each thing, and the word for it."""
        del case
        yield from ()

    def besides(self, case: Case) -> Hashable:
        """Say what of the other plugs a judgement of one plug depends on; as a rule nothing."""
        del case
        return None

    def says(
        self,
        subject: Subject,
        outcome: Outcome,
        reason: str,
        sentence: str,
        **rest: object,
    ) -> Judgement:
        """Make a judgement of this rule."""
        return Judgement(self.name, subject, outcome, reason, sentence, **rest)  # type: ignore[arg-type]


class PlugRule(Rule):
    """A rule that judges each plug by itself, whatever the others do."""

    @abstractmethod
    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Judge one plug where it stands."""

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each plug."""
        for plug in case.plugs:
            yield remembered(self, case, plug, self.judge_plug)

    def judge_about(self, case: Case, plug: PlacedPlug) -> Iterator[Judgement]:
        """Judge one plug where it stands."""
        yield remembered(self, case, plug, self.judge_plug)


class PlacingRule(PlugRule):
    """A rule that depends on where a plug stands, and so shuts out stretches of pipe."""

    voids_estimate = True

    # Whether what it allows a plug depends on where the other plugs stand.
    between_plugs: ClassVar[bool] = False

    @abstractmethod
    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Give every place where the plug's centre would surely hold by this rule."""

    def allows_freezing(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Give what it allows by what is so while the plug freezes; the hold may shut out more."""
        return self.allows(case, plug)

    def allows_held(self, case: Case, plug: PlacedPlug) -> tuple[Interval, ...] | None:
        """Give what the hold leaves of the plug's own piece; None where it asks nothing more."""
        del case, plug
        return None

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what of a plug the places allowed depend on, so that plugs alike share the answer.

        None: on more than the plug itself, such as where the others stand; nothing is shared.
        """
        del case, plug
        return None

    def places(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Give the places allowed, worked out once for all plugs that are alike to this rule."""
        alike = self.alike(case, plug)
        if alike is None:
            return self.allows(case, plug)
        key = ("allowed", self.name, alike)
        return case.worlds.once(key, lambda: self.allows(case, plug))

    def settles(self, case: Case, plug: PlacedPlug) -> bool:
        """Tell whether what is slow to find out, and the same all along a piece, holds too.

        Asked only where all distances allow the plug. Most rules have nothing to add.
        """
        del case, plug
        return True

    def allows_on(self, case: Case, plug: PlacedPlug, pieces: np.ndarray) -> Stretches:
        """Give the places allowed on some pieces, numbered by their place in that array."""
        return self.places(case, plug).at(pieces)


def remembered(
    rule: Rule,
    case: Case,
    plug: PlacedPlug,
    judge: Callable[[Case, PlacedPlug], Judgement],
) -> Judgement:
    """Judge a plug by a rule that looks at no other plug: once for each place it stands at."""
    key = ("judged", rule.name, plug, rule.besides(case))
    return case.worlds.remember(key, lambda: judge(case, plug))


def plug_subject(plug: PlacedPlug) -> Subject:
    """Give the subject that a plug is."""
    return Subject("plug", plug.id)


class SetbackRule(PlacingRule):
    """A rule that asks for a length of pipe between a plug and the nearest feature of a kind.

    The distance from the jacket's centre at offset s on a piece (u, v) of length L is
    min(s + D(u), L - s + D(v)), where D is the distance to the nearest feature. So the places
    that keep a distance R are one closed interval [R - D(u), L + D(v) - R] on each piece: exact,
    with nothing sampled.
    """

    feature: ClassVar[str]
    longer_is_safer = True
    keeps_distance = True

    @abstractmethod
    def feature_nodes(self, case: Case, trust: Trust) -> np.ndarray:
        """Give the nodes at which a feature stands, as far as statements are trusted."""

    def feature_pieces(self, case: Case, trust: Trust) -> np.ndarray | None:
        """Give the pieces that are a feature along their whole length; None if there are none."""
        return None

    @abstractmethod
    def required(self, case: Case, inches: np.ndarray) -> np.ndarray:
        """Give the length of pipe asked for (m) by nominal size (inches)."""

    @abstractmethod
    def explain(self, case: Case, plug: PlacedPlug, node: int | None, trust: Trust) -> str:
        """Say which feature a node is, for the finding's sentence."""

    def away(self, case: Case, plug: PlacedPlug, node: int | None, trust: Trust) -> str:
        """Say what to do about a plug that is too near the feature at a node."""
        return f"Move the plug away from {self.explain(case, plug, node, trust)}."

    def doubts(self, case: Case, plug: PlacedPlug, node: int | None) -> tuple[str, ...]:
        """Say what must be stated or proven to settle whether a node is a feature at all.

        Valves on the way to it that may or may not hold are named besides, for every rule.
        """
        return ()

    def reach(self, case: Case, plug: PlacedPlug) -> float:
        """Give how far (m) from the plug's centre the distance begins to count."""
        return case.reach(plug)

    def field(self, case: Case, trust: Trust) -> Field:
        """Give the distance to the nearest feature."""
        return case.worlds.field(self.name, trust, lambda: self.feature_nodes(case, trust))

    def measure(self, case: Case, plug: PlacedPlug, trust: Trust) -> tuple[float, tuple[int, ...]]:
        """Measure from the plug to the nearest feature (m), and the way walked."""
        inside = self.feature_pieces(case, trust)
        if inside is not None and inside[plug.spot.piece]:
            return 0.0, ()
        field = self.field(case, trust)
        centre = field.at(case.network, plug.spot)
        if not np.isfinite(centre):
            return np.inf, ()
        way = tuple(field.way(case.network, plug.spot))
        return max(0.0, centre - self.reach(case, plug)), way

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Compare the distance with what is asked, first as stated, then in the worst reading."""
        required = float(self.required(case, np.array([plug.inches]))[0])
        sure, sure_way = self.measure(case, plug, Trust.BEST)
        worst, worst_way = self.measure(case, plug, Trust.PROVEN)
        if sure < required - TOLERANCE:
            return self._short(case, plug, Outcome.BROKEN, sure, required, sure_way)
        if worst < required - TOLERANCE:
            return self._short(case, plug, Outcome.UNDECIDED, worst, required, worst_way)
        if not np.isfinite(worst):
            sentence = f"No {self.feature} connects with this plug."
            return self.says(plug_subject(plug), Outcome.HOLDS, "no feature", sentence)
        shown, limit = case.lengths(worst, required)
        name = self._name(case, plug, worst_way, Trust.PROVEN)
        sentence = f"{shown} to {name}; at least {limit} is needed."
        return self.says(
            plug_subject(plug),
            Outcome.HOLDS,
            "far enough",
            sentence,
            measured=metres(worst),
            required=metres(required),
            where=worst_way[-1] if worst_way else None,
            way=worst_way,
        )

    def _name(self, case: Case, plug: PlacedPlug, way: tuple[int, ...], trust: Trust) -> str:
        return self.explain(case, plug, way[-1] if way else None, trust)

    def _short(
        self,
        case: Case,
        plug: PlacedPlug,
        outcome: Outcome,
        measured: float,
        required: float,
        way: tuple[int, ...],
    ) -> Judgement:
        broken = outcome is Outcome.BROKEN
        trust = Trust.BEST if broken else Trust.PROVEN
        node = way[-1] if way else None
        shown, limit = case.lengths(measured, required)
        name = self._name(case, plug, way, trust)
        short = case.at_least(required - measured)
        sentence = f"{shown} to {name}: {short} short of the {limit} needed."
        doubts = (*self.doubts(case, plug, node), *doubts_on_way(case, way))
        missing = () if broken else tuple(dict.fromkeys(doubts))
        return self.says(
            plug_subject(plug),
            outcome,
            "too near" if broken else "too near if in doubt",
            sentence,
            measured=metres(measured),
            required=metres(required),
            where=node,
            way=way,
            missing=missing,
            todo=self.away(case, plug, node, trust)
            if broken
            else f"Settle what is missing, or move the plug away from {name}.",
        )

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Give the closed intervals on which the worst reading keeps the distance."""
        network = case.network
        field = self.field(case, Trust.PROVEN)
        reach = self.required(case, network.inches) + self.reach(case, plug)
        low, high = keep_away(network.ends, network.length, field.distance, reach)
        kept = Stretches.between(low, high)
        inside = self.feature_pieces(case, Trust.PROVEN)
        return kept if inside is None else kept.only(~inside)

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what the places allowed depend on: how far the jacket reaches."""
        return self.reach(case, plug)


def keep_away(
    ends: np.ndarray, length: np.ndarray, distance: np.ndarray, reach: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Give the offsets (m) on each piece that lie at least `reach` (m) from a set of nodes."""
    low = np.maximum(0.0, reach - distance[ends[:, 0]])
    high = np.minimum(length, length + distance[ends[:, 1]] - reach)
    return low, high
