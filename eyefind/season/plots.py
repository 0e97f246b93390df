"""Plots where looking beats reading: what is short, what was lost, what was true.

They are told by shape and hatching before colour, in large type; matplotlib is the
extra ``plots``.
"""

from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING

from eyefind.errors import UsageError
from eyefind.season.counts import VarietyCount
from eyefind.season.spring import Truth
from eyefind.season.winter import Loss
from eyefind.sheet.style import BLACK, ORANGE, SKY, WHITE, Colour

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_IN, ROW_IN, FRAME_IN = 9.0, 0.5, 2.2
TYPE_PT = 14
DPI = 110


def counts_plot(counts: Sequence[VarietyCount]) -> bytes:
    """Draw safe and doubtful pieces of each variety against what is wanted, as PNG."""
    figure, axes = _figure(len(counts), "Pieces and what is wanted")
    names = [f"{c.variety} ({100 * c.chance:.0f} %)" for c in counts]
    safe = [c.safe for c in counts]
    edge = _colour(BLACK)
    axes.barh(names, safe, color=_colour(SKY), edgecolor=edge, label="safe")
    axes.barh(
        names,
        [c.doubtful for c in counts],
        left=safe,
        color=_colour(WHITE),
        edgecolor=edge,
        hatch="//",
        label="doubtful",
    )
    needs = [c.need for c in counts]
    axes.plot(needs, names, "D", color=edge, markersize=11, label="wanted")
    axes.set_xlabel("pieces; in brackets the chance of reaching the count")
    return _png(figure)


def loss_plot(losses: Sequence[Loss], by: str) -> bytes:
    """Draw the share lost of each group with its 95 % interval, as PNG."""
    figure, axes = _figure(len(losses), f"Lost in store, by {by}")
    names = [f"{loss.group} ({loss.lost} of {loss.pieces})" for loss in losses]
    shares = [100 * loss.share for loss in losses]
    below = [100 * (loss.share - loss.low) for loss in losses]
    above = [100 * (loss.high - loss.share) for loss in losses]
    axes.barh(
        names,
        shares,
        xerr=[below, above],
        capsize=6,
        color=_colour(ORANGE),
        edgecolor=_colour(BLACK),
        label="lost or soft, with its 95 % interval",
    )
    axes.set_xlim(0, 100)
    axes.set_xlabel("% of the pieces that were checked")
    return _png(figure)


def truth_plot(truths: Sequence[Truth], by: str) -> bytes:
    """Draw how many pieces shot beside how many should have, as PNG."""
    figure, axes = _figure(len(truths), f"What shot, by {by}")
    names = [f"{truth.group} ({truth.pieces})" for truth in truths]
    edge = _colour(BLACK)
    axes.barh(
        names,
        [t.shot for t in truths],
        color=_colour(SKY),
        edgecolor=edge,
        label="shot",
    )
    axes.plot(
        [t.expected for t in truths],
        names,
        "D",
        color=edge,
        markersize=11,
        label="expected",
    )
    axes.set_xlabel("pieces; in brackets how many were seen")
    return _png(figure)


def _figure(rows: int, title: str) -> "tuple[Figure, Axes]":
    if rows == 0:
        raise UsageError(
            "There is nothing to plot yet.", "Enter checks or growth first."
        )
    try:
        from matplotlib.figure import Figure
    except ImportError as error:
        raise UsageError(
            "Plots need matplotlib, which is not installed.",
            "Install it with: pip install 'eyefind[plots]'",
        ) from error
    figure = Figure((WIDTH_IN, FRAME_IN + ROW_IN * rows), DPI, layout="constrained")
    axes = figure.subplots()
    axes.set_title(title, fontsize=TYPE_PT + 4, fontweight="bold")
    axes.invert_yaxis()
    axes.tick_params(labelsize=TYPE_PT)
    axes.xaxis.label.set_fontsize(TYPE_PT)
    axes.locator_params(axis="x", integer=True)
    axes.grid(axis="x", color="0.6")
    axes.set_axisbelow(True)
    return figure, axes


def _png(figure: "Figure") -> bytes:
    # Outside, where it covers nothing.
    figure.legend(fontsize=TYPE_PT, loc="outside lower center", ncols=3)
    stream = BytesIO()
    figure.savefig(stream, format="png")
    return stream.getvalue()


def _colour(colour: Colour) -> tuple[float, float, float]:
    red, green, blue = (value / 255 for value in colour)
    return red, green, blue
