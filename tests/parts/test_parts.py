"""The parts list: complete, valid as CycloneDX, and without a licence that may not ship."""

from __future__ import annotations

import ast
import json
import re
import sys
from email import message_from_string
from importlib.metadata import PackageMetadata, packages_distributions, requires
from pathlib import Path
from typing import Any

import pytest
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from license_expression import LicenseExpression, get_spdx_licensing
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from PIL import features

from layoutcheck.cli import main
from layoutcheck.parts import Inside, Installation, cyclonedx_json, installation, parts_text
from layoutcheck.parts.inside import _listed
from layoutcheck.parts.licences import licence_of
from tests.refresh import page_bill

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "api" / "page"
WHAT_SHIPS = ("dxf", "ifc", "inp", "record", "survey")
SPDX = get_spdx_licensing()


@pytest.fixture(scope="module")
def whole() -> Installation:
    """Everything that ships: the library with every extra for users, and the service."""
    found = installation(WHAT_SHIPS)
    assert found.missing == ()
    return found


# --- which parts -------------------------------------------------------------------------------


def test_what_is_declared_is_listed(whole: Installation) -> None:
    """Oracle: the requirements of both packages, read plainly."""
    listed = {canonicalize_name(p.name) for p in whole.parts}
    for package in ("layoutcheck", "layoutcheck-service"):
        for text in requires(package) or []:
            wanted = Requirement(text)
            used = any(
                wanted.marker is None or wanted.marker.evaluate({"extra": e})
                for e in ("", *WHAT_SHIPS)
            )
            assert not used or canonicalize_name(wanted.name) in listed, text


def test_what_serves_only_tests_is_not_listed(whole: Installation) -> None:
    names = {canonicalize_name(p.name) for p in whole.parts}
    assert not names & {"pytest", "hypothesis", "iapws", "bcf-client", "mypy", "ruff", "fipy"}


def test_every_extra_is_counted_or_said_to_be_for_developers() -> None:
    """An extra added later must come under the licence test below."""
    with pytest.raises(ValueError, match="no-such") as caught:
        installation(["no-such"])
    known: tuple[str, ...] = caught.value.known  # type: ignore[attr-defined]
    assert set(known) == {*WHAT_SHIPS, "test", "dev"}


def test_an_extra_that_is_not_chosen_is_left_out() -> None:
    names = {canonicalize_name(p.name) for p in installation(["dxf"]).parts}
    assert "ezdxf" in names
    assert not names & {"ifcopenshell", "distributed", "wntr"}


def test_extras_that_are_installed_are_found_by_themselves() -> None:
    assert set(installation().extras) == set(WHAT_SHIPS)


# --- licences ----------------------------------------------------------------------------------


def is_strong_copyleft(licence: str) -> bool:
    """Whether every way to take a licence brings the GPL or AGPL with it. LGPL is another thing.

    An 'or' leaves the choice to us; an 'and' does not. The run-time exception of the compilers'
    libraries lifts the GPL from what is linked to them.
    """
    if not re.search(r"\b(AND|OR|WITH)\b", licence):
        return _is_gpl(licence)
    parsed = SPDX.parse(licence)
    return _all_ways_are_gpl(parsed)


def _is_gpl(name: str) -> bool:
    if "WITH" in name and "GCC-exception" in name:
        return False
    return re.match(r"A?GPL|GNU (Affero )?General Public", name, re.IGNORECASE) is not None


def _all_ways_are_gpl(expression: LicenseExpression) -> bool:
    ways = [_all_ways_are_gpl(a) for a in getattr(expression, "args", ())]
    if not ways:
        return _is_gpl(expression.render())
    return (
        all(ways)
        if expression.operator == " OR " or "OR" in type(expression).__name__
        else any(ways)
    )


@pytest.mark.parametrize(
    ("licence", "strong"),
    [
        ("MIT", False),
        ("GPL-3.0-only", True),
        ("AGPL-3.0-or-later", True),
        ("LGPL-3.0-or-later", False),
        ("GNU General Public License", True),
        ("GPL-2.0-or-later OR MPL-1.1", False),
        ("MIT AND GPL-3.0-or-later", True),
        ("(MIT OR GPL-3.0-only) AND BSD-3-Clause", False),
        ("GPL-3.0-only OR AGPL-3.0-only", True),
        ("GPL-3.0-or-later WITH GCC-exception-3.1", False),
        ("Apache-2.0 WITH LLVM-exception", False),
    ],
)
def test_how_a_licence_is_judged(licence: str, strong: bool) -> None:
    assert is_strong_copyleft(licence) is strong


