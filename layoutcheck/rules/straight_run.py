"""straight-run: the jacket and a margin at each end lie on straight bare pipe."""

from __future__ import annotations

import numpy as np

from layoutcheck.document.models import Covering
from layoutcheck.network import Trust
from layoutcheck.network.cut import opened_pieces
from layoutcheck.network.model import PieceKind
from layoutcheck.rules.base import COMMON_PRACTICE, SetbackRule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Blank, Cure, RestsOn, Role
from layoutcheck.rules.outcome import Dimension, Gravity
from layoutcheck.rules.pack import Figure, Tighter


class StraightRun(SetbackRule):
    """The jacket and a margin at each end lie on straight bare pipe.

    Reason: A jacket closes only round straight bare pipe. Fittings, valves and defective welds
        do not bear the cold and the push of the ice as pipe does, and a bend holds a plug badly.
    Figure: 6 in from each end of the jacket to the nearest fitting, valve, bend, change of pipe,
        connection, defective weld, or the opened work.
    Source: common practice, no published source.
    Does not apply: Never; every plug is judged.
    Undecided: Never; what the document leaves out is not seen, and the report says so.
    Does not see: Bends and fittings that are not in the document. A corner of a drawn path counts
        as a bend. Plain joints between two like pipes in line do not interrupt. Insulation counts
        as bare pipe since it is stripped; a covering stated as fixed does not.
    """

    name = "straight-run"
    cures = frozenset({Cure.MOVE})
    rests_on = RestsOn.PIPE
    role = Role.STRAIGHT_PIPE
    from_jacket_end = True
    of_place = True
    needs = frozenset({Blank.LENGTH, Blank.PLUGS})
    gravity = Gravity.DAMAGE
    gravity_reason = "Frozen fittings, valves and bad welds crack"
    reason = "A jacket closes only round straight bare pipe."
    feature = "interruption of the straight pipe"
    figures = (
        Figure(
            key="margin",
            built_in="6 in",
            dimension=Dimension.LENGTH,
            tighter=Tighter.MORE,
            source=COMMON_PRACTICE,
            meaning="Straight bare pipe beyond each end of the jacket.",
        ),
    )

    def reach(self, case: Case, plug: PlacedPlug) -> float:
        """Measure from the jacket's end, whatever the pack's basis: the jacket itself must fit."""
        del case
        return plug.jacket / 2

    def feature_nodes(self, case: Case, trust: Trust) -> np.ndarray:
        """Give the nodes at which the pipe is not straight and bare."""
        del trust
        network = case.network
        met = np.zeros(network.node_count, dtype=bool)
        met[network.nodes_of(_barred(case))] = True
        met[network.interruptions.nodes] = True
        return np.flatnonzero(met)

    def feature_pieces(self, case: Case, trust: Trust) -> np.ndarray | None:
        """Give the pieces that are opened, covered for good, or the body of something else."""
        del trust
        return _barred(case)

    def required(self, case: Case, inches: np.ndarray) -> np.ndarray:
        """Give the margin (m), the same for each size."""
        return np.full_like(inches, case.pack.number(self.name, "margin"), dtype=float)

    def explain(self, case: Case, plug: PlacedPlug, node: int | None, trust: Trust) -> str:
        """Say what interrupts the pipe at a node."""
        del trust
        if node is None:
            body = case.network.solid.get(plug.spot.piece)
            return body or f"pipe {plug.pipe}, which is opened or covered here"
        what = case.network.interruptions.get(node, ("a covering that can not be stripped",))
        return what[0]


def _barred(case: Case) -> np.ndarray:
    """Tell which pieces no jacket may lie on, worked out once for a network."""
    return case.worlds.once("straight-run barred", lambda: _find_barred(case))


def _find_barred(case: Case) -> np.ndarray:
    network = case.network
    barred = network.kind != PieceKind.PIPE
    barred[list(network.solid)] = True
    barred[list(opened_pieces(network))] = True
    for name, pipe in network.pipes.items():
        if pipe.covering is Covering.FIXED:
            barred[list(network.pieces_of[name])] = True
    return np.asarray(barred)
