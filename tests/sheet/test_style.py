"""Colours that weak eyes can tell, and one home for them."""

import re
import subprocess
import sys
from pathlib import Path
from typing import get_args

import pytest

import eyefind.sheet
from eyefind.data import Kind
from eyefind.sheet import style


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.2, definition of contrast ratio: the ends of the scale.
        ((0, 0, 0), (255, 255, 255), 21.0),
        ((17, 17, 17), (17, 17, 17), 1.0),
        # From memory of W3C texts: #767676 is the lightest grey with 4.5:1 on white,
        # #777777 just fails it; #595959 is the lightest with 7:1.
        ((0x76, 0x76, 0x76), (255, 255, 255), 4.54),
        ((0x77, 0x77, 0x77), (255, 255, 255), 4.48),
        ((0x59, 0x59, 0x59), (255, 255, 255), 7.0),
        # Pure red and pure blue have the weights of the definition as luminance.
        ((255, 0, 0), (0, 0, 0), (0.2126 + 0.05) / 0.05),
        ((0, 0, 255), (0, 0, 0), (0.0722 + 0.05) / 0.05),
    ],
)
def test_contrast_is_that_of_wcag(one, other, ratio):
    assert style.contrast_ratio(one, other) == pytest.approx(ratio, abs=0.006)
    assert style.contrast_ratio(other, one) == style.contrast_ratio(one, other)


@pytest.mark.parametrize("use", style.TEXT_PAIRS)
def test_all_text_has_the_contrast_of_wcag_1_4_6(use):
    assert style.contrast_ratio(*style.TEXT_PAIRS[use]) >= 7.0


@pytest.mark.parametrize("core", [style.CUT, style.EYE, style.OTHER_FLAG, style.WHITE])
def test_the_colour_of_a_mark_stands_out_from_its_black_outline(core):
    # WCAG 2.2, 1.4.11: at least 3:1 for what is needed to understand a graphic.
    assert style.contrast_ratio(core, style.BLACK) >= 3.0


def test_any_background_differs_from_one_of_the_two_outlines():
    # The better of black and white is never below the square root of 21.
    for grey in range(256):
        ground = (grey, grey, grey)
        best = max(
            style.contrast_ratio(ground, edge) for edge in ((0, 0, 0), (255,) * 3)
        )
        assert best >= 4.58


def test_every_kind_of_flag_has_a_shape_of_its_own_and_a_name():
    assert set(style.SHAPES) == set(style.KIND_WORDS) == set(get_args(Kind))
    assert len(set(style.SHAPES.values())) == len(style.SHAPES)


def test_letters_read_on_paper():
    sizes = [style.LETTER_PT, style.NUMBER_PT * 0.75, style.DISCARD_PT, style.NAME_PT]
    assert min(*sizes, style.BODY_PT, style.HEADING_PT, style.TITLE_PT) >= 14.0


def test_style_loads_no_imaging_library():
    code = (
        "import sys, eyefind.sheet.style;"
        "print({'PIL', 'reportlab', 'numpy.random'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert "PIL" not in done.stdout
    assert "reportlab" not in done.stdout


def test_style_is_the_only_home_of_colours():
    colour = re.compile(
        r"#[0-9a-fA-F]{6}\b|(?<!transpose)\(\s*\d{1,3},\s*\d{1,3},\s*\d{1,3}\s*\)"
    )
    folder = Path(eyefind.sheet.__file__).parent
    for module in folder.glob("*.py"):
        if module.name != "style.py":
            assert not colour.search(module.read_text(encoding="utf-8")), module.name
