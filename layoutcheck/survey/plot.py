"""A survey as a picture: what share of works can be isolated, by site and size, and why not.

Uses matplotlib's figure objects directly (no shared state) and leaves out dates, so the same
summary gives the same bytes with the same matplotlib.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from layoutcheck.survey.summary import Share, Summary

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Part of a bar -> colour. Told apart by lightness too, for eyes that do not see the hue.
_PARTS = (
    ("by freezing", "#1b6ca8"),
    ("by valves alone", "#8fc1e3"),
    ("undecided", "#e8b64a"),
    ("none", "#9a4f3f"),
    ("failed", "#3b3b3b"),
)

# Bars that can be read in one panel.
_BARS = 14


def summary_png(summary: Summary) -> bytes:
    """Draw a summary as PNG."""
    figure = Figure(figsize=(12.5, 7.4), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.add_gridspec(2, 2, width_ratios=(1.25, 1.0))
    sites = figure.add_subplot(grid[:, 0])
    _bars(sites, _most(summary.by_site), "By site")
    _bars(figure.add_subplot(grid[0, 1]), _most(summary.by_size), "By pipe size")
    _why(figure.add_subplot(grid[1, 1]), summary)
    whole = summary.whole
    figure.suptitle(
        f"{whole.works} works on {summary.sites} sites: {whole.compliant} with a plan that passes "
        f"on paper, {whole.undecided} undecided, {whole.none} without, {whole.failed} failed",
        fontsize=13,
    )
    handles, labels = sites.get_legend_handles_labels()
    figure.legend(
        handles,
        labels,
        loc="outside lower center",
        ncols=len(_PARTS),
        frameon=False,
        title=summary.deference,
        title_fontsize=8.5,
    )
    out = io.BytesIO()
    figure.savefig(out, format="png", metadata={"Software": None})
    return out.getvalue()


def _most(shares: Sequence[Share]) -> list[Share]:
    """Give the groups with the most works, and the others as one, so that bars can be read."""
    asked = [s for s in shares if s.works]
    if len(asked) <= _BARS:
        return asked
    order = sorted(asked, key=lambda s: -s.works)
    kept = {s.group for s in order[: _BARS - 1]}
    rest = [s for s in asked if s.group not in kept]
    return [s for s in asked if s.group in kept] + [_together(f"{len(rest)} others", rest)]


def _together(group: str, shares: Sequence[Share]) -> Share:
    names = ("works", "compliant", "freezing", "undecided", "none", "failed")
    sums = {n: sum(int(getattr(s, n)) for s in shares) for n in names}
    return Share(group=group, **sums)


def _bars(axes: Axes, shares: Sequence[Share], title: str) -> None:
    """Draw one bar of shares for each group, with its number of works."""
    axes.set_title(title, loc="left", fontsize=11)
    places = range(len(shares))
    left = [0.0] * len(shares)
    for name, colour in _PARTS:
        width = [100.0 * _part(s, name) / s.works for s in shares]
        axes.barh(places, width, left=left, color=colour, label=name, height=0.72)
        left = [a + b for a, b in zip(left, width, strict=True)]
    axes.set_yticks(places, [f"{_short(s.group)}  ({s.works})" for s in shares], fontsize=9)
    axes.invert_yaxis()
    axes.set_xlim(0, 100)
    axes.set_xlabel("% of works (number in brackets)", fontsize=9)
    axes.spines[["top", "right"]].set_visible(False)


def _part(share: Share, name: str) -> int:
    return {
        "by freezing": share.freezing,
        "by valves alone": share.compliant - share.freezing,
        "undecided": share.undecided,
        "none": share.none,
        "failed": share.failed,
    }[name]


def _why(axes: Axes, summary: Summary) -> None:
    axes.set_title("What stood against a plan", loc="left", fontsize=11)
    rules = list(summary.why_not.items())[:10]
    if not rules:
        axes.text(0.5, 0.5, "nothing: each work that was answered has a plan", ha="center")
        axes.set_axis_off()
        return
    places = range(len(rules))
    bars = axes.barh(places, [n for _, n in rules], color="#7a7a7a", height=0.72)
    axes.bar_label(bars, padding=3, fontsize=9)
    axes.set_yticks(places, [rule for rule, _ in rules], fontsize=9)
    axes.invert_yaxis()
    axes.set_xlabel("works without a plan (one may count for several)", fontsize=9)
    axes.margins(x=0.1)
    axes.spines[["top", "right"]].set_visible(False)


def _short(name: str) -> str:
    return name if len(name) <= 34 else "…" + name[-33:]
