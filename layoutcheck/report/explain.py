"""Explain the rules: each rule's manual, read from the rule itself."""

from __future__ import annotations

import inspect
import re

from layoutcheck.report.manuals import FigureManual, ManualPart, Manuals, RuleManual
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import MEASURING
from layoutcheck.rules.pack import Figure, Pack
from layoutcheck.rules.registry import all_rules, default_pack, figures

# The headed parts of a rule's docstring, in their order.
HEADINGS = ("Reason", "Figure", "Source", "Does not apply", "Undecided", "Does not see")


class UnknownRule(KeyError):
    """Raised when a rule is asked for that there is not. known: the names there are."""

    def __init__(self, name: str) -> None:
        """Keep the name asked for and those there are."""
        super().__init__(name)
        self.name = name
        self.known = tuple(all_rules())


def rule_manuals(*, pack: Pack | None = None) -> list[RuleManual]:
    """Give the manual of every rule, in the order of names.

    pack: the figures in force; the built-in ones if None.
    """
    return [_manual(rule, pack or default_pack()) for rule in all_rules().values()]


def rule_manual(name: str, *, pack: Pack | None = None) -> RuleManual:
    """Give the manual of one rule.

    pack: the figures in force; the built-in ones if None. Raises UnknownRule.
    """
    if name not in all_rules():
        raise UnknownRule(name)
    return _manual(all_rules()[name], pack or default_pack())


def measuring_manual(*, pack: Pack | None = None) -> tuple[FigureManual, ...]:
    """Give the figures that belong to no single rule: how every distance is measured."""
    in_force = pack or default_pack()
    return tuple(_figure(MEASURING, figure, in_force) for figure in figures()[MEASURING])


def manuals(*, pack: Pack | None = None) -> Manuals:
    """Give all manuals. pack: the figures in force; the built-in ones if None."""
    rules, measuring = tuple(rule_manuals(pack=pack)), measuring_manual(pack=pack)
    return Manuals(rules=rules, measuring=measuring)


def _manual(rule: Rule, pack: Pack) -> RuleManual:
    summary, parts = _read_docstring(type(rule))
    return RuleManual(
        name=rule.name,
        severity=rule.severity,
        gravity=rule.gravity,
        gravity_reason=rule.gravity_reason,
        waivable=rule.waivable,
        summary=summary,
        reason=rule.reason,
        source=rule.source,
        parts=parts,
        figures=tuple(_figure(rule.name, figure, pack) for figure in rule.figures),
    )


def _figure(rule: str, figure: Figure, pack: Pack) -> FigureManual:
    return FigureManual(
        key=figure.key,
        built_in=str(figure.built_in),
        in_force=pack.written[rule, figure.key],
        value=pack.values[rule, figure.key],
        unit=figure.dimension.value,
        tighter=figure.tighter,
        choices=figure.choices,
        source=figure.source,
        meaning=figure.meaning,
    )


def _read_docstring(rule: type[Rule]) -> tuple[str, tuple[ManualPart, ...]]:
    """Split a rule's docstring into its first line and its headed parts."""
    summary, _, rest = (inspect.getdoc(rule) or "").partition("\n\n")
    headed = re.split(rf"^({'|'.join(HEADINGS)}): ", rest, flags=re.MULTILINE)
    parts = tuple(
        ManualPart(heading=heading, text=" ".join(text.split()))
        for heading, text in zip(headed[1::2], headed[2::2], strict=True)
    )
    return " ".join(summary.split()), parts
