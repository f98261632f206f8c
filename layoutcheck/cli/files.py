"""Files in and out: read with a limit, written whole or not at all."""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO, TypeVar

from layoutcheck.cli.problems import UnusableInput, WrongCall
from layoutcheck.cli.screen import print_bytes
from layoutcheck.document import Fault, Layout, LayoutFaults, parse_layout, read_text
from layoutcheck.document.faults import shown
from layoutcheck.document.overlay import laid_over, statement
from layoutcheck.document.short import long_form
from layoutcheck.document.text_places import with_lines
from layoutcheck.rules.pack import Pack

# A site of a hundred thousand pipes takes about 20 MB.
LARGEST = 64 * 1024 * 1024
STANDARD_INPUT = "-"
_SUFFIXES = {".json", ".yaml", ".yml"}


@dataclass(frozen=True)
class Stated:
    """What is stated on the command line over a layout: files of statements, then single ones."""

    files: Sequence[str] = ()
    facts: Sequence[str] = ()

    @classmethod
    def of(cls, files: Sequence[str] | None, facts: Sequence[str] | None) -> Stated:
        """Take what options give; None is nothing."""
        return cls(files or (), facts or ())

    @property
    def overlays(self) -> list[Mapping[str, Any]]:
        """Read the statements. Raises UnusableInput."""
        return [
            *(_overlay(path) for path in self.files),
            *(
                _or_unusable(f"--set {shown(fact, 200)}", partial(statement, fact))
                for fact in self.facts
            ),
        ]

    def over(self, data: dict[str, Any]) -> dict[str, Any]:
        """Lay the statements over a document. Raises UnusableInput."""
        overlays = self.overlays
        return _or_unusable("the statements over the layout", lambda: laid_over(data, overlays))


T = TypeVar("T")


def _or_unusable(given: str, make: Callable[[], T]) -> T:
    try:
        return make()
    except LayoutFaults as error:
        raise UnusableInput(given, error.faults) from None


def _overlay(path: str) -> dict[str, Any]:
    given = _given("statements", path)
    text = read_bytes(given, path)
    data = _or_unusable(given, lambda: read_text(text, suffix=_suffix(path, text)))
    if not isinstance(data, dict):
        fault = Fault(
            pointer="",
            found=given,
            problem="holds no statements in the shape of a layout",
            example="site:\n  water_temperature: 60 degF",
        )
        raise UnusableInput(given, [fault])
    return data


@dataclass(frozen=True)
class LayoutFile:
    """A layout as it was read. text: the bytes it can be read from. form: json or yaml."""

    text: bytes
    form: str
    data: dict[str, Any]
    layout: Layout


def read_layout_file(path: str, stated: Stated) -> LayoutFile:
    """Read a layout from a file, or from standard input for '-'. Raises UnusableInput."""
    given = _given("layout", path)
    text = read_bytes(given, path)
    suffix = _suffix(path, text)
    try:
        data = read_text(text, suffix=suffix)
        if isinstance(data, dict):
            data = stated.over(data)
        layout = parse_layout(data)
    except LayoutFaults as error:
        raise UnusableInput(given, with_lines(text, error.faults)) from None
    written = long_form(data).data
    assert isinstance(written, dict), "what parses as a layout is an object"
    if stated.files or stated.facts:  # the file by itself is not what was read
        return LayoutFile(json.dumps(written, ensure_ascii=False).encode(), "json", written, layout)
    return LayoutFile(text, "json" if suffix == ".json" else "yaml", written, layout)


def read_pack(path: str) -> Pack:
    """Read a company's rule pack (TOML) from a file. Raises UnusableInput."""
    return read_pack_file(path)[1]


def read_pack_file(path: str) -> tuple[str, Pack]:
    """Read a company's rule pack with its text. Raises UnusableInput."""
    given = _given("pack", path)
    try:
        text = read_bytes(given, path).decode("utf-8-sig")
        return text, _company_pack(text)
    except UnicodeDecodeError:
        raise _refused(given, "is not UTF-8 text") from None
    except LayoutFaults as error:
        raise UnusableInput(given, error.faults) from None


def _company_pack(text: str) -> Pack:
    from layoutcheck.rules.registry import company_pack  # noqa: PLC0415 - loads every rule

    return company_pack(text)


def read_bytes(given: str, path: str) -> bytes:
    """Read a file or standard input whole. Raises UnusableInput where it can not be read."""
    try:
        if path == STANDARD_INPUT:
            return _limited(given, sys.stdin.buffer)
        with Path(path).open("rb") as stream:
            return _limited(given, stream)
    except FileNotFoundError:
        raise _refused(given, "is not there") from None
    except IsADirectoryError:
        raise _refused(given, "is a folder, not a file") from None
    except PermissionError:
        raise _refused(given, "may not be read by you") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refused(given, f"can not be read: {shown(reason)}") from None


def write_file(path: str, data: bytes) -> None:
    """Write a file whole or not at all: under a temporary name first, then renamed.

    Raises WrongCall where it can not be written.
    """
    target = Path(path)
    made: str | None = None
    try:
        handle, made = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:100]}.")
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(made, 0o666 & ~_umask())
        os.replace(made, target)
    except BaseException as error:  # Ctrl-C too leaves nothing half-written behind
        if made is not None:
            Path(made).unlink(missing_ok=True)
        if not isinstance(error, OSError):
            raise
        reason = shown(error.strerror or "unknown reason")
        raise WrongCall(f"{shown(path)} can not be written: {reason}") from None


def deliver(data: bytes, path: str | None) -> None:
    """Write bytes to a file, or to standard output if no file is named."""
    if path is None:
        print_bytes(data)
    else:
        write_file(path, data)


def _limited(given: str, stream: BinaryIO) -> bytes:
    data = stream.read(LARGEST + 1)
    if len(data) > LARGEST:
        raise _refused(given, f"is larger than the {LARGEST // 1024**2} MB that are read")
    return data


def _suffix(path: str, data: bytes) -> str:
    """Take the suffix as it stands; without one, JSON begins with a bracket and YAML does not."""
    suffix = Path(path).suffix.lower()
    if path != STANDARD_INPUT and suffix in _SUFFIXES:
        return suffix
    begin = data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1]
    return ".json" if begin in {b"{", b"[", b""} else ".yaml"


def _given(what: str, path: str) -> str:
    return f"{what} on standard input" if path == STANDARD_INPUT else f"{what} {shown(path, 200)}"


def _refused(given: str, problem: str) -> UnusableInput:
    fault = Fault(
        pointer="",
        found=given,
        problem=problem,
        example="the path of a file that you may read, or - for standard input",
    )
    return UnusableInput(given, [fault])


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
