"""What plans must keep to and what they are ranked by: from the document, else from the pack."""

from __future__ import annotations

from dataclasses import dataclass

from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.planning import PLANNING, jacket_of


@dataclass(frozen=True)
class Weights:
    """What the parts of a plan cost, in points. drained is for each m3, coolant for each kg."""

    plug: float
    plug_inch: float
    off_mark: float
    valve: float
    trusted_valve: float
    outlet_action: float
    outlet_out_of_service: float
    machine: float
    drained: float
    coolant: float
    hour: float


@dataclass(frozen=True)
class Settings:
    """Hard limits, weights, and the jackets a plan uses (lengths in m)."""

    max_plugs: int | None
    trust_unproven: bool
    keep_in_service: frozenset[str]
    weights: Weights
    jacket: float | None
    pack: Pack
    coolant: CoolantName
    marks: tuple[PlacedPlug, ...]

    @classmethod
    def of(cls, case: Case) -> Settings:
        """Read them from a case's document, and what it leaves out from the pack."""
        planning, pack = case.layout.planning, case.pack
        given = planning.weights.model_dump()
        points = {
            key: pack.number(PLANNING, key) if value is None else float(value)
            for key, value in given.items()
        }
        marked = sorted(case.plugs, key=lambda p: p.id)
        coolant = planning.coolant or (marked[0].coolant if marked else CoolantName.CARBON_DIOXIDE)
        return cls(
            max_plugs=planning.max_plugs,
            trust_unproven=planning.rely_on_unproven_valves,
            keep_in_service=frozenset(planning.keep_in_service),
            weights=Weights(**points),
            jacket=planning.jacket,
            pack=pack,
            coolant=coolant,
            marks=tuple(marked),
        )

    def jacket_for(self, inches: float) -> float:
        """Give a jacket's length (m) for a nominal size (inches).

        As the document's plan asks; else the longest jacket of a mark on pipe of this size; else
        by the pack's figures.
        """
        if self.jacket is not None:
            return self.jacket
        marked = [p.jacket for p in self.marks if p.inches == inches]
        if marked:
            return max(marked)
        return jacket_of(self.pack, inches)
