"""Printing: text that any screen can show, and bytes that are the same everywhere."""

from __future__ import annotations

import os
import sys
from typing import TextIO

from layoutcheck.cli.problems import ReaderGone
from layoutcheck.seen import set_apart, spelled_out

# What an old screen can not show is written in these words.
_PLAIN = str.maketrans(
    {
        "\u2026": "...",
        "\u2013": "-",
        "\u2014": "-",
        "\u2018": "'",
        "\u2019": "'",
        "\u201c": '"',
        "\u201d": '"',
        "\u00d7": "x",
        "\u00b0": "deg",
        "\u2068": None,
        "\u2069": None,
    }
)


def print_text(text: str) -> None:
    """Print a text for people. Its first line stands out where the screen can show that."""
    stream = sys.stdout
    ready = fit_for(text, stream.encoding)
    if _shows_colour(stream):
        first, rest = ready.split("\n", 1) if "\n" in ready else (ready, "")
        ready = f"\x1b[1m{first}\x1b[0m\n{rest}"
    _write(stream, ready.encode(stream.encoding or "ascii", "replace"))


def print_bytes(data: bytes) -> None:
    """Print bytes as they are: what a program reads must not depend on the screen."""
    _write(sys.stdout, data)


def print_problem(text: str) -> None:
    """Print what went wrong, beside the results and never among them.

    It may hold what was typed, which must not reach the screen as it is.
    """
    text = "\n".join(map(spelled_out, text.split("\n")))
    stream = sys.stderr
    try:
        _write(stream, fit_for(text + "\n", stream.encoding).encode(stream.encoding or "ascii"))
    except ReaderGone:
        return


def fit_for(text: str, encoding: str | None) -> str:
    """Make a text that an encoding can hold and that keeps its order on the screen.

    Names in letters written from right to left are set apart, so that the numbers beside them do
    not change places.
    """
    apart = set_apart(text)
    try:
        apart.encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return text.translate(_PLAIN).encode("ascii", "backslashreplace").decode("ascii")
    return apart


def _shows_colour(stream: TextIO) -> bool:
    refused = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    return stream.isatty() and not refused


def _write(stream: TextIO, data: bytes) -> None:
    try:
        buffer = getattr(stream, "buffer", None)
        if buffer is None:
            stream.write(data.decode(stream.encoding or "utf-8", "replace"))
        else:
            stream.flush()
            buffer.write(data)
        stream.flush()
    except BrokenPipeError:
        raise ReaderGone from None
