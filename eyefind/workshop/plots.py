"""Plots of what the finders reached, one panel a set.

Lines are told by pattern and marker, never by colour alone, and no text is smaller than
12 pt at the width of a page.
"""

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from eyefind.workshop.scores import interval, recall_curve, reliability, roc
from eyefind.workshop.tables import (
    FALSE_PER_CLUMP,
    Column,
    parent_auroc,
    parent_scores,
)

PAGE_IN, PANEL_IN = 8.0, 6.5
"""Width of a plot and height of a panel, inches."""
LINES: tuple[dict[str, Any], ...] = (
    {"linestyle": "-", "marker": "o", "color": "black"},
    {"linestyle": "--", "marker": "s", "color": "#0072b2"},
    {"linestyle": ":", "marker": "^", "color": "#a04000"},
)
"""Look of the first, second and third finder on a set: pattern, marker, then colour."""
FALSE_SHOWN = np.linspace(0.0, 5.0, 51)
"""False flags a clump at which the recall is drawn."""
DRAWN_ON_CURVE = [int(np.argmin(abs(FALSE_SHOWN - at))) for at in FALSE_PER_CLUMP]


def draw_plots(columns: Sequence[Column], out: Path) -> dict[str, Path]:
    """Draw all plots beside a report.

    Parameters
    ----------
    columns : sequence of Column
        What was judged.
    out : Path
        The report's file.

    Returns
    -------
    dict of str to Path
        Each plot's file by what it shows.
    """
    whole = [column for column in columns if column.clumps]
    plots = {
        "Recall of eyes against false flags a clump": ("recall", columns, draw_recall),
        "Likelihood against outcome": ("calibration", whole, _calibration),
        "Spent parents against sound tubers": ("parents", whole, _parents),
    }
    files = {}
    for what, (word, shown, draw) in plots.items():
        files[what] = out.with_name(f"{out.stem}-{word}.png")
        with mpl.rc_context(
            {"font.size": 14.0, "axes.titlesize": 16.0, "legend.fontsize": 13.0}
        ):
            draw_panels(shown, draw).savefig(files[what], dpi=100)
    return files


def draw_panels(
    columns: Sequence[Column], draw: Callable[[Axes, Column, dict[str, Any]], None]
) -> Figure:
    """Draw one panel a set, one below the other so that text stays large.

    Parameters
    ----------
    columns : sequence of Column
        What was judged.
    draw : callable
        Draws one finder in the look it is given.

    Returns
    -------
    matplotlib.figure.Figure
        The panels.
    """
    names = list(dict.fromkeys(column.set_name for column in columns))
    figure = Figure((PAGE_IN, PANEL_IN * len(names)), layout="constrained")
    panels = figure.subplots(len(names), squeeze=False)[:, 0]
    for name, axes in zip(names, panels, strict=True):
        on_set = [column for column in columns if column.set_name == name]
        for column, line in zip(on_set, LINES, strict=False):
            draw(axes, column, {**line, "linewidth": 2.5, "markersize": 9})
        axes.set_title(f"{name}: {len(on_set[0].eyes)} clumps")
        axes.set_ylim(-0.02, 1.02)
        axes.grid(color="0.8")
        axes.legend(handlelength=4.0, loc="upper center", bbox_to_anchor=(0.5, -0.15))
    return figure


def draw_recall(axes: Axes, column: Column, line: dict[str, Any]) -> None:
    """Draw one finder's recall over its false flags, with the interval.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where.
    column : Column
        What was judged.
    line : dict
        Look of the line.
    """
    curve = partial(recall_curve, false_per_clump=FALSE_SHOWN)
    ranked = column.ranked
    low, high = interval(curve, ranked)
    axes.fill_between(
        FALSE_SHOWN,
        low,
        high,
        facecolor=(line["color"], 0.12),
        edgecolor=line["color"],
        linestyle=line["linestyle"],
    )
    axes.plot(
        FALSE_SHOWN,
        curve(ranked),
        label=column.finder,
        markevery=DRAWN_ON_CURVE,
        **line,
    )
    axes.set_xlabel("false flags a clump")
    axes.set_ylabel("share of visible eyes found")


def _calibration(axes: Axes, column: Column, line: dict[str, Any]) -> None:
    bins = reliability(column.ranked)
    share = np.array([each.share.value for each in bins])
    ends = np.array([(each.share.low, each.share.high) for each in bins]).reshape(-1, 2)
    axes.axline((0.0, 0.0), slope=1.0, color="0.5", linewidth=1.0)
    axes.errorbar(
        [each.mean for each in bins],
        share,
        np.clip([share - ends[:, 0], ends[:, 1] - share], 0.0, None),
        label=column.finder,
        capsize=6.0,
        **line,
    )
    axes.set_xlim(-0.02, 1.02)
    axes.set_xlabel("likelihood that was told")
    axes.set_ylabel("share that was an eye")


def _parents(axes: Axes, column: Column, line: dict[str, Any]) -> None:
    score, is_parent = parent_scores(column.clumps)
    area = parent_auroc(column.clumps)
    label = f"{column.finder}, area {area}"
    if np.isnan(area.value):
        axes.plot([], [], label=label, **line)
    else:
        axes.plot(*roc(score, is_parent), label=label, markevery=0.1, **line)
    axes.set_xlabel("share of sound tubers called a parent")
    axes.set_ylabel("share of parents called a parent")
