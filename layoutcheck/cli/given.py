"""A layout as a command line gives it: its file, what is stated over it, and how to judge it.

A command says `given: GivenLayout` or `given: GivenCheck`, and has the options of that class.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property

from layoutcheck.cli.files import LayoutFile, Stated, read_layout_file, read_pack
from layoutcheck.cli.options import Day, LayoutPath, PackPath, SetOption, WithOption, day_of
from layoutcheck.cli.patience import patience
from layoutcheck.document import Layout
from layoutcheck.report import Report, check
from layoutcheck.rules.pack import Pack


@dataclass(frozen=True)
class GivenLayout:
    """A layout's file and the statements over it."""

    path: LayoutPath
    facts: SetOption = None
    files: WithOption = None

    @cached_property
    def file(self) -> LayoutFile:
        """Read the layout with the bytes and data it was written as. Raises UnusableInput."""
        return read_layout_file(self.path, Stated.of(self.files, self.facts))

    @property
    def layout(self) -> Layout:
        """Give the layout. Raises UnusableInput."""
        return self.file.layout


@dataclass(frozen=True)
class GivenCheck(GivenLayout):
    """A layout with the figures and the day that it is to be judged by."""

    pack_path: PackPath = None
    day: Day = None

    @cached_property
    def pack(self) -> Pack | None:
        """Read the company's figures, where there are some. Raises UnusableInput."""
        return None if self.pack_path is None else read_pack(self.pack_path)

    @property
    def on(self) -> date | None:
        """Give the day that was asked for."""
        return self.day.date() if isinstance(self.day, datetime) else None

    def judged(self) -> Report:
        """Check the layout. Raises UnusableInput."""
        pack, layout = self.pack, self.layout
        with patience("checking"):
            return check(layout, pack=pack, on=day_of(layout, self.day))
