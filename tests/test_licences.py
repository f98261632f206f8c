"""Nothing under the GPL may be needed by what ships: the library with every extra for users, and
the service. A standard tool makes the bill of materials (`.ci/run` does); here only the one thing
is asked that must never go wrong unnoticed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib.metadata import metadata, requires

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

FOR_USERS = ("dxf", "ifc", "inp", "print", "record", "survey", "xlsx")
FOR_DEVELOPERS = ("dev", "test")
# Of the GPL itself, not the LGPL; an 'or' leaves the choice to us, an exception lifts it.
STRONG = re.compile(r"\bA?GPL|GNU (Affero )?General Public", re.IGNORECASE)
LIFTED = re.compile(r" OR |GCC-exception")


def needed(name: str, extras: tuple[str, ...], seen: set[tuple[str, str]]) -> Iterator[str]:
    """Give a package and all that it asks for here, with extras of its own."""
    yield canonicalize_name(name)
    for text in requires(name) or ():
        wanted = Requirement(text)
        for extra in ("", *extras):
            if wanted.marker is not None and not wanted.marker.evaluate({"extra": extra}):
                continue
            step = (canonicalize_name(wanted.name), ",".join(sorted(wanted.extras)))
            if step not in seen:
                seen.add(step)
                yield from needed(wanted.name, tuple(sorted(wanted.extras)), seen)


def shipped() -> set[str]:
    return {
        *needed("layoutcheck", FOR_USERS, set()),
        *needed("layoutcheck-service", (), set()),
    }


def licences(name: str) -> list[str]:
    """Give what a package says of its licence: the expression, or the classifiers."""
    about = metadata(name)
    stated = about.get_all("License-Expression")
    if stated:
        return list(stated)
    listed = [c for c in about.get_all("Classifier") or () if c.startswith("License ::")]
    return listed or [str(x).strip().split("\n")[0] for x in about.get_all("License") or ()]


def is_strong(stated: list[str]) -> bool:
    return any(STRONG.search(s) for s in stated) and not (
        any(LIFTED.search(s) for s in stated) or any(not STRONG.search(s) for s in stated)
    )


@pytest.mark.parametrize(
    ("stated", "strong"),
    [
        (["MIT"], False),
        (["GPL-3.0-only"], True),
        (["AGPL-3.0-or-later"], True),
        (["LGPL-3.0-or-later"], False),
        (["License :: OSI Approved :: GNU General Public License v3 (GPLv3)"], True),
        (["License :: OSI Approved :: GNU Lesser General Public License v3 (LGPLv3)"], False),
        (["GPL-2.0-or-later OR MPL-1.1"], False),
        (["GPL-3.0-or-later WITH GCC-exception-3.1"], False),
        (["MIT AND GPL-3.0-or-later"], True),
    ],
)
def test_how_a_licence_is_judged(stated: list[str], strong: bool) -> None:
    assert is_strong(stated) is strong


def test_nothing_under_the_gpl_ships() -> None:
    names = shipped()
    assert len(names) > 30
    assert {n: licences(n) for n in sorted(names) if is_strong(licences(n))} == {}


def test_what_serves_only_tests_is_not_needed() -> None:
    assert not shipped() & {"pytest", "hypothesis", "iapws", "bcf-client", "mypy", "ruff", "fipy"}


def test_every_extra_is_for_users_or_for_developers() -> None:
    known = set(metadata("layoutcheck").get_all("Provides-Extra") or ())
    assert known == {*FOR_USERS, *FOR_DEVELOPERS}
