"""Labels as a printer would draw them: nothing cut off, codes that can be read."""

import re
import shutil
import subprocess
from datetime import date
from io import BytesIO

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.pdfbase.pdfmetrics import stringWidth
from sheet_text import lines_of

from eyefind.errors import UsageError
from eyefind.season.garden import find_piece
from eyefind.season.label_sizes import EDGE_MM, SIZES
from eyefind.season.labels import (
    LEADING,
    STEP_PT,
    Label,
    box_labels,
    fitted,
    make_labels,
    piece_labels,
    piece_name,
)
from eyefind.season.store import plan_boxes
from eyefind.sheet.flow import set_up
from eyefind.sheet.fonts import BOLD, REGULAR

MM_PER_PT = 25.4 / 72
DPI = 300
LABELS = [
    Label("Gannet Thursday", ("18-B   2026", "2 eyes sure"), "EYE-2026-0018-B"),
    Label("Jo", ("1-A   2026", "? no eye seen"), "EYE-2026-0001-A"),
    Label("A variety of a very long name", ("4999-AB   2026", "?"), "EYE-2026-X"),
]
SMALLEST_PT = 6.0
SHEETS = [name for name, size in SIZES.items() if size.columns * size.rows > 1]


def drawn(pdf: bytes, folder) -> list[np.ndarray]:
    """The pages of a PDF as poppler draws them, grey."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm (poppler-utils) is not installed: page not rasterised")
    (folder / "labels.pdf").write_bytes(pdf)
    command = ["pdftoppm", "-r", str(DPI), "-gray", "labels.pdf", "page"]
    subprocess.run(command, check=True, cwd=folder)
    return [cv2.imread(str(path), 0) for path in sorted(folder.glob("page*.pgm"))]


def places(size, count, skip=0):
    """Left, top, width and height of the labels, mm, and their pages."""
    for number in range(skip, skip + count):
        page, place = divmod(number, size.columns * size.rows)
        row, column = divmod(place, size.columns)
        yield (
            page,
            size.left_mm + column * size.pitch_mm[0],
            size.top_mm + row * size.pitch_mm[1],
            *size.label_mm,
        )


@pytest.mark.parametrize("name", SIZES)
def test_labels_lie_on_the_page_and_not_on_each_other(name):
    size = SIZES[name]
    pitch, label, page = size.pitch_mm, size.label_mm, size.page_mm
    for side, count, start in (
        (0, size.columns, size.left_mm),
        (1, size.rows, size.top_mm),
    ):
        assert count == 1 or pitch[side] >= label[side]
        assert start + (count - 1) * pitch[side] + label[side] <= page[side] + 0.11


@pytest.mark.parametrize("name", SIZES)
def test_each_text_lies_in_its_label_and_is_large(name):
    size = SIZES[name]
    margin_x, margin_y = size.margins_mm
    found = lines_of(make_labels(LABELS, name))
    set_up()
    for label, (page, left, top, wide, high) in zip(
        LABELS, places(size, len(LABELS)), strict=True
    ):
        own = [
            line
            for line in found
            if line.page == page
            and left <= line.left * MM_PER_PT < left + wide
            and top <= size.page_mm[1] - line.base * MM_PER_PT < top + high
        ]
        said = " ".join(" ".join(line.text for line in own).split())
        assert said == " ".join(" ".join([label.title, *label.lines]).split())
        for line in own:
            font = BOLD if "Bold" in line.font else REGULAR
            width = stringWidth(line.text.strip(), font, line.size) * MM_PER_PT
            assert line.left * MM_PER_PT + width <= left + wide - margin_x + 0.1
            base = size.page_mm[1] - line.base * MM_PER_PT
            assert base - line.size * MM_PER_PT >= top + margin_y - 0.6
            assert line.size >= SMALLEST_PT
    assert max(line.size for line in found) >= 13


@pytest.mark.parametrize("name", SHEETS)
def test_nothing_is_printed_near_the_edge_of_a_sheet(name, tmp_path):
    size = SIZES[name]
    full = LABELS * (size.columns * size.rows // len(LABELS) + 1)
    page = drawn(make_labels(full, name), tmp_path)[0]
    rim = round((EDGE_MM - 0.1) / 25.4 * DPI)
    for edge in (page[:rim], page[-rim:], page[:, :rim], page[:, -rim:]):
        assert edge.min() > 200


@pytest.mark.parametrize("name", SIZES)
def test_every_code_is_read_off_the_page(name, tmp_path):
    size = SIZES[name]
    pages = drawn(make_labels(LABELS, name), tmp_path)
    for label, (page, *box) in zip(LABELS, places(size, len(LABELS)), strict=True):
        left, top, wide, high = (round(side / 25.4 * DPI) for side in box)
        picture = pages[page][top : top + high, left + wide * 2 // 3 : left + wide]
        # A white rim, as around a label that lies on a bench.
        picture = np.pad(picture, 40, constant_values=255)
        assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == label.code


def test_used_places_are_skipped_and_the_next_sheet_begins_anew():
    pdf = make_labels(LABELS, "A4-8", skip=6)
    assert len(PdfReader(BytesIO(pdf)).pages) == 2
    third = next(line for line in lines_of(pdf) if line.page == 1)
    assert third.left * MM_PER_PT < SIZES["A4-8"].left_mm + 5


@pytest.mark.parametrize(
    ("labels", "name", "skip"),
    [(LABELS, "A4-5", 0), ([], "A4-8", 0), (LABELS, "A4-8", 8), (LABELS, "A4-8", -1)],
)
def test_what_makes_no_sense_is_refused(labels, name, skip):
    with pytest.raises(UsageError):
        make_labels(labels, name, skip)


@given(
    st.text(st.characters(codec="latin-1", categories=["L", "N", "Zs"]), max_size=60),
    st.floats(20, 400),
    st.floats(8, 100),
)
def test_text_is_set_as_large_as_fits(text, width, height):
    set_up()
    size, lines = fitted(text, BOLD, width, height)
    assert "".join("".join(lines).split()) == "".join(text.split())
    if size > STEP_PT:
        assert all(stringWidth(line, BOLD, size) <= width + 1e-6 for line in lines)
        assert len(lines) * LEADING * size <= height + 1e-6


def test_the_labels_of_the_day_are_those_cut_on_it(demo, demo_season):
    every = piece_labels(demo, demo_season, None)
    (cut,) = demo.ask("SELECT count(*) FROM piece_seen WHERE cut_on = '2026-11-08'")[0]
    assert len(piece_labels(demo, demo_season, "2026-11-08")) == cut < len(every)
    assert piece_labels(demo, demo_season, "2026-11-09") == []


def test_a_label_finds_its_piece_again(demo, demo_season):
    for label in piece_labels(demo, demo_season, None):
        piece = find_piece(demo, demo_season, label.code)
        short = re.split(r"\s+", label.lines[0])[0]
        assert find_piece(demo, demo_season, short) == piece
        assert label.lines[1].startswith("? ") != piece.safe


def test_eyes_are_told_as_sure_or_likely_and_none_as_not_seen(
    ledger, season, rules, grow
):
    grow(1, "Owl Ledger", 0.9, eyes=3, confirmed_eyes=1)
    grow(2, "Owl Ledger", 0.9, eyes=1, confirmed_eyes=0)
    grow(3, "Owl Ledger", 0.3, eyes=0, confirmed_eyes=0)
    said = [label.lines[1] for label in piece_labels(ledger, season, None)]
    assert said == ["1 eye sure, 2 eyes likely", "1 eye likely", "? no eye seen"]


def test_names_of_pieces():
    assert piece_name("EYE-0017", "B") == "17-B"
    assert piece_name("bed 3", "A") == "bed 3-A"


def test_a_box_says_what_is_in_it(demo, demo_season, rules):
    plan = plan_boxes(demo, demo_season, rules, date(2026, 11, 10))
    labels = box_labels(demo_season, plan)
    assert [label.title for label in labels] == ["Box A", "Box B", "Box C"]
    for label, filled in zip(labels, plan.boxes, strict=True):
        counts = [int(found) for found in re.findall(r"\d+(?=,|$)", label.lines[0])]
        assert sum(counts) == len(filled.pieces)
        top = sum(piece.layer == "top" for piece in filled.pieces)
        assert f"check the {top} on top" in label.lines[1]
