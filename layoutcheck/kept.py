"""What is made from the code once, and ships with it: shared/, or the copy that the wheel takes."""

from __future__ import annotations

from pathlib import Path

_SHIPPED = Path(__file__).parent / "shared"
_IN_THE_SOURCES = Path(__file__).parents[1] / "shared"


def kept(name: str) -> Path:
    """Give a file or a folder of shared/: inside an installed package, else beside the sources.

    Raises:
        FileNotFoundError: it is not there, so the installation is not whole.
    """
    for folder in (_SHIPPED, _IN_THE_SOURCES):
        if (folder / name).exists():
            return folder / name
    raise FileNotFoundError(f"this installation holds no {name}")
