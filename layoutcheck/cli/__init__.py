"""The command line: it reads files, calls the library, prints, and sets the exit code."""

from layoutcheck.cli.app import main

__all__ = ["main"]
