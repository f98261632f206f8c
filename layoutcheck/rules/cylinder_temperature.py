"""cylinder-temperature: liquid CO2 cylinders are cool enough to hold liquid, and the right kind."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from layoutcheck.document.models import Stock
from layoutcheck.quantities import show_temperature, show_temperature_pair
from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.rules.base import COMMON_PRACTICE, Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.declared import Blank, Cure, Reach, Role
from layoutcheck.rules.estimates import LIQUID
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.outcome import Amount, Dimension, Gravity, Judgement, Outcome, Subject
from layoutcheck.rules.pack import Figure, Tighter

SUBJECT = Subject("stock", "carbon dioxide")


class CylinderTemperature(Rule):
    """CO2 cylinders are below 88 degF, with a dip tube, high-pressure, and upright.

    Reason: Above its critical point CO2 is no liquid, and makes next to no snow; a cylinder with
        no dip tube, or lying down, gives gas instead of liquid.
    Figure: 88 degF (31.1 degC); the critical point of CO2 is 87.8 degF (30.98 degC).
    Source: Critical point: Span and Wagner equation of state as computed by CoolProp. Dip tube,
        upright and high pressure: common practice, no published source.
    Does not apply: Where no plug is frozen with CO2.
    Undecided: Where the storage temperature, the dip tube, the pressure or the position is not
        stated, or no CO2 on hand is stated at all.
    Does not see: Cylinders that warm up in the sun after the check.
    """

    name = "cylinder-temperature"
    cures = frozenset({Cure.WAIT, Cure.BRING})
    spoils = Reach.SITE
    role = Role.STORED_COLD
    needs = frozenset({Blank.STOCK})
    gravity = Gravity.DELAY
    gravity_reason = "Warm or low-pressure cylinders give no liquid to freeze with"
    reason = "Above its critical point CO2 is not liquid and makes almost no dry ice."
    source = "critical point of CO2: Span and Wagner equation of state (CoolProp)"
    figures = (
        Figure(
            key="warmest",
            built_in="88 degF",
            dimension=Dimension.TEMPERATURE,
            tighter=Tighter.LESS,
            source=COMMON_PRACTICE + "; the critical point of CO2 is 87.8 degF",
            meaning="Storage temperature that CO2 cylinders stay below.",
        ),
    )

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge the CO2 on hand as a whole."""
        if all(p.coolant is not CoolantName.CARBON_DIOXIDE for p in case.plugs):
            sentence = "No plug is frozen with CO2."
            yield self.says(SUBJECT, Outcome.DOES_NOT_APPLY, "no CO2", sentence)
            return
        stocks = [s for s in case.layout.site.stock if s.coolant is CoolantName.CARBON_DIOXIDE]
        yield self._judge_stocks(case, stocks)

    def _judge_stocks(self, case: Case, stocks: list[Stock]) -> Judgement:
        limit = case.pack.number(self.name, "warmest")
        wrong = dict(w for s in stocks for w in self._wrong(s, case, limit))
        numbers = {id(s): n for n, s in enumerate(case.layout.site.stock)}
        missing = [m for s in stocks for m in _missing(s, numbers[id(s)])] or (
            [] if stocks else [Fact("the carbon dioxide on hand", "site.stock")]
        )
        warmest = max((s.storage_temperature or 0.0 for s in stocks), default=0.0)
        measured = Amount(warmest, Dimension.TEMPERATURE) if warmest else None
        required = Amount(limit, Dimension.TEMPERATURE)
        if wrong:
            sentence = f"CO2 cylinders: {'; '.join(wrong.values())}."
            outcome, reason = Outcome.BROKEN, ", ".join(sorted(wrong))
        elif missing:
            sentence = f"CO2 cylinders: not stated: {', '.join(dict.fromkeys(missing))}."
            outcome, reason = Outcome.UNDECIDED, "not stated"
        else:
            sentence = "CO2 cylinders are cool, high-pressure, with dip tube, upright."
            outcome, reason = Outcome.HOLDS, "fit cylinders"
        return self.says(
            SUBJECT,
            outcome,
            reason,
            sentence,
            measured=measured,
            required=required,
            gives=(LIQUID,) if wrong else (),
            missing=tuple(dict.fromkeys(missing)) if outcome is Outcome.UNDECIDED else (),
            todo=_todo(wrong, missing, show_temperature(limit, case.layout.units)),
        )

    def _wrong(self, stock: Stock, case: Case, limit: float) -> Iterator[tuple[str, str]]:
        """Give what is wrong with a stock: a code for each, and its words."""
        stored = stock.storage_temperature
        if stored is not None and stored >= limit - 1e-3:
            shown, most = show_temperature_pair(stored, limit, case.layout.units)
            yield "too warm", f"stored at {shown}, not below {most}"
        if stock.dip_tube is False:
            yield "no dip tube", "no dip tube"
        if stock.high_pressure is False:
            yield "low pressure", "not high-pressure cylinders"
        if stock.upright is False:
            yield "not upright", "not upright"


def _todo(wrong: Iterable[str], missing: Iterable[str], limit: str) -> str:
    """Say what to do about the cylinders."""
    doing = {
        "too warm": f"bring the cylinders below {limit}",
        "no dip tube": "use cylinders with a dip tube",
        "low pressure": "use high-pressure cylinders",
        "not upright": "stand the cylinders upright",
    }
    todo = "; ".join(doing[w] for w in wrong)
    if todo:
        return f"{todo[0].upper()}{todo[1:]} before any is opened."
    return "Look at the cylinders, and state it." if missing else ""


def _missing(stock: Stock, number: int) -> list[Fact]:
    """Give what is not stated of a stock. number: its place in the list of the site."""
    asked = {
        "storage_temperature": "storage temperature of the cylinders",
        "dip_tube": "whether they have a dip tube",
        "high_pressure": "whether they are high-pressure cylinders",
        "upright": "whether they stand upright",
    }
    return [
        Fact(words, f"site.stock.{number}.{field}")
        for field, words in asked.items()
        if getattr(stock, field) is None
    ]