def test_nothing_under_the_gpl_ships(whole: Installation) -> None:
    assert [(p.name, p.licence) for p in whole.parts if is_strong_copyleft(p.licence)] == []


def test_nothing_under_the_gpl_ships_inside_a_package(whole: Installation) -> None:
    """A bill may name an optional library that this build was made without."""
    found = [i for p in whole.parts for i in p.inside if is_strong_copyleft(i.licence)]
    assert {i.name for i in found} <= {"libimagequant"}
    assert all(i.optional for i in found)
    assert not features.check("libimagequant")


def test_every_package_states_a_licence(whole: Installation) -> None:
    assert [p.name for p in whole.parts if not p.licence] == []


def metadata(*lines: str) -> PackageMetadata:
    return message_from_string("\n".join(lines) + "\n\n")  # type: ignore[return-value]


CLASSIFIED = "Classifier: License :: OSI Approved :: "


@pytest.mark.parametrize(
    ("lines", "licence"),
    [
        (["License-Expression: MIT AND 0BSD", f"{CLASSIFIED}BSD License"], "MIT AND 0BSD"),
        ([f"{CLASSIFIED}MIT License", "License: see file"], "MIT"),
        ([f"{CLASSIFIED}MIT License", f"{CLASSIFIED}ISC License (ISCL)"], "MIT AND ISC"),
        ([f"{CLASSIFIED}GNU General Public License v3 (GPLv3)"], "GPL-3.0-only"),
        ([f"{CLASSIFIED}Some New License"], "Some New License"),
        (["Classifier: License :: OSI Approved"], "MIT"),
        (["License: Revised BSD"], "BSD-3-Clause"),
        ([f"License: {'long words ' * 20}"], "MIT"),
        ([], "MIT"),
    ],
)
def test_where_a_licence_is_read(lines: list[str], licence: str) -> None:
    text = "(c)\n\nPermission is hereby granted, free of charge, to any person\nobtaining a copy of"
    assert licence_of("invented", metadata(*lines), {"LICENSE": text}) == licence


def test_no_licence_is_made_up() -> None:
    assert licence_of("invented", metadata(), {"LICENSE": "All rights reserved."}) == ""


# --- what is inside packages, and the page -----------------------------------------------------


def test_a_bill_inside_a_package_is_read() -> None:
    bill = {
        "components": [
            {"name": "owner", "version": "1"},
            {"name": "build tool", "scope": "excluded"},
            {"name": "a", "version": "1", "licenses": [{"license": {"id": "MIT"}}]},
            {"name": "b", "licenses": [{"expression": "MIT OR ISC"}, {"license": {"name": "x"}}]},
            {"name": "c", "scope": "optional", "purl": "pkg:x/c"},
        ]
    }
    assert list(_listed(bill, "Owner")) == [
        Inside("a", "1", "MIT", ""),
        Inside("b", "", "(MIT OR ISC) AND x", ""),
        Inside("c", "", "", "pkg:x/c", optional=True),
    ]


def test_the_page_names_what_is_bundled_in_it(whole: Installation) -> None:
    (service,) = (p for p in whole.parts if p.name == "layoutcheck-service")
    bundled = json.loads(page_bill())["components"]
    assert [(i.name, i.version) for i in service.inside] == [
        (c["name"], c["version"]) for c in bundled
    ]
    assert {i.name for i in service.inside} >= {"preact", "yaml"}


def test_the_page_bundles_what_it_says_and_no_more() -> None:
    """Oracle: the names that the page's sources import, but for their own files."""
    imported = {
        name
        for path in (PAGE / "src").rglob("*.ts*")
        for name in re.findall(
            r"""(?:from |import |import\()["']([^."'][^"']*)["']""", path.read_text()
        )
    }
    packages = {"/".join(name.split("/")[: 2 if name.startswith("@") else 1]) for name in imported}
    assert {c["name"] for c in json.loads(page_bill())["components"]} >= packages
    manifest = json.loads((PAGE / "package.json").read_text())
    assert set(manifest["dependencies"]) == packages


# --- how they are told -------------------------------------------------------------------------


def test_the_document_is_valid_cyclonedx(whole: Installation) -> None:
    text = cyclonedx_json(whole)
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(text) is None
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(page_bill().decode()) is None


