"""Numbered cards: printed, photographed by a known camera, and read again."""

import re
import shutil
import subprocess

import cv2
import numpy as np
import pypdf
import pytest
from PIL import Image, ImageDraw

from eyefind.errors import UsageError
from eyefind.photo import find_card, read_code, write_numbered_cards
from eyefind.photo.card_code import (
    CODE_LEFT_TOP_MM,
    MODULE_MM,
    MODULES,
    QUIET,
    code_rectangles,
    code_text,
)
from eyefind.photo.card_layout import CARD_MM, card_rectangles

PX_PER_MM = 20


def printed(number: int) -> np.ndarray:
    """The card as a perfect printer would leave it, on a grey bench."""
    size = [round(side * PX_PER_MM) for side in CARD_MM]
    picture = Image.new("L", size, 255)
    pen = ImageDraw.Draw(picture)
    for box in card_rectangles() + code_rectangles(number):
        left, top = box.x_mm * PX_PER_MM, box.y_mm * PX_PER_MM
        right = (box.x_mm + box.width_mm) * PX_PER_MM - 1
        bottom = (box.y_mm + box.height_mm) * PX_PER_MM - 1
        pen.rectangle((left, top, right, bottom), fill=box.grey)
    return np.array(picture)


def photographed(
    number: int, px_per_mm: float, turn_deg: float = 0.0, tilt: float = 0.0
) -> np.ndarray:
    """The card on a bench: `tilt` squeezes its far side."""
    card = printed(number)
    height, width = card.shape
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)], float)
    middle = np.array([width / 2, height / 2])
    turn = np.radians(turn_deg)
    spin = np.array([(np.cos(turn), -np.sin(turn)), (np.sin(turn), np.cos(turn))])
    goal = (corners - middle) @ spin.T * px_per_mm / PX_PER_MM
    goal /= 1 + tilt * goal[:, 1:] / np.abs(goal).max()
    side = round(1.6 * np.hypot(*CARD_MM) * px_per_mm)
    to_photo = cv2.getPerspectiveTransform(
        corners.astype(np.float32), (goal + side / 2).astype(np.float32)
    )
    # As a lens would: the finest detail is lost before it is sampled.
    soft = cv2.GaussianBlur(card, (0, 0), 0.5 * PX_PER_MM / px_per_mm)
    grey = cv2.warpPerspective(soft, to_photo, (side, side), borderValue=110)
    return np.repeat(grey[..., None], 3, axis=2)


def read(rgb: np.ndarray) -> str | None:
    card = find_card(rgb)
    assert card is not None
    return read_code(rgb, card)


@pytest.mark.parametrize("number", [1, 17, 600, 9999])
@pytest.mark.parametrize("turn_deg", [0, 40, 180, 275])
def test_the_number_is_read_however_the_card_lies(number, turn_deg):
    assert read(photographed(number, 8, turn_deg)) == code_text(number)


def test_it_is_read_from_three_pixels_a_millimetre_on():
    found = [read(photographed(number, 3.0, 12)) for number in range(1, 21)]
    assert found == [code_text(number) for number in range(1, 21)]


@pytest.mark.parametrize("tilt", [0.1, 0.2])
def test_it_is_read_at_a_slant(tilt):
    assert read(photographed(42, 8, 20, tilt)) == "EYE-0042"


def test_it_is_read_through_mud():
    # Level H restores about 30 % of the code words (ISO/IEC 18004).
    rgb = photographed(42, 8)
    card = find_card(rgb)
    left, top = CODE_LEFT_TOP_MM
    spot = np.array([[left + 14, top + 15], [left + 20, top + 20]], np.float32)
    (x0, y0), (x1, y1) = cv2.perspectiveTransform(
        spot[None], card.card_to_photo
    ).astype(int)[0]
    rgb[y0:y1, x0:x1] = (60, 45, 30)
    assert read(rgb) == "EYE-0042"


def test_a_card_without_a_number_has_none_and_no_other_code_is_taken():
    plain = photographed(42, 8)
    card = find_card(plain)
    empty = plain.copy()
    left, top = CODE_LEFT_TOP_MM
    side = MODULES * MODULE_MM
    area = np.array(
        [[left - 1, top - 1], [left + side + 1, top + side + 1]], np.float32
    )
    (x0, y0), (x1, y1) = cv2.perspectiveTransform(
        area[None], card.card_to_photo
    ).astype(int)[0]
    empty[y0:y1, x0:x1] = 255
    assert read_code(empty, card) is None
    noise = np.random.default_rng(5).integers(0, 256, (y1 - y0, x1 - x0, 3))
    empty[y0:y1, x0:x1] = noise
    assert read_code(empty, card) is None


def test_the_code_has_its_white_margin_on_the_card():
    # ISO/IEC 18004: four modules of white on every side.
    left, top = CODE_LEFT_TOP_MM
    wide = MODULES * MODULE_MM
    margin = QUIET * MODULE_MM
    for box in card_rectangles():
        if box.grey > 230:
            continue
        clear = (
            box.x_mm + box.width_mm <= left - margin
            or box.x_mm >= left + wide + margin
            or box.y_mm + box.height_mm <= top - margin
            or box.y_mm >= top + wide + margin
        )
        assert clear, box


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    folder = tmp_path_factory.mktemp("run")
    return {path.name: path for path in write_numbered_cards(folder, 38, 5)}


def test_a_run_has_two_cards_a_page_with_their_numbers(run):
    assert list(run) == [
        "eyefind-cards-0038-0042-A4.pdf",
        "eyefind-cards-0038-0042-letter.pdf",
    ]
    for path in run.values():
        pages = [page.extract_text() for page in pypdf.PdfReader(path).pages]
        numbers = [re.findall(r"\b00\d\d\b", text) for text in pages]
        assert numbers == [["0038", "0039"], ["0040", "0041"], ["0042"]]
        assert all("Print at 100 %" in text for text in pages)


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_each_printed_card_is_found_and_read(run, paper, tmp_path):
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm (poppler-utils) is not installed: page not rasterised")
    path = run[f"eyefind-cards-0038-0042-{paper}.pdf"]
    command = ["pdftoppm", "-r", "200", "-png", "-f", "1", "-l", "1", path, "page"]
    subprocess.run(command, check=True, cwd=tmp_path)
    (page,) = tmp_path.glob("page*.png")
    rgb = np.array(Image.open(page).convert("RGB"))
    half = round(120 / 25.4 * 200)  # mm; between the cards
    found = [read(part) for part in (rgb[:half], rgb[half:])]
    assert found == ["EYE-0038", "EYE-0039"]


@pytest.mark.parametrize(("first", "count"), [(0, 1), (1, 0), (9999, 2), (-3, 2)])
def test_numbers_beyond_four_digits_are_refused(tmp_path, first, count):
    with pytest.raises(UsageError, match="1 to 9999"):
        write_numbered_cards(tmp_path, first, count)
