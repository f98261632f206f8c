"""Find what is installed and needed: from layoutcheck outward, by what each package asks for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import Distribution, distribution, distributions, entry_points

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from layoutcheck.parts.inside import inside_of
from layoutcheck.parts.licences import licence_of
from layoutcheck.parts.model import Part

LIBRARY = "layoutcheck"
# Needed to change layoutcheck or to test it, not to run it.
FOR_DEVELOPERS = frozenset({"test", "dev"})


class UnknownExtra(ValueError):
    """Raised for an extra that layoutcheck does not have. known: those it has."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        """Keep the name asked for and the names there are."""
        self.name, self.known = name, tuple(known)
        super().__init__(name)


@dataclass(frozen=True, slots=True)
class Installation:
    """What is installed.

    Attributes:
        extras: the extras of layoutcheck that are counted in, sorted.
        parts: every package, sorted by name.
        missing: names of packages that are asked for and not installed, sorted.
    """

    extras: tuple[str, ...]
    parts: tuple[Part, ...]
    missing: tuple[str, ...]


def installation(extras: Sequence[str] | None = None) -> Installation:
    """Gather the parts of this installation, with the service where it is installed.

    Parameters:
        extras: extras of layoutcheck to count in. None: those that are installed whole, without
            the ones that only developers need.

    Returns:
        The parts and what is missing.

    Raises:
        UnknownExtra: layoutcheck has no such extra.
    """
    library = distribution(LIBRARY)
    known = sorted(library.metadata.get_all("Provides-Extra") or [])
    for name in extras or ():
        if name not in known:
            raise UnknownExtra(name, known)
    there = _there()
    chosen = tuple(sorted(set(extras))) if extras is not None else _installed_extras(known, there)
    roots = [(LIBRARY, chosen), *((name, ()) for name in _packages_with_commands())]
    found, missing = _closure(roots, there)
    return Installation(chosen, tuple(_part(d) for d in found), missing)


def _there() -> dict[str, Distribution]:
    """Give every installed package by its plain name; the first on the path is the one used."""
    found: dict[str, Distribution] = {}
    for package in distributions():
        name = package.metadata["Name"]
        if name:  # what an uninstaller left behind may have none
            found.setdefault(canonicalize_name(name), package)
    return found


def _packages_with_commands() -> list[str]:
    """Packages that add commands to ours, as the service does, belong to the whole."""
    owners = {e.dist.name for e in entry_points(group="layoutcheck.commands") if e.dist}
    return sorted(owners - {LIBRARY})


def _installed_extras(known: Iterable[str], there: Mapping[str, Distribution]) -> tuple[str, ...]:
    return tuple(
        extra
        for extra in known
        if extra not in FOR_DEVELOPERS and not _closure([(LIBRARY, (extra,))], there)[1]
    )


def _closure(
    roots: Sequence[tuple[str, Sequence[str]]], there: Mapping[str, Distribution]
) -> tuple[list[Distribution], tuple[str, ...]]:
    found: dict[str, Distribution] = {}
    missing: set[str] = set()
    seen: set[tuple[str, frozenset[str]]] = set()
    waiting = [(canonicalize_name(name), frozenset(extras)) for name, extras in roots]
    while waiting:
        step = waiting.pop()
        if step in seen:
            continue
        seen.add(step)
        name, extras = step
        if name not in there:
            missing.add(name)
            continue
        found[name] = there[name]
        for wanted in _wanted(found[name], extras):
            waiting.append((canonicalize_name(wanted.name), frozenset(wanted.extras)))
    ordered = [found[name] for name in sorted(found)]
    return ordered, tuple(sorted(missing))


def _wanted(package: Distribution, extras: Iterable[str]) -> Iterator[Requirement]:
    """Give what a package asks for on this machine, with some of its extras."""
    asked = list(extras) or [""]
    for text in package.requires or ():
        wanted = Requirement(text)
        if wanted.marker is None or any(wanted.marker.evaluate({"extra": e}) for e in asked):
            yield wanted


def _part(package: Distribution) -> Part:
    # Every extra's packages count as needed: which extra asked for one is not told further on.
    every = package.metadata.get_all("Provides-Extra") or []
    asked = {canonicalize_name(w.name) for w in _wanted(package, [e for e in every if e not in
             FOR_DEVELOPERS])}  # fmt: skip
    return Part(
        name=package.name,
        version=package.version,
        licence=licence_of(package.name, package.metadata, _licence_files(package)),
        needs=tuple(sorted(asked - {canonicalize_name(package.name)})),
        inside=inside_of(package),
    )


def _licence_files(package: Distribution) -> dict[str, str]:
    return {
        str(file): file.read_text()
        for file in package.files or ()
        if ".dist-info" in str(file) and file.name.upper().startswith(("LICEN", "COPYING"))
    }