def test_the_document_holds_every_part_and_how_they_hang_together(whole: Installation) -> None:
    document = json.loads(cyclonedx_json(whole))
    root = document["metadata"]["component"]
    assert root["name"] == "layoutcheck"
    everything = [root, *document["components"]]
    assert sorted(c["name"] for c in everything) == sorted(p.name for p in whole.parts)
    refs = [r for c in everything for r in (c["bom-ref"], *(i["bom-ref"] for i in inner(c)))]
    assert len(refs) == len(set(refs))
    asked = {d["ref"]: d["dependsOn"] for d in document["dependencies"]}
    (numba,) = (c["bom-ref"] for c in everything if c["name"] == "numba")
    assert numba in asked[root["bom-ref"]]
    reached, waiting = set(), [c["bom-ref"] for c in everything if "layoutcheck" in c["name"]]
    while waiting:
        one = waiting.pop()
        reached.add(one)
        waiting += [r for r in asked[one] if r not in reached]
    assert reached == {c["bom-ref"] for c in everything}


def inner(component: dict[str, Any]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = component.get("components", [])
    return found


def test_the_same_installation_gives_the_same_bytes(whole: Installation) -> None:
    assert cyclonedx_json(installation(WHAT_SHIPS)) == cyclonedx_json(whole)


def test_the_command_prints_a_table_or_a_document(
    capsysbinary: pytest.CaptureFixture[bytes], whole: Installation
) -> None:
    assert main(["parts"]) == 0
    lines = capsysbinary.readouterr().out.decode().splitlines()
    assert any(re.fullmatch(r"numba +\S+ +BSD.*", line) for line in lines)
    assert (
        main(["parts", "--format", "json", *(a for e in WHAT_SHIPS for a in ("--extra", e))]) == 0
    )
    assert capsysbinary.readouterr().out.decode() == cyclonedx_json(whole)


def test_an_unknown_extra_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", "--extra", "dfx"]) == 2
    assert 'there is no extra "dfx"; known: ' in capsys.readouterr().err


def test_sources_that_are_not_installed_have_no_parts(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("layoutcheck.parts.closure.LIBRARY", "layoutcheck-not-installed")
    assert main(["parts"]) == 2
    assert "runs from its sources" in capsys.readouterr().err


def test_what_is_missing_is_said_and_is_a_fault(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], whole: Installation
) -> None:
    short = Installation(whole.extras, whole.parts, ("numba",))
    assert "MISSING: numba. This installation is not whole." in parts_text(short)
    monkeypatch.setattr("layoutcheck.cli.parts.installation", lambda _: short)
    assert main(["parts"]) == 4
    assert "MISSING" in capsys.readouterr().out


# --- what is declared is what is used -----------------------------------------------------------

# Asked for though no line imports it: why.
NOT_IMPORTED = {
    "layoutcheck": {"six"},  # wntr imports it without declaring it
    "layoutcheck-service": {"python-multipart"},  # FastAPI reads forms with it
}
# Imported though not asked for: parts of one whole with the package that is, at its release.
OF_ONE_WHOLE = {"pydantic-core": "pydantic", "starlette": "fastapi", "anyio": "fastapi"}


def declared_by(package: str) -> set[str]:
    """What a package asks for, with every extra for users."""
    return {
        canonicalize_name(wanted.name)
        for wanted in map(Requirement, requires(package) or [])
        if wanted.marker is None
        or any(wanted.marker.evaluate({"extra": e}) for e in ("", *WHAT_SHIPS))
    }


def imported_names(folder: Path) -> set[str]:
    """Top-level names that the sources import, but for the standard library's and our own."""
    found: set[str] = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module.split(".")[0])
    return found - sys.stdlib_module_names - {"layoutcheck", "layoutcheck_service"}


@pytest.mark.parametrize(
    ("package", "folder"),
    [("layoutcheck", "layoutcheck"), ("layoutcheck-service", "api/layoutcheck_service")],
)
def test_what_is_imported_is_declared_and_the_other_way_round(package: str, folder: str) -> None:
    declared = declared_by(package)
    also = declared_by("layoutcheck") if "layoutcheck" in declared else set()
    allowed = declared | also | {k for k, v in OF_ONE_WHOLE.items() if v in declared | also}
    brought_by = packages_distributions()
    owners = {name: {canonicalize_name(d) for d in brought_by[name]} for name in
              imported_names(ROOT / folder)}  # fmt: skip
    assert [name for name, own in owners.items() if not own & allowed] == []
    used = set().union(*owners.values())
    assert declared - used - {"layoutcheck"} == NOT_IMPORTED[package]
