"""Sheet pages look as they did when a person last looked at them.

The foot with its digests is left out: digests change with every figure, and other tests hold them.
A block of 12 by 12 points may differ by a tenth of the grey scale on average, since programs smooth
letters differently; a changed label or a lost box differs by more, which the last test shows.
"""

import io
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from tests.report.golden_sheets import FOLDER, PAGES, pictured

BLOCK, MOST = 10, 0.10
FOOT = 0.91  # of the page's height


def grey(data: bytes) -> np.ndarray:
    picture = Image.open(io.BytesIO(data)).convert("L")
    values: np.ndarray = np.asarray(picture, dtype=float) / 255.0
    return values[: int(values.shape[0] * FOOT)]


def worst(one: np.ndarray, two: np.ndarray) -> float:
    """The greatest mean difference over all blocks."""
    assert one.shape == two.shape
    rows, columns = (n // BLOCK for n in one.shape)
    gap = np.abs(one - two)[: rows * BLOCK, : columns * BLOCK]
    return float(gap.reshape(rows, BLOCK, columns, BLOCK).mean(axis=(1, 3)).max())


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_page_looks_as_it_did(name: str, require: Any) -> None:
    require.tool("pdftoppm")
    kept = grey((FOLDER / f"{name}.png").read_bytes())
    assert worst(kept, grey(pictured(name))) <= MOST


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_lost_line_or_label_would_be_seen(name: str) -> None:
    data = (FOLDER / f"{name}.png").read_bytes()
    picture = Image.open(io.BytesIO(data)).convert("L")
    width, _ = picture.size
    # Cover the first line of the page's own heading, 16 points high.
    ImageDraw.Draw(picture).rectangle((30, 50, width // 2, 66), fill=255)
    changed = io.BytesIO()
    picture.save(changed, "png")
    assert worst(grey(data), grey(changed.getvalue())) > MOST
