"""Plots: what is drawn is what was counted, and nothing by colour alone."""

from dataclasses import replace
from io import BytesIO

import matplotlib.figure
import numpy as np
import pytest
from PIL import Image

from eyefind.errors import UsageError
from eyefind.season.counts import count_varieties
from eyefind.season.plots import counts_plot, loss_plot, truth_plot
from eyefind.season.spring import own_accuracy
from eyefind.season.winter import losses


@pytest.fixture
def figures(monkeypatch):
    """The figures that are drawn, for a look at what they are made of."""
    kept = []
    save = matplotlib.figure.Figure.savefig

    def keep(figure, *args, **options):
        kept.append(figure)
        save(figure, *args, **options)

    monkeypatch.setattr(matplotlib.figure.Figure, "savefig", keep)
    return kept


def bars(axes, group=0):
    return [round(bar.get_width(), 6) for bar in axes.containers[group].patches]


def test_counts_are_bars_and_wishes_are_marks(demo, demo_season, rules, figures):
    counts = count_varieties(demo, demo_season, rules)
    picture = Image.open(BytesIO(counts_plot(counts)))
    assert picture.format == "PNG"
    (axes,) = figures[0].axes
    assert bars(axes, 0) == [count.safe for count in counts]
    assert bars(axes, 1) == [count.doubtful for count in counts]
    assert axes.containers[1].patches[0].get_hatch()
    assert list(axes.lines[0].get_xdata()) == [count.need for count in counts]
    names = [label.get_text() for label in axes.get_yticklabels()]
    assert [name.partition(" (")[0] for name in names] == [c.variety for c in counts]


def test_losses_have_their_interval(demo, demo_season, figures):
    found = losses(demo, demo_season, "variety")
    loss_plot(found, "variety")
    (axes,) = figures[0].axes
    bar_set = next(c for c in axes.containers if hasattr(c, "errorbar") and c.patches)
    widths = [bar.get_width() for bar in bar_set.patches]
    assert widths == pytest.approx([100 * loss.share for loss in found])
    (lines,) = bar_set.errorbar.lines[2]
    ends = [sorted(x for x, _ in segment) for segment in lines.get_segments()]
    expected = [(100 * loss.low, 100 * loss.high) for loss in found]
    np.testing.assert_allclose(ends, expected, atol=1e-9)


def test_what_shot_stands_beside_what_was_expected(demo, demo_season, figures):
    found = own_accuracy(demo, demo_season, "light")
    truth_plot(found, "light")
    (axes,) = figures[0].axes
    assert bars(axes) == [truth.shot for truth in found]
    assert list(axes.lines[0].get_xdata()) == [truth.expected for truth in found]


def test_the_legend_covers_nothing(demo, demo_season, rules, figures):
    counts = count_varieties(demo, demo_season, rules)
    counts_plot([replace(count, safe=9) for count in counts])
    (figure,) = figures
    (axes,) = figure.axes
    (legend,) = figure.legends
    assert not legend.get_window_extent().overlaps(axes.get_window_extent())


@pytest.mark.parametrize("draw", [counts_plot, lambda x: loss_plot(x, "box")])
def test_nothing_to_draw_is_told(draw):
    with pytest.raises(UsageError, match="nothing to plot"):
        draw([])
