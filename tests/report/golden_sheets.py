"""Three small pictures of sheet pages, kept to see an unmeant change.

Pinned from our own run and looked at by a person. Drawn by another program (pdftoppm).
`python -m tests.report.golden_sheets` draws them anew; look at each before keeping it.
"""

import subprocess
from pathlib import Path

from tests.report.handout_sites import handout

FOLDER = Path(__file__).with_name("golden")
# Name of the picture -> (site, page): a plug's page, the signs, a sheet that forbids.
PAGES = {
    "sheet-plug": ("no-drawing-mended", 6),
    "sheet-signs": ("no-drawing-mended", 5),
    "sheet-forbids": ("heating-riser-sketch", 1),
}


def pictured(name: str) -> bytes:
    """One page as a small grey PNG."""
    site, page = PAGES[name]
    pages = ("-f", str(page), "-l", str(page), "-r", "60", "-gray", "-png", "-singlefile")
    return subprocess.run(
        ["pdftoppm", *pages, "-"],
        input=handout(site, "sheet.pdf"),
        stdout=subprocess.PIPE,
        check=True,
    ).stdout


def main() -> None:
    """Draw every golden picture anew."""
    FOLDER.mkdir(exist_ok=True)
    for name in PAGES:
        (FOLDER / f"{name}.png").write_bytes(pictured(name))


if __name__ == "__main__":
    main()
