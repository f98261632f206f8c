"""Rule packs: the figures that rules use, as a company may set them.

A pack is a TOML file. It names itself, and under [figures.<rule>] gives any figure that a rule
declares. What it leaves out keeps the built-in figure. A figure looser than the built-in one is
allowed, and every result then says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from layoutcheck.document.digest import digest_of
from layoutcheck.document.faults import (
    Fault,
    LayoutFaults,
    at_most,
    pointer_to,
    shown,
)
from layoutcheck.document.tables import TextFault, read_toml
from layoutcheck.quantities import QuantityError
from layoutcheck.rules.amounts import PARSERS
from layoutcheck.rules.outcome import Dimension
from layoutcheck.seen import has_unseen


class Tighter(StrEnum):
    """Which way of changing a figure makes a rule stricter."""

    MORE = "more"
    LESS = "less"
    NEITHER = "neither"


@dataclass(frozen=True)
class Figure:
    """A figure that a rule declares.

    key: its name in a pack. built_in: as written in a pack, with its unit. source: the published
    source, or 'common practice, no published source'. choices: allowed words, for a word.
    """

    key: str
    built_in: str | int | float
    dimension: Dimension
    tighter: Tighter
    source: str
    meaning: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Loosened:
    """A figure that a pack sets looser than the built-in one."""

    rule: str
    figure: str
    built_in: str
    set_to: str


@dataclass(frozen=True)
class Pack:
    """The figures in force. values: (rule, key) -> SI float, or a word."""

    name: str
    digest: str
    values: Mapping[tuple[str, str], float | str]
    loosened: tuple[Loosened, ...] = ()
    written: Mapping[tuple[str, str], str] = field(default_factory=dict)

    def number(self, rule: str, key: str) -> float:
        """Give a figure in SI."""
        value = self.values[rule, key]
        assert not isinstance(value, str)
        return value

    def word(self, rule: str, key: str) -> str:
        """Give a figure that is a word."""
        return str(self.values[rule, key])


def read_figure(figure: Figure, written: object) -> float | str:
    """Turn a written figure into SI, or raise QuantityError."""
    if figure.choices:
        if written not in figure.choices:
            listed = ", ".join(figure.choices)
            raise QuantityError(
                shown(written), f"must be one of {listed}", f'"{figure.choices[0]}"'
            )
        return str(written)
    if figure.dimension in PARSERS:
        return PARSERS[figure.dimension](written)
    sound = isinstance(written, int | float) and not isinstance(written, bool)
    if not sound or not 0 <= written < 1e12:  # type: ignore[operator] # before any conversion
        raise QuantityError(
            shown(written), "must be a plain number, not negative", str(figure.built_in)
        )
    return float(written) + 0.0  # type: ignore[arg-type] # and never minus zero


def built_in_pack(figures: Mapping[str, tuple[Figure, ...]]) -> Pack:
    """Make the pack of built-in figures from what the rules declare."""
    text = pack_text(figures)
    values = {(r, f.key): read_figure(f, f.built_in) for r, fs in figures.items() for f in fs}
    written = {(r, f.key): str(f.built_in) for r, fs in figures.items() for f in fs}
    return Pack(BUILT_IN, digest_of(text), values, (), written)


BUILT_IN = "built-in"


def pack_text(figures: Mapping[str, tuple[Figure, ...]]) -> str:
    """Write the built-in figures as a pack file that a company can copy and change."""
    lines = [
        "# The built-in figures of layoutcheck. Copy this file, give it a name of your own,",
        "# and change what your company wants otherwise: layoutcheck check LAYOUT --pack FILE",
        "# A figure that you leave out keeps its built-in value. A looser one is reported in",
        "# every result.",
        "",
        f'name = "{BUILT_IN}"',
    ]
    for rule in sorted(figures):
        if not figures[rule]:
            continue
        lines += ["", f"[figures.{rule}]"]
        for figure in figures[rule]:
            value = figure.built_in
            text = f'"{value}"' if isinstance(value, str) else repr(value)
            lines += [
                f"# {figure.meaning}",
                f"# Source: {figure.source}.",
                f"{figure.key} = {text}",
            ]
    return "\n".join(lines) + "\n"


def read_pack(text: str, figures: Mapping[str, tuple[Figure, ...]]) -> Pack:
    """Read a company's pack over the built-in figures.

    Raises LayoutFaults with every fault, each with its place in the pack.
    """
    base = built_in_pack(figures)
    try:
        data = read_toml(text)
    except TextFault as error:
        fault = Fault(
            pointer="",
            found="the pack as a whole",
            problem=f"the pack {error}",
            example='name = "our company"\n[figures.plug-spacing]\nper_inch = "14 in"',
        )
        raise LayoutFaults([fault]) from None
    faults: list[Fault] = []
    values, written = dict(base.values), dict(base.written)
    loosened: list[Loosened] = []
    for rule, key, figure, value in _given(data, figures, faults):
        try:
            number = read_figure(figure, value)
        except QuantityError as error:
            pointer = pointer_to("figures", rule, key)
            faults.append(_fault(pointer, value, error.problem, error.example))
            continue
        if _looser(figure, number, base.values[rule, key]):
            loosened.append(Loosened(rule, key, str(figure.built_in), str(value)))
        values[rule, key], written[rule, key] = number, str(value)
    name = data.get("name")
    if not isinstance(name, str) or not name.strip() or len(name) > 100 or has_unseen(name):
        faults.append(_fault("/name", name, "a pack names itself", 'name = "our company"'))
    elif name.strip() == BUILT_IN and values != base.values:
        problem = "is the name of the figures as built in, and these differ; give another name"
        faults.append(_fault("/name", name, problem, 'name = "our company"'))
    if faults:
        raise LayoutFaults(at_most(faults))
    ordered = tuple(sorted(loosened, key=lambda x: (x.rule, x.figure)))
    return Pack(str(name), digest_of(text), values, ordered, written)


def _given(
    data: Mapping[str, Any], figures: Mapping[str, tuple[Figure, ...]], faults: list[Fault]
) -> list[tuple[str, str, Figure, object]]:
    """Give each known figure of a pack; what is not known becomes a fault."""
    for field_name in sorted(set(data) - {"name", "figures"}):
        problem = "is not a field of a pack"
        faults.append(_fault(pointer_to(field_name), data[field_name], problem, "[figures.…]"))
    tables = data.get("figures", {})
    if not isinstance(tables, dict):
        faults.append(_fault("/figures", tables, "must be tables", "[figures.plug-spacing]"))
        return []
    given = []
    for rule, table in tables.items():
        if rule not in figures or not isinstance(table, dict):
            problem = "is not a rule with figures"
            faults.append(_fault(pointer_to("figures", rule), rule, problem, "plug-spacing"))
            continue
        known = {f.key: f for f in figures[rule]}
        for key, value in table.items():
            if key not in known:
                problem = f"is not a figure of this rule; it has {', '.join(known) or 'none'}"
                faults.append(
                    _fault(pointer_to("figures", rule, key), key, problem, "leave it out")
                )
                continue
            given.append((rule, key, known[key], value))
    return given


def _fault(pointer: str, found: object, problem: str, example: str) -> Fault:
    return Fault(pointer=pointer, found=shown(found), problem=problem, example=example)


def _looser(figure: Figure, value: float | str, built_in: float | str) -> bool:
    if figure.tighter is Tighter.NEITHER:
        return False
    if isinstance(value, str) or isinstance(built_in, str):
        # A word's choices are listed from the strictest to the loosest.
        return figure.choices.index(str(value)) > figure.choices.index(str(built_in))
    return value < built_in if figure.tighter is Tighter.MORE else value > built_in
