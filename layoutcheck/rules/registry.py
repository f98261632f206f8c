"""The rules there are, found in this package: one class in each rule's file."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType, ModuleType

import layoutcheck.rules as package
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import MEASURING
from layoutcheck.rules.declared import Role
from layoutcheck.rules.measuring import BASIS
from layoutcheck.rules.pack import Figure, Pack, built_in_pack, read_pack
from layoutcheck.rules.planning import FIGURES as PLANNING_FIGURES
from layoutcheck.rules.planning import PLANNING


@cache
def all_rules() -> Mapping[str, Rule]:
    """Give every rule by its name, in the order of names.

    A rule is found by being there: adding one touches its own file and its test, nothing else.
    """
    found: dict[str, Rule] = {}
    for info in pkgutil.iter_modules(package.__path__):
        module = importlib.import_module(f"{package.__name__}.{info.name}")
        for rule in _rules_in(module):
            assert rule.name not in found, f"two rules are named {rule.name}"
            found[rule.name] = rule
    return MappingProxyType({name: found[name] for name in sorted(found)})


@cache
def rule_of(role: Role) -> Rule:
    """Give the one rule that plays a part."""
    (found,) = (rule for rule in all_rules().values() if rule.role is role)
    return found


def _rules_in(module: ModuleType) -> list[Rule]:
    classes = (
        c
        for _, c in inspect.getmembers(module, inspect.isclass)
        if issubclass(c, Rule) and c.__module__ == module.__name__ and hasattr(c, "name")
    )
    return [c() for c in classes if not inspect.isabstract(c)]


@cache
def figures() -> Mapping[str, tuple[Figure, ...]]:
    """Give the figures that can be set in a pack, by rule."""
    own = {name: rule.figures for name, rule in all_rules().items() if rule.figures}
    return MappingProxyType({MEASURING: (BASIS,), PLANNING: PLANNING_FIGURES, **own})


@cache
def default_pack() -> Pack:
    """Give the pack of built-in figures."""
    return built_in_pack(figures())


def company_pack(text: str) -> Pack:
    """Read a company's pack (TOML) over the built-in figures; raises LayoutFaults."""
    return read_pack(text, figures())
