"""jacket-clearance: free space round the pipe for the jacket and for hands."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable

import numpy as np

from layoutcheck.network.clearance import (
    Crowded,
    crowded_stretches,
    free_space_at,
    is_drawn_plan,
)
from layoutcheck.network.jacket import wholly_on
from layoutcheck.network.stretches import TOLERANCE, Interval, Stretches, complement
from layoutcheck.rules.base import COMMON_PRACTICE, PlacingRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Blank, Cure, RestsOn
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.outcome import Amount, Dimension, Gravity, Judgement, Outcome, metres
from layoutcheck.rules.pack import Figure, Tighter


class JacketClearance(PlacingRule):
    """There is free space round the pipe for the jacket and for hands.

    Reason: A jacket that can not be fitted all round, or reached while freezing, is not kept full.
    Figure: 6 in from the pipe's outside, all round and along the whole jacket.
    Source: common practice, no published source.
    Does not apply: Never; every plug is judged.
    Undecided: Where no free space is stated for a pipe under the jacket or for the site, and the
        drawing is no scaled plan with obstructions to measure against.
    Does not see: Obstructions that are not in the document, and whether a person can get there.
        In section an obstruction is taken as a box: near its edges that is the safe side.
    """

    name = "jacket-clearance"
    cures = frozenset({Cure.MOVE})
    rests_on = RestsOn.PIPE
    needs = frozenset({Blank.CLEAR_SPACE})
    gravity = Gravity.DELAY
    gravity_reason = "A jacket that is not kept full freezes late or never"
    reason = "A jacket that can not be fitted and reached all round is not kept full."
    figures = (
        Figure(
            key="free_space",
            built_in="6 in",
            dimension=Dimension.LENGTH,
            tighter=Tighter.MORE,
            source=COMMON_PRACTICE,
            meaning="Free space from the pipe's outside, for the jacket and for hands.",
        ),
    )

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Compare the free space, measured on a plan or as stated, with what is asked."""
        required = case.pack.number(self.name, "free_space")
        known, unknown = self._seen(case, plug)
        space, what = min(known, default=(np.inf, ""))
        tight = space < required - TOLERANCE
        if unknown and not tight:
            return self.says(
                plug_subject(plug),
                Outcome.UNDECIDED,
                "not stated",
                "The free space round this pipe is not stated.",
                required=metres(required),
                missing=tuple(
                    Fact(f"free space round pipe {p} at plug {plug.id}", "site.clear_space")
                    for p in unknown
                ),
                todo="Look at the place, and state the free space.",
            )
        finite = np.isfinite(space)
        shown, limit = case.lengths(max(space, 0.0) if finite else required, required)
        says = f"{shown} free {what}; at least {limit} is needed." if finite else f"Clear {what}."
        return self.says(
            plug_subject(plug),
            Outcome.BROKEN if tight else Outcome.HOLDS,
            "too little space" if tight else "space enough",
            says,
            measured=Amount(max(space, 0.0), Dimension.LENGTH) if finite else None,
            required=metres(required),
            todo="Move the plug to where the jacket can be fitted and reached." if tight else "",
        )

    def _seen(self, case: Case, plug: PlacedPlug) -> tuple[list[tuple[float, str]], list[str]]:
        """Give each free space known along the jacket (m) with what it is to, and unknown pipes."""
        known: list[tuple[float, str]] = []
        unknown: set[str] = set()
        for piece, (start, end) in case.under(plug):
            if case.network.pipe_of[piece] < 0:
                continue
            pipe = case.network.pieces[piece].element
            stated = stated_space(case, pipe)
            if stated is not None:
                known.append((stated, f"as stated for pipe {pipe}"))
            if _measurable(case) and _drawn(case)[piece]:
                near = free_space_at(case.network, piece, start, end)
                far = (np.inf, "of every obstruction on the plan")
                known.append(far if near is None else (near[0], f"to {near[1]}"))
            elif stated is None:
                unknown.add(pipe)
        return known, sorted(unknown)

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow what keeps the whole jacket out of crowded stretches, and of pipe not looked at."""
        required = case.pack.number(self.name, "free_space")
        stated, drawn = _stated(case), _drawn(case) & _measurable(case)
        if np.isnan(stated).all() and not drawn.any():
            # What is said of no pipe at all can not steer a plug; the finding stays undecided.
            return Stretches.everywhere(case.network.length)
        fit = np.where(np.isnan(stated), drawn, stated >= required - TOLERANCE)
        crowded = _crowded(case, required) if _measurable(case) else []
        pipes, clear = case.pipes_of_pieces, _clear_of(case, crowded, fit)
        return wholly_on(case.worlds.all_pipe, clear, plug.jacket / 2, asked=pipes).only(fit)

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what the places allowed depend on."""
        return plug.jacket


def _stated(case: Case) -> np.ndarray:
    """Give the free space (m) stated for each piece of pipe; nan where nothing is."""
    return case.worlds.once("stated space", lambda: _find_stated(case))


def _find_stated(case: Case) -> np.ndarray:
    general = case.layout.site.clear_space
    own = (p.clear_space for p in case.network.pipes.values())
    spaces = np.array([general if s is None else s for s in own], dtype=float)
    return case.network.of_pipes(spaces, np.nan)


def _drawn(case: Case) -> np.ndarray:
    """Tell which pieces are of pipes that are drawn (a boolean array)."""
    return case.worlds.once("drawn pieces", lambda: _find_drawn(case))


def _find_drawn(case: Case) -> np.ndarray:
    at = {j.id for j in case.layout.junctions if j.at is not None}
    pipes = case.network.pipes.values()
    return case.network.of_pipes([p.from_ in at and p.to in at for p in pipes], elsewhere=False)


def stated_space(case: Case, pipe_id: str) -> float | None:
    """Give the free space (m) stated for a pipe, else for the site."""
    own = case.network.pipes[pipe_id].clear_space
    return own if own is not None else case.layout.site.clear_space


def _measurable(case: Case) -> bool:
    return is_drawn_plan(case.layout) and bool(case.layout.site.obstructions)


def _crowded(case: Case, required: float) -> list[Crowded]:
    """Find what is too near obstructions, once for all plugs."""
    key = ("crowded", required)
    return case.worlds.once(key, lambda: crowded_stretches(case.network, required))


def _clear_of(case: Case, crowded: list[Crowded], fit: np.ndarray) -> Stretches:
    """Give every single point that no obstruction crowds, on the pieces that may be used at all."""
    taken: dict[int, list[Interval]] = defaultdict(list)
    for item in crowded:
        taken[item.piece].append((item.start, item.end))
    length = case.network.length
    split = {
        piece: tuple(complement(tuple(sorted(spans)), float(length[piece])))
        for piece, spans in taken.items()
        if fit[piece]
    }
    return Stretches(*_whole(length, fit), split)


def _whole(length: np.ndarray, fit: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return np.where(fit, 0.0, np.inf), np.where(fit, length, -np.inf)
