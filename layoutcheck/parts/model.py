"""A part of the installation."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Inside:
    """Something that a package brings inside itself: a crate, a compiled library, a script.

    Attributes:
        name: as the package's maker calls it.
        version: or "" where it is not stated.
        licence: an SPDX expression or the maker's words; "" where it is not stated.
        purl: package URL, or "".
        optional: the maker says that it need not be there.
    """

    name: str
    version: str
    licence: str
    purl: str
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """An installed package.

    Attributes:
        name: its name in the package index.
        version: installed.
        licence: an SPDX expression where the metadata allows one, else the maker's words; "" where
            it is not stated.
        needs: names of the packages that it asks for and that are installed, sorted.
        inside: what it brings inside itself, as far as it says so.
    """

    name: str
    version: str
    licence: str
    needs: tuple[str, ...]
    inside: tuple[Inside, ...]

    @property
    def purl(self) -> str:
        """Package URL: the name under which tools look a part up."""
        return f"pkg:pypi/{self.name.lower().replace('_', '-')}@{self.version}"
