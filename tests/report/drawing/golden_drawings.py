"""Six small pictures of demo sites' views and strips, kept to see an unmeant change.

They are pinned from our own run and were looked at by a person. The title block and the findings
are left out: they carry digests and sentences, which other tests hold.
`python -m tests.report.drawing.golden_drawings` draws them anew; look at each before keeping it.
"""

from pathlib import Path

from layoutcheck.report.drawing import Page, Scene
from layoutcheck.report.drawing.files import scene_png
from tests.report.drawing.drawing_samples import site_scene

FOLDER = Path(__file__).with_name("golden")
WIDTH = 640
SITES = (
    "heating-riser-sketch",
    "cold-riser-mended",
    "chilled-loop-sketch",
    "ring-main-sketch",
    "plant-room-sketch",
    "no-drawing-sketch",
)
_KEPT = ("The whole", "Detail", "strip of plug", "key")


def pictured(site: str) -> Scene:
    """The part of a site's drawing that is kept as a picture."""
    scene = site_scene(f"{site}.json", Page.PAPER)
    sheets = [
        sheet.model_copy(
            update={"panels": tuple(p for p in sheet.panels if p.name.startswith(_KEPT))}
        )
        for sheet in scene.sheets
    ]
    return scene.model_copy(update={"sheets": tuple(s for s in sheets if s.panels)})


def main() -> None:
    """Draw every golden picture anew."""
    FOLDER.mkdir(exist_ok=True)
    for site in SITES:
        (FOLDER / f"{site}.png").write_bytes(scene_png(pictured(site), width=WIDTH))


if __name__ == "__main__":
    main()
