"""Which layouts a survey asks: a folder that is searched, or a list of paths."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import yaml

from layoutcheck.document.read import LARGEST_YAML

SUFFIXES = (".json", ".yaml", ".yml")

# A site of a hundred thousand pipes takes about 20 MB.
LARGEST = 64 * 1024 * 1024

# Every layout names its format, in JSON or YAML; other files in a searched folder do not, also
# not the summary of an earlier survey, in which a fault may speak of a layout's format.
_MARK = re.compile(rb"""format["']?\s*:\s*["']?layoutcheck layout""")
_LONGEST_MARK = 256


class NoSites(Exception):
    """Raised when there is nothing to ask. message: one line for people."""


class Unreadable(Exception):
    """Raised when a site's file can not be read. message: one line for people."""


@dataclass(frozen=True)
class Site:
    """One layout document: how it is named in results, and where it lies."""

    name: str
    path: Path

    def read(self) -> Content:
        """Read the document. Raises Unreadable."""
        try:
            with self.path.open("rb") as stream:
                data = stream.read(LARGEST + 1)
        except OSError as error:
            raise Unreadable(f"can not be read: {error.strerror or 'unknown reason'}") from None
        if len(data) > LARGEST:
            raise Unreadable(f"is larger than the {LARGEST // 1024**2} MB that are read")
        return Content(data, _syntax(self.path, data), hashlib.sha256(data).hexdigest())


@dataclass(frozen=True)
class Content:
    """A document's bytes, the suffix that says how to read them, and their SHA-256."""

    data: bytes
    suffix: str
    digest: str


@dataclass(frozen=True)
class Sites:
    """The sites in the order of their names, and the files that were passed over."""

    found: tuple[Site, ...]
    passed_over: tuple[str, ...] = ()


def find_sites(where: Path) -> Sites:
    """Search a folder for layout documents, or read a list of paths. Raises NoSites.

    In a folder every JSON or YAML file that names the format of a layout is a site; so is one that
    can not be read, and one that has a layout's lists and no format, so that both are seen. In a
    list every line is a site; a path that is not absolute starts at the list's own folder; '#'
    begins a remark.
    """
    try:
        sites = _searched(where) if where.is_dir() else _listed(where)
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not a text of paths"
        raise NoSites(f"{where} can not be read: {reason}") from None
    if not sites.found:
        raise NoSites(f"there is no layout document in {where}")
    return sites


def _searched(folder: Path) -> Sites:
    sites, passed = [], []
    for path in _files(folder):
        name = path.relative_to(folder).as_posix()
        if _is_layout(path):
            sites.append(Site(name, path))
        else:
            passed.append(name)
    return Sites(tuple(sorted(sites, key=lambda s: s.name)), tuple(sorted(passed)))


def _files(folder: Path) -> Iterator[Path]:
    """Give each JSON or YAML file; a folder that can not be looked into is given itself."""
    closed: list[Path] = []
    for place, _, names in os.walk(folder, onerror=lambda e: closed.append(Path(e.filename))):
        yield from (Path(place, n) for n in names if Path(n).suffix.lower() in SUFFIXES)
    if folder in closed:
        raise PermissionError(13, "it may not be read by you")
    yield from closed


def _listed(file: Path) -> Sites:
    lines = file.read_text(encoding="utf-8-sig").splitlines()
    names = {line.strip() for line in lines if line.strip() and not line.strip().startswith("#")}
    return Sites(tuple(Site(name, file.parent / name) for name in sorted(names)))


def _is_layout(path: Path) -> bool:
    try:
        return any(_MARK.search(block) for block in _blocks(path)) or _might_be_one(path)
    except OSError:
        return True


def _might_be_one(path: Path) -> bool:
    """Tell whether a file that names no format is broken, or has what only a layout has."""
    with path.open("rb") as stream:
        data = stream.read(LARGEST + 1)
    try:
        text = data.decode("utf-8-sig")
        if _syntax(path, data) == ".json":
            parts = [json.loads(text)]
        else:
            parts = list(yaml.safe_load_all(text[:LARGEST_YAML]))
    except (ValueError, yaml.YAMLError, RecursionError):
        return True
    return any(isinstance(part, dict) and _PARTS & part.keys() for part in parts)


# A layout without these has nothing to be asked about.
_PARTS = frozenset({"junctions", "pipes"})


def _blocks(path: Path) -> Iterator[bytes]:
    """Give a file in blocks that overlap, so that no mark is cut in two."""
    with path.open("rb") as stream:
        tail = b""
        while block := stream.read(1 << 20):
            yield tail + block
            tail = block[-_LONGEST_MARK:]


def _syntax(path: Path, data: bytes) -> str:
    """Tell how to read a document; without a known suffix, JSON begins with a bracket."""
    suffix = path.suffix.lower()
    if suffix in SUFFIXES:
        return ".json" if suffix == ".json" else ".yaml"
    begin = data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1]
    return ".json" if begin in {b"{", b"[", b""} else ".yaml"
