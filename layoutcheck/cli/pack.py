"""layoutcheck pack: the built-in figures, as a file that a company can copy and change."""

from __future__ import annotations

from collections.abc import Sequence

from layoutcheck.cli.problems import ExitCode
from layoutcheck.cli.screen import print_bytes
from layoutcheck.cli.typed import run_typed
from layoutcheck.rules.pack import pack_text
from layoutcheck.rules.registry import figures


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("pack", _pack, argv)


def pack_bytes() -> bytes:
    """Write the built-in pack as it is printed and kept beside the rules."""
    return pack_text(figures()).encode()


def _pack() -> int:
    """Print the built-in figures (TOML), each with its source, to copy and change."""
    print_bytes(pack_bytes())
    return ExitCode.COMPLIANT
